package tui

import (
	"fmt"
	"math"

	"github.com/NimbleMarkets/ntcharts/canvas/runes"

	"hawse/acquire/session"
	"hawse/trial"
)

// axis is what the tension is drawn against.
type axis uint8

const (
	axisHaul axis = iota
	axisTime
	axisBoth // one above the other
	numAxes
)

// traced is a plot with the columns it asked for.
type traced struct {
	plot plot
	cols []trial.Col
}

// tracePart is the room of one plot.
type tracePart struct {
	r      rect
	byTime bool
}

// parts shares out the room of the trace. What is too low for two has the one
// against line hauled.
func (a axis) parts(r rect) []tracePart {
	switch half := r.h / 2; {
	case a == axisTime:
		return []tracePart{{r, true}}
	case a == axisBoth && r.w >= 110:
		w := r.w/2 - 1
		return []tracePart{{rect{r.x, r.y, w, r.h}, false}, {rect{r.x + r.w - w, r.y, w, r.h}, true}}
	case a == axisBoth && half >= plotMinH:
		return []tracePart{{rect{r.x, r.y, r.w, r.h - half}, false}, {rect{r.x, r.y + r.h - half, r.w, half}, true}}
	}
	return []tracePart{{r, false}}
}

// window is the part of the pull that is looked at. The zero value is the whole
// of it, as it grows.
type window struct {
	zoom  int // halvings of the whole; under 0 doublings
	still bool
	haul  float64 // m, the middle, while it stands still
	time  float64 // ns
}

// Between these a window can be stretched: at the closest a cell is a few
// centimetres or a tenth of a second.
const (
	zoomFarthest = -5
	zoomClosest  = 7
)

// move answers a key. A window that is moved, or drawn closer by hand, stands
// still at what it shows.
func (w window) move(in intent, traces []traced) window {
	mid := func(p plot) float64 { return (p.x0 + p.x1) / 2 }
	hold := func() {
		for _, t := range traces {
			if t.plot.byTime {
				w.time = mid(t.plot)
			} else {
				w.haul = mid(t.plot)
			}
		}
	}
	shift := func(share float64) {
		if !w.still {
			hold()
			w.still = true
		}
		for _, t := range traces {
			d := (t.plot.x1 - t.plot.x0) * share
			if t.plot.byTime {
				w.time += d
			} else {
				w.haul += d
			}
		}
	}
	switch in {
	case zoomIn:
		w.zoom = min(w.zoom+1, zoomClosest)
	case zoomOut:
		if w.zoom = max(w.zoom-1, zoomFarthest); w.zoom == 0 {
			return window{}
		}
	case panBack:
		shift(-0.5)
	case panOn:
		shift(0.5)
	case follow:
		return window{}
	}
	return w
}

// look narrows a plot to the window. While it follows, the newest sample keeps
// its place at nine tenths; one that stands still stays within the pull.
func (p *plot) look(s *session.Snapshot, w window) {
	if w == (window{}) || s.Span.N == 0 {
		return
	}
	whole := p.x1 - p.x0
	span := whole * math.Pow(2, float64(-w.zoom))
	now, first, last := float64(s.Haul.X), float64(s.Span.LeastX), math.Max(float64(s.Span.MostX), p.x1)
	mid := w.haul
	step := haulColumn
	if p.byTime {
		now, first, last = float64(max(s.T, s.Span.Last)), float64(s.Span.First), float64(max(s.T, s.Span.Last))
		mid, step = w.time, float64(cellTime)
	}
	if math.IsNaN(now) || math.IsInf(now, 0) || !s.Haul.Known && !p.byTime {
		now = last
	}
	cols := float64(2 * p.area.w)
	// A window moves by whole columns, so that a column keeps its samples.
	col := math.Max(math.Ceil(span/cols/step), 1) * step
	span = col * cols
	from := now - span*0.9
	if w.still {
		from = math.Max(math.Min(mid-span/2, last-span), first)
	} else if now-first < span*0.9 {
		from = first
	}
	if math.IsNaN(from) || math.IsInf(from, 0) {
		return
	}
	p.x0 = math.Floor(from/col) * col
	p.x1 = p.x0 + span
}

// haulColumn is the finest column against line hauled, m.
const haulColumn = 0.01

