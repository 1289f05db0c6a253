package safety

import "hawse/trial"

// trip latches a stop, or adds to the one that is latched. Before the first
// arming only a person's call does: there is nothing yet to take away, and a
// deck being made ready is full of faults.
func (g *Guard) trip(t int64, c Cause, value, limit float64, who Who, ev *Events) {
	s := &g.s
	if !s.EverArmed && c != PersonStop {
		return
	}
	before := s.Stop
	s.inStop |= 1 << c
	if before.Kind == Trip {
		s.Stop.Acked = false
		if c != before.Cause {
			s.Stop.Later = c
			ev.add(Event{T: t, What: StopMore, Cause: c, Priority: c.row().priority, Stage: s.Stage, Kind: Trip, Value: value, Limit: limit, Who: who})
		}
	} else {
		s.Stop = Stop{Kind: Trip, Cause: c, At: t, Value: value, Limit: limit}
		if c == PersonStop {
			s.Stop.By = who
		}
		s.timers.looked = false
		ev.add(Event{T: t, What: StopSet, Cause: c, Priority: c.row().priority, Stage: s.Stage, Kind: Trip, Value: value, Limit: limit, Who: who})
		g.permit(t, 0, ev)
	}
	// Tension that reaches its limit although the winch has been stopped for
	// something else is not of the winch's making: STOP does not help.
	// Nor does it where the vessel moves.
	if c.row().ease || before.Kind != NoStop && c.row().tension && !before.Cause.row().tension {
		g.order(t, max(s.Order, OrderEase), ev)
	} else {
		g.order(t, max(s.Order, OrderStop), ev)
	}
}

// reachEnd takes a planned end: it stops the winch, but it is no alarm and the
// next stage lifts it.
func (g *Guard) reachEnd(t int64, c Cause, value, limit float64, ev *Events) {
	s := &g.s
	if s.present[c] == atLimit {
		return
	}
	s.present[c] = atLimit
	e := Event{T: t, What: EndReached, Cause: c, Stage: s.Stage, Kind: PlannedEnd, Value: value, Limit: limit}
	if i, _ := g.nextThing(); c == AtFairlead && i >= 0 {
		e.Name = g.cfg.Things[i].Name
	}
	if s.Stop.Kind == PlannedEnd {
		s.Stop.Later = c
	}
	if !s.EverArmed || s.Stop.Kind != NoStop {
		ev.add(e)
		return
	}
	s.Stop = Stop{Kind: PlannedEnd, Cause: c, At: t, Value: value, Limit: limit}
	s.timers.looked = false
	e.What = StopSet
	ev.add(e)
	g.permit(t, 0, ev)
	g.order(t, OrderStop, ev)
}

// lift takes the stop away. Only acts of the director come here.
func (g *Guard) lift(t int64, who Who, ev *Events) {
	s := &g.s
	ev.add(Event{T: t, What: StopLifted, Cause: s.Stop.Cause, Kind: s.Stop.Kind, Stage: s.Stage, Who: who})
	s.Stop, s.inStop = Stop{}, 0
	s.timers.termAsked = false
	g.order(t, NoOrder, ev)
}

// order says what the screen asks of the winch.
func (g *Guard) order(t int64, o Order, ev *Events) {
	s := &g.s
	if s.Order == o {
		return
	}
	s.Order, s.OrderSince = o, t
	s.timers.under = -1
	ev.add(Event{T: t, What: OrderIs, Order: o, Stage: s.Stage, Cause: s.Stop.Cause})
}

// permit follows what permits hauling. Where it rises anew the relay is closed
// under session, a number it has never seen.
func (g *Guard) permit(t int64, session uint32, ev *Events) {
	s := &g.s
	now := s.Armed && s.Stop.Kind == NoStop && s.Stage.Hauls()
	if now == s.Permit {
		return
	}
	s.Permit, s.timers.permitAt, s.word.resting = now, t, false
	if now {
		s.Session, s.RelayOn = session, false
		g.lower(t, RelayStuck, absent, 0, ev)
	} else {
		g.lower(t, RelayStaysOpen, absent, 0, ev)
	}
	ev.add(Event{T: t, What: PermitIs, On: now, Session: s.Session, Stage: s.Stage})
}

// arm is the director's word that hauling may be permitted, or its end.
func (g *Guard) arm(t int64, on bool, who Who, ev *Events) {
	s := &g.s
	if s.Armed == on {
		return
	}
	s.Armed = on
	s.EverArmed = s.EverArmed || on
	if !on {
		s.Checks[ReadyWinch], s.Checks[ReadyLogger], s.Checks[ReadyDirector] = CheckOpen, CheckOpen, CheckOpen
	}
	ev.add(Event{T: t, What: ArmedIs, On: on, Stage: s.Stage, Who: who})
}

// enter goes into a stage: its clock and its line start anew, and what is known
// is judged by its limits.
func (g *Guard) enter(t int64, stage trial.Stage, who Who, ev *Events) {
	s := &g.s
	if s.Stage != stage {
		x, b := s.hauled+s.StageX, s.before // line hauled at the last known count
		lane := x - s.LaneX
		s.Stage, s.StageSince, s.before = stage, t, before{rodeOut: b.rodeOut}
		s.hauled, s.StageX, s.HasStageX = 0, 0, s.Line.HasX
		if s.HasStageX {
			s.StageX = s.Line.X
		}
		g.lane(stage, lane)
		if seating.has(stage) {
			s.rode = rodeSlope{}
		}
		ev.add(Event{T: t, What: StageIs, Stage: stage, Who: who})
		if b.on {
			g.goesOn(t, b, x-b.x, ev)
		}
		s.word.most = float64(s.hauled)
		if stage == trial.Done {
			g.arm(t, false, who, ev)
		}
	}
	g.rejudge(t, ev)
}

// lane keeps where the pull or the preset began, so that what was hauled before
// it was interrupted counts: a lane has one end. A hold, an ease and a stop
// interrupt; any other stage is the end of it. used is what has been hauled in
// it so far: where the line is unknown that alone is kept, until it is known.
func (g *Guard) lane(stage trial.Stage, used trial.Length) {
	s := &g.s
	switch {
	case stage == s.Lane && stage != trial.StandBy && s.HasStageX:
		s.StageX = s.LaneX
		s.hauled = s.Line.X - s.LaneX
	case stage == s.Lane && stage != trial.StandBy:
		s.hauled, s.LaneX = used, 0
	case seating.has(stage):
		s.Lane, s.LaneX = stage, s.StageX
	case stage == trial.Hold || stage == trial.Ease || stage == trial.Stopped:
		if !s.HasStageX && s.Lane != trial.StandBy {
			s.LaneX = -used
		}
	default:
		s.Lane, s.LaneX = trial.StandBy, 0
	}
}

// stillHigh says whether tension is at or above the stage's stop limit now.
func (g *Guard) stillHigh() bool {
	lo, _ := g.s.tensionWas.bounds()
	return g.s.Load.Over || lo >= g.stopN(g.s.Stage)
}
