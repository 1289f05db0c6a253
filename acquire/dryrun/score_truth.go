package dryrun

import (
	"math"
	"slices"

	"hawse/acquire/deck"
)

// truth is a pull's course, by cells of line hauled.
type truth struct {
	cells  []truthCellOf
	events []trueEvent
	surges []stretch
	saw    []tooth
	teeth  int
}

const (
	truthCell = 0.05  // m
	grownBy   = 0.03  // of the peak a metre: growing, and falling
	grey      = 0.015 // about it, either word is right
	toothOf   = 0.15  // of the tension: a tooth
	toothGrey = 0.03
	nearReset = 0.63 // of the peak: nearly a re-set, which is one from 0.7 on
	aSet      = 2.0  // m above twice the dead weight: less is a moment, and no set
	excused   = 1.0  // m after a snag has let go
	settles   = 0.6  // m after a surge until the rode has its stretch again
)

type truthCellOf struct {
	seen     bool
	m        Moment
	phase    TruthPhase
	also     TruthPhase // right as well; NotScored: no other
	hold     float64    // N that the anchor holds: the less of what pulls and what resists
	peak     float64    // of hold, so far
	held     float64    // m hauled so far above twice the dead weight
	surging  bool
	freed    bool    // a snag has let go before
	low, top float64 // tension
}

type trueEvent struct {
	kind  string
	t     int64
	x     float64
	maybe bool // too near a threshold to be asked for
}

// stretch is a time.
type stretch struct{ t0, t1 int64 }

// holds says whether a fall dated to t can be this surge's.
func (s stretch) holds(t int64) bool { return t >= s.t0-2*second && t <= s.t1+15*second }

func (tr *truth) inSurge(t int64) bool {
	for _, s := range tr.surges {
		if s.holds(t) {
			return true
		}
	}
	return false
}

func (tr *truth) at(x float64) TruthPhase {
	if i := int(x / truthCell); i >= 0 && i < len(tr.cells) {
		return tr.cells[i].phase
	}
	return NotScored
}

// newTruth reads the course.
func newTruth(course []Moment) *truth {
	tr := &truth{}
	front := -1.0
	most := 0.0
	for i := range course {
		m := &course[i]
		if m.Raises && m.Truth.Contact == deck.OffBottom && !slices.ContainsFunc(tr.events, func(e trueEvent) bool { return e.kind == Aweigh }) {
			// One that lay on the bottom comes up without a fall.
			most := 0.0
			for k := max(i-300, 0); k < i; k++ {
				most = max(most, course[k].Tension)
			}
			tr.events = append(tr.events, trueEvent{Aweigh, m.T, m.X, most < 2*m.Tension})
		}
		if !m.Pulls || !(m.X > front) || m.X < 0 {
			continue
		}
		front = m.X
		c := int(m.X / truthCell)
		for len(tr.cells) <= c {
			tr.cells = append(tr.cells, truthCellOf{low: math.Inf(1)})
		}
		cell := &tr.cells[c]
		if !cell.seen {
			cell.seen, cell.m = true, *m
			cell.hold = min(float64(m.Truth.AnchorTension), float64(m.Truth.Resists))
		}
		cell.low, cell.top = min(cell.low, m.Tension), max(cell.top, m.Tension)
		cell.surging = cell.surging || m.Truth.Surging
		most = max(most, cell.hold)
	}
	tr.findSurges(course)
	tr.findTeeth(course)
	tr.name()
	tr.findEvents()
	return tr
}

// window is the cells within so many metres of c that belong to the same bite, or
// to none alike.
func (tr *truth) window(c int, reach float64) (from, to int) {
	n := int(reach / truthCell)
	same := func(k int) bool {
		o := &tr.cells[k]
		return o.seen && o.m.Truth.Engaged == tr.cells[c].m.Truth.Engaged && o.m.Truth.Bites == tr.cells[c].m.Truth.Bites
	}
	from, to = c, c
	for from > max(c-n, 0) && same(from-1) {
		from--
	}
	for to < min(c+n, len(tr.cells)-1) && same(to+1) {
		to++
	}
	return from, to
}

