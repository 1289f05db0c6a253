package trial

import "math"

// What a tension, a depth and a count are taken to be uncertain by, as standard
// uncertainties, until an instrument's own are said: common practice, no source.
const (
	tensionGain  = 0.01   // of the reading: calibration and place in the line
	tensionZero  = 0.0025 // of the cell's range: drift of the zero between checks
	heightKnown  = 0.1    // m: depth under the vessel, not over the anchor
	countKnown   = 0.005  // of the line hauled
	stretchKnown = 0.15   // of the stretch: a fibre's EA, which its wear and its last load change
	vesselHeld   = 0.1    // m: how still a vessel lies that is held and not measured
	heightLeap   = 0.05   // m: a depth that changes so at once was wrong before, or is now
	kneeSureness = 0.1    // m: the travel must be known so well at the knee
	kneeTimes    = 3.0    // times its uncertainty a tension must be
)

// Uncertain is the standard uncertainty of a tension, N, put together as the
// guide to the expression of uncertainty does it (JCGM 100:2008, 5.1.2):
// calibration, zero and the step of the display (a step wide, so over root 12).
func (c LoadCell) Uncertain(t Force) Force {
	return Force(math.Sqrt(square(tensionGain*float64(t)) + square(tensionZero*float64(c.Range)) + square(float64(c.Step))/12))
}

// pinUncertain is Uncertain of a pin in the roller, whose errors grow with the gain,
// and the angle of the line has its own; 0 of any other cell.
func (c LoadCell) pinUncertain(r *Reading) Force {
	if c.Sits != SitsRoller || !(r.Gain > 0) {
		return 0
	}
	return Force(math.Sqrt(square(tensionGain*float64(r.Tension)) + square(r.Gain)*(square(tensionZero*float64(c.Range))+square(float64(c.Step))/12) + square(float64(r.TensionU))))
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
	cell    LoadCell
	stage   Stage
	knee    bool
	at      spanKnown // at the knee
	now     spanKnown
	last    spanKnown // the last that was known
	moved   Length    // of the vessel towards the anchor since the haul began
	movedAt Length    // the same at the knee
	vague   Length    // of that, standard uncertainty
	goesOn  Stage     // a series that was taken over goes on when this stage is entered; stand by: none
	pinU    Force     // of the tension at hand, where the cell is a pin in the roller
	leapt   float64   // m of span that depths changed at once have made, squares summed
}

// spanKnown is a span and what it is uncertain by.
type spanKnown struct {
	span, x Length
	u       float64 // m, from the tension
	steep   float64 // height over span: what a metre of depth does
	gives   float64 // m of stretch outboard, and of the line that came in since it was told
	height  float64
	told    int // which saying of the rode out it stands on
	ok      bool
}

// NewTravel is for tensions of that load cell.
func NewTravel(c LoadCell) *Travel { return &Travel{cell: c, vague: vesselHeld} }

// Add takes a tension, the line hauled and the statics that have followed both.
// dead is the dead-weight level, 0 unknown.
func (v *Travel) Add(stage Stage, tension Force, x Length, dead Force, h *Hang) {
	if fresh := entersSeries(v.stage, stage); fresh && stage == v.goesOn {
		v.goesOn = StandBy
	} else if fresh {
		v.goesOn = StandBy
		v.knee, v.moved, v.movedAt, v.vague, v.leapt, v.last = false, 0, 0, vesselHeld, 0, spanKnown{}
	}
	v.stage = seriesStage(v.stage, stage)
	v.now = spanKnown{}
	if !inSeries(stage) || v.stage == Recover {
		return
	}
	span, perN, ok := h.Span()
	if !ok {
		return
	}
	u := v.cell.Uncertain(tension)
	if v.pinU > 0 {
		u = v.pinU
	}
	v.now = spanKnown{
		span: span, x: x, u: float64(u) * perN, steep: h.state.Height / max(float64(span), 1e-3),
		gives: h.state.Stretch - float64(h.less), height: h.state.Height, told: h.sayings, ok: true,
	}
	if v.knee && v.last.ok {
		v.mend(v.last)
	}
	v.last = v.now
	if !v.knee && tension >= dead && float64(tension) >= kneeTimes*float64(u) && v.now.u < kneeSureness {
		v.knee, v.at, v.movedAt = true, v.now, v.moved
	}
}

// Gap says that the tension is not known from here on, and so no span.
func (v *Travel) Gap() { v.now.ok = false }

// mend takes out of the travel what is no way of the anchor: rode out that was
// said anew moves the span at the knee as it moves the span now. A depth that
// changes at once was wrong before it or is wrong now, and nobody can tell: what
// it does to the span makes the travel so uncertain.
func (v *Travel) mend(was spanKnown) {
	by := v.now.span - was.span
	switch {
	case v.now.told != was.told:
		v.at.span += by
		v.at.x += v.now.x - was.x
		v.at.gives += v.now.gives - was.gives
	case math.Abs(v.now.height-was.height) >= heightLeap:
		v.leapt += square(float64(by))
	}
}

// Moved says how far the vessel has moved towards the anchor since the haul
// began, m, and the standard uncertainty of that.
func (v *Travel) Moved(by, u Length) { v.moved, v.vague = by, u }

// Now is the travel, m, and its standard uncertainty. It is not ok before the
// knee, and while the span is not known. Where nobody measures the vessel's
// movement none is taken off, and the uncertainty holds what a vessel that is
// held is taken to move.
func (v *Travel) Now() (travel, u Length, ok bool) {
	if !v.knee || !v.now.ok {
		return Length(math.NaN()), Length(math.NaN()), false
	}
	sum := square(v.at.u) + square(v.now.u) + square(countKnown*float64(v.now.x-v.at.x)) +
		square(heightKnown*(v.now.steep-v.at.steep)) + square(stretchKnown*(v.now.gives-v.at.gives)) + square(float64(v.vague)) + v.leapt
	return v.at.span - v.now.span - (v.moved - v.movedAt), Length(math.Sqrt(sum)), true
}
