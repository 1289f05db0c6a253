package tui

import (
	"math"
	"strings"

	"hawse/safety"
)

const atThisSlope = " at this slope"

// soonest is the time to the nearest tension that stops, at the present slope,
// s; ok only while the guard holds that it comes soon.
func (m model) soonest() (in float64, ok bool) {
	s := m.snap
	if !s.Guard.Alarms[safety.LimitSoon].Standing() || m.blank() {
		return 0, false
	}
	in = math.Inf(1)
	for _, g := range s.Margins {
		if (g.Cause == safety.TensionLimit || g.Cause == safety.WLLShare) && g.In > 0 {
			in = min(in, g.In)
		}
	}
	return in, in < 10
}

// drawSoon shows, in place of what is quiet, the seconds until the tension
// stops the winch, as big as there is room; on a ground that is not that of an
// order, since none is given yet.
func (m model) drawSoon(c *canvas, r rect) bool {
	in, ok := m.soonest()
	if !ok {
		return false
	}
	number := fixed(in, 1)
	lead, block := "stop in", rect{r.x, r.y, r.w, r.h - 1}
	f, big := fit(number, r.w-2*(width(lead)+2), block.h)
	c.restyle(rect{r.x, r.y - 1, r.w, 1}, caution)
	c.clear(r, caution)
	mid := block.h / 2
	if big {
		x := c.text(block.row(mid), max((r.w-f.width(number)-width(lead)-5)/2, 1), lead, caution) + 2
		f.draw(c, block, x, number, caution)
		c.text(block.row(block.h-1), x+f.width(number)+1, "s", caution)
	} else {
		c.text(block.row(mid), 1, lead+" "+number+" s", caution)
	}
	why := "at this slope: be ready to stop"
	for _, g := range m.snap.Margins {
		if g.Cause == safety.TensionLimit || g.Cause == safety.WLLShare {
			why += ", " + m.leftText(g)
			break
		}
	}
	if width(why) > r.w-2 {
		why, _, _ = strings.Cut(why, ",")
	}
	c.text(r.row(r.h-1), 1, why, caution)
	return true
}

// leftText is what is left to a limit.
func (m model) leftText(g safety.Margin) string {
	switch {
	case math.IsNaN(g.Left):
		return "margin unknown"
	case g.Left <= 0:
		return "at the limit"
	}
	return unitsOf(m.snap).amount(g.Cause, g.Left) + " left"
}

// countdown says when the limit is reached: a planned end in what is left of
// it, another in seconds while it is being approached.
func (m model) countdown(g safety.Margin) string {
	s := m.snap
	u := unitsOf(s)
	if g.Cause.Planned() {
		switch {
		case g.Cause == safety.AtFairlead && g.Name != "" && g.Left <= 0:
			return g.Name + " is at the fairlead"
		case g.Cause == safety.AtFairlead && g.Name != "" && g.Left > 0:
			return g.Name + " at the fairlead in " + u.metresText(g.Left)
		case g.Cause == safety.TensionReached && !(g.Left <= 0):
			return s.Guard.Stage.String() + " ends at " + u.amount(g.Cause, g.Limit)
		case math.IsNaN(g.Left):
			return limitName(g.Cause) + ": unknown"
		case g.Left <= 0:
			return "planned end reached"
		case g.Cause == safety.MinimumScope:
			if d := toScope(s, g.Limit); !math.IsNaN(d) && d >= 0 {
				return "end in " + u.metresText(d) + " (scope " + fixed(g.Limit, 2) + ")"
			}
			return "end in " + fixed(g.Left, 2) + " of scope"
		case g.Cause == safety.LineHauled:
			return "end in " + u.metresText(g.Left)
		}
		return "end in " + u.amount(g.Cause, g.Left)
	}
	if g.In >= 0 && g.In < 100 && g.Left > 0 {
		return "stop in " + secondsLeft(g.In) + atThisSlope
	}
	return ""
}
