package tui

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"hawse/safety"
)

// alarm is one to show.
type alarm struct {
	cause safety.Cause
	safety.Alarm
	first bool // it came before the others
}

// seen says whether somebody has acknowledged it.
func (a alarm) seen() bool { return a.State == safety.Acknowledged }

// alarmsOf lists the alarms: unseen before seen, then by priority, then newest
// first. What is suppressed by design is not among them.
func alarmsOf(g *safety.State) []alarm {
	var list []alarm
	for c := range g.Alarms {
		if a := g.Alarms[c]; a.State != safety.Normal && a.State != safety.Suppressed {
			list = append(list, alarm{safety.Cause(c), a, safety.Cause(c) == g.FirstUp})
		}
	}
	slices.SortStableFunc(list, func(a, b alarm) int {
		unseen := func(s alarm) int {
			if s.seen() {
				return 1
			}
			return 0
		}
		return cmp.Or(cmp.Compare(unseen(a), unseen(b)), cmp.Compare(b.Priority, a.Priority), cmp.Compare(b.Since, a.Since))
	})
	return list
}

func stateWords(a safety.AlarmState) string {
	switch a {
	case safety.Unacknowledged:
		return "NOT ACKNOWLEDGED"
	case safety.Acknowledged:
		return "acknowledged"
	case safety.Returned:
		return "gone, not acknowledged"
	case safety.Suppressed:
		return "suppressed"
	}
	return "normal"
}

// stateShort is stateWords where there is no room for those.
func stateShort(a safety.AlarmState) string {
	switch a {
	case safety.Acknowledged:
		return "seen"
	case safety.Returned:
		return "gone, UNSEEN"
	}
	return "UNSEEN"
}

// priorityMark tells a priority by shape: the more strokes, the more pressing.
func priorityMark(p safety.Priority) string {
	switch p {
	case safety.Emergency:
		return "!!!"
	case safety.AlarmPriority:
		return "!!"
	case safety.Warning:
		return "!"
	}
	return "-"
}

// alarmText is one alarm as a line of at most w cells: what, how bad, whether
// seen, what time is left, for how long it stands. What fits no more is left
// out from its end, the measured value before the state. Among several the one
// that came first is marked.
func (m model) alarmText(a alarm, w int, several bool) string {
	s := m.snap
	first := ""
	if several && a.first {
		first = "1st "
	}
	what := first + priorityMark(a.Priority) + " " + strings.ToUpper(a.Priority.String()) + " " + a.cause.Title()
	value := measured(s, unitsOf(s), a.cause, a.Value, a.Limit)
	state := ", " + stateWords(a.State)
	age := ", " + ageText(time.Duration(s.T-a.Since))
	left := m.timeLeft(a)
	if left != "" {
		age = "" // two times in one line would be taken for each other
	}
	for _, t := range []string{what + value + state + left + age, what + value + state + left, what + state + left, what + value + state, what + state} {
		if width(t) <= w {
			return t
		}
	}
	short := ", " + stateShort(a.State)
	if width(what+short) <= w {
		return what + short
	}
	return first + priorityMark(a.Priority) + " " + a.cause.Title() + short
}

// timeLeft is the time until the limit that an alarm is about is reached, while
// it is being approached.
func (m model) timeLeft(a alarm) string {
	lead := ", stop in "
	if m.snap.Guard.Stop.Kind != safety.NoStop {
		lead = ", limit in "
	}
	if a.cause == safety.LimitSoon {
		if in, ok := m.soonest(); ok {
			return lead + secondsLeft(in)
		}
		return ""
	}
	if m.snap.Ended || m.staleFor() > 0 {
		return ""
	}
	for _, g := range m.snap.Margins {
		if g.Cause == a.cause && g.In > 0 && g.In < 100 && g.Left > 0 {
			return lead + secondsLeft(g.In)
		}
	}
	return ""
}

// secondsLeft shows tenths of a second while they matter.
func secondsLeft(in float64) string {
	if in < 9.95 {
		return fixed(in, 1) + " s"
	}
	return fixed(in, 0) + " s"
}

// alarmStyle sets apart what nobody has acknowledged: by its ground, which for
// an alarm or an emergency goes to and fro once a second with the data's own
// time.
func (m model) alarmStyle(a alarm) role {
	switch {
	case a.seen():
		return strong
	case a.Priority >= safety.AlarmPriority && a.State == safety.Unacknowledged && m.snap.T/int64(time.Second/2)%2 == 1:
		return flash
	case a.Priority >= safety.AlarmPriority && a.State == safety.Unacknowledged:
		return loud
	}
	return caution
}

