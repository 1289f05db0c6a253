package trial

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// limitSet is limits as one table of the file gives them, with the path of
// each key that stands there.
type limitSet struct {
	Limits
	at map[string]string // "tension_stop" -> "limits.pull.tension_stop"
}

// stageLimits tells, for each stage, which key each of its limits comes from.
type stageLimits [NumStages]map[string]string

// The keys of a limits table. Those in plannedEnds end a stage as planned;
// said for every stage at once they reach pull and hold only.
const (
	kTensionWarn    = "tension_warn"
	kTensionStop    = "tension_stop"
	kWLLWarn        = "wll_warn"
	kWLLStop        = "wll_stop"
	kHaul           = "haul"
	kScopeMin       = "scope_min"
	kDuration       = "duration"
	kSilentWarn     = "silent_warn"
	kSilentStop     = "silent_stop"
	kLineSilentWarn = "line_silent_warn"
	kLineSilentStop = "line_silent_stop"
)

// Bounds on silence. No guard waits longer than five seconds for the load,
// whatever its rate; common practice, no source. The line's is chosen here.
const (
	maxSilence     = 5 * time.Second
	maxLineSilence = 30 * time.Second
)

func (r *fileReader) readLimitTable(v *fileTable) limitSet {
	s := limitSet{at: map[string]string{}}
	opt := func(name, what, eg string) ask {
		if _, have := v.n.vals[name]; have {
			s.at[name] = v.key(name)
		}
		return ask{name: name, what: what, eg: eg, optional: true}
	}
	s.TensionWarn = quantity(v, opt(kTensionWarn, "the tension at which to warn", `"6.4 kN"`), ParseForce, loadBounds)
	s.TensionStop = quantity(v, opt(kTensionStop, "the tension at which to stop", `"8.0 kN"`), ParseForce, loadBounds)
	s.WLLWarn = v.number(opt(kWLLWarn, "the share of the weakest WLL at which to warn", "0.64"), 0, 1)
	s.WLLStop = v.number(opt(kWLLStop, "the share of the weakest WLL at which to stop", "0.8"), 0, 1)
	s.Haul = quantity(v, opt(kHaul, "the line to haul in the stage", `"30 m"`), ParseLength, bounds{above: true, most: 20e3, mostSay: "20 km"})
	scope := opt(kScopeMin, "the least scope, incl. roller height", "4.0")
	if s.ScopeMin = v.number(scope, 0, 1000); s.ScopeMin != 0 && s.ScopeMin < 1 {
		v.fail(scope, shortest(s.ScopeMin)+" is under 1: such a rode does not reach the bottom")
	}
	s.Duration = v.duration(opt(kDuration, "the longest time in the stage", `"20 min"`), time.Second, 240*time.Hour)
	s.SilentWarn = v.duration(opt(kSilentWarn, "how long without the load before a warning", `"1 s"`), 10*time.Millisecond, maxSilence)
	s.SilentStop = v.duration(opt(kSilentStop, "how long without the load before a stop", `"2 s"`), 10*time.Millisecond, maxSilence)
	s.LineSilentWarn = v.duration(opt(kLineSilentWarn, "how long without the line count before a warning", `"2 s"`), 10*time.Millisecond, maxLineSilence)
	s.LineSilentStop = v.duration(opt(kLineSilentStop, "how long without the line count before a stop", `"5 s"`), 10*time.Millisecond, maxLineSilence)
	return s
}

func (r *fileReader) readLimits(t *Trial, v *fileTable) stageLimits {
	base := r.readLimitTable(v)
	var own [NumStages]limitSet
	for _, name := range v.n.keys {
		n := v.n.vals[name]
		s, err := ParseStage(name)
		if err != nil {
			continue // another key, or none: done names it
		}
		sub := v.table(name, "the limits of this stage", true)
		if sub == nil {
			continue
		}
		if own[s].at != nil {
			v.r.fail(n.line, sub.path, "is a second table for the stage "+s.String(), "put its keys under one header")
			continue
		}
		own[s] = r.readLimitTable(sub)
		sub.done()
		if r.stray[sub.path] {
			r.stray["limits."+s.Key()] = true // however the file spells it
		}
		for _, k := range []string{kHaul, kScopeMin} {
			if at, have := own[s].at[k]; have && !s.EndsByHaul() {
				r.failAt(at, "does not exist in "+s.String(), "take it out: this stage is not ended by line hauled or scope")
			}
		}
	}
	for s := range NumStages {
		v.asked = append(v.asked, s.Key())
	}
	v.done()

	var from stageLimits
	for s := range NumStages {
		t.Limits[s], from[s] = base.forStage(s, own[s])
		t.Limits[s].fillSilence(t.Load.Rate)
	}
	return from
}

