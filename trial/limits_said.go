package trial

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// LimitSaid is one limit of a stage as it is in force, and who said it.
type LimitSaid struct {
	Key   string  // as the trial file names it: "tension_stop"
	Value float64 // SI: N, m, s, or a plain number
	Unit  string  // "n", "m", "s", or "" for a share, a scope or a factor
	From  string  // the key in the file that says it; "" where it is a default
}

// Inherited says that the limit is one for every stage, said under [limits].
func (l LimitSaid) Inherited() bool { return strings.Count(l.From, ".") == 1 }

// Text is the value in the units to show: "6.4 kN", "0.85", "1 s".
func (l LimitSaid) Text(s Show) string {
	switch l.Unit {
	case "n":
		return s.ForceText(Force(l.Value))
	case "m":
		return s.LengthText(Length(l.Value))
	case "s":
		if m := l.Value / 60; m >= 2 && m == math.Trunc(m) {
			return shortest(m) + " min"
		}
		return FormatDuration(time.Duration(math.Round(l.Value * float64(time.Second))))
	}
	return shortest(l.Value)
}

// LimitsSaid is every limit there is in a stage, in the order of the file. One
// that is neither said nor has a default is left out.
func (t *Trial) LimitsSaid(s Stage) []LimitSaid {
	if s >= NumStages {
		return nil
	}
	l := t.Limits[s]
	var out []LimitSaid
	for _, x := range []struct {
		key, unit string
		v         float64
	}{
		{kTensionWarn, "n", float64(l.TensionWarn)}, {kTensionStop, "n", float64(l.TensionStop)},
		{kWLLWarn, "", l.WLLWarn}, {kWLLStop, "", l.WLLStop},
		{kSoonWarn, "s", l.SoonWarn.Seconds()}, {kSoonStop, "s", l.SoonStop.Seconds()},
		{kTensionEnd, "n", float64(l.TensionEnd)},
		{kHaul, "m", float64(l.Haul)}, {kScopeMin, "", l.ScopeMin}, {kDuration, "s", l.Duration.Seconds()},
		{kComeUp, "", l.ComeUp},
		{kSilentWarn, "s", l.SilentWarn.Seconds()}, {kSilentStop, "s", l.SilentStop.Seconds()},
		{kLineSilentWarn, "s", l.LineSilentWarn.Seconds()}, {kLineSilentStop, "s", l.LineSilentStop.Seconds()},
	} {
		if x.v != 0 {
			out = append(out, LimitSaid{x.key, x.v, x.unit, t.LimitsAt[s][x.key]})
		}
	}
	return out
}

// TensionStop is the tension at which a stage stops: the lower of tension_stop
// and the share of the weakest WLL, with the one that gives it; 0 and "" where
// there is neither.
func (t *Trial) TensionStop(s Stage) (f Force, by LimitSaid) {
	_, wll := t.Weakest()
	for _, l := range t.LimitsSaid(s) {
		v := Force(l.Value)
		switch l.Key {
		case kTensionStop:
		case kWLLStop:
			v *= wll
		default:
			continue
		}
		if v > 0 && (f == 0 || v < f) {
			f, by = v, l
		}
	}
	return f, by
}

// Where names the place of a limit for a person: the key, and how it got here.
func (l LimitSaid) Where() string {
	switch {
	case l.From == "":
		return "default, common practice"
	case l.Inherited():
		return fmt.Sprintf("%s, inherited", l.From)
	}
	return l.From
}
