package session

import (
	"fmt"
	"hash"
	"math"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// cells are the load cells beside the one that guards: decoded, zeroed, compared
// with it and told. None of them takes its place when it falls silent.
type cells struct {
	list   []*otherCell
	roller *trial.Pin // how the line bends over the roller
	sum    float64    // of the guarding cell since the last clock record, N
	n      int
}

type otherCell struct {
	trial.OtherCell
	s      stream
	dec    *acquire.LoadDecoder
	side   int
	zero   Zero
	pin    *pinned
	window window

	tension, most, indicated trial.Force // NaN unknown
	at                       int64       // of the last number; -1 none yet
	over                     bool
	overs                    uint64

	sum   float64 // of its likely tension since the last clock record, N
	n     int
	apart trial.Force // from the guarding cell, beyond what is explained, N, in the last second compared
	off   int         // seconds in a row in which they were
	on    int         // and were not
	told  bool        // that it is silent
}

const (
	cellFresh   = int64(1e9) // ns: an older word of another cell is not counted with
	cellSilent  = int64(3e9) // ns without a number until it is told
	disagreeFor = 3          // s; all three common practice, no source
)

func (c *Core) beginCells() error {
	t := c.head.Trial
	for _, o := range t.Others {
		dec, err := acquire.NewLoadDecoder(o.LoadCell)
		if err != nil {
			return fmt.Errorf("%s: %w", o.Table, err)
		}
		nan := trial.Force(math.NaN())
		cell := &otherCell{OtherCell: o, dec: dec, side: trial.CellSide(o.Sits), pin: newPinned(t, o.Table, o.LoadCell), zero: Zero{At: -1}, at: -1, tension: nan, most: nan, indicated: nan}
		cell.s.lastAt, cell.s.heardAt, cell.s.late = -1, -1, newLateness(float64(o.Rate))
		cell.s.onFrame = func(frame []byte, bad string) { c.otherFrame(cell, frame, bad) }
		c.cells.list = append(c.cells.list, cell)
	}
	if len(c.cells.list) > 0 {
		c.cells.roller = trial.NewPin(t, t.Load)
	}
	return nil
}

func (c *Core) otherFrame(o *otherCell, frame []byte, bad string) {
	var reading acquire.LoadReading
	if bad == "" {
		reading = o.dec.Decode(frame)
	}
	good := bad == "" && reading.Kind != acquire.Garbled
	if good {
		o.s.isLate = c.lateTimes(o.Table, &o.s, c.t)
	}
	if o.s.count(c.t, frame, good); !good {
		return
	}
	felt := reading.Tension - o.zero.Force
	o.indicated, o.tension, o.most, o.over = reading.Indicated, felt, felt, reading.Kind == acquire.OverRange
	if o.over {
		o.overs++
	}
	if !o.over && finite(float64(felt)) {
		o.window.add(c.t, float64(reading.Tension))
	} else {
		o.window.reset()
	}
	if o.pin != nil {
		now := o.pin.take(c, felt, o.over)
		o.tension, o.most = now.T, now.Most
	}
	if o.over || !finite(float64(o.tension)) {
		return
	}
	o.at = c.t
	o.sum += float64(o.tension)
	o.n++
	if o.told {
		o.told = false
		c.tell(c.by, o.Table+" is heard again", text("what", "cells"), text("cell", o.Table), text("state", "heard"))
	}
	c.out.Cells = append(c.out.Cells, CellSample{Table: o.Table, T: c.t, Tension: o.tension})
}

// CellSample is a number of a load cell beside the one that guards.
type CellSample struct {
	Table   string
	T       int64
	Tension trial.Force
}

// larger is the largest tension that any cell tells now, where the trial file wants
// the limits to act on that. One over range is over range; one that tells none is not
// in it, which is told.
func (c *Core) larger(own trial.Force) (most trial.Force, over bool) {
	most = own
	if !c.head.Trial.LargerGuards {
		return most, false
	}
	for _, o := range c.cells.list {
		if o.s.lastAt < 0 || c.t-o.s.lastAt > cellFresh {
			continue
		}
		over = over || o.over
		if finite(float64(o.most)) && o.at == o.s.lastAt {
			most = max(most, o.most)
		}
	}
	return most, over
}

// watchCells holds the cells against each other, by their means since the last
// clock record.
func (c *Core) watchCells() {
	k := &c.cells
	if len(k.list) == 0 {
		return
	}
	mine, n := trial.Force(k.sum/float64(k.n)), k.n
	k.sum, k.n = 0, 0
	larger, missing := c.head.Trial.LargerGuards, int64(0)
	for _, o := range k.list {
		other, m := trial.Force(o.sum/float64(o.n)), o.n
		o.sum, o.n = 0, 0
		if (o.s.lastAt >= 0 || larger) && c.t-max(o.at, 0) >= cellSilent && !o.told {
			o.told = true
			words := o.Table + " tells no tension; the cells are not compared"
			if larger {
				words += ", and the limits act without it"
			}
			c.tell(c.by, words, text("what", "cells"), text("cell", o.Table), text("state", "silent"), text("loud", "1"))
		}
		if larger && o.told {
			missing = max(missing, c.t-max(o.at, 0))
		}
		if n == 0 || m == 0 || c.guard.State().Cell != safety.CellOn {
			continue
		}
		c.compareCells(o, mine, other)
	}
	if larger {
		c.guard.CellsMissing(c.missingCells())
		c.guard.Fault(c.t, safety.CellMissing, missing > 0, float64(missing)/1e9, float64(cellSilent)/1e9, &c.ev)
	}
	var worst trial.Force
	stands, gone := false, true
	for _, o := range k.list {
		if o.off >= disagreeFor {
			stands, worst = true, max(worst, o.apart)
		}
		gone = gone && o.on >= disagreeFor
	}
	if stands || gone {
		c.guard.Fault(c.t, safety.CellsDisagree, stands, float64(worst), 0, &c.ev)
	}
}

// missingCells says which of the further cells tell no tension: bit i that one.
func (c *Core) missingCells() (missing uint8) {
	for i, o := range c.cells.list {
		if o.at < 0 || c.t-o.at >= cellSilent {
			missing |= 1 << i
		}
	}
	return missing
}

// compareCells: each is known to its uncertainty, taken twice.
func (c *Core) compareCells(o *otherCell, mine, other trial.Force) {
	t := c.head.Trial
	bend := c.cells.roller.BendAt(max(mine, other), c.leads())
	apart := trial.CellsApart(mine, trial.CellSide(t.Load.Sits), other, o.side, t.RollerSlip(), bend, c.way())
	u := math.Hypot(c.sure(c.pin, t.Load, mine), c.sure(o.pin, o.LoadCell, other))
	if o.apart = max(apart-trial.Force(2*u), 0); o.apart == 0 {
		o.on, o.off = o.on+1, 0
		return
	}
	o.on, o.off = 0, o.off+1
	if o.off != disagreeFor {
		return
	}
	name := func(table, sits string) string {
		if sits == "" {
			return table
		}
		return table + ", " + sits
	}
	c.tell(c.by, fmt.Sprintf("load cells disagree: %s (%s), %s (%s); %s of it the roller's friction and their uncertainties do not explain",
		c.force(mine), name(SrcLoad, t.Load.Sits), c.force(other), name(o.Table, o.Sits), c.force(o.apart)),
		text("what", "cells"), text("cell", o.Table), text("state", "disagrees"), newtons("load_n", mine), newtons("value_n", other), newtons("apart_n", o.apart))
}

// sure is the standard uncertainty of a cell's tension, N.
func (c *Core) sure(p *pinned, cell trial.LoadCell, v trial.Force) float64 {
	u := float64(cell.Uncertain(v))
	if p != nil && p.now.Known {
		return math.Hypot(u*math.Max(p.now.Gain, 1), float64(p.now.U))
	}
	return u
}

// zeroCells takes the zero of the other cells, once that of the guarding one was
// taken: nothing hangs on the rode then.
func (c *Core) zeroCells(r *logfmt.Record) {
	for _, o := range c.cells.list {
		cfg := *c.cfg
		cfg.Range = o.Range
		now := o.window.reading(c.t, checkWindow)
		if _, bad := safety.JudgeZero(now, o.zero.Force, &cfg); bad != "" {
			c.tell(r.N, o.Table+" not zeroed: "+bad, text("what", "cell-zero"), text("cell", o.Table), text("state", "refused"))
			continue
		}
		was := o.zero.Force
		o.zero = Zero{Known: true, Force: now.Mean, At: r.T}
		c.tell(r.N, fmt.Sprintf("%s zeroed at %s, it was %s", o.Table, c.force(now.Mean), c.force(was)),
			text("what", "cell-zero"), text("cell", o.Table), text("state", "taken"), newtons("before_n", was), newtons("after_n", now.Mean))
	}
}

// CellShot is a load cell beside the one that guards, for a screen.
type CellShot struct {
	Stream
	Place, Sits string
	Tension     trial.Force // NaN unknown
	Indicated   trial.Force // as its box shows it: before calibration and zero; NaN nothing yet
	Over        bool
	Zero        Zero
	Apart       trial.Force // from the guarding cell, beyond what friction and uncertainty explain; 0 not
}

func (c *Core) cellShots(t int64) (out []CellShot) {
	for _, o := range c.cells.list {
		shot := CellShot{Stream: o.s.shot(o.Table, t), Place: o.Place, Sits: o.Sits, Tension: o.tension, Indicated: o.indicated, Over: o.over, Zero: o.zero, Apart: o.apart}
		if o.at < 0 || t-o.at > cellFresh {
			shot.Tension = trial.Force(math.NaN())
		}
		out = append(out, shot)
	}
	return out
}

func (k *cells) digest(h hash.Hash64) {
	bits := math.Float64bits
	for _, o := range k.list {
		fmt.Fprintln(h, k.n, bits(k.sum), o.s.state, o.s.lastAt, o.s.good, o.s.bad, bits(float64(o.tension)), bits(float64(o.most)), o.over, o.overs, o.at, o.zero,
			o.n, bits(o.sum), o.on, o.off, o.told)
		o.pin.digest(h)
	}
}
