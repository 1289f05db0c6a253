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
}

// Judge is the fold that explains a pull: phase, peak and trace. It is pure; no
// stop depends on it, so it may lag behind and may even fail.
type Judge struct {
	T       int64
	N       uint64
	phase   *trial.PhaseDetector
	trace   trial.Trace
	peak    trial.Peak
	scope   float64 // at the peak
	peakT   int64
	since   int64 // of the phase
	stage   trial.Stage
	started bool
}

// NewJudge returns a Judge that works against the given reference levels.
func NewJudge(l trial.Levels) *Judge {
	return &Judge{phase: trial.NewPhaseDetector(l), scope: math.NaN(), peakT: -1}
}

// Apply folds one input in. It appends to says what the Judge has to say, which
// is a change of phase.
func (j *Judge) Apply(in JudgeInput, says []logfmt.Record) []logfmt.Record {
	j.T, j.N = in.T, in.N
	if in.Gap {
		j.trace.Gap(in.T)
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
	phase, changed := j.phase.Add(p)
	if !changed {
		return says
	}
	j.since = in.T
	return append(says, say(in.N, "judge",
		logfmt.Field{Key: "at", Val: logfmt.FormatNs(in.T)},
		logfmt.Field{Key: "what", Val: "phase"},
		logfmt.Field{Key: "phase", Val: phase.String()},
		logfmt.Field{Key: "x_m", Val: logfmt.FormatFloat(float64(in.X))},
		logfmt.Field{Key: "value_n", Val: logfmt.FormatFloat(float64(in.Tension))},
		logfmt.Field{Key: "text", Val: "phase: " + phase.String()}))
}

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
	return fmt.Sprintf("%v %x %d %x %x %v", j.phase.Phase(), math.Float64bits(float64(p.Value)), p.At,
		math.Float64bits(float64(p.X)), math.Float64bits(p.Scope), j.trace.Span())
}
