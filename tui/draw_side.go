package tui

import (
	"fmt"
	"math"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// limitName is what a limit is called in the list.
func limitName(c safety.Cause) string {
	switch c {
	case safety.TensionLimit:
		return "tension"
	case safety.WLLShare:
		return "WLL share"
	case safety.LoadOverRange:
		return "cell range"
	case safety.LoadSilent, safety.LoadGarbled:
		return "load age"
	case safety.LineSilent:
		return "line age"
	case safety.LineHauled:
		return "hauled"
	case safety.MinimumScope:
		return "scope"
	case safety.StageDuration:
		return "time"
	case safety.AtFairlead:
		return "fairlead"
	case safety.TensionReached:
		return "ends at"
	}
	return c.String()
}

// marginTitle heads a table of limits: what the sign in it says, or how many of
// them there is no room for.
func marginTitle(hidden int) string {
	if hidden > 0 {
		return fmt.Sprintf("+%d more", hidden)
	}
	return "► nearest"
}

// drawLimits lists the limits of the stage with what is left to each, the
// nearest one marked. With a single row it names the nearest alone.
func (m model) drawLimits(c *canvas, r rect) {
	s := m.snap
	u := unitsOf(s)
	if r.h == 0 {
		return
	}
	near, ok := nearest(s)
	switch {
	case s.Ended && m.player == nil:
		c.text(r, 0, "ended: no limit is watched now", dim)
		return
	case m.staleFor() > 0:
		c.text(r, 0, "limits unknown: screen data stalled", dim)
		return
	case !ok:
		c.text(r, 0, "no limits in this stage", dim)
		return
	case r.h == 1:
		text := limitName(near.Cause) + ", " + m.leftText(near) + ": " + u.amount(near.Cause, near.Limit)
		if count := m.countdown(near); count != "" {
			text = limitName(near.Cause) + ", " + count
			if near.Cause == safety.AtFairlead || near.Cause == safety.TensionReached { // named in it
				text = count
			}
		}
		if r.w >= 50 {
			text = "nearest: " + text
		}
		c.text(r, 0, "► "+text, accent)
		return
	}
	all := len(listed(s, len(s.Margins)))
	list := listed(s, r.h-1)
	const nameCol, unitCol = 11, 4
	each := 1 // rows a limit: a bar below the numbers where there is room
	if r.h >= 2*all+1 && r.w >= 44 {
		each = 2
	}
	col := min((r.w-nameCol-unitCol)/3, 10)
	at := func(i int) rect { return rect{r.x + nameCol + i*col, r.y, col, 1} }
	head := func(i int, text string) { c.right(at(i), text, dim) }
	c.text(r, 0, marginTitle(all-len(list)), dim)
	head(0, "left")
	head(1, "warn")
	head(2, "stop")
	for i, g := range list {
		row := r.row(1 + i*each)
		if row.w == 0 {
			return
		}
		st, mark := plain, " "
		if g.Cause == near.Cause {
			st, mark = accent, "►"
		}
		if g.Now >= g.Warn && g.Warn < g.Limit || g.Cause == safety.MinimumScope && g.Now <= g.Warn {
			st = caution
		}
		c.text(rect{row.x, row.y, nameCol, 1}, 0, mark+limitName(g.Cause), st)
		left, unit := u.value(g.Cause, g.Left)
		warn, _ := u.value(g.Cause, g.Warn)
		stop, _ := u.value(g.Cause, g.Limit)
		if math.IsNaN(g.Left) {
			left = "?"
		}
		if math.IsNaN(g.Warn) {
			warn = "–"
		}
		cellAt := func(k int) rect { a := at(k); a.y = row.y; return a }
		c.right(cellAt(0), left, strong)
		c.right(cellAt(1), warn, plain)
		c.right(cellAt(2), stop, plain)
		c.text(rect{row.x + nameCol + 3*col + 1, row.y, unitCol, 1}, 0, unit, dim)
		if each == 2 {
			drawShare(c, rect{row.x + 1, row.y + 1, nameCol + 3*col - 1, 1}, g, g.Cause == near.Cause)
		}
	}
}

// drawShare is how far a limit is used up, with a tick where it warns.
func drawShare(c *canvas, r rect, g safety.Margin, near bool) {
	c.rule(r, dim)
	share := math.Min(math.Max(g.Share, 0), 1) // NaN stays NaN and draws nothing
	st := plain
	if near {
		st = accent
	}
	for x := range r.w {
		if float64(x) < share*float64(r.w) {
			c.put(r.x+x, r.y, '━', st)
		}
	}
	if warn := g.Warn / g.Limit; warn > 0 && warn < 1 && g.Cause != safety.MinimumScope {
		c.put(r.x+int(warn*float64(r.w)), r.y, '┼', warnLine)
	}
}

func (u units) metresText(m float64) string { return u.metresUnit(trial.Length(m)) }

// drawFigures is the line: scope, hauled, out, depth, and the peak so far.
func (m model) drawFigures(c *canvas, r rect) {
	s := m.snap
	u := unitsOf(s)
	lines := figureLines(s, u, r.h, r.w)
	for i, l := range lines {
		row := r.row(i)
		x := 0
		for _, w := range l {
			x = c.text(row, x, w.text, w.st)
		}
	}
}

// word is a piece of a line in one style.
type word struct {
	text string
	st   role
}

// pair is a label and its value, padded to a column.
func pair(label, value string, col int) []word {
	gap := max(col-width(label)-1-width(value), 1)
	return []word{{label + " ", dim}, {value, strong}, {padLeft("", gap), plain}}
}

// wide is a label padded to the column of labels.
func wide(label string) word { return word{padRight(label, 7), dim} }

// half is a pair whose label stands in the column of labels.
func half(label, value string, col int) []word {
	gap := max(col-7-width(value), 1)
	return []word{wide(label), {value, strong}, {padLeft("", gap), plain}}
}

func join(parts ...[]word) (all []word) {
	for _, p := range parts {
		all = append(all, p...)
	}
	return all
}

func figureLines(s *session.Snapshot, u units, rows, w int) [][]word {
	unknown := func(ok bool, text string) string {
		if ok {
			return text
		}
		return "unknown"
	}
	h := s.Haul
	scope := unknown(h.ScopeOK, scopeText(h.Scope))
	hauled := unknown(h.Known, u.metresUnit(h.X))
	out := unknown(h.Known, u.metresUnit(h.RodeOut))
	depth := unknown(h.DepthOK, u.metresUnit(h.Depth))
	speed := "unknown"
	if !math.IsNaN(float64(h.Speed)) {
		speed = u.speedUnit(h.Speed)
	}
	byDepth := unknown(h.ScopeOK, scopeText(h.Scope2))
	incl := word{"  incl. fairlead", dim}
	if w >= 44 && rows > 3 || w >= 56 {
		incl.text = "  with the fairlead's height"
	}
	scopeLine := []word{wide("scope"), {scope, strong}, incl}
	peak := []word{wide("peak"), {peakText(s, u), strong}}
	if s.Aids.Drop.Shown { // before the anchor is down there is no peak
		peak = dropLine(s.Aids.Drop, u, w)
	}
	at := []word{{"at ", dim}, {speed, strong}}
	col := min(w/2, 21)
	switch {
	case rows <= 1:
		return [][]word{join(pair("scope", scope, 0), pair("hauled", hauled, 0), []word{{speed, strong}})}
	case rows == 2:
		return [][]word{
			join(scopeLine, []word{{"  ", plain}}, pair("out", out, 0)),
			join(half("hauled", hauled, 0), at),
		}
	case rows == 3:
		return [][]word{
			join(scopeLine, []word{{"  ", plain}}, pair("out", out, 0)),
			join(half("hauled", hauled, 0), at, []word{{"  ", plain}}, pair("depth", depth, 0)),
			peak,
		}
	case rows < 7:
		lines := [][]word{
			scopeLine,
			join(half("hauled", hauled, col), at),
			join(half("out", out, col), pair("depth", depth, 0)),
			peak,
			anchorLine(s.Anchor, u, w),
		}
		return lines[:min(rows, len(lines))]
	}
	lines := [][]word{
		scopeLine,
		{wide(""), {byDepth, plain}, {"  by depth alone", dim}},
		join(half("hauled", hauled, col), at),
		join(half("stage", unknown(h.Known, u.metresUnit(h.InStage)), col), []word{{"hauled in this stage", dim}}),
		join(half("out", out, col), pair("depth", depth, 0)),
		peak,
		{wide("phase"), {s.Phase.String(), strong}, {"  " + phaseAge(s), dim}},
	}
	if rows < 9 {
		lines[3] = anchorLine(s.Anchor, u, w) // how much came in this stage stands with the limits, too
		return lines
	}
	return append(lines, anchorLine(s.Anchor, u, 0), travelLine(s.Anchor, u))
}

// dropLine is where the planned drop point lies, seen from the roller, and whether
// that is near enough to lower the anchor.
func dropLine(d session.Drop, u units, w int) []word {
	if !d.Known {
		return []word{wide("drop"), {"unknown", strong}, {"  no fix", dim}}
	}
	line := []word{wide("drop"), {u.metresUnit(d.Distance), strong}, {fmt.Sprintf(" at %03d°", int(math.Round(float64(d.Bearing)*180/math.Pi))%360), strong}}
	allowed := u.metresUnit(d.Within)
	switch {
	case d.Near && w >= 50:
		line = append(line, word{"  near enough: within " + allowed, accent})
	case d.Near:
		line = append(line, word{"  near enough", accent})
	case w >= 44:
		line = append(line, word{"  not within " + allowed, plain})
	default:
		line = append(line, word{"  over " + allowed, plain})
	}
	if d.Antenna && w >= 66 {
		line = append(line, word{", by the antenna", dim})
	}
	return line
}

// anchorLine is what the statics say arrives at the anchor, and whether the
// line lifts it. Where w leaves room the travel follows.
func anchorLine(a session.Anchor, u units, w int) []word {
	if !a.Known {
		why := ""
		if w >= 44 {
			why = "  " + a.Why
		}
		return []word{wide("anchor"), {"unknown", strong}, {why, dim}}
	}
	how := u.metresUnit(a.OnBottom) + " on bottom"
	if a.OnBottom <= 0 {
		how = fmt.Sprintf("%.1f° up", float64(a.Angle)*180/math.Pi)
	}
	line := []word{wide("anchor"), {u.tensionUnit(a.Tension), strong}, {"  " + how, plain}}
	more := append([]word{{"  ", plain}}, travelWords(a, u)...)
	for _, p := range append(line[:len(line):len(line)], more...) {
		w -= width(p.text)
	}
	if w >= 0 {
		line = append(line, more...)
	}
	return line
}

func travelLine(a session.Anchor, u units) []word {
	if !a.HasTravel {
		return []word{wide("travel"), {"none yet", dim}}
	}
	return append([]word{wide("travel")}, travelWords(a, u)...)
}

// travelWords is how far the anchor has come: not yet before the knee, which is
// not nothing.
func travelWords(a session.Anchor, u units) []word {
	if !a.HasTravel {
		return []word{{"no travel yet", dim}}
	}
	return []word{{"came ", dim}, {u.metresUnit(a.Travel), strong}, {fmt.Sprintf(" ± %s", u.metresText(float64(a.TravelU))), dim}}
}

// peakText is the greatest tension of the pull; ">" while it may still be
// passed.
func peakText(s *session.Snapshot, u units) string {
	p := s.Peak
	if !p.Known {
		return "none yet"
	}
	t := peakMark(p) + u.tensionUnit(p.Value)
	if s.SinceResume {
		t += " since resume"
	}
	if !math.IsNaN(float64(p.X)) {
		t += " at " + u.metresUnit(p.X)
	}
	if !math.IsNaN(p.Scope) && p.Scope > 0 {
		t += ", " + scopeText(p.Scope)
	}
	return t
}

// peakMark stands before a peak that may still be passed, or was passed where
// nobody saw it.
func peakMark(p session.Peak) string {
	if p.Left {
		return ""
	}
	return "> "
}
