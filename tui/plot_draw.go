package tui

import (
	"math"
	"slices"
	"time"

	"github.com/NimbleMarkets/ntcharts/canvas/runes"

	"hawse/acquire/session"
	"hawse/trial"
)

// grid holds braille cells: which dots are set, and what drew them.
type grid struct {
	w, h int
	dots []uint8
	by   []role
}

// dotBits are the bits of a braille cell by dot row and column, from the
// Unicode chart of the block at U+2800.
var dotBits = [4][2]uint8{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}

func newGrid(w, h int) *grid { return &grid{w, h, make([]uint8, w*h), make([]role, w*h)} }

// set draws one dot; the role of the last one drawn in a cell wins.
func (g *grid) set(x, y int, by role) {
	if x < 0 || y < 0 || x >= 2*g.w || y >= 4*g.h {
		return
	}
	i := y/4*g.w + x/2
	g.dots[i] |= dotBits[y%4][x%2]
	g.by[i] = by
}

// onto puts the cells that hold dots on the canvas; of those alone, where given,
// which hold dots of another grid.
func (g *grid) onto(c *canvas, area rect, where *grid) {
	for i, d := range g.dots {
		if d != 0 && (where == nil || where.dots[i] != 0) {
			c.put(area.x+i%g.w, area.y+i/g.w, rune(runes.BrailleBlockOffset)+rune(d), g.by[i])
		}
	}
}

// level draws a line across, one dot in every `each`.
func (p plot) level(g *grid, v float64, each int, by role) {
	if !(v >= p.y0) {
		return
	}
	y, ok := p.dotY(v)
	if !ok {
		return
	}
	for x := 0; x < 2*g.w; x += each {
		g.set(x, y, by)
	}
}

// sameRow says whether two levels fall into one row of cells.
func (p plot) sameRow(a, b float64) bool {
	ya, okA := p.dotY(a)
	yb, okB := p.dotY(b)
	return okA && okB && ya/4 == yb/4
}

// curve draws the envelope: every column from its least to its greatest value,
// joined to its neighbour unless the stream was lost between them.
func (p plot) curve(g *grid, cols []trial.Col, by role) {
	prev, prevHi, prevLo := -1, 0, 0
	for i := range min(len(cols), 2*g.w) {
		c := cols[i]
		if c.Gap {
			prev = -1
		}
		if c.N == 0 {
			continue
		}
		hi, _ := p.dotY(float64(c.Hi))
		lo, _ := p.dotY(float64(c.Lo))
		from, to := hi, lo // dots grow downwards
		if prev >= 0 {
			for x := prev + 1; x < i; x++ { // no sample fell into these: the last one stands
				g.set(x, (prevHi+prevLo)/2, by)
			}
			from, to = min(from, prevLo), max(to, prevHi)
		}
		for y := from; y <= to; y++ {
			g.set(i, y, by)
		}
		prev, prevHi, prevLo = i, hi, lo
		if c.Gap {
			prev = -1
		}
	}
}

// drawTrace draws the traces: one, or that against line hauled over that against
// time.
func (m model) drawTrace(c *canvas) {
	for _, t := range m.traces {
		m.drawPlot(c, t.plot, t.cols)
	}
}

func (m model) drawPlot(c *canvas, p plot, cols []trial.Col) {
	s, r := m.snap, p.whole
	if !p.ok {
		return
	}
	u := unitsOf(s)
	g := newGrid(p.area.w, p.area.h)
	p.level(g, p.bare, 4, dim)
	if !p.sameRow(p.bare, p.dead) { // two rows of dots in one would be read as neither
		p.level(g, p.dead, 6, dim)
	}
	p.level(g, p.warn, 2, warnLine)
	p.level(g, p.stop, 1, stopLine)
	g.onto(c, p.area, nil)
	p.drawUnder(c, m.under, m.st.ascii)
	own := newGrid(p.area.w, p.area.h)
	p.curve(own, cols, accent)
	p.curve(g, cols, accent)
	g.onto(c, p.area, own)
	p.drawEnd(c)
	p.drawMarks(c, s.Marks)
	p.drawComments(c, m.heard)
	p.drawPeak(c, s, u)
	p.drawHeights(c, r, u)
	p.drawNames(c)
	p.drawScope(c, s)
	p.drawRibbon(c, m.segs, s)
	p.drawFoot(c, r, u, cols, s)
	p.nameUnder(c, m.under, u)
	p.drawWindow(c, m.win)
	if p.empty != "" {
		c.text(rect{p.area.x + 2, p.area.y + p.area.h/2, p.area.w - 2, 1}, 0, p.empty, dim)
	}
}

func (p plot) drawEnd(c *canvas) {
	if p.byTime || math.IsNaN(p.endAt) {
		return
	}
	if x, ok := p.dotX(p.endAt); ok {
		for y := range p.area.h {
			at := rect{p.area.x + x/2, p.area.y + y, 1, 1}
			if c.cells[at.y*c.w+at.x].r == 0 {
				c.put(at.x, at.y, '┊', dim)
			}
		}
	}
}