// drawWindow says that not the whole is shown.
func (p plot) drawWindow(c *canvas, w window) {
	if w == (window{}) {
		return
	}
	text := "follows"
	if w.still {
		text = "stands still"
	}
	switch {
	case w.zoom > 0:
		text = fmt.Sprintf("×%d, ", 1<<w.zoom) + text
	case w.zoom < 0:
		text = fmt.Sprintf("÷%d, ", 1<<-w.zoom) + text
	}
	c.text(rect{p.area.x + 1, p.area.y, p.area.w - 1, 1}, 0, text+"; f: whole", strong)
}

// free says whether cells of the plot show nothing yet.
func (p plot) free(c *canvas, at rect) bool {
	if at.x < 0 || at.y < 0 || at.x+at.w > p.area.w || at.y >= p.area.h {
		return false
	}
	for x := range at.w {
		if c.cells[(p.area.y+at.y)*c.w+p.area.x+at.x+x].r != 0 {
			return false
		}
	}
	return true
}

// drawMarks puts a wedge at the top for each mark.
func (p plot) drawMarks(c *canvas, marks []session.Marked) {
	for _, k := range marks {
		at := float64(k.X)
		if p.byTime {
			at = float64(k.T)
		}
		if x, ok := p.dotX(at); ok && !math.IsNaN(at) {
			c.put(p.area.x+x/2, p.area.y, '▼', strong)
		}
	}
}

// drawScope is the second axis, along the top: the scope at each line hauled,
// with the water as deep as it is now.
func (p plot) drawScope(c *canvas, s *session.Snapshot) {
	if p.top == 0 || !(s.Haul.Scope > 0) {
		return
	}
	row := rect{p.whole.x, p.whole.y, p.whole.w, 1}
	c.text(row, 0, "scope", dim)
	height := float64(s.Haul.RodeOut) / s.Haul.Scope
	length := float64(s.Haul.RodeOut + s.Haul.X)
	at := func(scope float64) float64 { return length - scope*height }
	step := niceStep((p.x1 - p.x0) / height / math.Max(float64(p.area.w)/8, 2))
	end := 0
	for v := math.Floor((length-p.x0)/height/step) * step; v > 0 && at(v) <= p.x1; v -= step {
		x, ok := p.dotX(at(v))
		text := axisNumber(v, 2) + ":1"
		from := max(x/2-width(text)/2, 0)
		if ok && from >= end && from+width(text) <= p.area.w {
			c.text(rect{p.area.x, row.y, p.area.w, 1}, from, text, dim)
			end = from + width(text) + 2
		}
	}
}

// drawRibbon is the phases below the curve: each between strokes, with as much
// of its name as there is room for.
func (p plot) drawRibbon(c *canvas, segs []trial.Segment, s *session.Snapshot) {
	if p.ribbon == 0 || len(segs) == 0 {
		return
	}
	row := rect{p.area.x, p.area.y + p.area.h, p.area.w, 1}
	c.text(rect{p.whole.x, row.y, p.yLabel, 1}, 0, padLeft("phase", p.yLabel), dim)
	cellOf := func(v float64) int {
		return int(math.Min(math.Max((v-p.x0)/(p.x1-p.x0), 0), 1) * float64(p.area.w))
	}
	for i, g := range segs {
		from, to := float64(g.X0), float64(g.X1)
		if p.byTime {
			from, to = float64(g.T0), float64(g.T1)
		}
		if i == len(segs)-1 && p.byTime {
			to = math.Max(to, float64(s.T))
		}
		if math.IsNaN(from) || math.IsNaN(to) || !(to > p.x0) || !(from < p.x1) {
			continue
		}
		a, b := cellOf(from), cellOf(to)
		if b <= a {
			b = a + 1
		}
		room := rect{row.x + a, row.y, min(b, row.w) - a, 1}
		if room.w <= 0 {
			continue
		}
		st := dim
		if i == len(segs)-1 {
			st = accent
		}
		c.rule(room, st)
		c.put(room.x, room.y, runes.LineVertical, st)
		if g.Phase == trial.Breakout { // as short as it is, it is never left out
			c.put(room.x, room.y, '▼', strong)
		}
		if room.w >= 5 {
			c.text(rect{room.x + 1, room.y, room.w - 1, 1}, max((room.w-2-width(g.Phase.String()))/2, 0), g.Phase.String(), st)
		}
	}
}
