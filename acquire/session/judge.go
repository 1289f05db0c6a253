package session

import (
	"fmt"
	"math"

	"hawse/logfmt"
	"hawse/trial"
)

// JudgeInput is what Core hands the Judge: a valid sample joined with the line,
// or a gap in the load.
type JudgeInput struct {
	N       uint64 // the record that carried it
	T       int64
	Gap     bool
	Over    bool // over range: the tension is only known to be above the cell's range
	Tension trial.Force
	X       trial.Length // NaN unknown
	Scope   float64      // NaN unknown
	Stage   trial.Stage
	RodeOut trial.Length // as counted; NaN unknown
	Height  trial.Length // of the fairlead over the bottom; NaN unknown
	Vessel  bool         // no sample: a person marked something of the vessel
}

// Judge is the fold that explains a pull: phase, peak and trace. It is pure; no
// stop depends on it, so it may lag behind and may even fail.
type Judge struct {
	T       int64
	N       uint64
	hang    *trial.Hang
	along   *trial.Along
	travel  *trial.Travel
	bare    trial.Force // at the last sample
	dead    trial.Force
	phase   *trial.PhaseDetector
	events  []trial.PhaseEvent
	trace   trial.Trace
	peak    trial.Peak
	scope   float64 // at the peak
	peakT   int64
	since   int64 // of the phase
	stage   trial.Stage
	started bool
}

// NewJudge returns a Judge for the pull of a log with that head.
func NewJudge(h Head) *Judge {
	t := h.Trial
	return &Judge{
		hang: trial.NewHang(t), travel: trial.NewTravel(t.Load), along: trial.NewAlong(t, h.Run, t.Limits[trial.Pull].Haul),
		phase: trial.NewPhaseDetector(t.Levels, t.Phases), scope: math.NaN(), peakT: -1,
	}
}

// Apply folds one input in. It appends to says what the Judge has to say, which
// is a change of phase.
func (j *Judge) Apply(in JudgeInput, says []logfmt.Record) []logfmt.Record {
	j.T, j.N = in.T, in.N
	switch {
	case in.Vessel:
		j.phase.Mark(in.T, true)
		return j.tellEvents(says)
	case in.Gap:
		j.trace.Gap(in.T)
		j.hang.Gap()
		return says
	}
	if in.Over || math.IsNaN(float64(in.Tension)) || math.IsInf(float64(in.Tension), 0) {
		return says
	}
	p := trial.Point{T: in.T, Tension: in.Tension, X: in.X, Stage: in.Stage}
	if in.Stage == trial.Pull && (j.stage != trial.Pull && j.stage != trial.Hold || !j.started) {
		j.peak, j.scope, j.peakT, j.started = trial.Peak{}, math.NaN(), -1, true
	}
	j.stage = in.Stage
	if in.Stage == trial.Pull || in.Stage == trial.Hold {
		j.peak.Add(p)
		if j.peak.T != j.peakT {
			j.peakT, j.scope = j.peak.T, in.Scope
		}
	}
	j.trace.Add(p)
	j.solve(&p, in)
	phase, changed := j.phase.Add(p)
	if changed {
		j.since = in.T
		says = append(says, say(in.N, "judge",
			logfmt.Field{Key: "at", Val: logfmt.FormatNs(in.T)},
			logfmt.Field{Key: "what", Val: "phase"},
			logfmt.Field{Key: "phase", Val: phase.String()},
			logfmt.Field{Key: "x_m", Val: logfmt.FormatFloat(float64(in.X))},
			logfmt.Field{Key: "travel_m", Val: logfmt.FormatFloat(float64(p.Travel))},
			logfmt.Field{Key: "value_n", Val: logfmt.FormatFloat(float64(in.Tension))},
			logfmt.Field{Key: "text", Val: "phase: " + phase.String()}))
	}
	return j.tellEvents(says)
}

