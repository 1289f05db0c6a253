package safety

// raise says that a cause has come as far as l, measured as value against
// limit. At its limit it trips. A cause that has come no farther than before is
// no news, unless it is one that happens anew each time.
func (g *Guard) raise(t int64, c Cause, l level, value, limit float64, who Who, ev *Events) {
	s, row := &g.s, c.row()
	if s.present[c] >= l && !row.moment {
		return
	}
	s.present[c] = l
	p := row.priority
	if l == warned {
		p = min(p, Warning)
	}
	a := &s.Alarms[c]
	if a.State == Returned || a.State == Unacknowledged {
		p = max(p, a.Priority) // what nobody has seen is not made smaller
	}
	*a = Alarm{State: Unacknowledged, Priority: p, Since: t, Value: value, Limit: limit}
	ev.add(Event{T: t, What: AlarmUp, Cause: c, Priority: p, Stage: s.Stage, On: l == atLimit, Value: value, Limit: limit, Who: who})
	if l == atLimit && row.does == trips {
		g.trip(t, c, value, limit, who, ev)
	}
}

// lower says that a cause has gone back to l, warned or absent.
func (g *Guard) lower(t int64, c Cause, l level, value float64, ev *Events) {
	s := &g.s
	if s.present[c] <= l {
		return
	}
	s.present[c] = l
	a := &s.Alarms[c]
	e := Event{T: t, What: AlarmDown, Cause: c, Priority: a.Priority, Stage: s.Stage, Value: value, Limit: a.Limit}
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
			s.present[c] = absent
			*a = Alarm{}
		default:
			a.State = Acknowledged
			if s.present[c] == warned {
				a.Priority = min(a.Priority, Warning)
			}
		}
	}
	return some
}
