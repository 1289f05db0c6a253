package tui

import (
	"fmt"
	"math"
	"strings"

	"hawse/acquire/session"
	"hawse/trial"
)

// overlay says which earlier pulls lie beneath the trace.
type overlay uint8

const (
	overlayNone   overlay = iota
	overlayAnchor         // the last pull of the same anchor
	overlayBlock          // the others of the same block
	numOverlays
)

// under is an earlier pull beneath the trace: what of it belongs to the stage
// that the trace shows.
type under struct {
	tag    rune // a letter that stands in the curve, as no level has one
	course *session.Course
	series *session.CourseSeries
}

// earlierPulls are those found by now; nil where nobody looks for any.
func (m model) earlierPulls() *session.EarlierPulls {
	if m.earlier == nil {
		return nil
	}
	return m.earlier()
}

// chosen are the pulls that are to lie beneath.
func (m model) chosen() []*session.Course {
	p := m.earlierPulls()
	switch {
	case p == nil:
	case m.over == overlayAnchor && p.Anchor != nil:
		return []*session.Course{p.Anchor}
	case m.over == overlayBlock:
		return p.Block
	}
	return nil
}

// beneath is what is drawn: of each pull the haul series of the stage in hand, so
// that a recovery lies over a recovery. Before anything was hauled it is the pull.
func (m model) beneath() (list []under) {
	stage := trial.Pull
	if m.snap.Span.Series > 0 {
		stage = m.snap.Hauled
	}
	for i, k := range m.chosen() {
		s := k.Series(stage)
		if s.Empty() || s.ByHaul.Len() == 0 {
			continue
		}
		list = append(list, under{'a' + rune(i), k, s})
	}
	return list
}

// nextOverlay goes to the next choice and says what it came to.
func (m model) nextOverlay() model {
	if m.earlier == nil {
		return m.say("no folder of earlier pulls here")
	}
	m.over = (m.over + 1) % numOverlays
	m = m.measure()
	p := m.earlierPulls()
	var what string
	switch {
	case m.over == overlayNone:
		return m.say("beneath the trace: nothing")
	case len(m.chosen()) > 0:
		var names []string
		u := unitsOf(m.snap)
		for i, c := range m.chosen() {
			names = append(names, string('a'+rune(i))+" "+courseName(c, u))
		}
		what = "beneath the trace: " + strings.Join(names, "; ")
		if m.over == overlayBlock && p.More > 0 {
			what += fmt.Sprintf("; %d more of the block", p.More)
		}
	case !p.Done:
		what = "earlier pulls are still being read"
	case m.over == overlayAnchor && m.snap.Run.Anchor == "":
		what = "this run pulls no anchor: no earlier pull of it"
	case m.over == overlayAnchor:
		what = "no earlier pull of anchor " + m.snap.Run.Anchor + " that can be read"
	default:
		what = "no other pull of this block yet"
	}
	if n := len(p.LeftOut); n > 0 {
		what += fmt.Sprintf("; left out: %s", p.LeftOut[0])
		if n > 1 {
			what += fmt.Sprintf(", and %d more", n-1)
		}
	}
	return m.say(what)
}

// courseName is a pull in a few words: anchor, station and lane, run, peak. A peak
// that was not left is a lower bound.
func courseName(c *session.Course, u units) string {
	r := c.Head.Run
	return strings.TrimSpace(r.Anchor + " " + laneText(r) + ", run " + r.ID + ", peak " + coursePeak(c, u))
}

func laneText(r trial.Run) string {
	if r.Lane > 0 {
		return fmt.Sprintf("%s lane %d", r.Station, r.Lane)
	}
	return r.Station
}

func coursePeak(c *session.Course, u units) string {
	if !c.Peak.Known {
		return "unknown"
	}
	return peakMark(c.Peak) + u.tensionUnit(c.Peak.Value)
}

// reach has the axis of line hauled hold all that lies beneath.
func (p *plot) reach(list []under) {
	for _, k := range list {
		if lo := math.Floor(k.series.ByHaul.Least()); lo < p.x0 && lo > p.x0-1000 {
			p.x0 = lo
		}
		if most := k.series.ByHaul.Most(); most < p.x1+1000 {
			p.x1 = math.Max(p.x1, most+(most-p.x0)*0.02)
		}
	}
}

