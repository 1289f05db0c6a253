package session

import (
	"math"

	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// Sampled is one frame of the load cell as the fold took it, joined with the
// line and with the guard as it stood once it had judged the frame. A value that
// is not known is NaN, a time -1.
type Sampled struct {
	N    uint64 // the record that completed the frame
	T    int64
	Kind SampledKind

	Tension   trial.Force // less its zero, of a good frame while the cell is in the rode; of a pin the likely one
	Guarded   trial.Force // what the limits acted on then: of a pin, and with guards = "larger", more than Tension
	Felt      trial.Force // less its zero, by a pin in the roller; NaN of another cell
	U         trial.Force // standard uncertainty of a pin's tension by angle, length and friction; NaN of another cell
	Bend      trial.Angle // of the line over the roller, of a pin; NaN unknown
	Indicated trial.Force // as the box shows it
	Zero      trial.Force // what Tension is less; NaN while none was taken

	// The line, while the rode out was said and the encoder is heard.
	X, InStage, RodeOut trial.Length
	Speed               trial.Speed
	Depth               trial.Length
	Scope, Scope2       float64 // with the fairlead, and by depth alone
	Counts              int64   // the last ones, however old
	CountsAt            int64   // -1 none yet

	Guard  safety.State
	Relay  Relay
	Judged bool // the Judge was shown this frame, so Phase is its word
	Phase  trial.Phase
}

// SampledKind tells what the fold made of a frame.
type SampledKind uint8

// The kinds. A break, which comes after a frame only, is none: the port was lost
// or opened anew, and nothing before it may be joined to what comes after.
const (
	SampledGarbled SampledKind = iota
	SampledGood
	SampledOver
	SampledBreak
)

// Sampler folds a log as [Fold] does, without holding it against what was said
// then, and gives every frame of the load cell.
type Sampler struct {
	core  Core
	judge *Judge
	step  Step
	told  []logfmt.Record
	taken []Sampled
	cells []CellSampled

	joined bool // the last one was a frame
}

// Apply folds one record in and returns the frames it completed, in order. They
// are valid until the next call. The error is [Core.Apply]'s.
func (s *Sampler) Apply(r *logfmt.Record) ([]Sampled, error) {
	s.taken, s.cells = s.taken[:0], s.cells[:0]
	if err := s.core.Apply(r, &s.step); err != nil {
		return nil, err
	}
	if !s.core.Ready() {
		return nil, nil
	}
	if s.judge == nil {
		s.judge = NewJudge(s.core.Head())
		s.listen()
	}
	frame := 0
	for _, in := range s.step.Samples {
		in.N = r.N
		s.told = s.judge.Apply(in, s.told[:0])
		if in.Gap {
			if s.joined {
				s.taken = append(s.taken, s.core.sampled(SampledBreak))
				s.joined = false
			}
			continue
		}
		if in.Happened() {
			continue
		}
		for !s.taken[frame].Judged {
			frame++
		}
		s.taken[frame].Phase = s.judge.phase.Phase()
		frame++
	}
	for i := range s.taken {
		s.taken[i].N = r.N
	}
	return s.taken, nil
}

// listen has every frame of the load cells noted once Core has taken it.
func (s *Sampler) listen() {
	for _, o := range s.core.cells.list {
		s.listenTo(o)
	}
	take := s.core.load.onFrame
	s.core.load.onFrame = func(frame []byte, bad string) {
		good, shown := s.core.load.good, len(s.step.Samples)
		take(frame, bad)
		kind := SampledGarbled
		if s.core.load.good > good {
			kind = SampledGood
			if s.core.tension.over {
				kind = SampledOver
			}
		}
		one := s.core.sampled(kind)
		one.Judged = len(s.step.Samples) > shown
		s.taken = append(s.taken, one)
		s.joined = true
	}
}

// CellSampled is one frame of a load cell beside the one that guards. A value that is
// not known is NaN.
type CellSampled struct {
	Table, Sits string
	Kind        SampledKind // never a break
	T           int64
	Tension     trial.Force // less its zero, of a good frame; of a pin the likely one
	Most        trial.Force // the greatest that can be: of a pin more than Tension
	Indicated   trial.Force // as its box shows it
	Zero        trial.Force // what Tension is less; NaN while none was taken
	Apart       trial.Force // from the guarding cell beyond what is explained, in the last second compared
	Stage       trial.Stage
}

// Cells are the frames of the other load cells that the last record completed, in
// order. They are valid until the next Apply.
func (s *Sampler) Cells() []CellSampled { return s.cells }

// listenTo has every frame of another cell noted once Core has taken it.
func (s *Sampler) listenTo(o *otherCell) {
	take := o.s.onFrame
	nan := trial.Force(math.NaN())
	o.s.onFrame = func(frame []byte, bad string) {
		good := o.s.good
		take(frame, bad)
		one := CellSampled{Table: o.Table, Sits: o.Sits, T: s.core.t, Kind: SampledGarbled, Tension: nan, Most: nan, Indicated: nan, Zero: nan, Apart: o.apart, Stage: s.core.guard.State().Stage}
		if o.zero.Known {
			one.Zero = o.zero.Force
		}
		if o.s.good > good {
			one.Kind, one.Indicated = SampledOver, o.indicated
			if !o.over {
				one.Kind, one.Tension, one.Most = SampledGood, o.tension, o.most
			}
		}
		s.cells = append(s.cells, one)
	}
}

// Ready says whether the log's head was whole, so that frames are understood.
func (s *Sampler) Ready() bool { return s.core.Ready() }

// Head is what the log's head said.
func (s *Sampler) Head() Head { return s.core.Head() }

// sampled is how all stands now.
func (c *Core) sampled(kind SampledKind) Sampled {
	nan := math.NaN()
	ts, h := &c.tension, &c.haul
	one := Sampled{T: c.t, Kind: kind, Guard: c.guard.State(), Relay: c.relay,
		Tension: trial.Force(nan), Indicated: trial.Force(nan), Zero: trial.Force(nan),
		Guarded: trial.Force(nan), Felt: trial.Force(nan), U: trial.Force(nan), Bend: trial.Angle(nan),
		X: trial.Length(nan), InStage: trial.Length(nan), RodeOut: trial.Length(nan), Speed: trial.Speed(nan),
		Depth: trial.Length(nan), Scope: nan, Scope2: nan, Counts: h.counts, CountsAt: -1}
	if ts.zero.Known {
		one.Zero = ts.zero.Force
	}
	if kind == SampledGood || kind == SampledOver {
		one.Indicated = ts.indicated
	}
	if kind == SampledGood && one.Guard.Cell == safety.CellOn {
		one.Tension, one.Guarded = ts.own, ts.now
	}
	if p := c.pin; p != nil && kind == SampledGood {
		one.Felt = p.felt
		if p.now.Known && one.Guard.Cell == safety.CellOn {
			one.U, one.Bend = p.now.U, p.now.Bend
		}
	}
	if h.hasDepth {
		one.Depth = h.depth
	}
	if h.hasCounts {
		one.CountsAt = h.at
	}
	if !h.hasPayout || !c.lineFresh(c.t) {
		return one
	}
	one.X, one.RodeOut, one.Speed = h.x, h.rodeOut, trial.Speed(h.speed.perSecond(c.t))
	if one.Guard.HasStageX {
		one.InStage = h.x - one.Guard.StageX
	}
	if h.hasScope {
		one.Scope = h.scope
	}
	if h.hasDepth && h.depth > 0 {
		one.Scope2 = h.scope2
	}
	return one
}