// drawAlarms is the list of alarms. The top one is told whole where there is
// room: what, what it means, what to do.
func (m model) drawAlarms(c *canvas, l layout) {
	r := l.alarms
	list := alarmsOf(&m.snap.Guard)
	aside := asideText(&m.snap.Guard)
	if r.h == 0 {
		return
	}
	if l.labels {
		c.rule(r, dim)
		title := " alarms: " + countText(len(list)) + " "
		if len(list) == 0 && aside != "" {
			title += "· " + aside + " "
		}
		c.text(r, 2, title, dim)
		r = r.from(1)
	}
	if len(list) == 0 {
		m.drawNoAlarm(c, l, r)
		if aside != "" && !l.labels && l.order.h+l.band.h > 0 {
			c.text(r, 0, aside, plain)
		}
		return
	}
	several := len(list) > 1
	top, rest := list[0], list[1:]
	more := ""
	if several && r.h < 4 {
		more = m.moreText(rest, r.w)
	}
	c.text(r.row(0), 0, " "+m.alarmText(top, r.w-2-width(more), several)+" ", m.alarmStyle(top))
	if more != "" {
		c.right(r.row(0), more, caution)
	}
	y := 1
	if r.h >= 3 {
		c.text(r.row(y), 1, "means: "+top.cause.Consequence(), plain)
		y++
	}
	if r.h >= 2 {
		c.text(r.row(y), 1, "do: "+top.cause.Advice(), strong)
		y++
	}
	for i, a := range rest {
		if y == r.h-1 && i < len(rest)-1 {
			c.text(r.row(y), 0, " and "+m.alarmNames(rest[i:], r.w-5), strong)
			return
		}
		if y >= r.h {
			return
		}
		x := c.text(r.row(y), 0, " "+m.alarmText(a, r.w-2, several)+" ", m.alarmStyle(a))
		if do := "do: " + a.cause.Advice(); x+1+width(do) <= r.w {
			c.text(r.row(y), x+1, do, plain)
		}
		y++
	}
	if aside != "" && y < r.h {
		c.text(r.row(y), 1, aside, dim)
	}
}

// moreText counts the alarms that have no row of their own, and names the one
// that came first, or the only one.
func (m model) moreText(rest []alarm, w int) string {
	text := fmt.Sprintf(" +%d more ", len(rest))
	for _, a := range rest {
		switch {
		case w < 60:
		case a.first:
			text = fmt.Sprintf(" +%d more, 1st %s ", len(rest), a.cause.Title())
		case len(rest) == 1:
			text = " +1 more, " + a.cause.Title() + " "
		}
	}
	return text
}

// alarmNames lists alarms that have no row of their own, in w cells if it can.
func (m model) alarmNames(list []alarm, w int) string {
	names := func(words func(safety.AlarmState) string) string {
		all := make([]string, len(list))
		for i, a := range list {
			mark := ""
			if a.first {
				mark = "1st "
			}
			all[i] = mark + priorityMark(a.Priority) + " " + a.cause.Title() + " (" + words(a.State) + ")"
		}
		return strings.Join(all, ", ")
	}
	return widest([]string{names(stateWords), names(stateShort)}, w)
}

func countText(n int) string {
	if n == 0 {
		return "none"
	}
	return fmt.Sprint(n)
}

// drawNoAlarm says that there is none, and on a small screen what else has no
// place of its own.
func (m model) drawNoAlarm(c *canvas, l layout, r rect) {
	text, st := "no alarms", dim
	if l.order.h+l.band.h == 0 {
		in, soon := m.soonest()
		switch {
		case m.staleFor() > 0:
			text, st = "order unknown: screen data stalled", loud
		case !m.stopAsked.IsZero():
			text, st = "STOP called", loud
		case soon:
			text, st = "stop in "+secondsLeft(in)+atThisSlope, caution
		case l.notice.h == 0 && m.loaded() && !m.blank():
			text, st = "no stop in force; loaded: keep clear", standing
		default:
			text, st = "no stop in force, no alarms", plain
		}
	} else if l.labels {
		return
	}
	c.text(r, 0, text, st)
}
