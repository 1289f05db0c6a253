package trial

import "math"

// Study folds the samples of one pull into all that is told of it: statics of
// the rode, reference levels, anchor travel, phases and [Figures]. It is pure:
// the same samples give the same figures, live or long after. Memory is fixed.
type Study struct {
	FarEnd
	phase  *PhaseDetector
	events []PhaseEvent

	fold FigureFold
	pull pullFold
}

// NewStudy is for one run of a trial.
func NewStudy(t *Trial, run Run) *Study {
	s := &Study{FarEnd: NewFarEnd(t, run), phase: NewPhaseDetector(t.Levels, t.Phases)}
	s.pull.begin(t, run, s.along.Source())
	return s
}

// Enter says that a stage is in force from t on.
func (s *Study) Enter(t int64, stage Stage) { s.fold.Enter(t, stage) }

// Break says that nothing was recorded between the two times.
func (s *Study) Break(from, to int64) {
	s.fold.Break(from, to)
	s.Gap(from)
}

// Gap says that tension is not measured from t on, until the next sample.
func (s *Study) Gap(int64) {
	s.Lose(ErrNoTension)
	s.pull.hole()
}

// Vessel takes a mark a person made of the vessel.
func (s *Study) Vessel(t int64) {
	s.phase.Mark(t, true)
	s.hear()
}

// Moved says how far the vessel has moved towards the anchor since the haul began, m,
// and how uncertain that is, for the sample that comes next.
func (s *Study) Moved(by, u Length) {
	s.FarEnd.Moved(by, u)
	s.phase.Moved(by, u)
}

// Stop says that a stop was set at t, so that what comes after it is measured.
func (s *Study) Stop(t int64) { s.pull.stop(t) }

// Add takes one sample, joined with the line. It fills in what statics, levels
// and travel make of it, and returns the phase now, and whether it has changed.
// One over range, or with a tension that is not finite, is told of the peaks and
// means nothing else.
func (s *Study) Add(r *Reading) (phase Phase, changed bool) {
	if r.Over || !finite(float64(r.Tension)) {
		why := ErrNoTension
		if r.Over {
			why = ErrOverRange
		}
		s.Lose(why)
		s.fold.Add(*r)
		s.pull.over(r)
		return s.phase.Phase(), false
	}
	s.Solve(r)
	if entersSeries(s.pull.series.before, r.Stage) {
		s.pull.endSeries(s.phase.Segments())
	}
	phase, changed = s.phase.Add(r.Point)
	s.hear()
	s.fold.Add(*r)
	s.pull.add(r, s)
	return phase, changed
}

// hear takes what the phases say has happened.
func (s *Study) hear() {
	n := len(s.events)
	s.events = s.phase.Events(s.events)
	for _, e := range s.events[n:] {
		s.pull.event(e)
	}
	if over := len(s.events) - eventsMost; over > 0 {
		s.events = append(s.events[:0], s.events[over:]...)
	}
}

// Events appends what has happened since the last call, in the order it was said;
// of more than 64 the oldest are dropped.
func (s *Study) Events(dst []PhaseEvent) []PhaseEvent {
	dst = append(dst, s.events...)
	s.events = s.events[:0]
	return dst
}

// Phases names the phases.
func (s *Study) Phases() *PhaseDetector { return s.phase }

// Figures are those of all that was given, up to end, ns. More may follow.
func (s *Study) Figures(end int64) Figures {
	f := s.fold.Figures(end)
	s.pull.figures(&f, s)
	return f
}

// Over is the mean tension over a stretch of line hauled for the first time in the
// pull, weighted by distance. Stretches are cut at cells of 5 cm, or a few times
// that in a pull past 100 m.
func (s *Study) Over(x Stretch) Figure {
	switch long := float64(x.To - x.From); {
	case !(long > 0) || !finite(long):
		return missing("no stretch: it ends before it begins")
	case !s.pull.began:
		return missing(whyNoPull)
	default:
		return s.pull.meanOver(s, [][2]float64{{float64(x.From), float64(x.To)}}, long, false)
	}
}

// anchorNow is the tension at the anchor at the last tension and length: the last
// solved state, carried on newton by newton. NaN unknown.
func (h *Hang) anchorNow() float64 {
	if !h.known {
		return math.NaN()
	}
	return max(0, h.state.AnchorT+float64(h.tens-h.atT))
}

// bears is how the line lies as it was solved last: the bend over the roller, rad,
// friction on the bottom, N, and what a metre of depth takes off the tension at
// the anchor, N/m; 0 unknown.
func (h *Hang) bears() (bend, rubs, hangs float64) {
	if !h.known {
		return 0, 0, 0
	}
	st := &h.state
	if st.Height > 0 {
		hangs = max(0, st.T-st.AnchorT-st.Friction) / st.Height
	}
	return max(st.FairleadAngle, 0), st.Friction, hangs
}

// swellNow is the wave of the swell in the tension, s, and half its swing, N; 0
// where there is none.
func (d *PhaseDetector) swellNow() (wave, swing float64) {
	if d.swell == 0 || d.turns.n < 2 {
		return 0, 0
	}
	return float64(d.swell) / 1e9, math.Abs(d.turns.at(0).mean-d.turns.at(1).mean) / 2
}