// forStage lays a stage's own limits over those said for every stage.
func (base limitSet) forStage(s Stage, own limitSet) (Limits, map[string]string) {
	l, at := base.Limits, map[string]string{}
	for k, path := range base.at {
		at[k] = path
	}
	if s != Pull && s != Hold {
		l.Haul, l.ScopeMin, l.Duration = 0, 0, 0
		delete(at, kHaul)
		delete(at, kScopeMin)
		delete(at, kDuration)
	}
	for k, path := range own.at {
		at[k] = path
	}
	over(&l.TensionWarn, own.TensionWarn)
	over(&l.TensionStop, own.TensionStop)
	over(&l.WLLWarn, own.WLLWarn)
	over(&l.WLLStop, own.WLLStop)
	over(&l.Haul, own.Haul)
	over(&l.ScopeMin, own.ScopeMin)
	over(&l.Duration, own.Duration)
	over(&l.SilentWarn, own.SilentWarn)
	over(&l.SilentStop, own.SilentStop)
	over(&l.LineSilentWarn, own.LineSilentWarn)
	over(&l.LineSilentStop, own.LineSilentStop)
	return l, at
}

// over replaces a limit where the stage says its own.
func over[T comparable](dst *T, own T) {
	var unsaid T
	if own != unsaid {
		*dst = own
	}
}

// fillSilence puts in the silence times that were not said. For the load,
// warn after max(1 s, 3 periods) and stop after max(2 s, 5 periods), never
// above 5 s; for the line 2 s and 5 s. Common practice, no source.
func (l *Limits) fillSilence(rate Rate) {
	periods := func(n float64, least time.Duration) time.Duration {
		if !(rate > 0) {
			return least
		}
		d := time.Duration(math.Ceil(math.Min(n/float64(rate), maxSilence.Seconds()) * float64(time.Second)))
		return min(max(least, d), maxSilence)
	}
	fillPair(&l.SilentWarn, &l.SilentStop, periods(3, time.Second), periods(5, 2*time.Second))
	fillPair(&l.LineSilentWarn, &l.LineSilentStop, 2*time.Second, 5*time.Second)
}

// fillPair puts in the default of a warning and of its stop. A stop that was
// said shorter than the default warning is warned of at half its time.
func fillPair(warn, stop *time.Duration, dWarn, dStop time.Duration) {
	if *stop == 0 {
		*stop = dStop
	}
	if *warn == 0 {
		*warn = dWarn
		if *warn >= *stop {
			*warn = *stop / 2
		}
	}
}

// lowest is the least of two limits, of which either may be unsaid (0).
func lowest(a, b Force) Force {
	if a == 0 || b != 0 && b < a {
		return b
	}
	return a
}

// checkLimits holds the limits of each stage against each other, the gear and
// the box.
func (r *fileReader) checkLimits(t *Trial, from *stageLimits) {
	if from[Pull] == nil {
		return // no limits at all: told already
	}
	var naked []string
	for s := range NumStages {
		l, at := t.Limits[s], from[s]
		if s.RodeOut() && l.TensionStop == 0 && l.WLLStop == 0 {
			naked = append(naked, s.String())
		}
		c := limitCheck{r: r, t: t, stage: s, at: at}
		if !r.stray["limits"] && !r.stray["limits."+s.Key()] {
			c.tension(l)
			c.silence(l)
		}
	}
	if len(naked) > 0 && r.sound("limits") {
		r.failAt("limits.tension_stop", "no tension_stop and no wll_stop in "+strings.Join(naked, ", ")+", where rode may be out",
			`say one for every stage, such as tension_stop = "8.0 kN" under [limits]`)
	}
}

type limitCheck struct {
	r     *fileReader
	t     *Trial
	stage Stage
	at    map[string]string
}

// sound reports whether those of these keys that are given are without fault.
func (c limitCheck) sound(keys ...string) bool {
	for _, k := range keys {
		if path, given := c.at[k]; given && !c.r.sound(path) {
			return false
		}
	}
	return !c.r.broken
}

