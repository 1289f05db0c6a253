package safety

import (
	"math"

	"hawse/trial"
)

// Used is what a guard has used up of the limits of its stage, and what it must
// not forget: what one that goes on from a log that broke off takes over with
// [Guard.GoOn], so that no limit is laxer than before.
//
// What looks back over some seconds only (slopes, the rise without haul, a
// number that stands still) is not in it and begins anew: nobody saw the time
// between. Before hauling is permitted again more time has passed than that.
type Used struct {
	Stage   trial.Stage
	For     int64        // ns since it began
	Hauled  trial.Length // since it began, at the last known count
	Lane    trial.Stage  // Pull or Preset: its lane has not come to its end; StandBy: none
	InLane  trial.Length // hauled since that began
	RodeOut trial.Length // at the last count; 0: unknown
	Moved   float64      // m hauled with the anchor giving way, which tells a snag
	ComeUp  float64      // N: the tension [MayNotComeUp] was said at; 0: it does not stand
	Recover float64      // N: what that was judged against
	Step    trial.Force  // the load box's display step as learnt; 0: unknown
	Stands  uint64       // bit c: of [Lasting], the warning c stands
}

// Lasting are the warnings that only a check or a person's word takes away.
var Lasting = [...]Cause{ZeroDue, ZeroMoved, LineContradicts}

// before is what of a [Used] waits for its stage to be said again. Another stage
// than that is as any next stage, and what was used up of the one before is over.
type before struct {
	on              bool
	here            bool // the stage was said again, and is still the present one
	stage           trial.Stage
	since           int64        // when it began; before this log did
	x               trial.Length // where it began, as [State].LaneX
	moved           float64
	comeUp, recover float64

	rodeOut trial.Length // 0: unknown, or the line has been known since
}

// Used returns what has been used up as of the last input.
func (g *Guard) Used() Used {
	s, b := &g.s, &g.s.before
	x := s.hauled + s.StageX
	u := Used{Stage: s.Stage, For: s.T - s.StageSince, Hauled: s.hauled, RodeOut: b.rodeOut, Moved: s.rode.moved, Step: s.Load.Step}
	if a := &s.Alarms[MayNotComeUp]; s.present[MayNotComeUp] == atLimit {
		u.ComeUp, u.Recover = a.Value, a.Limit
	}
	if b.on {
		u.Stage, u.For, u.Hauled, u.Moved, u.ComeUp, u.Recover = b.stage, s.T-b.since, x-b.x, b.moved, b.comeUp, b.recover
	}
	if s.Lane != trial.StandBy {
		u.Lane, u.InLane = s.Lane, x-s.LaneX
	}
	if s.Line.HasX {
		u.RodeOut = s.Line.RodeOut
	}
	for _, c := range Lasting {
		if s.present[c] == atLimit || c == ZeroDue && s.zeroDue {
			u.Stands |= 1 << c
		}
	}
	return u
}

// GoOn takes over what was used up in the log before this one. It is called once,
// before anything is said of a stage or of the rode out; u.For runs up to t, the
// time in which no program ran included. The same stage, when it is said again,
// goes on where it was, and so does the lane; line hauled in either is counted
// on once the line is known: see [Guard.CountedOn].
func (g *Guard) GoOn(t int64, u Used, ev *Events) {
	t = g.advance(t, ev)
	s := &g.s
	u.clean()
	x := s.hauled + s.StageX
	s.before = before{on: true, stage: u.Stage, since: t - u.For, x: x - u.Hauled, moved: u.Moved, comeUp: u.ComeUp, recover: u.Recover, rodeOut: u.RodeOut}
	if seating.has(u.Lane) {
		s.Lane, s.LaneX = u.Lane, x-u.InLane
	}
	if u.Step > 0 {
		s.Load.Step = u.Step
	}
	for _, c := range Lasting {
		if u.Stands&(1<<c) != 0 {
			g.raise(t, c, atLimit, 0, 0, Nobody, ev)
		}
	}
	if b := s.before; u.Stage == s.Stage { // nobody has to say it
		s.before.on = false
		g.goesOn(t, b, u.Hauled, ev)
	}
}

// mostUsed is more, in metres and newtons, than there is to use up.
const mostUsed = 1e9

// clean takes out what cannot be: a log is not to be trusted.
func (u *Used) clean() {
	for _, v := range []*float64{(*float64)(&u.Hauled), (*float64)(&u.InLane), (*float64)(&u.RodeOut), &u.Moved, &u.ComeUp, &u.Recover, (*float64)(&u.Step)} {
		if !(math.Abs(*v) <= mostUsed) {
			*v = 0
		}
	}
	u.For = min(max(u.For, 0), math.MaxInt64/4)
	u.RodeOut, u.Moved = max(u.RodeOut, 0), max(u.Moved, 0)
}

// goesOn is called with a stage that was entered, the first since b was taken
// over. The one that was broken off goes on; hauled is what had come in in it.
func (g *Guard) goesOn(t int64, b before, hauled trial.Length, ev *Events) {
	s := &g.s
	if s.Stage == b.stage {
		s.before.here, s.StageSince = true, b.since
		if s.hauled = hauled; s.HasStageX {
			s.StageX = b.x
			s.hauled = s.Line.X - b.x
		}
		switch {
		case s.Lane == s.Stage:
			s.LaneX = s.StageX
		case s.Lane != trial.StandBy && !s.HasStageX:
			s.LaneX += hauled
		}
	}
	if s.Stage == b.stage || !seating.has(s.Stage) {
		s.rode.moved = b.moved
	}
	if b.comeUp > 0 {
		g.raise(t, MayNotComeUp, atLimit, b.comeUp, b.recover, Nobody, ev)
	}
}

// CountedOn takes the line as [Guard.Said] does, where it was counted on since
// the log before this one broke off: what came in or ran out meanwhile is known.
func (g *Guard) CountedOn(t int64, l Line, ev *Events) { g.said(t, l, true, ev) }

// tie ties what is kept in metres hauled to the line's zero as it is now: what
// was hauled stays what it was. The first time after a log broke off, what was
// hauled meanwhile is the difference of the rode out then and now; unless it
// was counted on, no less is out by it than was then, so that nothing gets laxer.
func (g *Guard) tie(t int64, counted bool, ev *Events) {
	s, b := &g.s, &g.s.before
	laneFrom, stageFrom := s.LaneX-s.StageX, b.x-s.StageX
	zero := s.Line.X - s.hauled
	var by trial.Length
	first := b.rodeOut != 0 && (b.on || b.here || s.Lane != trial.StandBy)
	if first {
		if by = b.rodeOut - s.Line.RodeOut; !counted {
			by = max(by, 0)
		}
	}
	b.rodeOut = 0
	s.StageX, s.HasStageX = zero, true
	if b.here || s.Lane != trial.StandBy && s.Stage == s.Lane {
		s.StageX -= by
		s.hauled += by
	}
	stage, from := s.Stage, s.StageX // of what is told
	if b.on {
		b.x = zero + stageFrom - by
		stage, from = b.stage, b.x
	}
	if s.Lane != trial.StandBy {
		s.LaneX = zero + laneFrom - by
		stage, from = s.Lane, s.LaneX
	}
	if !first {
		return
	}
	if limit := g.limits(stage).Haul; limit > 0 {
		ev.add(Event{T: t, What: UsedIs, Cause: LineHauled, Stage: stage, Value: float64(s.Line.X - from), Limit: float64(limit)})
	}
}
