package safety

import "math"

// The rule for a unit that was changed by a button of the box: from one number to
// the next it leaps by a factor that only two units have to each other, and
// goes on from there as it went before. Common practice, no source.
//
// Logs of the numbers are compared, which makes a factor a step of one height at any
// tension: one slope and one step are fitted through the numbers before and after.
const (
	leapBefore = 5   // numbers before it, at most; two at least
	leapBack   = 0.5 // s that they may go back: a swell does too much in more
	leapAfter  = 3   // and from it on

	leapNear = 0.015 // of the factor, from the step that was fitted
	leapFlat = 0.04  // the most that a number may lie off the fit, and its slope be from one to the next
	leapWide = 2     // times as much of both upwards, if numbers come fast: no tension leaps up in so short a time
	leapFast = 0.15  // s from one number to the next
	leapLook = 0.12  // as seen between two numbers alone, before it is sure

	leapMost  = 0.05       // of the range: the higher of the two numbers at least
	leapSteps = 20         // display steps: the lower at least; one step of it more for the fit, half for the factor
	leapGap   = int64(4e8) // ns between two numbers: in more a breakout is a leap, too

	// So long without a change while line was hauled, at so many display steps: a number
	// that was stuck, and comes free.
	leapStood      = int64(2e9)
	leapStoodSteps = 200
)

// leap is what must be remembered of the numbers of the box to tell a leap by a
// unit.
type leap struct {
	y        [leapBefore + leapAfter]float64 // logs of the last ones, the newest last
	n        uint8                           // of them
	negative bool                            // they stand below zero
	at       int64                           // of the last
	wait     uint8                           // numbers until it is known whether what looks like a leap is one
	stuck    bool                            // what looks like one may be a number that comes free
	by       float64                         // log of the factor the unit has been changed by so far; 0: it has not
}

// forget lets the next number be the first.
func (l *leap) forget() { l.n, l.wait = 0, 0 }

// add takes a number, and says by what ratio the numbers have leapt, three ago,
// and the factor of units that explains it; 0: they have not. Numbers
// that are all below most say nothing, nor do those of fewer than [leapSteps] display
// steps; period is the time from one to the next, s, and stuck says that the number before
// had stood still.
func (l *leap) add(t int64, v, most, step, period float64, stuck bool) (ratio, factor float64) {
	if v == 0 || l.n > 0 && (t-l.at > leapGap || v < 0 != l.negative) {
		l.forget()
	}
	if v == 0 {
		return 0, 0
	}
	copy(l.y[:], l.y[1:])
	last := len(l.y) - 1
	l.y[last] = math.Log(math.Abs(v))
	l.n, l.at, l.negative = min(l.n+1, uint8(len(l.y))), t, v < 0
	if l.wait > 0 {
		l.wait--
	}
	if l.n >= 2 && l.looks(last, most, step) {
		l.wait, l.stuck = leapAfter-1, stuck
	}
	first := len(l.y) - leapAfter // of the numbers after it
	if l.n < leapAfter+2 || l.stuck || !l.looks(first, most, step) {
		return 0, 0
	}
	before := leapBefore
	if period > 0 {
		before = int(max(2, min(1+leapBack/period, leapBefore)))
	}
	rounds := step / math.Exp(min(l.y[first-1], l.y[first]))
	by, slope, off := stepIn(l.y[first-min(before, int(l.n)-leapAfter):first], l.y[first:])
	wide := 1.0
	if by > 0 && period < leapFast {
		wide = leapWide
	}
	if !(math.Abs(slope) <= wide*leapFlat && off <= wide*leapFlat+rounds) {
		return 0, 0
	}
	ratio = math.Exp(by)
	return ratio, slipOf(ratio, wide*leapNear+rounds/2)
}

// looks says whether from the number before it to number i there may be a leap.
func (l *leap) looks(i int, most, step float64) bool {
	by, low, high := l.y[i]-l.y[i-1], math.Exp(min(l.y[i], l.y[i-1])), math.Exp(max(l.y[i], l.y[i-1]))
	return math.Abs(by) > 0.7 && // less than the smallest factor, 2.2
		high >= most && low >= leapSteps*step && slipOf(math.Exp(by), leapLook+step/low) != 0
}

// stepIn is the step between two rows of numbers that have one slope, that slope from
// one to the next, and the most that one of them lies off both.
func stepIn(before, after []float64) (step, slope, off float64) {
	sides := [...][]float64{before, after}
	var mean, mid [2]float64 // of the numbers, and of their places
	var xx, xy float64
	for k, side := range sides {
		for _, y := range side {
			mean[k] += y / float64(len(side))
		}
		mid[k] = float64(len(side)-1) / 2
		for i, y := range side {
			x := float64(i) - mid[k]
			xx, xy = xx+x*x, xy+x*(y-mean[k])
		}
	}
	slope = xy / xx
	for k, side := range sides {
		for i, y := range side {
			off = max(off, math.Abs(y-mean[k]-slope*(float64(i)-mid[k])))
		}
	}
	return mean[1] - mean[0] - slope*(float64(len(before))+mid[1]-mid[0]), slope, off
}

// judgeLeap looks for a unit changed in the box, in the number that the box shows.
// Before the first arming the known weight tells it.
func (g *Guard) judgeLeap(t int64, shown float64, ev *Events) {
	s := &g.s
	if !s.EverArmed || s.Cell != CellOn || math.IsNaN(shown) || math.IsInf(shown, 0) {
		s.leap.forget()
		return
	}
	w := &s.word
	stuck := w.started && t-w.since >= leapStood && float64(s.Line.X) > w.sinceX && float64(s.Load.Felt) > leapStoodSteps*float64(g.step())
	ratio, factor := s.leap.add(t, shown, leapMost*float64(g.cfg.Range), float64(g.step()), s.Load.Period, stuck)
	if factor == 0 {
		return
	}
	if s.leap.by += math.Log(factor); math.Abs(s.leap.by) < leapNear {
		g.unitIsRight(t, ev)
	} else {
		g.raise(t, LoadUnit, atLimit, ratio, factor, Nobody, ev)
	}
	// What compares one number with another compares two units.
	s.tension.reset()
	s.rise.reset()
	s.rode.forget()
}

// unitIsRight says that the number is in its unit again, by a leap back, a known
// weight or the director's word.
func (g *Guard) unitIsRight(t int64, ev *Events) {
	g.s.leap.by = 0
	g.lower(t, LoadUnit, absent, 1, ev)
}