// fail points at the key among these that the stage says itself, else at the
// first that is given.
func (c limitCheck) fail(reason, want string, keys ...string) {
	var first string
	own := ""
	for _, k := range keys {
		path, given := c.at[k]
		if !given {
			continue
		}
		if first == "" {
			first = path
		}
		if own == "" && strings.Count(path, ".") == 2 {
			own = path
		}
	}
	if own != "" {
		first = own
	}
	if first != "" {
		c.r.failAt(first, reason, want)
	}
}

func (c limitCheck) tension(l Limits) {
	if !c.sound(kTensionWarn, kTensionStop, kWLLWarn, kWLLStop) {
		return
	}
	say := c.t.Show.force
	paired := true
	if l.TensionWarn != 0 && l.TensionStop != 0 && l.TensionWarn >= l.TensionStop {
		c.fail(fmt.Sprintf("the warning, %s, is not under the stop, %s", say(l.TensionWarn), say(l.TensionStop)),
			"give the stage a tension_warn under its tension_stop", kTensionWarn, kTensionStop)
		paired = false
	}
	if l.WLLWarn != 0 && l.WLLStop != 0 && l.WLLWarn >= l.WLLStop {
		c.fail(fmt.Sprintf("the warning, %s of the WLL, is not under the stop, %s", shortest(l.WLLWarn), shortest(l.WLLStop)),
			"give the stage a wll_warn under its wll_stop", kWLLWarn, kWLLStop)
		paired = false
	}
	if !c.r.sound("rode", "gear") {
		return
	}
	name, wll := c.t.Weakest()
	if l.TensionStop > wll {
		c.fail(fmt.Sprintf("%s is above the weakest WLL, %s (%s)", say(l.TensionStop), say(wll), visible(name)),
			"lower it, with a margin for the winch's run-on", kTensionStop)
		return
	}
	stop := lowest(l.TensionStop, Force(l.WLLStop)*wll)
	warn := lowest(l.TensionWarn, Force(l.WLLWarn)*wll)
	if paired && warn != 0 && stop != 0 && warn >= stop {
		c.fail(fmt.Sprintf("nothing warns before the stop: the first warning is at %s, the stop at %s", say(warn), say(stop)),
			"give the stage a warning under its stop", kTensionStop, kWLLStop)
	}
	if c.r.sound("load.range") && stop > c.t.Load.Range {
		c.fail(fmt.Sprintf("the stop, %s, is above the range of the load cell's box, %s", say(stop), say(c.t.Load.Range)),
			"lower the stop, or use a cell with a larger range", kTensionStop, kWLLStop)
	}
}

func (c limitCheck) silence(l Limits) {
	c.quiet("load", c.t.Load.Rate, l.SilentWarn, l.SilentStop, kSilentWarn, kSilentStop)
	c.quiet("line", c.t.Line.Rate, l.LineSilentWarn, l.LineSilentStop, kLineSilentWarn, kLineSilentStop)
}

func (c limitCheck) quiet(box string, rate Rate, warn, stop time.Duration, kWarn, kStop string) {
	if !c.sound(kWarn, kStop) || !c.r.sound(box+".rate") {
		return
	}
	if warn >= stop {
		c.fail(fmt.Sprintf("the warning, %s, is not under the stop, %s", FormatDuration(warn), FormatDuration(stop)),
			fmt.Sprintf("give both, with %s the shorter", kWarn), kWarn, kStop)
	}
	if period := time.Duration(float64(time.Second) / float64(rate)); warn <= period {
		c.fail(fmt.Sprintf("a warning after %s would sound between two good lines, %s apart at %s.rate", FormatDuration(warn), FormatDuration(period), box),
			"give it at least three of them", kWarn, kStop)
	}
}

// force writes a force in the units of the file, for an error.
func (s Show) force(f Force) string {
	if !(s.Tension.N > 0) {
		return f.String()
	}
	return strconv.FormatFloat(s.Tension.In(f), 'g', 6, 64) + " " + s.Tension.Name
}

// length writes a length in the units of the file, for an error.
func (s Show) length(l Length) string {
	if !(s.Length.M > 0) {
		return l.String()
	}
	return strconv.FormatFloat(s.Length.In(l), 'g', 6, 64) + " " + s.Length.Name
}
