package tui

import (
	"time"

	"hawse/safety"
)

// orderLine is what stands below the order: what to do about it where the word
// alone is not enough, and why it stands. It is the richest form that fits in w
// cells; all is false where none of them names every cause of the stop.
func (m model) orderLine(w int) (text string, all bool) {
	leads := m.leads()
	if len(leads) == 0 {
		return m.stopText(w)
	}
	for _, lead := range leads {
		if why, all := m.stopText(w - width(lead) - 2); all {
			return lead + ": " + why, true
		}
	}
	for _, lead := range leads {
		for _, why := range m.causeForms() {
			if t := lead + ": " + why; width(t) <= w {
				return t, false
			}
		}
	}
	return m.orderAlone(w), false
}

// orderAlone is the line below the order where the causes have a row of their
// own: what to do, or else the first cause.
func (m model) orderAlone(w int) string {
	forms := m.leads()
	if len(forms) == 0 {
		forms = m.causeForms()
	}
	return widest(forms, w)
}

// leads is what to do where the word of the order does not say it all, from the
// longest to the shortest.
func (m model) leads() []string {
	g := &m.snap.Guard
	switch {
	case g.Order == safety.OrderEase && (g.Stop.Cause == safety.VesselMoves || g.Alarms[safety.VesselMoves].Standing()):
		return []string{"call the helm, then ease", "helm, then ease"}
	case g.Order == safety.OrderAbandon:
		return []string{"the crew slips the rode by its own plan", "slip by the crew's plan", "by the crew's plan"}
	}
	return nil
}

// stopText is why the order stands: its first cause, and the newest other one.
// all is false where w cells have no room for both.
func (m model) stopText(w int) (text string, all bool) {
	s := m.snap
	st := &s.Guard.Stop
	if st.Kind == safety.NoStop {
		t := "ordered " + ageText(time.Duration(s.T-s.Guard.OrderSince)) + " ago"
		return t, width(t) <= w
	}
	forms := m.causeForms()
	if st.Later == safety.NoCause || st.Later == st.Cause {
		t := widest(forms, w)
		return t, width(t) <= w
	}
	for _, later := range []string{st.Later.Title(), shortTitle(st.Later)} {
		for _, first := range forms {
			if t := first + "; then " + later; width(t) <= w {
				return t, true
			}
		}
	}
	return widest(forms, w), false
}

// causeForms is the first cause of the stop in force, from the longest form to
// the shortest; none without a stop.
func (m model) causeForms() []string {
	s := m.snap
	st := &s.Guard.Stop
	if st.Kind == safety.NoStop {
		return nil
	}
	u := unitsOf(s)
	t := st.Cause.Title()
	switch {
	case st.Cause == safety.PersonStop && st.By != safety.Nobody:
		t += " by " + st.By.String()
	case st.Cause == safety.AtFairlead:
		if name, _ := nextThing(s); name != "" {
			t += ": " + name
		}
	case st.Kind == safety.PlannedEnd:
		t += " " + u.amount(st.Cause, st.Value)
	default:
		t += measured(s, u, st.Cause, st.Value, st.Limit)
	}
	forms := []string{t, st.Cause.Title(), shortTitle(st.Cause)}
	if st.Taken { // set in the log before this one, and measured there
		const mark = ", taken over"
		forms = []string{t + mark, st.Cause.Title() + mark, shortTitle(st.Cause) + mark, st.Cause.Title(), shortTitle(st.Cause)}
	}
	if st.Kind == safety.PlannedEnd {
		forms = append([]string{t + ", planned end"}, forms...)
	}
	return forms
}

// widest is the first of forms, which get shorter, that fits in w cells; the
// last one if none does, for a mark to show where it was cut.
func widest(forms []string, w int) string {
	t := ""
	for _, t = range forms {
		if width(t) <= w {
			break
		}
	}
	return t
}

// shortTitle names a cause where its title has no room: two of them fit side by
// side in the narrowest screen.
func shortTitle(c safety.Cause) string {
	switch c {
	case safety.VesselMoves:
		return "RISING, NO HAUL"
	case safety.LoadNotNumber:
		return "LOAD NO NUMBER"
	case safety.LoadAngle:
		return "NO LINE ANGLE"
	case safety.LineJumped:
		return "LINE JUMPED"
	case safety.StoodStill:
		return "STOOD STILL"
	case safety.HaulsOn:
		return "HAULS ANYWAY"
	case safety.RelayStuck:
		return "RELAY STUCK"
	case safety.Terminated:
		return "TOLD TO END"
	}
	return c.Title()
}
