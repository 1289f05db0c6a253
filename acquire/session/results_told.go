package session

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// mostTold bounds how many stops, checks and marks of a pull are listed.
const mostTold = 500

// StopTold is a stop as it was told on deck then.
type StopTold struct {
	T     int64 // ns of the pull
	Part  int
	Kind  string // "planned-end", "trip"
	Cause string // its word in the record
	Stage string
	Text  string
	Value float64 // in Unit; NaN unknown
	Limit float64
	Unit  string   // "n", "m", "s", "" a ratio
	Who   string   // the seat, of a stop that was called
	Name  string   // the person
	Also  []string // what else was told while it was in force
	// Lifted is when, -1 never; By who lifted it.
	Lifted int64
	By     string
}

// CheckTold is a check of the load cell as it stands in the log.
type CheckTold struct {
	T     int64
	Part  int
	Check safety.Check // CheckZero, CheckWeight; CheckCells where a missing cell was gone without
	State safety.CheckState
	Who   string
	Name  string
	Text  string // the reason to go without it, or why it failed

	// CheckWeight that was done: what the cell showed less its zero, for Want.
	Shown, Want trial.Force // NaN not done
	// CheckZero that passed: what the cell showed then and at the zero before it.
	Zero, Before trial.Force // NaN; Before too where the log has no zero before it
	Moved        bool        // by more than 0.5 % of the range

	basis string // how lines were read: zeros of another are not comparable
}

// MarkTold is a mark or a note a person made.
type MarkTold struct {
	T    int64 // ns of the pull
	Part int
	Who  string
	Text string
}

// Off is by what share the cell showed too much; NaN where no weight hung.
func (c *CheckTold) Off() float64 { return float64(c.Shown/c.Want) - 1 }

// teller gathers stops and checks from what the log says was told then. Only
// what a weight that failed was held against is folded anew: no word has it.
type teller struct {
	act    logfmt.Record // the newest act
	check  CheckTold     // what it came to, if it checks the load cell
	checks bool          // it does
	zeroed bool          // a zero was known before it
	told   int           // index of the check in the result, plus 1; 0 none
	stop   int           // of the stop in force, likewise
	also   []string      // what else was told of that stop
	part   int
}

// take follows every record behind the head, once core has folded it. zeroed: a
// zero was known before.
func (k *teller) take(r *Result, part int, t int64, core *Core, rec *logfmt.Record, zeroed bool) {
	if part != k.part {
		*k = teller{part: part}
	}
	switch rec.Kind {
	case logfmt.Act:
		k.act, k.told, k.zeroed = *rec, 0, zeroed
		word := rec.Str("act")
		k.checks = word == ActZero || word == ActWeight || word == ActWaive
		if k.checks {
			k.check = checkOf(core, rec)
		}
		if word == ActMark || word == ActNote {
			k.mark(r, t, rec)
		}
	case logfmt.Say:
		if rec.Str("src") == SrcJudge {
			return
		}
		if at, ok := rec.Ns("at"); ok {
			t += at - rec.T
		}
		switch what := rec.Str("what"); what {
		case "stop-set", "stop-more", "stop-lifted", "stop-top", "order":
			k.sayStop(r, what, t, rec)
		case "drop":
			r.sayDrop(t, rec)
		case "check", "zero", "weight", "refused":
			if k.checks && k.byAct(rec) {
				k.sayCheck(r, what, t, core, rec)
			}
		}
	}
}

func (k *teller) mark(r *Result, t int64, act *logfmt.Record) {
	if len(r.Marks) == mostTold {
		r.More++
		return
	}
	r.Marks = append(r.Marks, MarkTold{T: t, Part: k.part, Who: clip(act.Str("who")), Text: clip(act.Str("value"))})
}

// byAct says whether the newest act is what made the program say this.
func (k *teller) byAct(rec *logfmt.Record) bool {
	return k.act.N > 0 && rec.Str("by") == strconv.FormatUint(k.act.N, 10)
}

// checkOf is what an act that checks the load cell came to.
func checkOf(c *Core, act *logfmt.Record) CheckTold {
	nan := trial.Force(math.NaN())
	out := CheckTold{Who: clip(act.Str("who")), Name: clip(act.Str("name")), Shown: nan, Want: nan, Zero: nan, Before: nan,
		basis: basisOf(c)}
	switch act.Str("act") {
	case ActWeight:
		if want, err := ParseWeight(act.Str("value")); err == nil {
			out.Shown, out.Want = c.reading().Mean-c.tension.zero.Force, want
		}
	case ActWaive:
		_, out.Text, _ = strings.Cut(clip(act.Str("value")), " ")
	}
	return out
}

