package safety

import (
	"errors"
	"fmt"
	"math"
	"time"

	"hawse/trial"
	"hawse/trial/rode"
)

// The guard's own times and shares. None has a published source: common
// practice, no source, unless it says otherwise.
const (
	defaultConfirm = int64(300 * time.Millisecond)
	defaultStall   = int64(250 * time.Millisecond)

	deadband = 0.02 // an alarm returns this share below its level, so that it does not chatter

	easeLook   = int64(3 * time.Second) // a winch has stopped by then: tension still at the limit has another cause
	easedShare = 0.2                    // EASE is done under this share of the stop limit
	easedFor   = int64(2 * time.Second)

	endAgain = int64(10 * time.Second) // an end under load must be asked for twice within this time

	warnUnder = 0.8 // of a stop limit that was lowered under its warning

	// Used where a trial names neither tension nor WLL stop, so that no stage is
	// unlimited.
	defaultWLLWarn, defaultWLLStop = 0.64, 0.8

	slackOverBareRode = 1.5 // a rode under this many times its bare level lies slack
	slackShare        = 0.1 // of the least stop limit, where the bare level is unknown

	longestSilence = 5 * time.Second // unknown tension is loaded: no trial may wait longer
)

// Config is what the guard judges against. It is not changed once a guard has
// been made from it.
type Config struct {
	Limits  [trial.NumStages]trial.Limits
	Weakest string      // the piece of gear with the least WLL
	WLL     trial.Force // its WLL; 0: unknown, then nothing can be armed
	Range   trial.Force // of the load cell: at or past it is over range; 0: only the box says so
	Slack   trial.Force // at or above it the rode counts as loaded; 0: from the limits
	Stall   int64       // ns; time jumping by more means the program stood still; 0: 250 ms
	Confirm int64       // ns; a sample at a limit stands alone after this; 0: 300 ms
	// Patience stretches what waits for a person, where a simulated run goes
	// faster than the person lives; 0 and 1: real time.
	Patience float64

	HasStopOut bool       // a stop output is fitted: it must be up before arming
	StopMute   bool       // it cannot say how the relay stands
	HasHorn    bool       // horn and lamp are fitted: they must be tried before arming
	Show       trial.Show // units for what is told to people

	Unrated  []string      // pieces without a rating, or without its source: nothing can be armed
	Things   []trial.Joint // what may not pass the fairlead, farthest from the anchor first; at most 32
	KeepOut  trial.Length  // between such a thing and the fairlead hauling must end
	Rode     []trial.Piece // the rode from the anchor on, for its stiffness; empty: unknown
	Statics  []rode.Piece  // the same for its statics; empty: it counts as pulled straight
	Dead     trial.Force   // dead-weight level; 0: unknown
	LoadHz   float64       // lines a second as the boxes are set; 0: not checked
	LineHz   float64
	Cells    []string    // the further load cells that the limits count with, by their tables; at most 8
	SlowCell bool        // the trial file allows a cell under 3 Hz
	Step     trial.Force // display step of the load box; 0: learnt from what it sends
}

// NewConfig takes the limits of a trial. Its error names every limit that
// cannot be guarded, with stage, key and what to do.
func NewConfig(t *trial.Trial) (*Config, error) {
	weakest, wll := t.Weakest()
	c := &Config{
		Limits: t.Limits, Weakest: weakest, WLL: wll, Range: t.Load.Range,
		HasStopOut: len(t.Stop.Port.Names) > 0, StopMute: !t.Stop.Answers(), HasHorn: t.Horn != nil, Show: t.Show,
		Unrated: t.Unrated(), Things: t.NoPass(), KeepOut: t.Vessel.KeepOut, Rode: t.Rode, Statics: t.RodePieces(),
		LoadHz: float64(t.Load.Rate), LineHz: float64(t.Line.Rate), SlowCell: t.Load.SlowCell, Step: t.Load.Step,
	}
	if t.LargerGuards {
		for _, o := range t.Others {
			c.Cells = append(c.Cells, o.Table)
		}
	}
	if t.Levels.Known {
		c.Dead = t.Levels.DeadWeight
	}
	if err := errors.Join(c.check(), checkGear(t)); err != nil {
		return nil, err
	}
	if t.Levels.Known && t.Levels.BareRode > 0 {
		c.Slack = slackOverBareRode * t.Levels.BareRode
	}
	c.fill()
	return c, nil
}

