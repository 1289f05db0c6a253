package tui

import (
	"fmt"
	"math"
	"strings"
	"time"

	"hawse/trial"
)

// pairBeside is the width from which two pulls stand side by side, in cells;
// below, one stands under the other.
const pairBeside = 120

// drawPair is the screen of two pulls.
func (m model) drawPair(c *canvas) {
	p := m.pair
	u := unitsOf(m.snap)
	head := rect{1, 0, c.w - 2, 1}
	right := "replay of two"
	if p.paused {
		right += " paused"
	}
	if p.speed != 1 {
		right += " ×" + axisNumber(p.speed, 3)
	}
	end := c.right(head, right, plain)
	x := c.text(rect{1, 0, end - 1, 1}, 0, "COMPARE", strong)
	c.text(rect{1, 0, end - 1, 1}, x+2, "at "+p.placeText(u)+", along "+pairAxisNames[p.axis], accent)
	keys := rect{0, c.h - 1, c.w, 1}
	if m.helpPage > 0 {
		c.text(keys, 1, "any key goes back", plain)
		for i, line := range pairHelp(c.w - 4) {
			if 1+i < c.h-1 {
				c.text(rect{2, 1 + i, c.w - 4, 1}, 0, line, plain)
			}
		}
		return
	}
	m.drawPairKeys(c, keys)
	body := rect{0, 1, c.w, c.h - 2}
	if caption := m.snap.Caption; caption != "" && c.h >= 22 {
		c.text(rect{1, 1, c.w - 2, 1}, 0, caption, accent)
		body = body.from(1)
	}
	line := rect{1, body.y + body.h - 1, body.w - 2, 1}
	body.h--
	if m.note != "" && m.at.Before(m.noteUntil) {
		c.text(line, 0, m.note, accent)
	} else {
		c.text(line, 0, p.differenceText(u), strong)
	}
	panes := [2]rect{{1, body.y, c.w - 2, body.h / 2}, {1, body.y + body.h/2, c.w - 2, body.h / 2}}
	if c.w >= pairBeside {
		w := (c.w - 3) / 2
		panes = [2]rect{{1, body.y, w, body.h}, {c.w - w - 1, body.y, w, body.h}}
	}
	for i, r := range panes {
		m.drawSide(c, r, i, u)
	}
}

// placeText is the place along the axis.
func (p duo) placeText(u units) string {
	if p.axis == pairTime {
		return clockText(seconds(p.at))
	}
	return u.metresUnit(trial.Length(p.at))
}

// differenceText is what B had more than A at this place.
func (p duo) differenceText(u units) string {
	a, okA := p.stamp(0)
	b, okB := p.stamp(1)
	switch {
	case !okA && !okB:
		return "neither pull comes this far"
	case !okA:
		return "A does not come this far"
	case !okB:
		return "B does not come this far"
	}
	d := b.Tension - a.Tension
	text := "B is as A, to what can be shown"
	if word := "over"; u.tension(trial.Force(math.Abs(float64(d)))) != u.tension(0) {
		if d < 0 {
			word = "under"
		}
		text = fmt.Sprintf("B is %s %s A", u.tensionUnit(trial.Force(math.Abs(float64(d)))), word)
		if a.Tension > 0 {
			text += fmt.Sprintf(", %.2f times", float64(b.Tension/a.Tension))
		}
	}
	if pa, pb := p.sides[0].Peak, p.sides[1].Peak; pa.Known && pb.Known {
		text += "; peaks A " + coursePeak(p.sides[0], u) + ", B " + coursePeak(p.sides[1], u)
	}
	return text
}