// basisOf is how the lines of the load cell become a force.
func basisOf(c *Core) string {
	cell := &c.head.Trial.Load
	return fmt.Sprint(cell.Unit, cell.Cal, cell.CalUnit, c.fix.reversed, c.fix.unit)
}

func (k *teller) sayCheck(r *Result, what string, t int64, core *Core, rec *logfmt.Record) {
	if what == "check" {
		c := k.check
		switch rec.Str("check") {
		case "zero":
			c.Check, c.Shown, c.Want = safety.CheckZero, trial.Force(math.NaN()), trial.Force(math.NaN())
		case "known-weight":
			c.Check = safety.CheckWeight
		case strings.ReplaceAll(safety.CheckCells.String(), " ", "-"):
			if rec.Str("to") != "waived" { // whether they tell a tension is no check of theirs
				return
			}
			c.Check = safety.CheckCells
		default:
			return
		}
		switch rec.Str("to") {
		case "done":
			c.State = safety.CheckPassed
		case "failed":
			c.State = safety.CheckFailed
		case "waived":
			c.State = safety.CheckWaived
		default:
			return
		}
		c.T, c.Part = t, k.part
		if len(r.Checks) == mostTold {
			r.More++
			return
		}
		r.Checks = append(r.Checks, c)
		k.told = len(r.Checks)
		return
	}
	if k.told == 0 {
		return
	}
	c := &r.Checks[k.told-1]
	force := func(key string, to *trial.Force) {
		if v, ok := rec.Float(key); ok && !math.IsInf(v, 0) {
			*to = trial.Force(v)
		}
	}
	switch what {
	case "zero":
		force("after_n", &c.Zero)
		if k.zeroed {
			force("before_n", &c.Before)
			c.Moved = movedZero(c.Zero-c.Before, core.cfg.Range)
		}
	case "weight":
		force("value_n", &c.Shown)
		force("weight_n", &c.Want)
	case "refused":
		c.Text = clip(rec.Str("text"))
	}
}

// movedZero says whether two zeros are further apart than a cell's should be.
func movedZero(by, full trial.Force) bool {
	return math.Abs(float64(by)) > safety.ZeroBand*float64(full)
}

func (k *teller) sayStop(r *Result, what string, t int64, rec *logfmt.Record) {
	text := clip(rec.Str("text"))
	if what == "stop-set" {
		s := StopTold{T: t, Part: k.part, Kind: clip(rec.Str("kind")), Cause: clip(rec.Str("cause")), Stage: clip(rec.Str("stage")),
			Text: text, Value: math.NaN(), Limit: math.NaN(), Who: clip(rec.Str("who")), Lifted: -1}
		for _, unit := range []string{"n", "m", "s", ""} {
			key := strings.TrimSuffix("value_"+unit, "_")
			if v, ok := rec.Float(key); ok {
				s.Unit, s.Value = unit, v
				if v, ok = rec.Float(strings.Replace(key, "value", "limit", 1)); ok {
					s.Limit = v
				}
			}
		}
		if k.byAct(rec) {
			s.Name = clip(k.act.Str("name"))
		}
		k.also = nil
		if k.stop = 0; len(r.Stops) == mostTold {
			r.More++
			return
		}
		r.Stops = append(r.Stops, s)
		k.stop = len(r.Stops)
		return
	}
	if k.stop == 0 {
		return
	}
	s := &r.Stops[k.stop-1]
	switch {
	case what == "stop-lifted":
		s.Lifted, s.By = t, clip(rec.Str("who"))
		k.stop = 0
	case what == "order" && (rec.Str("order") == "stop" || rec.Str("order") == "none"):
	case len(s.Also) < mostAlso && !slices.Contains(k.also, what+rec.Str("cause")): // a fault that comes and goes is told once
		k.also = append(k.also, clip(what+rec.Str("cause")))
		s.Also = append(s.Also, text)
	}
}

const (
	mostAlso = 20  // what else is told of one stop
	mostText = 300 // bytes kept of a text
)

// clip keeps so much of a text that a hostile log takes no memory.
func clip(s string) string {
	if len(s) <= mostText {
		return strings.Clone(s)
	}
	return strings.Clone(s[:mostText]) + "..."
}
