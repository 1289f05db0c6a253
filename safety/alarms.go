package safety

// hold keeps an alarm up for a while after its cause has gone, so that one that
// comes and goes with a swell is one alarm.
type hold struct {
	on    bool
	until int64
	value float64 // measured when the cause went
}

func (s *State) holdUp(c Cause, h hold) {
	if s.timers.hold[c].on {
		s.timers.holds--
	}
	if h.on {
		s.timers.holds++
	}
	s.timers.hold[c] = h
}

// judges says whether a cause is judged now.
func (g *Guard) judges(c Cause) bool {
	row := c.row()
	return row.in.has(g.s.Stage) && !(row.cell && g.s.Cell != CellOn)
}

// raise says that a cause has come as far as l, measured as value against
// limit. At its limit it trips, unless its stage only warns of it. A cause that
// has come no farther than before is no news, unless it is one that happens
// anew each time; nor is one whose alarm has not gone down since.
func (g *Guard) raise(t int64, c Cause, l level, value, limit float64, who Who, ev *Events) {
	s, row := &g.s, c.row()
	if !g.judges(c) {
		return
	}
	if g.onlyWarns(c) {
		if l == atLimit && row.ease && s.Stop.Kind != NoStop {
			g.order(t, max(s.Order, OrderEase), ev) // it sets no stop, but one is in force
		}
		l = warned
	}
	if s.present[c] >= l && !row.moment {
		return
	}
	s.present[c] = l
	trips := l == atLimit && row.does == trips
	if s.shown[c] >= l && !row.moment {
		if s.present[c] == s.shown[c] {
			s.holdUp(c, hold{})
		}
		known := s.Stop.Kind == Trip && s.inStop&(1<<c) != 0
		if trips && known && row.ease {
			g.order(t, max(s.Order, OrderEase), ev) // eased, and rising again
		}
		if !trips || known || !s.EverArmed {
			return
		}
	}
	g.alarm(t, Event{Cause: c, On: l == atLimit, Value: value, Limit: limit, Who: who}, l, ev)
	if trips {
		g.trip(t, c, value, limit, who, ev)
	}
}

// onlyWarns says that a trip is a warning as things are.
func (g *Guard) onlyWarns(c Cause) bool {
	row := c.row()
	return row.does == trips && (row.warnIn.has(g.s.Stage) || row.warnsNew && !g.s.EverArmed)
}

// alarm lets the alarm of a cause appear, or rise to l. e is what is said of
// it, but for what follows from the cause.
func (g *Guard) alarm(t int64, e Event, l level, ev *Events) {
	s, c := &g.s, e.Cause
	a := &s.Alarms[c]
	s.shown[c] = max(s.shown[c], l)
	switch c {
	case LoadSilent, LoadGarbled, LoadOverRange:
		s.zeroDue = s.zeroDue || l == atLimit && s.EverArmed
	}
	p := c.row().priority
	if l == warned {
		p = min(p, Warning)
	}
	if a.Unseen() {
		p = max(p, a.Priority) // what nobody has seen is not made smaller
	}
	if !s.anyAlarm() {
		s.FirstUp = c
	}
	*a = Alarm{State: Unacknowledged, Priority: p, Since: t, Value: e.Value, Limit: e.Limit}
	e.T, e.What, e.Priority, e.Stage = t, AlarmUp, p, s.Stage
	ev.add(e)
}

// lower says that a cause has gone back to l, warned or absent. Its alarm
// follows at once or, if the cause is one that comes and goes, after a while.
func (g *Guard) lower(t int64, c Cause, l level, value float64, ev *Events) {
	s := &g.s
	if s.present[c] <= l {
		return
	}
	s.present[c] = l
	if lasts := c.row().lasts; lasts > 0 {
		s.holdUp(c, hold{on: true, until: after(t, lasts), value: value})
		return
	}
	g.settle(t, c, value, false, ev)
}

// drop takes away a cause that is not judged as things are now.
func (g *Guard) drop(t int64, c Cause, ev *Events) {
	g.s.present[c] = absent
	g.settle(t, c, 0, true, ev)
}

// settle lets the alarm of a cause come down to where the cause is.
func (g *Guard) settle(t int64, c Cause, value float64, unjudged bool, ev *Events) {
	s, l := &g.s, g.s.present[c]
	s.holdUp(c, hold{})
	if s.shown[c] <= l {
		return
	}
	s.shown[c] = l
	a := &s.Alarms[c]
	e := Event{T: t, What: AlarmDown, Cause: c, Priority: a.Priority, Stage: s.Stage, Value: value, Limit: a.Limit, On: unjudged}
	switch {
	case l == warned:
		e.What = AlarmLess
		if a.State == Acknowledged {
			a.Priority = min(a.Priority, Warning)
			e.Priority = a.Priority
		}
	case a.State == Acknowledged:
		*a = Alarm{}
	default:
		a.State = Returned
	}
	ev.add(e)
	g.forgetFirst()
}

// acknowledge marks every alarm as seen. One whose cause has gone, or only
// stood to be seen, is over.
func (g *Guard) acknowledge(t int64, who Who, ev *Events) (some bool) {
	s := &g.s
	for c := NoCause + 1; c < NumCauses; c++ {
		a := &s.Alarms[c]
		if !a.Unseen() {
			continue
		}
		some = true
		ev.add(Event{T: t, What: AlarmAcked, Cause: c, Priority: a.Priority, Stage: s.Stage, Value: a.Value, Limit: a.Limit, Who: who})
		switch {
		case a.State == Returned || c.row().moment:
			s.present[c], s.shown[c] = absent, absent
			*a = Alarm{}
			if c.row().cell && s.Cell != CellOn {
				a.State = Suppressed
			}
		default:
			a.State = Acknowledged
			if s.shown[c] == warned {
				a.Priority = min(a.Priority, Warning)
			}
		}
	}
	g.forgetFirst()
	return some
}

// anyAlarm says whether an alarm stands or waits to be seen.
func (s *State) anyAlarm() bool {
	for c := range s.Alarms {
		if a := &s.Alarms[c]; a.State != Normal && a.State != Suppressed {
			return true
		}
	}
	return false
}

func (g *Guard) forgetFirst() {
	if g.s.FirstUp != NoCause && !g.s.anyAlarm() {
		g.s.FirstUp = NoCause
	}
}

// suppress sets the alarms of the load cell aside by design, or takes them up
// again.
func (g *Guard) suppress(t int64, on bool, ev *Events) {
	s := &g.s
	for c := NoCause + 1; c < NumCauses; c++ {
		if !c.row().cell {
			continue
		}
		if !on {
			if s.Alarms[c].State == Suppressed {
				s.Alarms[c] = Alarm{}
			}
			continue
		}
		g.drop(t, c, ev)
		if s.Alarms[c].State == Normal {
			s.Alarms[c].State = Suppressed
		}
	}
	g.forgetFirst()
}