// checkGear refuses a WLL that is no number: [trial.Trial.Weakest] passes over
// it, and the piece would be guarded by another one's.
func checkGear(t *trial.Trial) error {
	var errs []error
	look := func(name string, wll trial.Force) {
		if !(wll >= 0) || math.IsInf(float64(wll), 0) {
			errs = append(errs, fmt.Errorf("safety: gear: WLL of %q (N) is %v; give a number above zero, with its source", name, float64(wll)))
		}
	}
	for _, p := range t.Rode {
		look(p.Name, p.WLL)
	}
	for _, g := range t.Gear {
		look(g.Name, g.WLL)
	}
	return errors.Join(errs...)
}

// check refuses numbers a guard cannot work with.
func (c *Config) check() error {
	var errs []error
	refuse := func(where, what, do string) {
		errs = append(errs, fmt.Errorf("safety: %s: %s; %s", where, what, do))
	}
	number := func(where, key string, v float64) {
		if !(v >= 0) || math.IsInf(v, 0) {
			refuse(where, fmt.Sprintf("%s is %v", key, v), "give a number above zero, or leave it out")
		}
	}
	number("gear", "the weakest WLL (N)", float64(c.WLL))
	number("load", "range (N)", float64(c.Range))
	number("load", "display step (N)", float64(c.Step))
	number("vessel", "keep out (m)", float64(c.KeepOut))
	if len(c.Things) > mostThings {
		refuse("gear", fmt.Sprintf("%d things that may not pass the fairlead", len(c.Things)), fmt.Sprintf("at most %d", mostThings))
	}
	number("gear", "dead-weight level (N)", float64(c.Dead))
	number("load", "rate (Hz)", c.LoadHz)
	number("line", "rate (Hz)", c.LineHz)
	for _, th := range c.Things {
		number("gear", fmt.Sprintf("%q at (m)", th.Name), float64(th.At))
	}
	for i := range c.Limits {
		l, where := &c.Limits[i], "limits of "+trial.Stage(i).String()
		number(where, "tension warn (N)", float64(l.TensionWarn))
		number(where, "tension stop (N)", float64(l.TensionStop))
		number(where, "WLL warn", l.WLLWarn)
		number(where, "WLL stop", l.WLLStop)
		number(where, "tension to pull to (N)", float64(l.TensionEnd))
		number(where, "line hauled (m)", float64(l.Haul))
		number(where, "minimum scope", l.ScopeMin)
		number(where, "duration (s)", l.Duration.Seconds())
		number(where, "load silent warn (s)", l.SilentWarn.Seconds())
		number(where, "load silent stop (s)", l.SilentStop.Seconds())
		number(where, "line silent warn (s)", l.LineSilentWarn.Seconds())
		number(where, "line silent stop (s)", l.LineSilentStop.Seconds())
		number(where, "time to the limit, warn (s)", l.SoonWarn.Seconds())
		number(where, "time to the limit, stop (s)", l.SoonStop.Seconds())
		number(where, "come-up factor", l.ComeUp)
		if (l.Haul > 0 || l.ScopeMin > 0) && !endsByLine(trial.Stage(i)) {
			refuse(where, "line hauled and minimum scope do not exist in this stage", "take them out")
		}
		if l.TensionStop > 0 && l.TensionWarn > l.TensionStop {
			refuse(where, fmt.Sprintf("tension warn %v is above tension stop %v", l.TensionWarn, l.TensionStop), "warn below the stop")
		}
		if l.WLLStop > 0 && l.WLLWarn > l.WLLStop {
			refuse(where, fmt.Sprintf("WLL warn %v is above WLL stop %v", l.WLLWarn, l.WLLStop), "warn below the stop")
		}
		if l.WLLStop > 1 {
			refuse(where, fmt.Sprintf("WLL stop %v is above the WLL itself", l.WLLStop), "give a share of at most 1")
		}
		if l.SilentStop > longestSilence {
			refuse(where, fmt.Sprintf("load silent stop is %v", l.SilentStop), "at most 5 s: unknown tension is loaded")
		}
		if l.SilentStop > 0 && l.SilentWarn > l.SilentStop {
			refuse(where, fmt.Sprintf("load silent warn %v is above the stop %v", l.SilentWarn, l.SilentStop), "warn before the stop")
		}
		if l.LineSilentStop > 0 && l.LineSilentWarn > l.LineSilentStop {
			refuse(where, fmt.Sprintf("line silent warn %v is above the stop %v", l.LineSilentWarn, l.LineSilentStop), "warn before the stop")
		}
	}
	return errors.Join(errs...)
}

