package safety

import (
	"math"

	"hawse/trial"
)

// The rule for tension that rises while no line is hauled: up by a share of the
// stop limit within a time, with hardly any line hauled. Common practice, no
// source. Means over three seconds are compared, so that a swell of six seconds
// loses a third of its height and a single jerk is none.
const (
	riseShare = 0.10
	riseLess  = 0.05 // gone under this share
	riseHaul  = 0.05 // m

	riseWidth = int64(500e6) // ns, of a cell
	riseMean  = 6            // cells in a mean
	riseBack  = 20           // cells between the means compared, at most: 10 s
	riseCells = 28           // kept; above mean and distance together
)

// rise keeps tension and line of the last seconds in cells of half a second.
type rise struct {
	cells [riseCells]riseCell
	last  int64 // the cell in hand; 0: none
	first int64 // the first one since it began anew, or since a gap as long as a mean
}

type riseCell struct {
	index  int64 // which half second, from 1; 0: never used
	sum, n float64
	x      float64 // line hauled at its last sample
}

func (r *rise) reset() { *r = rise{} }

// add takes a good sample and says whether a cell was closed by it.
func (r *rise) add(t int64, v, x float64) (closed bool) {
	i := t/riseWidth + 1
	c := &r.cells[i%riseCells]
	if c.index != i {
		*c = riseCell{index: i}
		if r.last == 0 || i-r.last > riseMean {
			r.first = i
		}
		closed, r.last = r.last != 0, i
	}
	c.sum += v
	c.n++
	c.x = x
	return closed
}

func (r *rise) cell(i int64) *riseCell {
	if i > 0 {
		if c := &r.cells[i%riseCells]; c.index == i {
			return c
		}
	}
	return nil
}

// filled is the first cell that holds something, on the way from one to another.
func (r *rise) filled(from, to int64) *riseCell {
	step := int64(1)
	if to < from {
		step = -1
	}
	for i := from; i != to+step; i += step {
		if c := r.cell(i); c != nil {
			return c
		}
	}
	return nil
}

// mean over the cells up to end; ok only if the first and the last half of them
// hold something.
func (r *rise) mean(end int64) (m float64, ok bool) {
	var sum, n float64
	var early, late bool
	for i := end - riseMean + 1; i <= end; i++ {
		if c := r.cell(i); c != nil {
			sum, n = sum+c.sum, n+c.n
			early = early || i <= end-riseMean/2
			late = late || i > end-riseMean/2
		}
	}
	return sum / n, early && late
}

// most is the greatest rise within the last ten seconds over which hardly any
// line was hauled, less what the line that was explains at a stiffness in N/m.
func (r *rise) most(stiff float64) float64 {
	end, most := r.last-1, math.Inf(-1)
	now, ok := r.mean(end)
	here := r.filled(end, end-riseMean/2+1)
	if !ok || here == nil {
		return most
	}
	// What was eased before is hauled again: line counts from the least of the time.
	least, to := here.x, end
	for i := end - 1; i >= end-riseBack; i-- {
		for ; to > i-riseMean; to-- {
			if c := r.cell(to); c != nil {
				least = min(least, c.x)
			}
		}
		was, ok := r.mean(i)
		if !ok {
			continue
		}
		if hauled := here.x - least; hauled < riseHaul {
			most = max(most, now-was-stiff*max(0, hauled))
		}
	}
	return most
}

// full says whether all of the time that is looked at has been seen.
func (r *rise) full() bool { return r.last-r.first > riseBack+riseMean-1 }

// judgeRise looks for tension that rises with no haul. One that was taken over
// is there until all of the time that is looked at shows none.
func (g *Guard) judgeRise(t int64, ev *Events) {
	s := &g.s
	limit := g.stopN(s.Stage)
	if math.IsInf(limit, 1) {
		return
	}
	switch up := s.rise.most(g.stiffness()); {
	case up >= riseShare*limit:
		s.riseTaken = false
		g.raise(t, VesselMoves, atLimit, up, riseShare*limit, Nobody, ev)
	case up < riseLess*limit && (!s.riseTaken || s.rise.full()):
		s.riseTaken = false
		g.lower(t, VesselMoves, absent, max(up, 0), ev)
	}
}

// knowsHaul says whether it is known that line is hauled or is not: either the
// winch is not permitted to, or the line is known and its encoder is heard.
func (g *Guard) knowsHaul() bool {
	s := &g.s
	return !s.Permit || s.Line.HasX && s.present[LineSilent] == absent
}

// stiffness is that of the rode that is out, N/m: an upper bound, since sag
// makes a rode softer; 0 while unknown.
func (g *Guard) stiffness() float64 {
	if !g.s.Line.HasX {
		return 0
	}
	stiff, _ := trial.Stiffness(g.cfg.Rode, g.s.Line.RodeOut)
	return stiff
}