// slope of what the flukes and the soil hold, N a metre hauled, by least squares.
func (tr *truth) slope(c int) (perMetre float64) {
	from, to := tr.window(c, 1)
	var n, sx, sy, sxx, sxy float64
	for k := from; k <= to; k++ {
		x, y := float64(k)*truthCell, float64(tr.cells[k].m.Truth.Capacity)
		n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
	}
	d := n*sxx - sx*sx
	if n < 4 || d <= 0 {
		return 0
	}
	return (n*sxy - sx*sy) / d
}

// moves is the share of the line hauled around c that the anchor came.
func (tr *truth) moves(c int) float64 {
	n := int(0.25 / truthCell)
	a, b := c, c
	for a > max(c-n, 0) && tr.cells[a-1].seen {
		a--
	}
	for b < min(c+n, len(tr.cells)-1) && tr.cells[b+1].seen {
		b++
	}
	if b == a {
		return 0
	}
	return float64(tr.cells[b].m.Truth.Travel-tr.cells[a].m.Truth.Travel) / (float64(b-a) * truthCell)
}

// name gives every cell its true phase.
func (tr *truth) name() {
	peak := 0.0
	breaks, bottom := 0, 0 // breakouts so far; the cell in which the last one ends
	surged, freed := math.Inf(-1), math.Inf(-1)
	wasSnagged := false
	held := 0.0 // m hauled above twice the dead weight
	for c := range tr.cells {
		cell := &tr.cells[c]
		if !cell.seen {
			continue
		}
		m := &cell.m.Truth
		x := float64(c) * truthCell
		if cell.surging {
			surged = x
		}
		if wasSnagged && !m.Snagged {
			freed = x
		}
		wasSnagged = m.Snagged
		if m.Breaks > breaks {
			breaks, bottom = m.Breaks, tr.bottom(c)
		}
		if m.Contact == deck.SlidingInSoil && !cell.surging {
			peak = max(peak, cell.hold)
		}
		dead := float64(m.Dead)
		if cell.hold >= 2*dead {
			held += truthCell
		}
		switch {
		case x-surged <= settles || x-freed <= excused:
			cell.phase = NotScored
		case m.Snagged && m.Travel > 1:
			cell.phase = TrueSnag
		case breaks > 0 && c <= bottom:
			cell.phase = TrueBreakout
		case breaks > 0 && !m.Engaged:
			cell.phase = TrueDragging
			if held < aSet {
				cell.also = TrueNotSet // a moment is not a set
			}
		case m.Travel < 0.1 && m.AnchorTension < 1:
			cell.phase = TrueSlack
		case m.Travel < 0.1:
			cell.phase, cell.also = TrueTakeUp, NotScored
			if m.Engaged {
				cell.also = TrueEmbedding
			}
			if cell.hold > 2*dead {
				cell.also = TrueNotMoving
			}
		case m.Engaged && (tr.moves(c) < 0.3 || math.IsInf(float64(m.Resists), 1)):
			// Slower than the line: it stretches the rode, or holds fast.
			cell.phase, cell.also = TrueNotMoving, tr.soil(c, peak, dead, breaks)
		case !m.Engaged && m.Travel >= 3:
			cell.phase = TrueNotSet
		case !m.Engaged:
			cell.phase, cell.also = TrueSliding, TrueTakeUp
		default:
			cell.phase = tr.soil(c, peak, dead, breaks)
			cell.also = tr.alike(c, cell.phase, peak, dead)
			cell.freed = !math.IsInf(freed, -1)
			if cell.freed && cell.also == NotScored && (cell.phase == TruePlateau || cell.phase == TrueEmbedding) {
				cell.also = TrueResetting // what let go of the snag looks like an anchor that broke out
			}
		}
	}
}

// soil is the phase of an anchor whose flukes are in the ground.
func (tr *truth) soil(c int, peak, dead float64, breaks int) TruthPhase {
	slope, hold := tr.slope(c), tr.mean(c)
	saw := tr.sawTooth(c)
	switch {
	case saw:
		return TrueSawTooth
	case breaks > 0 && hold >= max(0.7*peak, 2*dead) && slope > -grownBy*peak:
		return TrueReset
	case breaks > 0 && slope > grownBy*peak:
		return TrueResetting
	case slope > grownBy*peak:
		return TrueEmbedding
	case hold < 2*dead:
		return TrueWeak
	case slope < -grownBy*peak:
		return TrueDecline
	}
	return TruePlateau
}

