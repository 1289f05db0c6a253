package trial

import (
	"fmt"
	"math"
)

// tellCourse is what the anchor did.
func (f *pullFold) tellCourse(q *[NumQuantities]Figure, out *Figures) {
	segs := f.ofPull(out.Segments)
	counts := map[Quantity]int{BreakoutsAnchor: 0, BreakoutsUndecided: 0, FallsVessel: 0, FallsUndecided: 0, Resets: 0}
	var first *BreakTold
	for i := range out.Breaks {
		b := &out.Breaks[i]
		switch {
		case b.Breakout && b.Cause == AnchorMoved:
			counts[BreakoutsAnchor]++
		case b.Breakout:
			counts[BreakoutsUndecided]++
		case b.Cause == VesselMoved:
			counts[FallsVessel]++
		default:
			counts[FallsUndecided]++
		}
		if b.Breakout && b.Reset {
			counts[Resets]++
			if first == nil && b.Top > 0 && b.Before > 0 {
				first = b
			}
		}
	}
	for i, n := range counts {
		switch q[i] = figureOf(counted(n)); {
		case !f.line.seen:
			q[i] = missing(whyNoLine)
		case !f.line.hasDead && (i == BreakoutsAnchor || i == BreakoutsUndecided || i == Resets):
			q[i] = missing(whyNoDead)
		}
	}
	why := whyNoBreak
	if counts[BreakoutsAnchor]+counts[BreakoutsUndecided] > 0 {
		why = whyNoReset
	}
	q[ResetRatio], q[ValleyToPeakTime], q[ValleyToPeakLine] = missing(why), missing(why), missing(why)
	if first != nil {
		q[ResetRatio] = figureOf(f.ratio(float64(first.Top), float64(first.Before)))
		q[ValleyToPeakTime] = figureOf(Value{Known: true, V: float64(first.TopT-first.LowT) / 1e9, U: math.NaN()})
		line := float64(first.TopX - first.LowX)
		q[ValleyToPeakLine] = figureOf(known(line, Budget(nil).and("line count", Normal, countKnown*line, "0.5 % of the line hauled: "+whyPractice)))
	}
	f.tellSawTooth(q, segs)
	f.tellSet(q, out)
}

// ratio is one tension over another of the same cell: its gain falls out, its
// zero does not.
func (f *pullFold) ratio(a, b float64) Value {
	r, c := a/b, &f.trial.Load
	step := float64(c.Step) / math.Sqrt(12)
	return known(r, Budget(nil).
		and("zero drift", Normal, tensionZero*float64(c.Range)*(1-r)/b, "0.25 % of the cell's range between two checks: "+whyPractice).
		and("resolution", Rectangle, step*math.Hypot(1, r)/b, "the step of the display, over root 12, twice"))
}

func (f *pullFold) tellSawTooth(q *[NumQuantities]Figure, segs []Segment) {
	wave, swing, long := 0.0, 0.0, 0.0
	for _, g := range segs {
		if x := float64(g.X1 - g.X0); g.Phase == SawTooth && g.Wave > 0 && x > 0 {
			wave, swing, long = wave+float64(g.Wave)*x, swing+g.Swing*x, long+x
		}
	}
	if long == 0 {
		q[SawToothWave] = missing(whyNoStretch + SawTooth.String())
		q[SawToothSwing] = q[SawToothWave]
		return
	}
	wave, swing = wave/long, swing/long
	q[SawToothWave] = figureOf(known(wave, Budget(nil).and("line count", Normal, countKnown*wave, "0.5 % of the line hauled: "+whyPractice)))
	q[SawToothSwing] = figureOf(Value{Known: true, V: swing, U: math.NaN()})
}

func (f *pullFold) tellSet(q *[NumQuantities]Figure, out *Figures) {
	word := func(w string) Figure {
		f := figureOf(Value{Known: true, V: math.NaN(), U: math.NaN()})
		f.Word = w
		return f
	}
	switch {
	case f.run.Kind != KindPull:
		q[SetOrNot] = missing("no anchor is pulled in this run")
	case f.line.isSet:
		q[SetOrNot] = word("set")
	case !f.line.seen:
		q[SetOrNot] = missing(whyNoLine)
	case !f.line.hasDead:
		q[SetOrNot] = missing(whyNoDead)
	case out.Phases[WeakEngagement].N > 0:
		q[SetOrNot] = word("weak engagement")
	case f.series.notSet:
		q[SetOrNot] = word("not set")
	default:
		q[SetOrNot] = missing(fmt.Sprintf("%.2g m hauled, and neither 2 m on end above twice the dead-weight level nor 3 m of dragging in them", f.line.drags))
	}
}

