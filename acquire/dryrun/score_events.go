package dryrun

import (
	"math"

	"hawse/acquire/deck"
)

// findEvents dates what happened.
func (tr *truth) findEvents() {
	peak := 0.0
	breaks := 0
	reset, asked := true, false // nothing to set again; its breakout is asked for
	held := 0.0
	var dragged, snagged bool
	for c := range tr.cells {
		cell := &tr.cells[c]
		if !cell.seen {
			continue
		}
		m, x := &cell.m.Truth, cell.m.X
		if cell.hold >= 2*float64(m.Dead) {
			held += truthCell
		}
		if snagged && !m.Snagged {
			// The anchor does leap; whether that is called a breakout is open.
			tr.events = append(tr.events, trueEvent{Breakout, cell.m.T, x, true}, trueEvent{Reset, cell.m.T, x, true})
		}
		snagged = m.Snagged
		if m.Breaks > breaks {
			breaks = m.Breaks
			end := tr.bottom(c)
			lowest := math.Inf(1)
			for k := c; k <= end; k++ {
				lowest = min(lowest, tr.cells[k].low)
			}
			from := tr.cells[max(c-1, 0)].top
			// Something to fall from, a fall by half, and a set before it; near them,
			// either is right.
			sure := from >= 2.2*float64(m.Dead) && lowest < 0.45*from && !cell.surging && held >= aSet
			tr.events = append(tr.events, trueEvent{Breakout, cell.m.T, x, !sure})
			reset, asked = false, sure
		}
		if m.Contact == deck.SlidingInSoil && !cell.surging {
			peak = max(peak, cell.hold)
		}
		cell.peak, cell.held = peak, held
		if !reset && m.Engaged && m.Contact != deck.SlippingFree {
			hold := tr.mean(c)
			if hold >= 0.7*peak && hold >= 2*float64(m.Dead) {
				reset = true
				tr.events = append(tr.events, trueEvent{Reset, cell.m.T, x, !asked || tr.barely(c, peak)})
			}
		}
		if !dragged && !m.Engaged && m.Bites == 0 && m.Travel >= 3 {
			dragged = true
			tr.events = append(tr.events, trueEvent{NotSet, cell.m.T, x, false})
		}
	}
}

// arguable says of something said at x that the truth is too near the threshold to
// call it wrong: a re-set of an anchor that holds nearly 0.7 of its peak again, and
// a "not set" of one that has not held twice its weight for 2 m.
func (tr *truth) arguable(kind string, x float64) bool {
	c := min(int(x/truthCell), len(tr.cells)-1)
	for c > 0 && !tr.cells[c].seen {
		c--
	}
	if c < 0 {
		return false
	}
	cell := &tr.cells[c]
	switch kind {
	case Reset:
		return (cell.m.Truth.Breaks > 0 || cell.freed) && tr.mean(c) >= nearReset*cell.peak
	case NotSet:
		return cell.held < aSet && cell.m.Truth.Bites > 0
	}
	return false
}

// barely says that a re-set at c never went clearly over 0.7 of the peak, or that
// the pull ends too soon after it for anybody to say so.
func (tr *truth) barely(c int, peak float64) bool {
	most, end := 0.0, c
	for k := c; k < len(tr.cells) && tr.cells[k].m.Truth.Breaks == tr.cells[c].m.Truth.Breaks; k++ {
		if tr.cells[k].seen {
			most, end = max(most, tr.mean(k)), k
		}
	}
	return most < 0.75*peak || float64(end-c)*truthCell < 0.5
}

// findSurges are the times in which the vessel, and not the anchor, let the
// tension fall by half while the winch hauled.
func (tr *truth) findSurges(course []Moment) {
	for i := 0; i < len(course); i++ {
		if !course[i].Truth.Surging || !course[i].Pulls {
			continue
		}
		from, breaks := i, course[i].Truth.Breaks
		for i < len(course) && course[i].Truth.Surging {
			i++
		}
		to := min(i, len(course)-1)
		before, lowest, top := 0.0, math.Inf(1), 0.0
		for k := max(from-100, 0); k < from; k++ {
			before = max(before, course[k].Tension)
		}
		top = before
		for k := from; k <= to; k++ {
			top = max(top, course[k].Tension)
			lowest = min(lowest, course[k].Tension)
		}
		dead := float64(course[from].Truth.Dead)
		if course[to].Truth.Breaks == breaks && top >= 2*dead && lowest < 0.5*top && course[to].Pulls {
			tr.surges = append(tr.surges, stretch{course[from].T, course[to].T})
		}
	}
}