// alike is another phase that is as right: the truth is near a threshold.
func (tr *truth) alike(c int, phase TruthPhase, peak, dead float64) TruthPhase {
	slope, hold := tr.slope(c)/max(peak, 1), tr.mean(c)
	switch {
	case phase == TrueSawTooth && tr.toothed(c, toothOf+toothGrey) < 3:
		return TruePlateau
	case phase == TrueSawTooth && slope > grownBy-grey:
		return TrueEmbedding
	case phase != TrueSawTooth && tr.toothed(c, toothOf-toothGrey) > 0:
		return TrueSawTooth
	case phase == TrueWeak && hold > 1.8*dead || phase == TrueDecline && slope > -grownBy-grey:
		return TruePlateau
	case phase == TrueWeak || phase == TrueEmbedding && hold < 2*dead:
		return TrueSliding // too little to tell
	case (phase == TrueEmbedding || phase == TrueResetting) && slope < grownBy+grey:
		return TruePlateau
	case phase == TruePlateau && slope > grownBy-grey:
		return TrueEmbedding
	case phase == TruePlateau && slope < -grownBy+grey:
		return TrueDecline
	case phase == TruePlateau && hold < 2.2*dead:
		return TrueWeak
	case phase == TrueReset && slope < -grownBy+grey:
		return TrueDecline
	case phase == TruePlateau && tr.cells[c].m.Truth.Breaks > 0:
		return TrueResetting
	}
	return NotScored
}

// mean of what the anchor holds, over half a metre.
func (tr *truth) mean(c int) float64 {
	from, to := tr.window(c, 0.25)
	sum := 0.0
	for k := from; k <= to; k++ {
		sum += tr.cells[k].hold
	}
	return sum / float64(to-from+1)
}

// tooth is one partial fall of a saw-tooth: where, and how much of the tension
// before it.
type tooth struct {
	x, fall float64
}

// findTeeth takes every wedge that gave way, with the tension's fall from a second
// before to a second after.
func (tr *truth) findTeeth(course []Moment) {
	for i := 1; i < len(course); i++ {
		if course[i].Truth.Teeth == course[i-1].Truth.Teeth || !course[i].Pulls {
			continue
		}
		top, low := 0.0, math.Inf(1)
		for k := max(i-10, 0); k <= i; k++ {
			top = max(top, course[k].Tension)
		}
		for k := i; k <= min(i+10, len(course)-1); k++ {
			low = min(low, course[k].Tension)
		}
		tr.saw = append(tr.saw, tooth{course[i].X, 1 - low/top})
	}
	tr.teeth = len(tr.saw)
}

// toothed is how many teeth of at least that fall lie within 2.5 m of a cell.
func (tr *truth) toothed(c int, fall float64) (n int) {
	x := float64(c) * truthCell
	for _, t := range tr.saw {
		if math.Abs(t.x-x) <= 2.5 && t.fall >= fall {
			n++
		}
	}
	return n
}

func (tr *truth) sawTooth(c int) bool { return tr.toothed(c, toothOf) >= 3 }

// bottom is the cell in which the tension is lowest after a breakout began in c:
// the first within a tenth of the way of the lowest before a new bite, within 3 m.
func (tr *truth) bottom(c int) int {
	end := min(c+int(3/truthCell), len(tr.cells)-1)
	low, at := math.Inf(1), c
	for k := c; k <= end && (k == c || tr.cells[k].m.Truth.Bites <= tr.cells[c].m.Truth.Bites); k++ {
		if tr.cells[k].seen && tr.cells[k].low < low {
			low, at = tr.cells[k].low, k
		}
	}
	from := tr.cells[max(c-1, 0)].top
	for k := c; k < at; k++ {
		if tr.cells[k].seen && tr.cells[k].low <= low+0.1*(from-low) {
			return k
		}
	}
	return at
}