// sideText is how one pull stood at this place.
func (p duo) sideText(i int, u units) string {
	k, ok := p.stamp(i)
	if !ok {
		if e := p.along(i); e.Len() > 0 {
			q := p
			q.at = e.Most()
			return "ended at " + q.placeText(u)
		}
		return "nothing known along " + pairAxisNames[p.axis]
	}
	parts := []string{u.tensionUnit(k.Tension)}
	for _, g := range p.sides[i].Pull.Segments {
		if k.T >= g.T0 && k.T <= g.T1 {
			parts = append(parts, g.Phase.String())
			break
		}
	}
	if !math.IsNaN(float64(k.X)) && p.axis != pairHauled {
		parts = append(parts, "hauled "+u.metresUnit(k.X))
	}
	if !math.IsNaN(k.Scope) {
		parts = append(parts, "scope "+scopeText(k.Scope))
	}
	if !math.IsNaN(float64(k.Travel)) && p.axis != pairTravel {
		parts = append(parts, "came "+u.metresUnit(k.Travel))
	}
	if p.axis != pairTime {
		parts = append(parts, "at "+clockText(time.Duration(k.T-p.sides[i].Pull.T0)))
	}
	return strings.Join(parts, "  ")
}

// drawSide is one pull: whose it is, how it stood, and its trace as far as it was
// played; what is ahead in thin dots.
func (m model) drawSide(c *canvas, r rect, i int, u units) {
	p, k := m.pair, m.pair.sides[i]
	started := ""
	if !k.Started.IsZero() && r.w >= 90 {
		started = ", " + k.Started.Format("2006-01-02 15:04")
	}
	x := c.text(r.row(0), 0, fmt.Sprintf("%c ", 'A'+i), strong)
	c.text(r.row(0), x, courseName(k, u)+started, accent)
	top := 1
	if r.h >= 7 {
		c.text(r.row(1), 2, p.sideText(i, u), plain)
		top = 2
	}
	q := p.plot(r.from(top), i)
	if !q.ok { // no room for a trace: the numbers
		for j, l := range wrap(p.sideText(i, u), r.w-2) {
			c.text(r.row(top+j), 2, l, plain)
		}
		return
	}
	s := snapshotOf(k)
	s.T = int64(q.x1) // the trace is drawn to its end
	from, to := q.x0, q.x1
	at := p.at
	if q.byTime {
		from, to = from/1e9, to/1e9
		s.Peak.At -= k.Pull.T0
		at *= 1e9
	}
	if p.axis == pairTravel {
		s.Peak.X = trial.Length(p.place(i, k.Peak.At))
	}
	cols := p.along(i).Columns(from, to, 2*q.area.w, nil)
	played, _ := q.dotX(at)
	if at < q.x0 {
		played = -1
	}
	g := newGrid(q.area.w, q.area.h)
	q.level(g, q.bare, 4, dim)
	if !q.sameRow(q.bare, q.dead) {
		q.level(g, q.dead, 6, dim)
	}
	q.level(g, q.warn, 2, warnLine)
	q.level(g, q.stop, 1, stopLine)
	g.onto(c, q.area, nil)
	q.drawDots(c, p.along(i), from, to, (played+2)/2, m.st.ascii)
	own := newGrid(q.area.w, q.area.h)
	q.curve(own, cols[:played+1], accent)
	q.curve(g, cols[:played+1], accent)
	g.onto(c, q.area, own)
	for y := range q.area.h { // the place
		if spot := (rect{max(played, 0) / 2, y, 1, 1}); q.free(c, spot) {
			c.put(q.area.x+spot.x, q.area.y+y, '┊', dim)
		}
	}
	q.drawPeak(c, &s, u)
	q.drawHeights(c, r.from(top), u)
	q.drawNames(c)
	q.drawRibbon(c, p.ribbon(i), &s)
	q.drawFoot(c, r.from(top), u, cols, &s)
}