// tangent is what a metre hauled adds to the tension v while the anchor stays,
// N: less than that of the straight rode, for weight and curve give, too. Where
// the statics cannot be had it is straight.
func (g *Guard) tangent(v, straight float64) float64 {
	l := &g.s.Line
	if g.rode == nil || !l.HasS || !(l.Scope > 0) {
		return straight
	}
	out := math.Min(float64(l.RodeOut), g.rode.Total())
	if g.rode.SetHeight(float64(l.RodeOut)/l.Scope) != nil || g.rode.SetOut(out) != nil {
		return straight
	}
	s, err := g.rode.AtTension(v)
	if err != nil || !(s.StiffnessCounted > 0) {
		return straight
	}
	return math.Min(straight, s.StiffnessCounted)
}

// Rules for an anchor that does not move, and a snag: the slope of the tension
// against line hauled is nearly the rode's own stiffness. Common practice, no
// source.
const (
	snagShare = 0.7
	snagLess  = 0.6
	snagOver  = 0.2  // m
	snagStep  = 0.05 // m
	snagKept  = 5    // places over 0.2 m
	snagMoved = 1.0  // m the anchor must have come before a rise is a snag
	snagBin   = 0.5  // m
	snagBins  = 5    // 2.5 m: teeth of a saw-tooth are 0.2 to 1 m long
)

// rodeSlope keeps tension at the last places along the line.
type rodeSlope struct {
	x, v  [snagKept]float64
	top   [snagKept]float64 // the highest from there to the next place
	n     int32             // places kept, newest last
	moved float64           // m hauled with the anchor giving way, since the stage that seats it began
	bins  [snagBins]snagTop
}

// snagTop is the highest tension over half a metre hauled.
type snagTop struct {
	index int64 // which half metre; one never used has a tension of 0
	v     float64
}

// bin is the half metre of a place. A count may be anything, and so may what comes
// of it here, below zero too.
func bin(x float64) int64 { return int64(math.Floor(x / snagBin)) }

// held is the highest tension over the last metres, but for the last 0.2 m. A
// rise below it is the next tooth of a saw-tooth, and no snag.
func (r *rodeSlope) held(x float64) (top float64) {
	i := bin(x)
	for _, b := range r.bins {
		if b.index > i-snagBins && b.index <= i {
			top = max(top, b.v)
		}
	}
	return top
}

func (r *rodeSlope) leave(x, v float64) {
	i := bin(x)
	b := &r.bins[(i%snagBins+snagBins)%snagBins]
	if b.index != i {
		*b = snagTop{index: i}
	}
	b.v = max(b.v, v)
}

func (r *rodeSlope) forget() { r.n = 0 }

// add takes line hauled and tension there, and returns the slope over the last
// 0.2 m, in N/m, when a new place is reached.
func (r *rodeSlope) add(x, v float64) (slope, step float64, ok bool) {
	if r.n > 0 {
		step = x - r.x[r.n-1]
		if step <= -snagStep {
			r.n = 0
		} else if step < snagStep {
			r.top[r.n-1] = max(r.top[r.n-1], v)
			return 0, 0, false
		}
	}
	if r.n == snagKept {
		r.leave(r.x[0], r.top[0])
		copy(r.x[:], r.x[1:])
		copy(r.v[:], r.v[1:])
		copy(r.top[:], r.top[1:])
		r.n--
	}
	r.x[r.n], r.v[r.n], r.top[r.n] = x, v, v
	r.n++
	if r.n < snagKept {
		return 0, 0, false
	}
	return (v - r.v[0]) / (x - r.x[0]), step, true
}

// judgeSlope follows tension against line hauled.
func (g *Guard) judgeSlope(t int64, ev *Events) {
	s := &g.s
	stiff, v := g.stiffness(), float64(s.Load.Tension)
	if !(stiff > 0) || !s.TensionKnown() {
		s.rode.forget()
		return
	}
	if s.leap.wait > 0 || s.noise.since >= 0 {
		return // it may be another unit, or noise, and no snag
	}
	slope, step, ok := s.rode.add(float64(s.Line.X), v)
	if !ok {
		return
	}
	share := slope / g.tangent(v, stiff)
	level := float64(g.cfg.deadLevel())
	if share < snagShare && v > level {
		s.rode.moved += step
	}
	switch {
	case share >= snagShare && v > 2*level && s.rode.moved >= snagMoved && v <= s.rode.held(float64(s.Line.X)):
	case share >= snagShare && v > 2*level && s.rode.moved >= snagMoved:
		g.lower(t, AnchorNotMoving, absent, share, ev)
		g.raise(t, Snag, atLimit, share, snagShare, Nobody, ev)
	case share >= snagShare && v > 2*level:
		g.raise(t, AnchorNotMoving, atLimit, share, snagShare, Nobody, ev)
	case share < snagLess:
		g.lower(t, Snag, absent, share, ev)
		g.lower(t, AnchorNotMoving, absent, share, ev)
	}
}

// deadLevel is what a plain weight pulls, or a slack rode where that is unknown.
func (c *Config) deadLevel() trial.Force {
	if c.Dead > 0 {
		return c.Dead
	}
	return c.Slack
}
