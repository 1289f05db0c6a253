package tui

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"hawse/acquire/session"
	"hawse/safety"
)

// drawOrder is what is asked of the winch: one word, big, and why; or that no
// stop is in force, and what would bring one next.
func (m model) drawOrder(c *canvas, l layout) {
	r := l.order
	if r.h == 0 {
		return
	}
	s := m.snap
	word := orderWord(s)
	if word == "" {
		m.drawNoStop(c, r)
		return
	}
	// The ground reaches one row above and below the word, so that it stands out
	// on a light terminal as on a dark one.
	block := rect{r.x, r.y, r.w, r.h - 1}
	c.restyle(rect{r.x, r.y - 1, r.w, 1}, loud)
	c.clear(r, loud)
	if l.wordBig {
		f := l.word
		f.draw(c, block, max((r.w-f.width(word))/2, 1), word, loud)
	} else {
		c.text(block.row(block.h/2), max((r.w-width(word))/2, 0), word, loud)
	}
	line, all := m.orderLine(r.w - 2)
	if !all && l.why.h > 0 {
		line = m.orderAlone(r.w - 2)
		why, _ := m.stopText(l.why.w - 2)
		c.clear(l.why, loud)
		c.text(l.why, 1, why, loud)
	}
	c.text(r.row(r.h-1), 1, line, loud)
}

// measured is what a cause was measured at, with the limit; a silence counts
// on. Empty where there is nothing to measure.
func measured(s *session.Snapshot, u units, c safety.Cause, value, limit float64) string {
	if !(limit > 0) {
		return ""
	}
	if text := safety.InWords(c, value, limit); text != "" {
		return text
	}
	if measureOf(c) == noMeasure {
		return ""
	}
	age := func(at int64) string {
		now := max(float64(s.T-at)/1e9, value)
		return " " + u.amount(c, now) + ", stop at " + u.amount(c, limit)
	}
	switch {
	case (c == safety.LoadSilent || c == safety.LoadGarbled) && !s.Tension.Known && s.Tension.At >= 0:
		return age(s.Tension.At)
	case c == safety.LineSilent && s.Line.LastAt >= 0 && float64(s.T-s.Line.LastAt)/1e9 > value:
		return age(s.Line.LastAt)
	}
	return " " + u.amount(c, value) + " of " + u.amount(c, limit)
}

// howToLift says what the director does next: about the stop in force, or
// before the first arming.
func howToLift(s *session.Snapshot) string {
	st := &s.Guard.Stop
	switch {
	case s.Guard.Order == safety.OrderAbandon && st.Acked:
		return "ABANDON stands until the stop is lifted: r re-arms"
	case st.Kind == safety.PlannedEnd && st.Cause == safety.AtFairlead:
		name, _ := nextThing(s)
		if name == "" {
			return "planned end: n says the next stage, " + stageAhead(s).String()
		}
		return "c says that " + name + " has been taken in by hand; n says the next stage"
	case s.Guard.Cell == safety.CellOff:
		return "load cell off: x, then 4, says that it is back"
	case s.Guard.Cell == safety.CellBack:
		return "load cell back: x, then 5, zeroes it; until then tension is not measured"
	case st.Kind == safety.PlannedEnd:
		return "planned end: n says the next stage, " + stageAhead(s).String()
	case st.Kind == safety.Trip && !st.Acked:
		return "k acknowledges, then r re-arms; s: ease is open"
	case st.Kind == safety.Trip:
		return "acknowledged: r re-arms once the cause is gone; s: ease is open"
	case s.Guard.EverArmed || s.Mode == "replay":
		return ""
	}
	var missing []string
	if !s.Haul.DepthOK {
		missing = append(missing, "d says the depth")
	}
	if !s.Haul.Known {
		missing = append(missing, "o says the rode out")
	}
	arms := "a arms"
	switch n := toDo(s); {
	case n > 0:
		arms = fmt.Sprintf("a: the list before arming, %d to do", n)
	case len(s.Checklist) > 0:
		arms = "a: nothing is left to do before arming"
	}
	return strings.Join(append(missing, arms), ", ")
}

