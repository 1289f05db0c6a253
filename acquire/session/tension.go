package session

import (
	"math"

	"hawse/acquire"
	"hawse/safety"
	"hawse/trial"
)

type tensionState struct {
	now, indicated trial.Force // now is what is shown and guarded
	own            trial.Force // by this cell alone, of a pin the likely one
	over           bool
	at             int64
	slope          slope
	// big holds the largest valid sample of the present and the last eighth of
	// a second, so that what a screen draws four times a second is never a
	// mean and never older than a quarter second.
	bigCell     int64
	bigNow      trial.Force
	bigLast     trial.Force
	bigLastCell int64

	window window
	zero   Zero
}

func (c *Core) loadFrame(frame []byte, bad string) {
	var reading acquire.LoadReading
	if bad == "" {
		reading = c.loadDec.Decode(frame)
	}
	good := bad == "" && reading.Kind != acquire.Garbled
	if good {
		c.load.isLate = c.lateTimes(SrcLoad, &c.load, c.t)
	}
	c.load.count(c.t, frame, good)
	if !good {
		c.guard.BadFrame(c.t, safety.Load, &c.ev)
		return
	}
	ts := &c.tension
	over, tension := reading.Kind == acquire.OverRange, reading.Tension-ts.zero.Force
	guards := tension // what is shown and guarded; of a pin more than the likely one
	felt := safety.Felt{Tension: tension, Felt: tension, Shown: reading.Indicated}
	if c.pin != nil {
		f := c.pin.take(c, tension, over)
		tension, guards = f.T, f.Most
		felt.NoAngle = !f.Known && !over
	}
	var past bool
	guards, past = c.larger(guards)
	felt.Tension = guards
	c.guard.SampleFelt(c.t, felt, over || past, &c.ev)
	if !over && finite(float64(tension)) {
		c.cells.sum, c.cells.n = c.cells.sum+float64(tension), c.cells.n+1
	}
	ts.at, ts.over, ts.now, ts.own, ts.indicated = c.t, over, guards, tension, reading.Indicated
	if over || !finite(float64(felt.Felt)) {
		ts.window.reset()
	} else {
		ts.window.add(c.t, float64(reading.Tension)) // zero and known weight are of what is felt
	}
	if over || !finite(float64(guards)) {
		ts.slope.reset()
	} else {
		if c.load.isLate {
			ts.slope.reset() // nobody knows its time
		} else {
			ts.slope.add(c.t, float64(guards))
		}
		ts.big(c.t)
	}
	g := c.guard.State()
	if g.Cell != safety.CellOn {
		return // what it shows is no tension of the rode
	}
	if c.pin != nil && !c.pin.now.Known && !over {
		c.gap()
		return
	}
	in := JudgeInput{T: c.t, Over: over, Tension: tension, Stage: g.Stage, X: c.haul.x, Scope: math.NaN(), RodeOut: c.haul.rodeOut, Height: c.height()}
	if c.haul.hasScope {
		in.Scope = c.haul.scope
	}
	if along, _, u, ok := c.moved(); ok {
		in.Moved, in.MovedU = along, u
	}
	in.LateFrom = c.load.late.since()
	if c.load.isLate {
		in.Late = true
	}
	if c.pin != nil {
		in.TensionU, in.Gain = c.pin.now.U, c.pin.now.Gain
	}
	if over {
		in.Tension = c.leastOver(tension, in.gain())
	}
	c.out.Samples = append(c.out.Samples, in)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// leastOver is what a tension over range can have been at least: the top of the
// cell's range; not known where the cell is the wrong way round. gain is that of
// [JudgeInput].
func (c *Core) leastOver(shown trial.Force, gain float64) trial.Force {
	if shown < 0 {
		return trial.Force(math.NaN())
	}
	return (fullScale(c.fix.apply(c.head.Trial.Load)) - c.tension.zero.Force) * trial.Force(gain)
}

// big keeps the largest of the last two eighths of a second.
func (ts *tensionState) big(t int64) {
	const width = slopeWidth / 2
	cell := t / width
	if cell != ts.bigCell {
		ts.bigLast, ts.bigLastCell = ts.bigNow, ts.bigCell
		ts.bigCell, ts.bigNow = cell, ts.now
		return
	}
	ts.bigNow = max(ts.bigNow, ts.now)
}

func (ts *tensionState) biggest() trial.Force {
	if ts.bigLastCell == ts.bigCell-1 {
		return max(ts.bigNow, ts.bigLast)
	}
	return ts.bigNow
}

// take makes z the software zero: from the next sample on tension is measured
// from it, and what is shown of the last one is too.
func (ts *tensionState) take(z Zero) {
	ts.now += ts.zero.Force - z.Force
	ts.zero = z
	ts.bigNow, ts.bigLastCell = ts.now, -1
	ts.slope.reset()
}
