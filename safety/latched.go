package safety

import "math"

// Latched is a trip that was in force when a log broke off: what the guard that
// goes on latches again with [Guard.Latch].
type Latched struct {
	Cause        Cause // of the stop: the first
	Later        Cause // the newest other one; NoCause: none
	Value, Limit float64
	By           Who
	Order        Order
	There        uint64 // bit c: the cause c was there, and would trip
	Armed        bool   // the director had armed before
}

// Latched returns the trip in force; ok is false if there is none.
func (s *State) Latched() (l Latched, ok bool) {
	l = Latched{Cause: s.Stop.Cause, Later: s.Stop.Later, Value: s.Stop.Value, Limit: s.Stop.Limit, By: s.Stop.By, Order: s.Order, Armed: s.EverArmed}
	for c := NoCause + 1; c < NumCauses; c++ {
		if c.Trips() && s.present[c] == atLimit {
			l.There |= 1 << c
		}
	}
	return l, s.Stop.Kind == Trip
}

// Latch puts a trip in force again that was taken over from the log before this
// one, with its own causes. They count as there until they are seen to have
// gone, as in the log before, and all want to be acknowledged anew. It returns
// false, and does nothing, if l is no trip or one is in force already.
func (g *Guard) Latch(t int64, l Latched, ev *Events) bool {
	s := &g.s
	if !l.Cause.Trips() || s.Stop.Kind == Trip {
		return false
	}
	t = g.advance(t, ev)
	if l.By > Program {
		l.By = Nobody
	}
	if l.Order > OrderAbandon {
		l.Order = OrderStop
	}
	// A cause other than a call has latched nothing before the first arming.
	s.EverArmed = s.EverArmed || l.Armed || l.Cause != PersonStop
	s.Stop = Stop{Kind: Trip, Cause: l.Cause, At: t, Value: finiteOr0(l.Value), Limit: finiteOr0(l.Limit), By: l.By, Taken: true}
	if l.Later.Trips() && l.Later != l.Cause {
		s.Stop.Later = l.Later
	}
	s.timers.looked = true // the winch has had its time to stop
	g.again(t, l.Cause, l.There, ev)
	ev.add(Event{T: t, What: StopSet, Cause: l.Cause, Priority: l.Cause.row().priority, Stage: s.Stage, Kind: Trip, Value: s.Stop.Value,
		Limit: s.Stop.Limit, Who: l.By, Taken: true})
	for c := NoCause + 1; c < NumCauses; c++ {
		if c != l.Cause && c.Trips() && (c == s.Stop.Later || l.There&(1<<c) != 0) {
			g.again(t, c, l.There, ev)
		}
	}
	g.permit(t, 0, ev)
	g.order(t, max(l.Order, OrderStop), ev)
	return true
}

// again lets the alarm of a cause of the stop appear, and the cause with it, if
// it was there and can be seen to go.
func (g *Guard) again(t int64, c Cause, there uint64, ev *Events) {
	s := &g.s
	s.inStop |= 1 << c
	e := Event{Cause: c, On: true, Taken: true}
	if c == s.Stop.Cause {
		e.Value, e.Limit, e.Who = s.Stop.Value, s.Stop.Limit, s.Stop.By
	}
	due := s.zeroDue
	if s.present[c] < atLimit {
		g.alarm(t, e, atLimit, ev)
	}
	switch row := c.row(); {
	case there&(1<<c) == 0:
		s.zeroDue = due // it was heard again, and told to be checked then
		g.settle(t, c, 0, false, ev)
	case !g.judges(c) && !row.keeps || !g.ends(c) || g.onlyWarns(c):
		g.settle(t, c, 0, true, ev)
	default:
		s.present[c] = atLimit
		s.riseTaken = s.riseTaken || c == VesselMoves
	}
}

// ends says whether a cause that is there would ever be seen to go, with what
// is fitted now: one that would not could never be re-armed from.
func (g *Guard) ends(c Cause) bool {
	switch c {
	case RelayStuck:
		return g.cfg.HasStopOut && !g.cfg.StopMute
	case StopOutLost:
		return g.cfg.HasStopOut
	case LoadReversed:
		return g.cfg.Range > 0
	case VesselMoves:
		return !math.IsInf(g.stopN(g.s.Stage), 1)
	}
	return true
}
