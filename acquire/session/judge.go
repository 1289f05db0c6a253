package session

import (
	"fmt"
	"math"

	"hawse/logfmt"
	"hawse/trial"
)

// JudgeInput is what Core hands the Judge: a valid sample joined with the line,
// a gap in the load, or something that happened.
type JudgeInput struct {
	N       uint64 // the record that carried it
	T       int64
	Gap     bool
	Over    bool         // over range: Tension is the least it can have been
	Tension trial.Force  // NaN: over range, and not even that is known
	X       trial.Length // NaN unknown
	Scope   float64      // NaN unknown
	Stage   trial.Stage
	RodeOut trial.Length // as counted; NaN unknown
	Height  trial.Length // of the fairlead over the bottom; NaN unknown

	// What happened; no sample. These come behind the samples of their record.
	Vessel bool // a person marked something of the vessel
	Stop   bool // a stop was set
	Enter  bool // Stage is in force from here on
	End    bool // the log ends

	// Moved is how far the vessel has moved towards the anchor since the haul
	// began, by its position, m, and MovedU how uncertain that is; 0 nobody measures it.
	Moved, MovedU trial.Length

	// LateFrom is from when on it may have been measured, ns: it came after a gap,
	// and perhaps late; -1 at T. Late says that it came in a burst.
	LateFrom int64
	Late     bool

	// Of a pin in the roller: what the tension is uncertain by for its angle, N,
	// and by how much it grows for each newton felt; both 0 of any other cell.
	TensionU trial.Force
	Gain     float64

	ofPull bool // for the pull's Judge, not for the log's own: see [Before]
}

// Happened says whether it is neither sample nor gap.
func (in *JudgeInput) Happened() bool { return in.Vessel || in.Stop || in.Enter || in.End }

// Judge is the fold that explains a pull: phase, peak and trace. It is pure; no
// stop depends on it, so it may lag behind and may even fail.
type Judge struct {
	T       int64
	N       uint64
	study   *trial.Study
	phase   *trial.PhaseDetector // the study's
	events  []trial.PhaseEvent
	trace   trial.Trace
	peak    trial.Peak
	scope   float64 // at the peak
	peakT   int64
	since   int64 // of the phase
	stage   trial.Stage
	started bool

	entered trial.Stage    // as the study was told
	told    bool           // that the rode cannot be solved
	quiet   bool           // no trace is wanted, and no words
	figures *trial.Figures // as they were worked out last
	figured int64          // ns, when
}

// NewJudge returns a Judge for the pull of a log with that head.
func NewJudge(h Head) *Judge {
	s := trial.NewStudy(h.Trial, h.Run)
	if h.After != nil && h.After.Came != nil {
		s.GoOn(*h.After.Came)
	}
	if h.After != nil && h.After.Phases != nil {
		s.Phases().GoOn(*h.After.Phases)
	}
	s.Enter(0, trial.StandBy)
	return &Judge{study: s, phase: s.Phases(), scope: math.NaN(), peakT: -1, entered: trial.StandBy}
}

// newFigurer returns a Judge that works out figures and nothing else; whoever
// feeds it says the stages.
func newFigurer(h Head) *Judge {
	j := NewJudge(h)
	j.quiet = true
	return j
}

// Apply folds one input in. It appends to says what the Judge has to say, which
// is a change of phase.
func (j *Judge) Apply(in JudgeInput, says []logfmt.Record) []logfmt.Record {
	j.T, j.N = in.T, in.N
	switch {
	case in.Vessel:
		j.study.Vessel(in.T)
		return j.tellEvents(says)
	case in.Stop:
		j.study.Stop(in.T)
		return says
	case in.Enter:
		j.enter(in.T, in.Stage)
		return says
	case in.End:
		j.figures = nil // what is shown last is of the whole pull
		return says
	case in.Gap:
		j.trace.Gap(in.T)
		j.study.Gap(in.T)
		return says
	}
	if !j.quiet && in.Stage != j.entered {
		j.enter(in.T, in.Stage)
	}
	r := in.Reading()
	if in.Over || math.IsNaN(float64(in.Tension)) || math.IsInf(float64(in.Tension), 0) {
		if in.Over && !j.quiet {
			j.lookPeak(&r.Point, in)
		}
		j.study.Add(&r)
		return says
	}
	if !j.quiet {
		if in.Late {
			j.trace.Gap(in.LateFrom)
		}
		j.look(&r.Point, in)
	}
	if in.MovedU > 0 {
		j.study.Moved(in.Moved, in.MovedU)
	}
	phase, changed := j.study.Add(&r)
	if j.quiet {
		return says
	}
	if why := j.study.Hang().Unsolvable(); why != nil && !j.told {
		j.told = true
		says = append(says, say(in.N, "judge",
			logfmt.Field{Key: "at", Val: logfmt.FormatNs(in.T)},
			logfmt.Field{Key: "what", Val: "statics"},
			logfmt.Field{Key: "loud", Val: "1"},
			logfmt.Field{Key: "text", Val: "no tension at the anchor and no travel in this pull: " + why.Error()}))
	}
	if changed {
		j.since = in.T
		says = append(says, say(in.N, "judge",
			logfmt.Field{Key: "at", Val: logfmt.FormatNs(in.T)},
			logfmt.Field{Key: "what", Val: "phase"},
			logfmt.Field{Key: "phase", Val: phase.String()},
			logfmt.Field{Key: "x_m", Val: logfmt.FormatFloat(float64(in.X))},
			logfmt.Field{Key: "travel_m", Val: logfmt.FormatFloat(float64(r.Travel))},
			logfmt.Field{Key: "value_n", Val: logfmt.FormatFloat(float64(in.Tension))},
			logfmt.Field{Key: "text", Val: "phase: " + phase.String()}))
	}
	return j.tellEvents(says)
}

