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

	Tension   trial.Force // less its zero, of a good frame while the cell is in the rode
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

	joined bool // the last one was a frame
}

// Apply folds one record in and returns the frames it completed, in order. They
// are valid until the next call. The error is [Core.Apply]'s.
func (s *Sampler) Apply(r *logfmt.Record) ([]Sampled, error) {
	s.taken = s.taken[:0]
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

// listen has every frame of the load cell noted once Core has taken it.
func (s *Sampler) listen() {
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
		X: trial.Length(nan), InStage: trial.Length(nan), RodeOut: trial.Length(nan), Speed: trial.Speed(nan),
		Depth: trial.Length(nan), Scope: nan, Scope2: nan, Counts: h.counts, CountsAt: -1}
	if ts.zero.Known {
		one.Zero = ts.zero.Force
	}
	if kind == SampledGood || kind == SampledOver {
		one.Indicated = ts.indicated
	}
	if kind == SampledGood && one.Guard.Cell == safety.CellOn {
		one.Tension = ts.now
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
