package trial

import "math"

// PhaseDetector names the [Phase] a pull is in, from its points in order.
//
// It is causal: a phase is named once its rule has held over the rule's length,
// so a loading is named up to 2 m and a plateau up to 3 m after it began. It is
// judged along line hauled, over the means of 5 cm cells weighted by length, so
// that speed, sampling rate and pauses do not change the reading. It is a pure
// function of its points: the same ones give the same phases, bit for bit.
//
// It says [Unclear] in stages that do not haul, while X is unknown, and after any
// break in what it can follow: X leaping ahead or back by more than 0.25 m, 5 s
// without a valid tension, or the winch standing for 5 s. Until then a pause
// keeps the phase; slack stays said while the tension stays that low, because it
// is a level and needs no length. After a break every rule waits for its full
// length again. Each haul series (see [Trace]) starts afresh, its running peak
// too. Levels that are unknown leave their phases out: slack needs the bare rode,
// plateau the dead weight, at the bare-rode level both.
//
// It does not tell a cause: a vessel moving astern loads as a winch does, and one
// moving ahead lets tension fall by half. A saw-tooth and a weak engagement are
// unclear. Where a cell holds a single sample (2 Hz at 5 m/min) a swell as large
// as 0.4 of the tension reads as falling.
//
// Memory is fixed, and Add allocates nothing.
type PhaseDetector struct {
	bare, dead float64 // N; 0 unknown
	phase      Phase
	stage      Stage

	// Of the series.
	peak float64 // N, highest cell
	rose bool    // a loading has been named

	// Of the unbroken stretch of line hauled.
	going   bool
	front   float64                       // m, greatest X
	wait    struct{ sum, n float64 }      // tensions since the front last moved
	open    struct{ sum, length float64 } // the cell being filled, N·m and m
	cells   [phaseRing]float64            // N, ring of means
	n       int                           // cells filled
	since   int                           // first cell that may be judged
	heard   int64                         // ns, last point
	moved   int64                         // ns, last progress by phaseCreep
	movedX  float64                       // m
	fallen  int                           // cells since a fall by half was named; 0 none
	lowest  float64                       // N, in that fall
	next    Phase                         // found, not yet named
	nextFor int                           // cells on end
}

const phaseRing = 64 // cells kept; the longest rule needs 60

// NewPhaseDetector returns a detector at the start of a run. Levels that are not
// known, or not above zero, are treated as unknown.
func NewPhaseDetector(l Levels) *PhaseDetector {
	d := &PhaseDetector{}
	if l.Known {
		d.bare, d.dead = knownLevel(l.BareRode), knownLevel(l.DeadWeight)
	}
	return d
}

func knownLevel(f Force) float64 {
	if v := float64(f); v > 0 && finite(v) {
		return v
	}
	return 0
}

// Phase is the phase now.
func (d *PhaseDetector) Phase() Phase { return d.phase }

// Add takes the next point and returns the phase now, and whether it has changed.
// A tension that is not finite is no news.
func (d *PhaseDetector) Add(p Point) (phase Phase, changed bool) {
	before := d.phase
	d.follow(p)
	return d.phase, d.phase != before
}

func (d *PhaseDetector) follow(p Point) {
	if entersSeries(d.stage, p.Stage) {
		*d = PhaseDetector{bare: d.bare, dead: d.dead}
	}
	d.stage = p.Stage
	x, tension := float64(p.X), float64(p.Tension)
	if !inSeries(p.Stage) || !(math.Abs(x) <= haulFarthest) {
		d.breakOff(Unclear)
		return
	}
	if d.going && p.T-d.heard > phaseStill {
		d.breakOff(Unclear)
	}
	if !finite(tension) {
		return
	}
	if dx := x - d.front; d.going && (dx > phaseLeap || dx < -phaseBack) {
		d.breakOff(Unclear)
	}
	if !d.going {
		d.going, d.front = true, x
		d.moved, d.movedX = p.T, x
	}
	d.heard = p.T
	d.wait.sum += tension
	d.wait.n++
	if x > d.front {
		mean := d.wait.sum / d.wait.n
		d.wait.sum, d.wait.n = 0, 0
		dx := x - d.front
		d.front = x
		d.haul(mean, dx)
	}
	if x >= d.movedX+phaseCreep {
		d.moved, d.movedX = p.T, x
	}
	if d.phase == Slack && tension > slackStay*d.bare && d.n == 0 {
		d.phase = Unclear // the winch stands and something else loads the rode
	}
	if p.T-d.moved >= phaseStill {
		if d.phase == Slack {
			d.breakOff(Slack)
		} else {
			d.breakOff(Unclear)
		}
	}
}