func (j *Judge) enter(t int64, stage trial.Stage) {
	j.study.Enter(t, stage)
	j.entered = stage
}

// pause says that nothing was recorded between the two times.
func (j *Judge) pause(from, to int64) {
	j.T = to
	j.trace.Gap(from)
	j.study.Break(from, to)
}

// Reading is a sample as a study of the pull takes it.
func (in JudgeInput) Reading() trial.Reading {
	return trial.Reading{Point: trial.Point{T: in.T, Tension: in.Tension, X: in.X, Stage: in.Stage, RodeOut: known(in.RodeOut), Height: known(in.Height)},
		Scope: in.Scope, Over: in.Over, TensionU: in.TensionU, Gain: in.Gain, LateFrom: in.LateFrom}
}

// gain is what a newton more at the cell makes of the tension; NaN unknown.
func (in *JudgeInput) gain() float64 {
	if in.Gain == 0 {
		return 1
	}
	return in.Gain
}

// known is a length as a point has it: 0 where it is unknown.
func known(l trial.Length) trial.Length {
	if math.IsNaN(float64(l)) {
		return 0
	}
	return l
}

// look follows what the screen draws of a pull: its trace and running peak.
func (j *Judge) look(p *trial.Point, in JudgeInput) {
	j.lookPeak(p, in)
	j.trace.Add(*p)
}

func (j *Judge) lookPeak(p *trial.Point, in JudgeInput) {
	if in.Stage == trial.Pull && (j.stage != trial.Pull && j.stage != trial.Hold || !j.started) {
		j.peak, j.scope, j.peakT, j.started = trial.Peak{}, math.NaN(), -1, true
	}
	j.stage = in.Stage
	if in.Stage == trial.Pull || in.Stage == trial.Hold {
		if in.Over {
			j.peak.AddOver(*p)
		} else {
			j.peak.Add(*p)
		}
		if j.peak.T != j.peakT {
			j.peakT, j.scope = j.peak.T, in.Scope
		}
	}
}

// Figures are the figures of the pull so far, up to t, ns.
func (j *Judge) Figures(t int64) trial.Figures { return j.study.Figures(t) }

// figuresEvery is how often a screen gets new figures, ns of the log's time: what
// they cost is nothing then.
const figuresEvery = int64(1e9)

// figuresNow are the figures for a screen; they are not changed afterwards.
func (j *Judge) figuresNow() *trial.Figures {
	if j.figures == nil || j.T-j.figured >= figuresEvery || j.T < j.figured {
		f := j.study.Figures(j.T)
		j.figures, j.figured = &f, j.T
	}
	return j.figures
}

// tellEvents says what happened at a moment that is sure by now.
func (j *Judge) tellEvents(says []logfmt.Record) []logfmt.Record {
	j.events = j.study.Events(j.events[:0])
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
	bare, dead, from := j.study.Levels()
	a := Anchor{Bare: bare, Dead: dead, Levels: from}
	s, ok := j.study.Hang().State()
	if !ok {
		if why := j.study.Hang().Why(); why != nil {
			a.Why = why.Error()
		}
		return a
	}
	lo, hi := s.AnchorBand()
	a.Known, a.Lies = true, s.Regime.String()
	a.Tension, a.Low, a.High = trial.Force(s.AnchorT), trial.Force(lo), trial.Force(hi)
	a.Angle, a.OnBottom, a.Span = trial.Angle(s.AnchorAngle), trial.Length(s.OnBottom), trial.Length(s.Span)
	a.Lifted, a.Stiff, a.Stretch = s.AnchorV > 0, s.StiffnessCounted, trial.Length(s.Stretch)
	a.Travel, a.TravelU, a.HasTravel = j.study.Travel().Now()
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
