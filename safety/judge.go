package safety

import (
	"math"

	"hawse/trial"
)

// judgeTension compares the confirmed tension with the levels of the stage,
// the nearest limit first so that it is the one that stops. Anew forgets what
// stood before: another stage's levels have no deadband here.
func (g *Guard) judgeTension(t int64, anew bool, ev *Events) {
	s, l := &g.s, g.limits(g.s.Stage)
	lo, hi := s.tensionWas.bounds()
	anew = anew && !math.IsInf(lo, -1)
	order := [...]Cause{TensionLimit, WLLShare}
	if _, a := levels(l, g.cfg.WLL, TensionLimit); a > 0 {
		if _, b := levels(l, g.cfg.WLL, WLLShare); b > 0 && b < a {
			order = [...]Cause{WLLShare, TensionLimit}
		}
	}
	for i, c := range order {
		warn, stop := levels(l, g.cfg.WLL, c)
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
			// One situation, one alert: the other limit's warning says the same.
			if s.present[c] == warned || s.shown[order[1-i]] == absent {
				g.raise(t, c, warned, value, warn/unit, Nobody, ev)
			}
		default:
			g.lower(t, c, absent, value, ev)
		}
	}
	if l.TensionEnd > 0 {
		switch at := float64(l.TensionEnd); {
		case lo >= at:
			g.reachEnd(t, TensionReached, s.tensionWas.cur, at, ev)
		case anew || hi < (1-deadband)*at:
			s.present[TensionReached] = absent
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
	if under := s.TensionKnown() && s.tensionWas.cur < easedShare*g.stopN(s.Stage); !under {
		s.timers.under = -1
	} else if s.timers.under < 0 {
		s.timers.under = t
	}
}

// ended returns the planned end a stage has come to: kept says that the stage
// goes on rather than begins anew. NoCause: none.
func (g *Guard) ended(t int64, stage trial.Stage, kept bool) (c Cause, value, limit float64) {
	s, l := &g.s, g.limits(stage)
	thing, left := g.nextThing()
	hauled, since, counts := s.hauled, s.StageSince, kept
	switch {
	case s.before.on && stage == s.before.stage: // so does what a log that broke off had begun
		hauled, since, counts, kept = s.hauled+s.StageX-s.before.x, s.before.since, true, true
	case !kept && stage == s.Lane && stage != trial.StandBy && s.Line.HasX:
		hauled, counts = s.Line.X-s.LaneX, true // an interrupted lane goes on
	}
	lo, _ := s.tensionWas.bounds()
	switch {
	case l.TensionEnd > 0 && seating.has(stage) && lo >= float64(l.TensionEnd):
		return TensionReached, s.tensionWas.cur, float64(l.TensionEnd)
	case stage.Hauls() && thing >= 0 && left <= 0:
		return AtFairlead, float64(g.cfg.KeepOut + left), float64(g.cfg.KeepOut)
	case l.Haul > 0 && counts && hauled >= l.Haul:
		return LineHauled, float64(hauled), float64(l.Haul)
	case l.ScopeMin > 0 && s.Line.HasS && s.Line.Scope <= l.ScopeMin:
		return MinimumScope, s.Line.Scope, l.ScopeMin
	case l.Duration > 0 && kept && t >= after(since, l.Duration):
		return StageDuration, seconds(t - since), l.Duration.Seconds()
	}
	return NoCause, 0, 0
}

// judgeLine compares line hauled, scope and what comes to the fairlead with the
// planned ends of the stage. A count ends nothing by itself, since it may be
// wrong: two in a row do, or one that stands alone; sure says that it stands.
func (g *Guard) judgeLine(t int64, sure bool, ev *Events) {
	s, l := &g.s, g.limits(g.s.Stage)
	if s.Line.HasX && l.Haul > 0 {
		now, end := float64(s.hauled), float64(l.Haul)
		g.judgeEnd(t, LineHauled, now, end, now >= end, now < (1-deadband)*end, sure, ev)
	}
	if s.Line.HasS && l.ScopeMin > 0 {
		now, end := s.Line.Scope, l.ScopeMin
		g.judgeEnd(t, MinimumScope, now, end, now <= end, now > (1+deadband)*end, sure, ev)
	}
	if i, left := g.nextThing(); i >= 0 && s.Stage.Hauls() {
		out, keep := float64(g.cfg.KeepOut+left), float64(g.cfg.KeepOut)
		g.judgeEnd(t, AtFairlead, out, keep, left <= 0, left > 0.1, sure, ev)
	}
}

// judgeEnd takes one count against one planned end.
func (g *Guard) judgeEnd(t int64, c Cause, now, end float64, there, gone, sure bool, ev *Events) {
	s := &g.s
	switch {
	case !there:
		s.ends[c] = 0
		if gone {
			s.present[c] = absent
		}
	case s.present[c] == atLimit:
		s.ends[c] = 0
	case sure || s.ends[c] > 0:
		s.ends[c] = 0
		g.reachEnd(t, c, now, end, ev)
	default:
		s.ends[c] = 1
	}
}

// nextThing is the next thing that may not pass the fairlead, and how much line
// may be hauled before it is as near as it may come; -1: none, or rode out is
// unknown.
func (g *Guard) nextThing() (i int, left trial.Length) {
	s := &g.s
	if !s.Line.HasX {
		return -1, 0
	}
	for i, th := range g.cfg.Things {
		if s.Cleared&(1<<i) == 0 {
			return i, s.Line.RodeOut - th.At - g.cfg.KeepOut
		}
	}
	return -1, 0
}

// rejudge judges all that is known by the limits of the stage as it is now, as
// if nothing had stood before, so that no deadband of the past hides a limit.
func (g *Guard) rejudge(t int64, ev *Events) {
	s, l := &g.s, g.limits(g.s.Stage)
	for c := NoCause + 1; c < NumCauses; c++ {
		switch row := c.row(); {
		case row.does == endsStage:
			s.present[c], s.ends[c] = absent, 0
		case row.keeps && !row.in.has(s.Stage): // it stays until it is gone
		case !g.judges(c):
			g.drop(t, c, ev)
		case g.onlyWarns(c) && s.present[c] == atLimit:
			s.present[c] = warned
			g.settle(t, c, 0, true, ev)
		}
	}
	g.rejudgeSilence(t, LoadSilent, s.timers.loadWord, int64(l.SilentWarn), int64(l.SilentStop), ev)
	g.rejudgeSilence(t, LoadGarbled, s.timers.loadWord, int64(l.SilentWarn), int64(l.SilentStop), ev)
	if g.watchesLine(s.Stage) {
		g.rejudgeSilence(t, LineSilent, s.timers.lineWord, int64(l.LineSilentWarn), int64(l.LineSilentStop), ev)
	} else {
		g.lower(t, LineSilent, absent, seconds(t-s.timers.lineWord), ev)
	}
	g.judgeTension(t, true, ev)
	g.judgeLine(t, true, ev)
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
