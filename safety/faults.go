package safety

import (
	"math"
	"time"

	"hawse/trial"
)

// Rules by which a load cell that sends valid lines is not believed all the
// same, and the line's own. Common practice, no source.
const (
	sameFor   = int64(5e9)
	sameHaul  = 0.2  // m
	sameSteps = 20   // display steps
	coarsest  = 1000 // display steps in the range: fewer must be written in the trial file

	risesFor   = int64(60e9)
	risesSteps = 50
	haulsAt    = 0.002 // m/s: less is no hauling

	reversedShare = 0.02 // of the range

	slowShare = 0.5 // of the rate the box is set to
	slowFor   = int64(5e9)
	periodOld = 1.0 / 12 // what one interval weighs in the period

	outWarn, outStop = 0.3, 1.0 // m run out while hauling is permitted

	inStop     = 0.5             // m hauled while it is not
	restsAfter = 2 * time.Second // a winch has run on by then

	soonFor = int64(300e6)
)

// loadWord is what must be remembered of the samples to doubt them.
type loadWord struct {
	since   int64   // the number has been the same since
	sinceX  float64 // and line hauled was this
	fell    int64   // last step down, or last moment without hauling
	slow    int64   // the rate has been too low since; -1 it is not
	soon    int64   // the stop limit has been near in time since; -1 it is not
	most    float64 // most line hauled in the stage
	rest    float64 // least line hauled since the winch was to rest
	resting bool
	at      int64 // of the last sample
	started bool
}

// learn takes the interval between two good frames into the period.
func learn(period *float64, was, t int64) {
	dt := seconds(t - was)
	switch {
	case was < 0 || dt <= 0:
	case *period == 0:
		*period = dt
	default:
		// One gap is an interruption, not a rate: it counts as five intervals.
		*period += (min(dt, 5**period, 10) - *period) * periodOld
	}
}

// doubt looks at a good sample for signs that the number is not the tension.
// was is the sample before it. stood says that the number had been stuck and now
// moves.
func (g *Guard) doubt(t int64, was, v float64, had bool, ev *Events) (stood bool) {
	s, w := &g.s, &g.s.word
	if !w.started || !had {
		w.started, w.since, w.sinceX, w.fell, w.slow, w.soon = true, t, float64(s.Line.X), t, -1, -1
		return false
	}
	if d := math.Abs(v - was); d > 1e-9*max(1, math.Abs(v)) {
		if s.Load.Step == 0 || d < float64(s.Load.Step) {
			s.Load.Step = trial.Force(d)
		}
		stood = s.present[LoadUnchanged] != absent
		w.since, w.sinceX = t, float64(s.Line.X)
		g.lower(t, LoadUnchanged, absent, 0, ev)
	}
	if v < was || !s.hauls() {
		w.fell = t
		g.lower(t, LoadNeverFalls, absent, 0, ev)
	}
	w.at = t
	if g.unchanged(t) {
		g.raise(t, LoadUnchanged, atLimit, seconds(t-w.since), seconds(sameFor), Nobody, ev)
	}
	if t-w.fell >= risesFor && g.above(risesSteps) {
		g.raise(t, LoadNeverFalls, atLimit, seconds(t-w.fell), seconds(risesFor), Nobody, ev)
	}
	g.judgeRate(t, ev)
	g.judgeSign(t, ev)
	return stood
}

// step is the display step of the box, as said or as seen; 0: unknown.
func (g *Guard) step() trial.Force {
	step := g.cfg.Step
	if step == 0 {
		step = g.s.Load.Step
		if most := g.cfg.Range / coarsest; most > 0 {
			step = min(step, most) // two numbers far apart do not make a coarse box
		}
	}
	return step
}

// above says whether the tension is above so many display steps, or the slack
// level while the step is unknown.
func (g *Guard) above(steps float64) bool {
	step := g.step()
	if step == 0 {
		return g.s.Load.Tension > g.cfg.Slack
	}
	return float64(g.s.Load.Felt) > steps*float64(step)
}

// unchanged says whether the load cell, at its sample at t, has stood still for
// too long while line was hauled.
func (g *Guard) unchanged(t int64) bool {
	s, w := &g.s, &g.s.word
	return w.started && s.Line.HasX && t-w.since >= sameFor && float64(s.Line.X)-w.sinceX >= sameHaul-1e-9 && g.above(sameSteps)
}

// hauls says whether line comes in now, as far as anybody can tell.
func (s *State) hauls() bool { return s.Permit && s.Line.HasX && s.haul.slope(s.T) > haulsAt }

func (g *Guard) judgeRate(t int64, ev *Events) {
	s, w := &g.s, &g.s.word
	if !(g.cfg.LoadHz > 0) || s.Load.Period <= 1/(slowShare*g.cfg.LoadHz) {
		w.slow = -1
		g.lower(t, LoadSlow, absent, s.Load.Period, ev)
		return
	}
	if w.slow < 0 {
		w.slow = t
	}
	if t-w.slow >= slowFor {
		g.raise(t, LoadSlow, atLimit, s.Load.Period, 1/g.cfg.LoadHz, Nobody, ev)
	}
}

