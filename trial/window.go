package trial

import "math"

// loads is a tension in its three readings, N: at the deck, what a bare rode
// takes there, and at the anchor. One that is not known is NaN.
type loads [3]float64

const (
	atDeck = iota
	ofBare
	atAnchor
)

// What the rolling windows hold: common practice, no source.
const (
	rollKnots = 4096 // knots a window; samples nearer than its 4096th part are joined
	rollHole  = 0.5  // of the width: a step that is wider is a hole, over which no mean is taken
	rollTime  = 1.0  // s, the widest hole in a window of time
	rollLine  = 0.1  // m, the widest hole in a window of line
)

// roll is the mean over a window that rolls along, of time (s) or of line hauled
// (m). The stretch between two samples counts with the mean of what it is given
// for it. Memory is fixed. It has no mean until it is full, and begins anew where
// told to; it never reaches over a hole.
type roll struct {
	width float64
	knots []rollKnot // a ring, made when first used
	first int        // the last one at or before the window's beginning
	n     int
	now   rollKnot
	lost  loads // where each was last not known
}

// rollKnot is a place and the sums up to it.
type rollKnot struct {
	at  float64
	sum loads
}

// begin forgets all.
func (r *roll) begin() {
	if r.knots == nil {
		r.knots = make([]rollKnot, rollKnots+4)
	}
	r.first, r.n, r.now = 0, 1, rollKnot{}
	r.knots[0] = r.now
	r.lost = loads{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
}

// add goes on by a step over which the tension was so on the mean.
func (r *roll) add(step float64, mean loads) {
	if r.n == 0 {
		r.begin()
	}
	r.now.at += step
	for i, v := range mean {
		if v-v == 0 { // finite
			r.now.sum[i] += v * step
		} else {
			r.lost[i] = r.now.at
		}
	}
	// The newest knot is where we are; it stays where it is as soon as it is far
	// enough from the one before.
	last := r.knot(r.n - 1)
	if r.n > 1 && last.at-r.knot(r.n-2).at < r.width/rollKnots {
		*last = r.now
	} else {
		r.n++
		*r.knot(r.n - 1) = r.now
	}
	for r.n > 2 && r.knot(1).at <= r.now.at-r.width {
		r.first, r.n = (r.first+1)%len(r.knots), r.n-1
	}
}

func (r *roll) knot(i int) *rollKnot {
	if i += r.first; i >= len(r.knots) {
		i -= len(r.knots)
	}
	return &r.knots[i]
}

// mean is that over the newest full window. ok is false while it is not full, or
// the tension at the deck was not known in all of it.
func (r *roll) mean() (m loads, ok bool) {
	from := r.now.at - r.width
	// A sum of steps falls short of a whole width by its rounding.
	if r.n < 2 || from < -1e-9*r.width || r.lost[atDeck] > from {
		return loads{}, false
	}
	a, b := r.knot(0), r.knot(1)
	part := 0.0
	if b.at > a.at {
		part = max(0, (from-a.at)/(b.at-a.at))
	}
	for i := range m {
		m[i] = math.NaN()
		if r.lost[i] <= from {
			m[i] = (r.now.sum[i] - a.sum[i] - part*(b.sum[i]-a.sum[i])) / r.width
		}
	}
	return m, true
}

// profile is the tension along line hauled for the first time: cells of 5 cm,
// that double as the pull outgrows them. Of any stretch it knows the mean by
// distance. Memory is fixed.
type profile struct {
	cell  float64 // m; 0: empty
	from  int     // number of the first cell, counted from 0 m
	n     int
	cells []profCell // made when first used
}

const (
	profileCell  = 0.05 // m
	profileCells = 2048 // about 100 m before they double
)

// profCell is what one cell has of line, and of tension over it.
type profCell struct {
	deck       moments // weighted by m
	sum, known loads   // N·m, and m over which each is known
}

// add takes a step of line up to x with its mean tension, and mean and scatter of
// that at the deck.
func (p *profile) add(x, step float64, mean loads, deck moments) {
	if !(mean[atDeck]-mean[atDeck] == 0) || !(step > 0) {
		return
	}
	if p.cell == 0 {
		if p.cells == nil {
			p.cells = make([]profCell, profileCells)
		}
		p.cell = profileCell
		p.from = int(math.Floor((x - step) / p.cell))
	}
	for step > 0 {
		at := x - step
		i := int(math.Floor(at/p.cell+1e-9)) - p.from
		if i < 0 {
			return // before where it began: line out and in again
		}
		if i >= profileCells {
			if !(x < haulFarthest) {
				return
			}
			p.double()
			continue
		}
		part := min(step, float64(p.from+i+1)*p.cell-at)
		if part <= 0 {
			part = step
		}
		c := &p.cells[i]
		p.n = max(p.n, i+1)
		c.deck.merge(deck.weighed(part), 1)
		for k, v := range mean {
			if v-v == 0 {
				c.sum[k] += v * part
				c.known[k] += part
			}
		}
		step -= part
		if step < 1e-12 {
			return
		}
	}
}

// double makes the cells twice as long.
func (p *profile) double() {
	from := int(math.Floor(float64(p.from) / 2))
	at := func(i int) int { return int(math.Floor(float64(p.from+i)/2)) - from }
	end := 0
	for i := range p.n {
		c := p.cells[i]
		p.cells[i] = profCell{}
		to := &p.cells[at(i)]
		end = at(i) + 1
		to.deck.merge(c.deck, 1)
		for k := range c.sum {
			to.sum[k] += c.sum[k]
			to.known[k] += c.known[k]
		}
	}
	p.cell, p.from, p.n = 2*p.cell, from, end
}

// stretchMean is the mean by distance over a stretch of line hauled.
type stretchMean struct {
	deck  moments // weighted by m
	sum   loads   // N·m
	known loads   // m of it over which each is known
}

// mean is that of one reading; NaN where it is not known in all of it.
func (s *stretchMean) mean(i int) float64 {
	if !(s.known[i] >= covers*s.deck.w) {
		return math.NaN()
	}
	return s.sum[i] / s.known[i]
}

// take adds line hauled from a to b, m. A cell that is only partly in it counts
// as if all of it were alike.
func (s *stretchMean) take(p *profile, a, b float64) {
	if p.cell == 0 {
		return
	}
	for i := range p.n {
		lo := float64(p.from+i) * p.cell
		in := (min(b, lo+p.cell) - max(a, lo)) / p.cell
		c := &p.cells[i]
		if in <= 1e-9 || c.deck.w == 0 {
			continue
		}
		s.deck.merge(c.deck, in)
		for k := range s.sum {
			s.sum[k] += in * c.sum[k]
			s.known[k] += in * c.known[k]
		}
	}
}
