package session

import (
	"fmt"
	"math"
	"strings"
	"time"

	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// strict says that the log before was handed over by a program that knows what
// was used up: then nothing taken over may leave the guard laxer than it was.
// Logs from before that are folded as they were.
func (c *Core) strict() bool { return c.carry.from.Used != nil }

// used is what this fold hands on of the limits that were used up, in the head's
// part `used`: a stage and for how long, with the line hauled in it and in its
// lane and the rode out then, in metres; what the guard must not forget.
func (c *Core) used(next *trial.Trial) []logfmt.Field {
	if !c.begun && c.strict() {
		return c.carry.from.Used
	}
	var out []logfmt.Field
	add := func(key, val string) { out = append(out, logfmt.Field{Key: key, Val: val}) }
	some := func(key string, v float64) {
		if v != 0 {
			add(key, logfmt.FormatFloat(v))
		}
	}
	u := c.guard.Used()
	add("stage", u.Stage.Key())
	add("for", logfmt.FormatNs(u.For))
	if w := &c.wall; !w.last.IsZero() {
		add("wall", wallText(w.last.Add(time.Duration(c.t-w.lastT))))
	}
	add("hauled_m", logfmt.FormatFloat(float64(u.Hauled)))
	if u.Lane != trial.StandBy {
		add("lane", u.Lane.Key())
		add("lane_m", logfmt.FormatFloat(float64(u.InLane)))
	}
	some("out_m", float64(u.RodeOut))
	some("moved_m", u.Moved)
	some("come_up_n", u.ComeUp)
	some("recover_n", u.Recover)
	if sameKeys(c.head.Trial, next, "load_") {
		some("step_n", float64(u.Step))
	}
	if words := causeWords(u.Stands); words != "" {
		add("stands", words)
	}
	if c.head.After != nil && !c.strict() {
		for i, s := range c.carry.state {
			if s == CarryOpen && c.carry.from.Carries[i].Item == CarryStage {
				add("unknown", "yes") // the program that handed that stage over did not say
			}
		}
	}
	return out
}

// usedCarried reads such a part. A number that cannot be makes all of it unread.
func usedCarried(r *logfmt.Record) (u safety.Used, wall time.Time, ok bool) {
	ok = true
	num := func(key string) float64 {
		v, is := r.Float(key)
		most := 1e6 // m: no rode is as long
		if strings.HasSuffix(key, "_n") {
			most = 1e9 // N: no cell reads as much
		}
		if _, there := r.Get(key); there && !(is && math.Abs(v) < most) {
			ok = false
		}
		return v
	}
	stage := func(key string) trial.Stage {
		s, err := trial.ParseStage(r.Str(key))
		if err != nil {
			ok = false
		}
		return s
	}
	u.Stage = stage("stage")
	if _, there := r.Get("lane"); there {
		u.Lane = stage("lane")
	}
	var long bool
	u.For, long = r.Ns("for")
	u.Hauled, u.InLane, u.RodeOut, u.Step = trial.Length(num("hauled_m")), trial.Length(num("lane_m")), trial.Length(num("out_m")), trial.Force(num("step_n"))
	u.Moved, u.ComeUp, u.Recover = num("moved_m"), num("come_up_n"), num("recover_n")
	u.Stands = causesNamed(r.Str("stands"))
	wall, _ = time.Parse(time.RFC3339Nano, r.Str("wall"))
	return u, wall, ok && long && u.For >= 0
}

// goOn takes over what was used up, and says so.
func (c *Core) goOn(by uint64) {
	if !c.strict() {
		return
	}
	what := logfmt.Field{Key: "what", Val: "goes-on"}
	r := &logfmt.Record{Fields: c.carry.from.Used}
	u, wall, ok := usedCarried(r)
	if !ok {
		c.tell(by, "what was used up of its limits cannot be read: they begin anew", what, logfmt.Field{Key: "loud", Val: "1"})
		return
	}
	if away := c.away(wall); away > 0 {
		u.For = min(u.For, math.MaxInt64/4) + min(away, math.MaxInt64/4)
	}
	c.guard.GoOn(c.t, u, &c.ev)
	if u.Stage != trial.StandBy || u.Lane != trial.StandBy {
		text := fmt.Sprintf("counts on: stage %s for %.0f s by now, %s hauled in it", u.Stage, float64(u.For)/1e9, c.length(u.Hauled))
		if u.Lane != trial.StandBy && u.Lane != u.Stage {
			text += fmt.Sprintf(", %s in the lane of %s", c.length(u.InLane), u.Lane)
		}
		c.tell(by, text, append([]logfmt.Field{what}, r.Fields...)...)
	}
	if r.Str("unknown") != "" {
		c.tell(by, "what was used up of the limits of the stage that is taken over is not known: they begin anew", what, logfmt.Field{Key: "loud", Val: "1"})
	}
}

// away is how long before the present record it was wall time, by the computer's
// clock; 0 where nobody can tell.
func (c *Core) away(wall time.Time) int64 {
	if wall.IsZero() || c.head.Started.IsZero() || c.head.Scale > 1 {
		return 0
	}
	return max(0, int64(c.head.Started.Sub(wall)))
}

// latchedFields is a stop as it is handed on; cause and title stood alone before.
func latchedFields(l safety.Latched) []logfmt.Field {
	f := func(k, v string) logfmt.Field { return logfmt.Field{Key: k, Val: v} }
	out := []logfmt.Field{f("cause", l.Cause.String()), f("title", l.Cause.Title()), f("kind", "trip"),
		f("value", logfmt.FormatFloat(l.Value)), f("limit", logfmt.FormatFloat(l.Limit)), f("order", strings.ToLower(l.Order.String()))}
	if l.Later != safety.NoCause {
		out = append(out, f("later", l.Later.String()))
	}
	if l.By != safety.Nobody {
		out = append(out, f("who", whoNames[l.By]))
	}
	if words := causeWords(l.There); words != "" {
		out = append(out, f("there", words))
	}
	if l.Armed {
		out = append(out, f("armed", "yes"))
	}
	return out
}

// latchedCarried reads one; ok is false if it is of no cause of a trip that this
// program knows, or was handed on by one that did not say more than the words.
func latchedCarried(r *logfmt.Record) (l safety.Latched, ok bool) {
	l.Cause, ok = safety.ParseCause(r.Str("cause"))
	l.Later, _ = safety.ParseCause(r.Str("later"))
	l.Value, _ = r.Float("value")
	l.Limit, _ = r.Float("limit")
	l.By, l.There, l.Armed = whoNamed(r.Str("who")), causesNamed(r.Str("there")), r.Str("armed") != ""
	for o := safety.OrderStop; o <= safety.OrderAbandon; o++ {
		if r.Str("order") == strings.ToLower(o.String()) {
			l.Order = o
		}
	}
	return l, ok && l.Cause.Trips() && r.Str("kind") == "trip"
}

// causeWords and causesNamed write and read a set of causes, bit c the cause c.
func causeWords(set uint64) string {
	var words []string
	for c := safety.NoCause + 1; c < safety.NumCauses; c++ {
		if set&(1<<c) != 0 {
			words = append(words, c.String())
		}
	}
	return strings.Join(words, ",")
}

func causesNamed(text string) (set uint64) {
	for word := range strings.SplitSeq(text, ",") {
		if c, ok := safety.ParseCause(word); ok {
			set |= 1 << c
		}
	}
	return set
}