// breakOff forgets the stretch, but not the series' peak.
func (d *PhaseDetector) breakOff(phase Phase) {
	*d = PhaseDetector{
		bare: d.bare, dead: d.dead, phase: phase, stage: d.stage,
		peak: d.peak, rose: d.rose,
	}
}

// haul spreads a mean tension over dx metres of new line.
func (d *PhaseDetector) haul(tension, dx float64) {
	for dx > 0 {
		part := min(dx, phaseCell-d.open.length)
		d.open.sum += tension * part
		d.open.length += part
		dx -= part
		if d.open.length >= phaseCell*(1-1e-9) {
			d.closeCell(d.open.sum / d.open.length)
			d.open.sum, d.open.length = 0, 0
		}
	}
}

func (d *PhaseDetector) closeCell(mean float64) {
	d.cells[d.n%phaseRing] = mean
	d.n++
	d.peak = max(d.peak, mean)
	if d.fallByHalf() {
		d.name(Falling)
		return
	}
	found := d.judge()
	switch {
	case found == d.phase:
		d.nextFor = 0
	case found != d.next:
		d.next, d.nextFor = found, 1
	default:
		d.nextFor++
	}
	if d.nextFor >= settleCells {
		d.name(found)
	}
}

// judge tries the rules in their order. A plateau is heard first while there is
// one: the wider figures to stay in it are what keeps ripple from ending it.
func (d *PhaseDetector) judge() Phase {
	if d.phase == Plateau && d.isPlateau(true) {
		return Plateau
	}
	for _, r := range phaseRules {
		if r.holds(d, d.phase == r.phase) {
			return r.phase
		}
	}
	return Unclear
}

func (d *PhaseDetector) name(p Phase) {
	d.phase, d.next, d.nextFor = p, p, 0
	d.rose = d.rose || p == Loading
}

// have is how many cells may be judged.
func (d *PhaseDetector) have() int { return min(d.n-d.since, phaseRing) }

// at is the mean of the i-th newest cell, from 0.
func (d *PhaseDetector) at(i int) float64 { return d.cells[(d.n-1-i)%phaseRing] }

// mean is that of the newest n cells.
func (d *PhaseDetector) mean(n int) float64 {
	sum := 0.0
	for i := range n {
		sum += d.at(i)
	}
	return sum / float64(n)
}

func (d *PhaseDetector) highest(n int) float64 {
	top := d.at(0)
	for i := 1; i < n; i++ {
		top = max(top, d.at(i))
	}
	return top
}

// phaseLine is a least-squares line through the newest cells.
type phaseLine struct {
	mean    float64 // N
	slope   float64 // N/m hauled
	scatter float64 // N, standard deviation about the line
	length  float64 // m
}

func (d *PhaseDetector) fit(n int) phaseLine {
	mean, mid := d.mean(n), float64(n-1)/2
	var sxy, syy float64
	for i := range n {
		dx, dy := mid-float64(i), d.at(i)-mean // i counts backwards
		sxy += dx * dy
		syy += dy * dy
	}
	sxx := float64(n) * (float64(n)*float64(n) - 1) / 12
	return phaseLine{
		mean:    mean,
		slope:   sxy / sxx / phaseCell,
		scatter: math.Sqrt(max(0, syy-sxy*sxy/sxx) / float64(n)),
		length:  float64(n) * phaseCell,
	}
}
