package trial

import (
	"fmt"
	"strings"
	"time"
)

// lowest is the least of two limits, of which either may be unsaid (0).
func lowest(a, b Force) Force {
	if a == 0 || b != 0 && b < a {
		return b
	}
	return a
}

// checkLimits holds the limits of each stage against each other, the gear and
// the box.
func (r *fileReader) checkLimits(t *Trial, from *LimitKeys) {
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
			c.soon(l)
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
	say := c.t.Show.ForceText
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
	if wll != 0 && l.TensionStop > wll {
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
	if c.sound(kTensionEnd) && l.TensionEnd != 0 && stop != 0 && l.TensionEnd >= stop {
		c.fail(fmt.Sprintf("%s is not under the stop, %s, so it is never reached", say(l.TensionEnd), say(stop)),
			"lower it, or leave it out", kTensionEnd)
	}
	if c.r.sound("load.range") && stop > c.t.Load.Range {
		c.fail(fmt.Sprintf("the stop, %s, is above the range of the load cell's box, %s", say(stop), say(c.t.Load.Range)),
			"lower the stop, or use a cell with a larger range", kTensionStop, kWLLStop)
	}
}

func (c limitCheck) soon(l Limits) {
	if c.sound(kSoonWarn, kSoonStop) && l.SoonStop != 0 && l.SoonWarn <= l.SoonStop {
		c.fail(fmt.Sprintf("the warning, %s before the stop limit, is not earlier than the stop, %s before it", FormatDuration(l.SoonWarn), FormatDuration(l.SoonStop)),
			"give soon_warn the longer time", kSoonWarn, kSoonStop)
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
