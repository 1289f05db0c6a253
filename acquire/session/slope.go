package session

import "math"

// slope is the rate of change of a quantity over the last two seconds or so:
// the least-squares line through the means of quarter-second cells. It holds
// no slice, so a rate costs no allocation however fast the samples come.
type slope struct {
	cells [slopeCells]slopeCell
	head  int64 // index of the newest cell, cells are indexed by time
}

type slopeCell struct {
	index  int64 // which quarter second; 0 marks one never used, so index starts at 1
	sumT   float64
	sumV   float64
	number float64
}

const (
	slopeCells = 8
	slopeWidth = 250_000_000 // ns
)

func (s *slope) add(t int64, v float64) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return
	}
	i := t/slopeWidth + 1
	c := &s.cells[i%slopeCells]
	if c.index != i {
		*c = slopeCell{index: i}
	}
	c.sumT += float64(t-(i-1)*slopeWidth) / 1e9 // seconds inside the cell, kept small for precision
	c.sumV += v
	c.number++
	s.head = i
}

// perSecond returns the slope at time t, NaN when fewer than three cells of the
// last two seconds hold anything.
func (s *slope) perSecond(t int64) float64 {
	now := t/slopeWidth + 1
	var n, sx, sy, sxx, sxy float64
	for i := now - slopeCells + 1; i <= now; i++ {
		if i < 1 {
			continue
		}
		c := s.cells[i%slopeCells]
		if c.index != i || c.number == 0 {
			continue
		}
		x := float64(i-now)*slopeWidth/1e9 + c.sumT/c.number
		y := c.sumV / c.number
		n++
		sx += x
		sy += y
		sxx += x * x
		sxy += x * y
	}
	d := n*sxx - sx*sx
	if n < 3 || !(d > 0) {
		return math.NaN()
	}
	return (n*sxy - sx*sy) / d
}

// reset forgets everything: after a gap the old values say nothing of the slope.
func (s *slope) reset() { *s = slope{} }

// meter counts events a second over the last four whole seconds.
type meter struct {
	cells [5]uint32
	index [5]int64
}

func (m *meter) add(t int64) {
	i := t/1e9 + 1
	k := i % 5
	if m.index[k] != i {
		m.index[k], m.cells[k] = i, 0
	}
	m.cells[k]++
}

// perSecond averages over the whole seconds before t's own; 0 before the first.
func (m *meter) perSecond(t int64) float64 {
	now := t/1e9 + 1
	var sum uint32
	var seconds float64
	for i := max(now-4, 1); i < now; i++ {
		seconds++
		if k := i % 5; m.index[k] == i {
			sum += m.cells[k]
		}
	}
	if seconds == 0 {
		return 0
	}
	return float64(sum) / seconds
}