// fill gives every zero that would mean "unlimited" its default and takes out
// ends that do not exist in a stage.
func (c *Config) fill() {
	for i := range c.Limits {
		l := &c.Limits[i]
		if !(l.TensionStop > 0) && !(l.WLLStop > 0) {
			l.WLLWarn, l.WLLStop = defaultWLLWarn, defaultWLLStop
		}
		defaults(&l.SilentWarn, &l.SilentStop, 1*time.Second, 2*time.Second)
		defaults(&l.LineSilentWarn, &l.LineSilentStop, 2*time.Second, 5*time.Second)
		if !endsByLine(trial.Stage(i)) {
			l.Haul, l.ScopeMin = 0, 0
		}
		if !seating.has(trial.Stage(i)) {
			l.TensionEnd = 0
		}
	}
	if c.Stall <= 0 {
		c.Stall = defaultStall
	}
	if c.Confirm <= 0 {
		c.Confirm = defaultConfirm
	}
	if !(c.Patience >= 1) {
		c.Patience = 1
	}
	if !(c.Slack > 0) {
		least := math.Inf(1)
		for i := range c.Limits {
			least = min(least, c.stopN(trial.Stage(i)))
		}
		c.Slack = 0
		if !math.IsInf(least, 1) {
			c.Slack = trial.Force(slackShare * least)
		}
	}
}

func defaults(warn, stop *time.Duration, w, s time.Duration) {
	if *stop <= 0 {
		*stop = s
	}
	if *warn <= 0 {
		*warn = min(w, *stop)
	}
}

// mostThings is how many things that may not pass the fairlead there is room
// for in [State].Cleared.
const mostThings = 32

// endsByLine says whether line hauled and minimum scope exist in a stage. Ease
// and stopped must stay open from any stop, and recovery goes up and down by
// design.
func endsByLine(s trial.Stage) bool { return s.EndsByHaul() && s != trial.Stopped }

// tighter is a limit, or a stricter one that was said since.
func tighter[T ~float64](limit, lowered T) T {
	if lowered > 0 && (limit == 0 || lowered < limit) {
		return lowered
	}
	return limit
}

// stopN is the nearest tension that stops a stage by the trial file, in
// newtons; +Inf: none.
func (c *Config) stopN(s trial.Stage) float64 { return nearest(&c.Limits[s], c.WLL) }

func nearest(l *trial.Limits, wll trial.Force) float64 {
	n := math.Inf(1)
	for _, cause := range [...]Cause{TensionLimit, WLLShare} {
		if _, stop := levels(l, wll, cause); stop > 0 {
			n = min(n, stop)
		}
	}
	return n
}

// levels are the tensions, in newtons, at which one of the two tension causes
// warns and stops; 0: not.
func levels(l *trial.Limits, wll trial.Force, cause Cause) (warn, stop float64) {
	if cause == TensionLimit {
		return float64(l.TensionWarn), float64(l.TensionStop)
	}
	return l.WLLWarn * float64(wll), l.WLLStop * float64(wll)
}

// inForce are the limits as they hold now, worked out when one changes so that
// no sample waits for it.
type inForce struct {
	limits [trial.NumStages]trial.Limits
	stopN  [trial.NumStages]float64
}

// setLimits works out the limits in force: the trial file's, and what the
// director has made stricter since.
func (g *Guard) setLimits() {
	for i := range g.now.limits {
		l := g.cfg.InForce(trial.Stage(i), g.s.Lowered)
		g.now.limits[i], g.now.stopN[i] = l, nearest(&l, g.cfg.WLL)
	}
}

// InForce are the limits of a stage with what has been made stricter since the
// trial file. Lowering what a stage does not have gives it none.
func (c *Config) InForce(stage trial.Stage, low Lowered) trial.Limits {
	l := c.Limits[stage]
	if l.TensionStop > 0 || l.WLLStop > 0 {
		l.TensionStop = tighter(l.TensionStop, low.TensionStop)
		l.TensionWarn = tighter(l.TensionWarn, low.TensionWarn)
		if low.TensionStop > 0 && l.TensionWarn >= l.TensionStop {
			l.TensionWarn = warnUnder * l.TensionStop // a lowered stop is warned of all the same
		}
	}
	if l.Haul > 0 {
		l.Haul = tighter(l.Haul, low.Haul)
	}
	if l.ScopeMin > 0 {
		l.ScopeMin = max(l.ScopeMin, low.ScopeMin)
	}
	return l
}

// limits of a stage as they hold now.
func (g *Guard) limits(stage trial.Stage) *trial.Limits { return &g.now.limits[stage] }

// stopN is the nearest tension that stops a stage now, in newtons; +Inf: none.
func (g *Guard) stopN(s trial.Stage) float64 { return g.now.stopN[s] }

// watchesLine says whether the line encoder must be heard in a stage.
func (g *Guard) watchesLine(s trial.Stage) bool {
	l := &g.cfg.Limits[s]
	return s.Hauls() || l.Haul > 0 || l.ScopeMin > 0
}
