package trial

import "math"

// What a tension, a depth and a count are taken to be uncertain by, as standard
// uncertainties, until an instrument's own are said: common practice, no source.
const (
	tensionGain  = 0.01   // of the reading: calibration and place in the line
	tensionZero  = 0.0025 // of the cell's range: drift of the zero between checks
	heightKnown  = 0.1    // m: depth under the vessel, not over the anchor
	countKnown   = 0.005  // of the line hauled
	kneeSureness = 0.1    // m: the travel must be known so well at the knee
	kneeTimes    = 3.0    // times its uncertainty a tension must be
)

// Uncertain is the standard uncertainty of a tension, N, put together as the
// guide to the expression of uncertainty does it (JCGM 100:2008, 5.1.2):
// calibration, zero and the step of the display (a step wide, so over root 12).
func (c LoadCell) Uncertain(t Force) Force {
	return Force(math.Sqrt(square(tensionGain*float64(t)) + square(tensionZero*float64(c.Range)) + square(float64(c.Step))/12))
}

func square(v float64) float64 { return v * v }

// Travel is how far the anchor has come towards the vessel: the span at the
// knee less the span now, less what the vessel has moved towards it. The span
// comes from the statics at the present tension, length and depth, so stretch,
// curve and scope are in it.
//
// The knee is the first point of a series at which the tension is at least the
// dead-weight level and three times its own uncertainty, and the span is known
// to 0.1 m: before it the rode takes up its slack, and travel is not yet, which
// is not 0. It is pure, and allocates nothing.
type Travel struct {
	cell  LoadCell
	stage Stage
	knee  bool
	at    spanKnown // at the knee
	now   spanKnown
	moved Length // of the vessel towards the anchor since the knee
	vague Length // of that, standard uncertainty
}

// spanKnown is a span and what it is uncertain by.
type spanKnown struct {
	span, x Length
	u       float64 // m, from the tension
	steep   float64 // height over span: what a metre of depth does
	ok      bool
}

// NewTravel is for tensions of that load cell.
func NewTravel(c LoadCell) *Travel { return &Travel{cell: c} }

// Add takes a tension, the line hauled and the statics that have followed both.
// dead is the dead-weight level, 0 unknown.
func (v *Travel) Add(stage Stage, tension Force, x Length, dead Force, h *Hang) {
	if entersSeries(v.stage, stage) {
		v.knee, v.moved, v.vague = false, 0, 0
	}
	v.stage = stage
	v.now = spanKnown{}
	if !inSeries(stage) || stage == Recover {
		return
	}
	span, perN, ok := h.Span()
	if !ok {
		return
	}
	u := v.cell.Uncertain(tension)
	v.now = spanKnown{span: span, x: x, u: float64(u) * perN, steep: h.state.Height / max(float64(span), 1e-3), ok: true}
	if !v.knee && tension >= dead && float64(tension) >= kneeTimes*float64(u) && v.now.u < kneeSureness {
		v.knee, v.at = true, v.now
	}
}

// Moved says how far the vessel has moved towards the anchor since the knee, m,
// and the standard uncertainty of that.
func (v *Travel) Moved(by, u Length) { v.moved, v.vague = by, u }

// Now is the travel, m, and its standard uncertainty. It is not ok before the
// knee, and while the span is not known. Where nobody measures the vessel's
// movement none is taken off, and the uncertainty holds nothing for it.
func (v *Travel) Now() (travel, u Length, ok bool) {
	if !v.knee || !v.now.ok {
		return Length(math.NaN()), Length(math.NaN()), false
	}
	sum := square(v.at.u) + square(v.now.u) + square(countKnown*float64(v.now.x-v.at.x)) +
		square(heightKnown*(v.now.steep-v.at.steep)) + square(float64(v.vague))
	return v.at.span - v.now.span - v.moved, Length(math.Sqrt(sum)), true
}

// Knee is the line hauled at the knee, m; not ok before it.
func (v *Travel) Knee() (x Length, ok bool) { return v.at.x, v.knee }