func (p plot) drawPeak(c *canvas, s *session.Snapshot, u units) {
	if !s.Peak.Known {
		return
	}
	at := float64(s.Peak.X)
	if p.byTime {
		at = float64(s.Peak.At)
	}
	x, okX := p.dotX(at)
	y, okY := p.dotY(float64(s.Peak.Value))
	if !okX || !okY {
		return
	}
	c.put(p.area.x+x/2, p.area.y+y/4, '●', strong)
	// Its value stands where nothing else does.
	text := peakMark(s.Peak) + u.tension(s.Peak.Value)
	w := width(text)
	for _, at := range []rect{{x/2 + 2, y / 4, w, 1}, {x/2 - w/2, y/4 - 1, w, 1}, {x/2 - w - 1, y / 4, w, 1}, {x/2 - w/2, y/4 + 1, w, 1}} {
		if p.free(c, at) {
			c.text(rect{p.area.x + at.x, p.area.y + at.y, w, 1}, 0, text, strong)
			return
		}
	}
}

// drawHeights is the axis of tension, with its unit at the top.
func (p plot) drawHeights(c *canvas, r rect, u units) {
	for y := range p.area.h {
		c.put(p.area.x-1, p.area.y+y, runes.LineVertical, dim)
	}
	label := func(v float64) {
		d, ok := p.dotY(v)
		if !ok && v != p.y0 {
			return
		}
		y := d / 4
		c.right(rect{r.x, p.area.y + y, p.yLabel, 1}, axisNumber(u.force.In(trial.Force(v)), u.forceDec), dim)
		c.put(p.area.x-1, p.area.y+y, runes.LineVerticalLeft, dim)
	}
	step := niceStep(u.force.In(trial.Force(p.y1)) / math.Max(float64(p.area.h)/3, 2))
	for v := 0.0; v <= u.force.In(trial.Force(p.y1)); v += step {
		label(float64(u.force.Of(v)))
	}
	c.text(rect{r.x, p.area.y, p.yLabel, 1}, 0, padLeft(u.force.Name, p.yLabel), dim)
}

// drawNames names the levels at the right edge.
func (p plot) drawNames(c *canvas) {
	var taken []int
	name := func(v float64, text string, st role) {
		y, ok := p.dotY(v)
		if !ok || !(v > 0) {
			return
		}
		row := y / 4
		if slices.Contains(taken, row) { // the one above it keeps its place
			if row--; row < 0 || slices.Contains(taken, row) {
				return
			}
		}
		taken = append(taken, row)
		c.text(rect{p.area.x + p.area.w, p.area.y + row, nameW, 1}, 0, text, st)
	}
	name(p.stop, "stop", stopLine)
	name(p.warn, "warn", warnLine)
	name(p.bare, "bare", dim)
	name(p.dead, "dead", dim)
	if p.above != "" {
		c.text(rect{p.area.x + p.area.w, p.area.y, nameW, 1}, 0, "stop↑", stopLine)
	}
}

// drawFoot is the axis along the bottom; a × marks a gap in the record above.
func (p plot) drawFoot(c *canvas, r rect, u units, cols []trial.Col, s *session.Snapshot) {
	foot := rect{r.x, r.y + r.h - 1, r.w, 1}
	title := "hauled, " + u.length.Name
	if p.along != "" {
		title = p.along + ", " + u.length.Name
	}
	one, from, to := 1/u.length.M, p.x0, p.x1
	if p.byTime {
		title, one = "min:s", 1/float64(time.Second)
	}
	line := rect{p.area.x, foot.y, p.area.w, 1}
	ticksEnd := foot.x + c.right(foot, title, dim) - line.x
	tick := func(v float64, text string) {
		x, ok := p.dotX(v)
		if !ok {
			return
		}
		at := max(x/2-width(text)/2, 0)
		if at+width(text) < ticksEnd {
			c.text(line, at, text, dim)
		}
	}
	step := niceStep((to - from) * one / math.Max(float64(p.area.w)/10, 2))
	if p.byTime {
		step = niceTime((to - from) * one / math.Max(float64(p.area.w)/10, 2))
	}
	for v := math.Ceil(math.Max(from*one, 0)/step) * step; v <= to*one; v += step {
		text := axisNumber(v, 3)
		if p.byTime {
			text = clockText(seconds(v))
		}
		tick(v/one, text)
	}
	for i := range min(len(cols), 2*p.area.w) {
		if cols[i].Gap && p.within(s, i) {
			c.put(p.area.x+i/2, p.area.y+p.area.h-1, '×', warnLine)
		}
	}
}

// within says whether column i lies in the part of the record there is: a gap
// that is still open reaches to the newest record and not beyond.
func (p plot) within(s *session.Snapshot, i int) bool {
	if !p.byTime {
		return true
	}
	at := p.x0 + (p.x1-p.x0)*float64(i)/float64(2*p.area.w)
	return at <= float64(s.T)
}
