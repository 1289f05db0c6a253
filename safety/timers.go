package safety

import (
	"math"
	"time"
)

// timers is what the guard must remember to know what falls due. A deadline is
// never stored: it follows from these times and the limits of the stage, so a
// change of stage cannot leave a stale one behind.
type timers struct {
	started   bool  // the first record has been seen
	loadWord  int64 // last frame of the load cell that decoded; before it, the first record
	lastLoad  int64 // last good frame of the load cell; -1 none yet
	permitAt  int64 // when hauling was last permitted, or ceased to be
	holds     int32 // alarms that outlast their cause for now
	hold      [NumCauses]hold
	lineWord  int64 // last count good enough for the stage's limits; before it, the first record
	looked    bool  // the look at the tension after the stop is done
	under     int64 // tension has been eased away since; -1 it is not
	endAsked  int64 // an end under load was asked for; -1 it was not
	termAsked bool  // the system has asked once already
}

// deadline is what may fall due. At one and the same time they fire in this
// order.
type deadline uint8

const (
	noDeadline deadline = iota
	sampleAlone
	countAlone
	loadWarn
	loadStop
	lineWarn
	lineStop
	stageOver
	lookAgain
	easedAway
	relayLate
	settles
)

// after is the time d after t, held at the end of time instead of wrapping.
func after(t int64, d time.Duration) int64 {
	if t > 0 && int64(d) > math.MaxInt64-t {
		return math.MaxInt64
	}
	return t + int64(d)
}

func seconds(ns int64) float64 { return float64(ns) / 1e9 }

// next returns the deadline that falls due first, and when.
func (g *Guard) next() (d deadline, at int64) {
	s, l := &g.s, g.limits(g.s.Stage)
	at = math.MaxInt64
	due := func(which deadline, since int64, in time.Duration) {
		if when := after(since, in); when < at {
			d, at = which, when
		}
	}
	if s.tensionWas.pending() {
		due(sampleAlone, s.tensionWas.at, time.Duration(g.cfg.Confirm))
	}
	if s.ends[LineHauled]|s.ends[MinimumScope]|s.ends[AtFairlead] != 0 && s.Line.At >= 0 {
		due(countAlone, s.Line.At, time.Duration(g.cfg.Confirm))
	}
	if s.Cell == CellOn {
		switch max(s.present[LoadSilent], s.present[LoadGarbled]) {
		case absent:
			due(loadWarn, s.timers.loadWord, l.SilentWarn)
			fallthrough
		case warned:
			due(loadStop, s.timers.loadWord, l.SilentStop)
		}
	}
	if g.watchesLine(s.Stage) {
		switch s.present[LineSilent] {
		case absent:
			due(lineWarn, s.timers.lineWord, l.LineSilentWarn)
			fallthrough
		case warned:
			due(lineStop, s.timers.lineWord, l.LineSilentStop)
		}
	}
	if l.Duration > 0 && s.present[StageDuration] == absent {
		due(stageOver, s.StageSince, l.Duration)
	}
	if s.Stop.Kind != NoStop && !s.timers.looked {
		due(lookAgain, s.Stop.At, time.Duration(easeLook))
	}
	if s.Order == OrderEase && s.timers.under >= 0 {
		due(easedAway, s.timers.under, time.Duration(easedFor))
	}
	if g.cfg.HasStopOut && !g.cfg.StopMute && s.Permit && !s.RelayOn && s.present[RelayStaysOpen] == absent {
		due(relayLate, s.timers.permitAt, g.patient(relayAnswers))
	}
	if s.timers.holds > 0 {
		for i := range s.timers.hold {
			if h := &s.timers.hold[i]; h.on {
				due(settles, h.until, 0)
			}
		}
	}
	return d, at
}

// relayOpens is how long a relay may say closed after its permit has gone: its
// window, and the word on its way.
const relayOpens = 1 * time.Second

// relayAnswers is how long a relay may take to say that it has closed.
const relayAnswers = 2 * time.Second

// patient is a time that waits for the machine, in the capture's own clock.
func (g *Guard) patient(d time.Duration) time.Duration {
	return time.Duration(float64(d) * g.cfg.Patience)
}

// fire runs every deadline at or before t in order of due time, each stamped
// with that time, or with the present if it lies before it: a stage that was
// entered may have shorter times than the one left.
func (g *Guard) fire(t int64, ev *Events) {
	for {
		d, at := g.next()
		if d == noDeadline || at > t {
			return
		}
		g.s.T = max(g.s.T, at)
		g.run(d, g.s.T, ev)
	}
}

func (g *Guard) run(d deadline, t int64, ev *Events) {
	s, l := &g.s, g.limits(g.s.Stage)
	switch d {
	case sampleAlone:
		s.tensionWas.alone = true
		g.judgeGood(t, ev)
	case countAlone:
		g.judgeLine(t, true, ev)
		s.ends[LineHauled], s.ends[MinimumScope], s.ends[AtFairlead] = 0, 0, 0
	case relayLate:
		g.raise(t, RelayStaysOpen, atLimit, 0, 0, Nobody, ev)
	case settles:
		for c := NoCause + 1; c < NumCauses; c++ {
			if h := s.timers.hold[c]; h.on && h.until <= t {
				g.settle(t, c, h.value, false, ev)
			}
		}
	case loadWarn:
		g.silent(t, g.silence(t), warned, l.SilentWarn, ev)
		s.timers.under = -1 // unknown tension is not eased away
	case loadStop:
		g.silent(t, g.silence(t), atLimit, l.SilentStop, ev)
	case lineWarn:
		g.raise(t, LineSilent, warned, seconds(t-s.timers.lineWord), l.LineSilentWarn.Seconds(), Nobody, ev)
	case lineStop:
		g.raise(t, LineSilent, atLimit, seconds(t-s.timers.lineWord), l.LineSilentStop.Seconds(), Nobody, ev)
	case stageOver:
		g.reachEnd(t, StageDuration, seconds(t-s.StageSince), l.Duration.Seconds(), ev)
	case lookAgain:
		s.timers.looked = true
		if c := s.Stop.Cause; (c == TensionLimit || c == WLLShare) && s.Stop.Top > 0 {
			unit := 1.0
			if c == WLLShare {
				unit = float64(g.cfg.WLL)
			}
			top, past := float64(s.Stop.Top)/unit, math.IsInf(float64(s.Stop.Top), 1)
			if past {
				top = 0
			}
			ev.add(Event{T: t, What: StopTop, Cause: c, Kind: s.Stop.Kind, Stage: s.Stage, On: past, Value: top, Limit: s.Stop.Limit})
		}
		g.judgeWinch(t, ev)
	case easedAway:
		g.order(t, OrderStop, ev)
	}
}

// silence tells a load cell that says nothing from one that cannot be
// understood: bytes came within the last half of the warning time.
func (g *Guard) silence(t int64) Cause {
	s := &g.s
	recent := int64(g.limits(s.Stage).SilentWarn) / 2
	if s.Load.HeardAt > s.timers.loadWord && s.Load.HeardAt >= t-recent {
		return LoadGarbled
	}
	return LoadSilent
}

// silent raises one of the two faces of a lost load cell; the other one, if it
// was warned of, is the same situation and goes.
func (g *Guard) silent(t int64, c Cause, l level, limit time.Duration, ev *Events) {
	age, other := seconds(t-g.s.timers.loadWord), LoadSilent+LoadGarbled-c
	g.s.present[other] = absent
	g.settle(t, other, age, false, ev)
	g.raise(t, c, l, age, limit.Seconds(), Nobody, ev)
}