// The signs of an earlier pull: thin dots at the upper, middle and lower third of
// a cell, nothing like the strokes of the trace. The other three are for a
// terminal that has only ASCII.
var (
	underSigns      = [3]rune{'˙', '·', '.'}
	underSignsASCII = [3]rune{'`', '-', ','}
)

// cellTops is the greatest and least tension of an envelope in each cell across,
// NaN nothing. from and to are the plot's ends in the envelope's unit.
func (p plot) cellTops(e *trial.Envelope, from, to float64) (top, low []float64) {
	cols := e.Columns(from, to, p.area.w, nil)
	top, low = make([]float64, len(cols)), make([]float64, len(cols))
	last := -1
	for i, c := range cols {
		top[i], low[i] = math.NaN(), math.NaN()
		if c.N == 0 {
			continue
		}
		top[i], low[i] = float64(c.Hi), float64(c.Lo)
		for j := last + 1; last >= 0 && !c.Gap && j < i; j++ { // cells wider than columns
			share := float64(j-last) / float64(i-last)
			top[j] = top[last] + share*(top[i]-top[last])
			low[j] = top[j]
		}
		last = i
	}
	return top, low
}

// drawUnder draws what lies beneath the trace.
func (p plot) drawUnder(c *canvas, list []under, ascii bool) {
	if p.byTime {
		return
	}
	for n, k := range list {
		top := p.drawDots(c, k.series.ByHaul, p.x0, p.x1, 0, ascii)
		for x := range top {
			if y, ok := p.dotY(top[x]); ok && (x+7*n)%24 == 12 {
				c.put(p.area.x+x, p.area.y+y/4, k.tag, strong)
			}
		}
	}
}

// drawDots draws an envelope in thin dots, from a cell on, and returns where they
// are: the tension in each cell, NaN nothing.
func (p plot) drawDots(c *canvas, e *trial.Envelope, from, to float64, first int, ascii bool) []float64 {
	signs := underSigns
	if ascii {
		signs = underSignsASCII
	}
	top, low := p.cellTops(e, from, to)
	for x := max(first, 0); x < len(top); x++ {
		y, ok := p.dotY(top[x])
		if !ok || math.IsNaN(top[x]) {
			continue
		}
		c.put(p.area.x+x, p.area.y+y/4, signs[[4]int{0, 1, 1, 2}[y%4]], dim)
		if end, _ := p.dotY(low[x]); end/4 > y/4+1 { // a fall within the cell
			for row := y/4 + 1; row < end/4; row++ {
				c.put(p.area.x+x, p.area.y+row, signs[1], dim)
			}
		}
	}
	return top
}

// nameUnder puts each earlier pull's name beside its curve, as near its peak as
// there is room: anchor, lane, peak.
func (p plot) nameUnder(c *canvas, list []under, u units) {
	if p.byTime {
		return
	}
	for _, k := range list {
		r := k.course.Head.Run
		lane := ""
		if r.Lane > 0 {
			lane = fmt.Sprintf(" lane %d", r.Lane)
		}
		p.nameBeside(c, k, string(k.tag)+" "+r.Anchor+lane+" "+coursePeak(k.course, u))
	}
}

func (p plot) nameBeside(c *canvas, k under, name string) {
	top, _ := p.cellTops(k.series.ByHaul, p.x0, p.x1)
	at := -1
	for x, v := range top {
		if !math.IsNaN(v) && (at < 0 || v > top[at]) {
			at = x
		}
	}
	if at < 0 {
		return
	}
	w := width(name)
	for d := 0; d < 2*len(top); d++ { // outwards from the peak
		x := at + (d+1)/2*(1-2*(d%2))
		if x < 0 || x >= len(top) || math.IsNaN(top[x]) {
			continue
		}
		y, ok := p.dotY(top[x])
		if !ok {
			continue
		}
		for _, spot := range []rect{{x - w/2, y/4 - 1, w, 1}, {x + 2, y / 4, w, 1}, {x - w/2, y/4 + 1, w, 1}, {x - w - 1, y / 4, w, 1}, {x - w/2, y/4 - 2, w, 1}} {
			wide := rect{spot.x - 1, spot.y, spot.w + 2, 1}
			if p.free(c, rect{max(wide.x, 0), wide.y, min(wide.w, p.area.w-max(wide.x, 0)), 1}) && spot.x >= 0 && spot.x+w <= p.area.w {
				c.text(rect{p.area.x + spot.x, p.area.y + spot.y, w, 1}, 0, name, dim)
				return
			}
		}
	}
}
