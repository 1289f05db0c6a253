package trial

import "math"

// Envelope holds the least and the greatest tension along one axis (metres
// hauled, metres travelled, seconds) in memory that does not grow: at most
// envelopeCells cells, which double in width when the axis grows past them. A
// peak is never lost, only placed as exactly as a cell is wide. Where a [Trace]
// grows with a pull that goes on, an Envelope is what is kept of one that is over.
//
// An Envelope begins with NewEnvelope.
type Envelope struct {
	cells []Col // cells[i] is index first+i
	first int64
	width float64 // of a cell, in the axis' unit
	gap   bool    // the stream was lost since the last sample
	n     int
	least float64
	most  float64
	top   Force
}

// envelopeCells: more columns than any screen draws dots in half its width;
// 32 KiB at 32 bytes a cell.
const envelopeCells = 1024

// envelopeFarthest is the greatest place that is taken, in cells of the finest
// width: past it an index would not be exact.
const envelopeFarthest = 1e15

// NewEnvelope returns an empty envelope with cells of that width, which is above
// zero, to begin with.
func NewEnvelope(finest float64) *Envelope { return &Envelope{width: finest} }

// Add takes one sample. What is not finite is a gap.
func (e *Envelope) Add(at float64, v Force) {
	if !finite(at) || !finite(float64(v)) || math.Abs(at)/e.width > envelopeFarthest {
		e.Gap()
		return
	}
	i := int64(math.Floor(at / e.width))
	for !e.reach(i) {
		e.halve()
		i = floorDiv(i, 2)
	}
	c := &e.cells[i-e.first]
	if c.N == 0 {
		c.Lo, c.Hi = v, v
	}
	c.Lo, c.Hi = min(c.Lo, v), max(c.Hi, v)
	c.N++
	c.Gap = c.Gap || e.gap && e.n > 0
	if e.gap = false; e.n == 0 {
		e.least, e.most, e.top = at, at, v
	}
	e.n++
	e.least, e.most, e.top = min(e.least, at), max(e.most, at), max(e.top, v)
}

// Gap says that nothing is known from the last sample to the next.
func (e *Envelope) Gap() { e.gap = true }

// reach makes room for a cell; false if that takes wider ones.
func (e *Envelope) reach(i int64) bool {
	if e.cells == nil {
		e.cells, e.first = make([]Col, 0, envelopeCells), i
	}
	first, end := min(e.first, i), max(e.first+int64(len(e.cells)), i+1)
	if end-first > envelopeCells {
		return false
	}
	if n := int(e.first - first); n > 0 {
		old := len(e.cells)
		e.cells = e.cells[:old+n]
		copy(e.cells[n:], e.cells[:old])
		clear(e.cells[:n])
		e.first = first
	}
	for int64(len(e.cells)) < end-first {
		e.cells = append(e.cells, Col{})
	}
	return true
}

// halve joins the cells by twos.
func (e *Envelope) halve() {
	first := floorDiv(e.first, 2)
	out := make([]Col, 0, envelopeCells)
	for i, c := range e.cells {
		k := int(floorDiv(e.first+int64(i), 2) - first)
		if k == len(out) {
			out = append(out, c)
			continue
		}
		out[k] = joined(out[k], c)
	}
	e.cells, e.first, e.width = out, first, 2*e.width
}

// joined is two columns as one.
func joined(a, b Col) Col {
	switch {
	case b.N == 0:
		a.Gap = a.Gap || b.Gap
		return a
	case a.N == 0:
		b.Gap = a.Gap || b.Gap
		return b
	}
	return Col{Lo: min(a.Lo, b.Lo), Hi: max(a.Hi, b.Hi), N: a.N + b.N, Gap: a.Gap || b.Gap}
}

// Len is the number of samples; Least, Most and Greatest say nothing at 0.
func (e *Envelope) Len() int {
	if e == nil {
		return 0
	}
	return e.n
}

// Least and Most are the ends of the axis, Greatest is the greatest tension, N.
func (e *Envelope) Least() float64  { return e.least }
func (e *Envelope) Most() float64   { return e.most }
func (e *Envelope) Greatest() Force { return e.top }

// Columns returns cols columns that divide from ≤ at < to evenly, over dst from
// its start as [Trace.ByTime] does. A cell is drawn in the column that its middle
// falls into, so that where cells are wider than columns some have nothing in
// them.
func (e *Envelope) Columns(from, to float64, cols int, dst []Col) []Col {
	dst = columns(dst, cols)
	if e == nil || !finite(from) || !finite(to) || to <= from {
		return dst
	}
	scale := float64(len(dst)) / (to - from)
	for i, c := range e.cells {
		k := math.Floor(((float64(e.first)+float64(i)+0.5)*e.width - from) * scale)
		if c.N > 0 && k >= 0 && k < float64(len(dst)) {
			dst[int(k)] = joined(dst[int(k)], c)
		}
	}
	return dst
}