// tellStands is what came while the winch stood.
func (f *pullFold) tellStands(q *[NumQuantities]Figure, out *Figures) {
	for _, i := range []Quantity{Relaxed10s, Relaxed60s, HoldLongest, HoldLeast} {
		q[i] = missing(whyNoStand)
	}
	var longest *HoldTold
	for i := range out.Holds {
		h := &out.Holds[i]
		for _, at := range []struct {
			q    Quantity
			left float64
		}{{Relaxed10s, h.Left10}, {Relaxed60s, h.Left60}} {
			if finite(at.left) && !q[at.q].Read[0].Known {
				v := f.ratio(at.left*float64(h.From), float64(h.From))
				v.V = 1 - v.V
				q[at.q] = figureOf(v)
				q[at.q].place(&Greatest{T: h.T, X: h.X, Scope: math.NaN()}, math.NaN())
			}
		}
		if longest == nil || h.End-h.T > longest.End-longest.T {
			longest = h
		}
	}
	if longest != nil {
		q[HoldLongest] = figureOf(Value{Known: true, V: float64(longest.End-longest.T) / 1e9, U: math.NaN()})
		q[HoldLeast] = figureOf(f.ratio(longest.Least*float64(longest.From), float64(longest.From)))
	}
	q[OvershootTension], q[OvershootLine] = missing(whyNoStop), missing(whyNoStop)
	over := false
	for i := range out.Stops {
		s := &out.Stops[i]
		over = over || s.Over
		if v := float64(s.Tension); !(q[OvershootTension].Read[0].V >= v) {
			step := float64(f.trial.Load.Step) / math.Sqrt(12)
			q[OvershootTension] = figureOf(known(v, Budget(nil).
				and("calibration", Normal, tensionGain*v, "1 % of the difference, calibration and place in the line: "+whyPractice).
				and("resolution", Rectangle, step*math.Sqrt2, "the step of the display, over root 12, twice")))
			q[OvershootTension].place(&Greatest{T: s.T, X: Length(math.NaN()), Scope: math.NaN()}, math.NaN())
		}
		if v := float64(s.Line); finite(v) && !(q[OvershootLine].Read[0].V >= v) {
			q[OvershootLine] = figureOf(known(v, Budget(nil).and("line count", Normal, countKnown*v, "0.5 % of the line hauled: "+whyPractice)))
		}
	}
	if over && q[OvershootTension].Read[0].Known {
		q[OvershootTension].Bound = BoundOver
	}
}

func (f *pullFold) tellSpeed(q *[NumQuantities]Figure) {
	q[LineSpeed], q[LineSpeedShare], q[SampleRate] = missing(whyNotHauled), missing(whyNotHauled), missing("too few samples to tell")
	if !f.line.seen {
		q[LineSpeed], q[LineSpeedShare] = missing(whyNoLine), missing(whyNoLine)
	}
	if v := f.line.speed(); v > 0 {
		b := Budget(nil).and("line count", Normal, countKnown*v, "0.5 % of the line hauled: "+whyPractice)
		q[LineSpeed] = figureOf(known(v, b))
		if plan := float64(f.run.Speed); plan > 0 {
			q[LineSpeedShare] = figureOf(known(v/plan, b.by(1/plan)))
		}
	}
	if r := f.line.rate(); r > 0 {
		q[SampleRate] = figureOf(Value{Known: true, V: r, U: math.NaN()})
	}
}

// tellRecovery is how the anchor came up.
func (f *pullFold) tellRecovery(q *[NumQuantities]Figure, s *Study, out *Figures) {
	after := out.After
	switch {
	case !f.began:
	case !after.Known:
		q[PeakAfter] = missing("no valid reading in ease, stopped or recover after the pull")
	default:
		q[PeakAfter] = f.ofPeak(&f.after, f.after.outside(), s)
		q[PeakAfter].Note = ""
	}
	k := &f.recovery
	of := []Quantity{BreakoutForce, RecoverySteps, RecoveryWaits, RecoveryTime, BurialDepth}
	why := ""
	switch {
	case !k.began:
		why = whyNoUp
	case !k.hasLine:
		why = "rode out or depth was not known in the recovery"
	case !k.hasDead:
		why = whyNoDead
	case !k.loaded:
		why = "the line was never loaded up and down: not above twice the dead-weight level at a scope under 2"
	case !k.free:
		why = whyNotUp
	}
	for _, i := range of {
		q[i] = missing(why)
	}
	if !k.loaded {
		return
	}
	q[BurialDepth] = f.burial(k)
	if !k.free {
		return
	}
	q[BreakoutForce] = figureOf(known(float64(k.force), f.trial.Load.tension(float64(k.force), f.trial.upAndDown(float64(k.force)))))
	if k.over {
		q[BreakoutForce].Bound = BoundOver
	}
	q[RecoverySteps] = figureOf(counted(k.waits + 1))
	q[RecoveryWaits] = figureOf(Value{Known: true, V: float64(k.waited) / 1e9, U: math.NaN()})
	q[RecoveryTime] = figureOf(Value{Known: true, V: float64(k.freeT-k.t) / 1e9, U: math.NaN()})
}
