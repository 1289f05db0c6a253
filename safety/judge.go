package safety

import (
	"math"

	"hawse/trial"
)

// judgeTension compares the confirmed tension with the levels of the stage,
// the nearest limit first so that it is the one that stops. Anew forgets what
// stood before: another stage's levels have no deadband here.
func (g *Guard) judgeTension(t int64, anew bool, ev *Events) {
	s := &g.s
	lo, hi := s.tensionWas.bounds()
	anew = anew && !math.IsInf(lo, -1)
	order := [...]Cause{TensionLimit, WLLShare}
	if _, a := g.cfg.levels(s.Stage, TensionLimit); a > 0 {
		if _, b := g.cfg.levels(s.Stage, WLLShare); b > 0 && b < a {
			order = [...]Cause{WLLShare, TensionLimit}
		}
	}
	for _, c := range order {
		warn, stop := g.cfg.levels(s.Stage, c)
		if warn == 0 && stop == 0 && s.present[c] == absent {
			continue
		}
		unit := 1.0
		if c == WLLShare {
			unit = float64(g.cfg.WLL)
		}
		keeps := func(l level, at float64) bool {
			return !anew && s.present[c] >= l && !(hi < (1-deadband)*at)
		}
		value := s.tensionWas.cur / unit
		switch {
		case stop > 0 && lo >= stop:
			g.raise(t, c, atLimit, value, stop/unit, Nobody, ev)
		case stop > 0 && keeps(atLimit, stop):
		case warn > 0 && (lo >= warn || keeps(warned, warn)):
			g.lower(t, c, warned, value, ev)
			g.raise(t, c, warned, value, warn/unit, Nobody, ev)
		default:
			g.lower(t, c, absent, value, ev)
		}
	}
}

// judgeWinch follows what the order rests on once a stop is in force: EASE
// while tension stays at its limit, STOP again when it has been eased away.
func (g *Guard) judgeWinch(t int64, ev *Events) {
	s := &g.s
	if s.Stop.Kind == NoStop {
		return
	}
	if s.timers.looked && s.Order == OrderStop && g.stillHigh() {
		g.order(t, OrderEase, ev)
	}
	if s.Order != OrderEase {
		return
	}
	if under := s.TensionKnown() && s.tensionWas.cur < easedShare*g.cfg.stopN(s.Stage); !under {
		s.timers.under = -1
	} else if s.timers.under < 0 {
		s.timers.under = t
	}
}

// ended returns the planned end a stage has come to: kept says that the stage
// goes on rather than begins anew. NoCause: none.
func (g *Guard) ended(t int64, stage trial.Stage, kept bool) (c Cause, value, limit float64) {
	s, l := &g.s, &g.cfg.Limits[stage]
	switch {
	case l.Haul > 0 && kept && s.hauled >= l.Haul:
		return LineHauled, float64(s.hauled), float64(l.Haul)
	case l.ScopeMin > 0 && s.Line.HasS && s.Line.Scope <= l.ScopeMin:
		return MinimumScope, s.Line.Scope, l.ScopeMin
	case l.Duration > 0 && kept && t >= after(s.StageSince, l.Duration):
		return StageDuration, seconds(t - s.StageSince), l.Duration.Seconds()
	}
	return NoCause, 0, 0
}

// judgeLine compares line hauled and scope with the planned ends of the stage.
func (g *Guard) judgeLine(t int64, ev *Events) {
	s, l := &g.s, &g.cfg.Limits[g.s.Stage]
	if s.Line.HasX && l.Haul > 0 {
		switch now, end := float64(s.hauled), float64(l.Haul); {
		case now >= end:
			g.reachEnd(t, LineHauled, now, end, ev)
		case now < (1-deadband)*end:
			s.present[LineHauled] = absent
		}
	}
	if s.Line.HasS && l.ScopeMin > 0 {
		switch now, end := s.Line.Scope, l.ScopeMin; {
		case now <= end:
			g.reachEnd(t, MinimumScope, now, end, ev)
		case now > (1+deadband)*end:
			s.present[MinimumScope] = absent
		}
	}
}

// rejudge judges all that is known by the limits of the stage as it is now, as
// if nothing had stood before, so that no deadband of the past hides a limit.
func (g *Guard) rejudge(t int64, ev *Events) {
	s, l := &g.s, &g.cfg.Limits[g.s.Stage]
	for _, c := range [...]Cause{LineHauled, MinimumScope, StageDuration} {
		s.present[c] = absent
	}
	g.rejudgeSilence(t, LoadSilent, s.timers.loadWord, int64(l.SilentWarn), int64(l.SilentStop), ev)
	g.rejudgeSilence(t, LoadGarbled, s.timers.loadWord, int64(l.SilentWarn), int64(l.SilentStop), ev)
	if g.cfg.watchesLine(s.Stage) {
		g.rejudgeSilence(t, LineSilent, s.timers.lineWord, int64(l.LineSilentWarn), int64(l.LineSilentStop), ev)
	} else {
		g.lower(t, LineSilent, absent, seconds(t-s.timers.lineWord), ev)
	}
	g.judgeTension(t, true, ev)
	g.judgeLine(t, ev)
	g.judgeWinch(t, ev)
}

// rejudgeSilence takes back what a stage with longer times does not count as
// silence yet; what it counts earlier falls due by itself.
func (g *Guard) rejudgeSilence(t int64, c Cause, since, warn, stop int64, ev *Events) {
	switch age := t - since; {
	case age < warn:
		g.lower(t, c, absent, seconds(age), ev)
	case age < stop:
		g.lower(t, c, warned, seconds(age), ev)
	}
}