func (m model) drawNoStop(c *canvas, r rect) {
	s := m.snap
	y := 0
	line := func(text string, st role) {
		if text != "" && y < r.h {
			c.text(r.row(y), 0, text, st)
			y++
		}
	}
	switch {
	case m.staleFor() > 0:
		line("order unknown: screen data stalled", loud)
		line("watch the winch, call stop by voice", strong)
		return
	case s.Ended:
		title := "the capture has ended"
		if m.player != nil {
			title = "end of the log"
		}
		line(title, strong)
		line(s.EndReason, plain)
		line("q leaves", plain)
		return
	case !m.stopAsked.IsZero() && m.at.Sub(m.stopAsked) > stopTakes:
		line("STOP CALLED, NOT IN FORCE YET", loud)
		line("use the winch's own stop", strong)
	case !m.stopAsked.IsZero():
		line("STOP called", loud)
	case m.drawSoon(c, r):
		return
	default:
		line("no stop in force", strong)
	}
	if r.h > 6 {
		y++
	}
	short := r.w < 34
	permit, st := m.permitText()
	if before, _, ok := strings.Cut(permit, ","); ok && short {
		permit = before
		if st == caution {
			permit = "haul permitted, RELAY OPEN"
		}
	}
	line(permit, st)
	count := func(g safety.Margin) {
		text := m.countdown(g)
		if short {
			text, _, _ = strings.Cut(text, " (")
			text = strings.TrimSuffix(text, atThisSlope)
		}
		line(text, accent)
	}
	told := safety.NoCause
	if near, ok := nearest(s); ok {
		told = near.Cause
		text := "nearest: " + limitName(near.Cause)
		switch {
		case near.Cause.Planned() && m.countdown(near) != "":
		case short:
			line(text, plain)
			text = m.leftText(near)
		default:
			text += ", " + m.leftText(near)
		}
		line(text, plain)
		count(near)
	}
	if end, ok := nearestEnd(s); ok {
		count(end)
		told = end.Cause
	}
	for _, g := range s.Margins {
		if g.Cause == safety.AtFairlead && told != g.Cause && g.Left < fairleadNear {
			count(g)
		}
	}
}

// fairleadNear: what is closer to the fairlead, in metres, is told though
// another end comes first. Common practice, no source.
const fairleadNear = 10

// permitText is what stands between the winch and hauling, as the guard and
// the relay tell it.
func (m model) permitText() (string, role) {
	s := m.snap
	g := &s.Guard
	relay := relayText(s)
	switch {
	case g.Permit && g.Alarms[safety.RelayStaysOpen].Standing():
		return "haul permitted, but the relay stays open", caution
	case g.Permit && s.Relay.Heard && !s.Relay.Closed:
		return "haul permitted, but the " + relay, caution
	case g.Permit:
		return "haul permitted, " + relay, plain
	case !g.Armed:
		return "not armed: no haul, " + relay, plain
	case g.Stop.Kind != safety.NoStop:
		return "no haul, " + relay, plain
	}
	return "armed; no haul in this stage, " + relay, plain
}

func relayText(s *session.Snapshot) string {
	switch {
	case !s.Relay.Heard:
		return "relay not heard"
	case s.Relay.Closed:
		return "relay closed"
	case s.Relay.Reason != "" && s.Relay.Reason != "open":
		return "relay open (" + s.Relay.Reason + ")"
	}
	return "relay open"
}

// late says whether a margin is one of silence that matters: the ages of the
// ports stand in the status anyway, so they are named here only once they are
// old enough to warn of.
func late(g safety.Margin) (silence, matters bool) {
	switch g.Cause {
	case safety.LoadSilent, safety.LoadGarbled, safety.LineSilent:
		return true, g.Now >= g.Warn
	}
	return false, true
}

// nearest is the limit the guard holds to be nearest.
func nearest(s *session.Snapshot) (safety.Margin, bool) {
	for _, g := range s.Margins {
		if _, matters := late(g); matters {
			return g, true
		}
	}
	return safety.Margin{}, false
}

// nearestEnd is the planned end that comes first, if one is not the nearest
// limit anyway.
func nearestEnd(s *session.Snapshot) (safety.Margin, bool) {
	near, _ := nearest(s)
	for _, g := range s.Margins {
		if g.Cause.Planned() {
			return g, g.Cause != near.Cause
		}
	}
	return safety.Margin{}, false
}

// listed is the limits for the list, at most n: the nearest ones, each in its
// usual place.
func listed(s *session.Snapshot, n int) []safety.Margin {
	list := make([]safety.Margin, 0, len(s.Margins))
	for _, g := range s.Margins {
		if silence, _ := late(g); !silence {
			list = append(list, g)
		}
	}
	list = list[:min(max(n, 0), len(list))]
	slices.SortStableFunc(list, func(a, b safety.Margin) int { return cmp.Compare(a.Cause, b.Cause) })
	return list
}