// judgeSign looks for a tension below zero by more than a zero can be off.
func (g *Guard) judgeSign(t int64, ev *Events) {
	s := &g.s
	rng := float64(g.cfg.Range)
	if !(rng > 0) {
		return
	}
	_, hi := s.tensionWas.bounds()
	lo, _ := s.tensionWas.bounds()
	switch c := LoadReversed; {
	case hi <= -reversedShare*rng:
		g.raise(t, c, atLimit, s.tensionWas.cur, -reversedShare*rng, Nobody, ev)
	case s.present[c] == atLimit && lo < -(1-deadband)*reversedShare*rng:
	case hi <= -ZeroBand*rng, s.present[c] >= warned && lo < -(1-deadband)*ZeroBand*rng:
		g.lower(t, c, warned, s.tensionWas.cur, ev)
		g.raise(t, c, warned, s.tensionWas.cur, -ZeroBand*rng, Nobody, ev)
	default:
		g.lower(t, c, absent, s.tensionWas.cur, ev)
	}
}

// judgeSoon tells that the stop limit comes soon at the present slope. At the
// limit it is old news.
func (g *Guard) judgeSoon(t int64, ev *Events) {
	s, w, l := &g.s, &g.s.word, g.limits(g.s.Stage)
	limit, slope := g.stopN(s.Stage), s.tension.slope(t)
	left := limit - s.tensionWas.cur
	if math.IsInf(limit, 1) || s.present[TensionLimit] == atLimit || s.present[WLLShare] == atLimit || !(slope > 0) ||
		!(left > 0) {
		w.soon = -1
		g.lower(t, LimitSoon, absent, 0, ev)
		return
	}
	in := left / slope
	warn, stop := l.SoonWarn.Seconds(), l.SoonStop.Seconds()
	if nearest := max(warn, stop); !(in <= nearest) {
		w.soon = -1
		if !(in <= 2*nearest) {
			g.lower(t, LimitSoon, absent, in, ev)
		}
		return
	}
	if w.soon < 0 {
		w.soon = t
	}
	if t-w.soon < soonFor {
		return
	}
	if in <= stop {
		g.raise(t, LimitSoon, atLimit, in, stop, Nobody, ev)
	} else {
		g.raise(t, LimitSoon, warned, in, warn, Nobody, ev)
	}
}

// judgeComeUp warns once a pull has been harder than recovery may pull. It
// stays: tension that falls again does not make the anchor come up easier.
func (g *Guard) judgeComeUp(t int64, ev *Events) {
	s := &g.s
	factor := g.limits(s.Stage).ComeUp
	limit := factor * g.stopN(trial.Recover)
	if !holding.has(s.Stage) || !(factor > 0) || math.IsInf(limit, 1) {
		return
	}
	if lo, _ := s.tensionWas.bounds(); lo >= limit {
		g.raise(t, MayNotComeUp, atLimit, s.tensionWas.cur, limit, Nobody, ev)
	}
}

// judgeOut looks for line that runs out while it is to be hauled.
func (g *Guard) judgeOut(t int64, ev *Events) {
	s, w := &g.s, &g.s.word
	if !s.Line.HasX {
		return
	}
	x := float64(s.hauled)
	if x > w.most || !s.Permit {
		w.most = x
	}
	switch out := w.most - x; {
	case out >= outStop:
		g.raise(t, LineReversed, atLimit, out, outStop, Nobody, ev)
	case out >= outWarn:
		g.raise(t, LineReversed, warned, out, outWarn, Nobody, ev)
	case out < outWarn/2:
		g.lower(t, LineReversed, absent, out, ev)
	}
}

// judgeIn looks for line that comes in though hauling is not permitted: the
// winch does not obey, or is not on the relay.
func (g *Guard) judgeIn(t int64, ev *Events) {
	s, w := &g.s, &g.s.word
	if s.Permit || !s.EverArmed || !s.Line.HasX || t-s.timers.permitAt < int64(g.patient(restsAfter)) || !g.judges(HaulsOn) {
		w.resting = false
		return
	}
	x := float64(s.Line.X)
	if !w.resting || x < w.rest {
		w.resting, w.rest = true, x
	}
	if in := x - w.rest; in >= inStop {
		w.rest = x
		g.raise(t, HaulsOn, atLimit, in, inStop, Nobody, ev)
	}
}

// Fault takes what whoever decodes the ports has found out: there, measured as
// value against limit, or no longer there. Only causes that the guard cannot
// judge itself are taken.
func (g *Guard) Fault(t int64, c Cause, there bool, value, limit float64, ev *Events) {
	t = g.advance(t, ev)
	switch c {
	case ZeroMoved, CellsDisagree, CellMissing, LineContradicts, LineReset, LineJumped, DepthOutOfBox, ClockStepped, RecordShort:
	default:
		return
	}
	if !there {
		g.lower(t, c, absent, finiteOr0(value), ev)
		return
	}
	g.raise(t, c, atLimit, finiteOr0(value), finiteOr0(limit), Nobody, ev)
}

func finiteOr0(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}

// Marked takes the line after a mark on the rode was seen at the fairlead: the
// count was wrong by some length, so line hauled itself changes and is judged
// at once.
func (g *Guard) Marked(t int64, l Line, ev *Events) {
	t = g.advance(t, ev)
	s := &g.s
	g.take(l)
	if s.Line.HasX {
		if !s.HasStageX {
			g.tie(t, false, ev)
		}
		s.hauled = s.Line.X - s.StageX
	}
	s.lineAnew()
	s.word.most = float64(s.hauled)
	g.lower(t, LineJumped, absent, 0, ev)
	g.judgeLine(t, true, ev)
}