// solve gives a point what the statics and the levels make of it.
func (j *Judge) solve(p *trial.Point, in JudgeInput) {
	known := func(l trial.Length) trial.Length {
		if math.IsNaN(float64(l)) {
			return 0
		}
		return l
	}
	p.RodeOut, p.Height = known(in.RodeOut), known(in.Height)
	j.hang.Follow(in.Tension, in.X, in.RodeOut, in.Height)
	if s, ok := j.hang.State(); ok && !math.IsInf(s.StiffnessCounted, 1) {
		p.Stiff = s.StiffnessCounted
	}
	j.bare, j.dead = j.along.At(in.RodeOut, in.Height)
	p.Bare, p.Dead = j.bare, j.dead
	j.travel.Add(in.Stage, in.Tension, in.X, j.dead, j.hang)
	p.Travel, _, _ = j.travel.Now()
}

// tellEvents says what happened at a moment that is sure by now.
func (j *Judge) tellEvents(says []logfmt.Record) []logfmt.Record {
	j.events = j.phase.Events(j.events[:0])
	for _, e := range j.events {
		says = append(says, say(j.N, "judge",
			logfmt.Field{Key: "at", Val: logfmt.FormatNs(e.T)},
			logfmt.Field{Key: "what", Val: "event"},
			logfmt.Field{Key: "event", Val: e.Kind.String()},
			logfmt.Field{Key: "x_m", Val: logfmt.FormatFloat(float64(e.X))},
			newtons("from_n", e.From), newtons("to_n", e.To),
			logfmt.Field{Key: "cause", Val: e.Cause.String()},
			logfmt.Field{Key: "said_x_m", Val: logfmt.FormatFloat(float64(e.SaidX))},
			logfmt.Field{Key: "text", Val: eventText(e)}))
	}
	return says
}

// eventText is an event in the crew's words. A cause is said where it says more
// than the event does.
func eventText(e trial.PhaseEvent) string {
	if e.Kind == trial.EventFall {
		return "fall of tension, no breakout: cause " + e.Cause.String()
	}
	if e.Kind == trial.EventBreakout && e.Cause == trial.Undecided {
		return "breakout, cause undecided"
	}
	return e.Kind.String()
}

// Anchor is what the statics say of the far end.
func (j *Judge) Anchor() Anchor {
	a := Anchor{Bare: j.bare, Dead: j.dead, Levels: j.along.Source()}
	s, ok := j.hang.State()
	if !ok {
		if why := j.hang.Why(); why != nil {
			a.Why = why.Error()
		}
		return a
	}
	lo, hi := s.AnchorBand()
	a.Known, a.Lies = true, s.Regime.String()
	a.Tension, a.Low, a.High = trial.Force(s.AnchorT), trial.Force(lo), trial.Force(hi)
	a.Angle, a.OnBottom, a.Span = trial.Angle(s.AnchorAngle), trial.Length(s.OnBottom), trial.Length(s.Span)
	a.Lifted, a.Stiff, a.Stretch = s.AnchorV > 0, s.StiffnessCounted, trial.Length(s.Stretch)
	a.Travel, a.TravelU, a.HasTravel = j.travel.Now()
	return a
}

// Segments is the phases of the haul series so far, dated back.
func (j *Judge) Segments() []trial.Segment { return j.phase.Segments() }

// Peak returns the greatest tension of the pull, with the scope it had.
func (j *Judge) Peak() Peak {
	if !j.started || j.peakT < 0 {
		return Peak{X: trial.Length(math.NaN()), Scope: math.NaN()}
	}
	return Peak{Known: true, Value: j.peak.Tension, At: j.peak.T, X: j.peak.X, Scope: j.scope, Left: j.peak.Left(0.1)}
}

// Envelope answers a trace query.
func (j *Judge) Envelope(q TraceQuery, dst []trial.Col) []trial.Col {
	if q.ByHaul {
		return j.trace.ByHaul(trial.Length(q.From), trial.Length(q.To), q.Cols, dst)
	}
	return j.trace.ByTime(int64(q.From), int64(q.To), q.Cols, dst)
}

// Digest is a checksum over what the Judge would say next.
func (j *Judge) Digest() string {
	p := j.Peak()
	a := j.Anchor()
	return fmt.Sprintf("%v %x %d %x %x %v %x %x", j.phase.Phase(), math.Float64bits(float64(p.Value)), p.At,
		math.Float64bits(float64(p.X)), math.Float64bits(p.Scope), j.trace.Span(), math.Float64bits(float64(a.Tension)), math.Float64bits(float64(a.Travel)))
}