// plot is the axes of a side, the same for both.
func (p duo) plot(r rect, i int) plot {
	if r.w < plotMinW || r.h < plotMinH {
		return plot{}
	}
	s := snapshotOf(p.sides[i])
	q := plot{ok: true, byTime: p.axis == pairTime, yLabel: 6, stop: math.NaN(), warn: math.NaN(), bare: math.NaN(), dead: math.NaN(), whole: r, endAt: math.NaN()}
	if p.axis == pairTravel {
		q.along = "anchor came"
	}
	if r.h >= 8 {
		q.ribbon = 1
	}
	q.area = rect{r.x + q.yLabel + 1, r.y, r.w - q.yLabel - 1 - nameW, r.h - 1 - q.ribbon}
	q.levels(&s)
	most, stop := 0.0, math.NaN()
	for j, k := range p.sides {
		other := snapshotOf(k)
		if limit, _ := loadLimit(&other); limit > 0 && !(stop >= limit) {
			stop = limit
		}
		if e := p.along(j); e.Len() > 0 {
			most = math.Max(most, float64(e.Greatest()))
		}
	}
	q.y1 = most * 1.15
	if stop > 0 && most >= stop/2 { // below, the shapes matter more than how far the limit was
		q.y1 = math.Max(q.y1, stop*1.1)
	}
	if q.stop > q.y1 {
		q.above = "stop"
	}
	if !(q.y1 > 0) {
		q.y1 = 1000
	}
	q.x0, q.x1 = p.span()
	q.x1 += (q.x1 - q.x0) * 0.02
	if q.byTime {
		q.x0, q.x1 = q.x0*1e9, q.x1*1e9
	}
	return q
}

// ribbon is the phases of a side along the axis.
func (p duo) ribbon(i int) []trial.Segment {
	k := &p.sides[i].Pull
	out := make([]trial.Segment, 0, len(k.Segments))
	for _, g := range k.Segments {
		if p.axis == pairTravel {
			g.X0, g.X1 = trial.Length(p.place(i, max(g.T0, k.T0))), trial.Length(p.place(i, min(g.T1, k.T1)))
		}
		g.T0, g.T1 = g.T0-k.T0, g.T1-k.T0
		out = append(out, g)
	}
	return out
}

// pairKeys is the key line, and pairHelp what they do.
var pairKeys = [][3]string{
	{"p", "pause", "pause, and go on; at the end once more"},
	{"+ -", "speed", "twice as fast, half as fast"},
	{"← →", "step", "a tenth of a metre, or a second"},
	{"[ ]", "scrub", "a metre, or ten seconds"},
	{"e s m a", "jump", "to the next event, phase, mark, alarm of either; capitals go back"},
	{"b", "back", "to the last of all these before"},
	{"t", "along", "line hauled, time since hauling began, travel of the anchor"},
	{"v", "light", "day, night, plain, or the terminal's own ground"},
	{"?", "help", "this page"},
	{"q", "leave", "leave, or back to the replay"},
}

func pairHelp(w int) (lines []string) {
	for _, k := range pairKeys {
		lines = append(lines, padRight(k[0], 8)+" "+k[2])
	}
	lines = append(lines, "")
	for _, t := range []string{
		"Two pulls on the same scales, played together. The strokes are what was played, the thin dots what is ahead.",
		"Levels are those of each pull's own log: stop and warn of stage pull, bare rode, dead weight. The ribbon below is its phases.",
		"> before a peak: a lower bound, not left by 10 % when hauling ended.",
	} {
		for i, l := range wrap(t, w-2) {
			lead := "  "
			if i == 0 {
				lead = "– "
			}
			lines = append(lines, lead+l)
		}
	}
	return lines
}

func (m model) drawPairKeys(c *canvas, r rect) {
	list := pairKeys
	wide := func() (n int) {
		for _, k := range list {
			n += width(k[0]) + 1 + width(k[1]) + 2
		}
		return n
	}
	for len(list) > 3 && 1+wide() > r.w+2 { // help and leave stay
		list = append(list[:len(list)-3:len(list)-3], list[len(list)-2:]...)
	}
	x := 1
	for _, k := range list {
		x = c.text(r, x, k[0], strong)
		x = c.text(r, x+1, k[1], dim) + 2
	}
}
