package trial

import "time"

// PhaseRules are the thresholds of the phases. Each has its reason, its default
// and its bounds in [phaseThresholds], and can be said in a trial file. None is a
// limit, and no stop depends on one. Lengths are line hauled.
type PhaseRules struct {
	Standing, Calm, Confirm, ConfirmCalm     time.Duration
	BreakTime, BreakFast, FallWait, MarkTime time.Duration

	Gap, Settle, Coarse                             Length
	SlackLength, DragLength, HeldLength, WeakLength Length
	EngagedLength, EmbedLength, PlateauLength       Length
	DeclineLength, SawSpan, BreakLength             Length
	BackNear, BackFar, StiffLength, SnagTravel      Length
	UprightBand                                     Length

	StayLevel, StaySlope                             float64
	SlackLevel, TakeUpSlope, DragLow, DragLevel      float64
	EngagedLevel, EngagedPeak                        float64
	EmbedSlope, PlateauSlope, PlateauScatter         float64
	DeclineSlope, DeclineShare, Uplift               float64
	SawSwing, SawCount, SawFall                      float64
	BreakShare, BackShare, BackStiff, ResetShare     float64
	StiffSlope, RelaxShare, VesselShare, VesselSpeed float64
	ShortStayScope, UprightScope                     float64
}

// phaseThreshold is one threshold. A length is in m, a time in s; a slope is a
// share a metre.
type phaseThreshold struct {
	key                string
	unit               string // "m", "s", "/m", "m/s"; empty: a plain number
	value, least, most float64
	what               string // in words that fit after "write" and "add"
	why                string // the reason of the default
	at                 func(*PhaseRules) *float64
	length             func(*PhaseRules) *Length
	time               func(*PhaseRules) *time.Duration
}

func (h *phaseThreshold) set(r *PhaseRules, v float64) {
	switch {
	case h.length != nil:
		*h.length(r) = Length(v)
	case h.time != nil:
		*h.time(r) = time.Duration(v * float64(time.Second))
	default:
		*h.at(r) = v
	}
}

func (h *phaseThreshold) get(r *PhaseRules) float64 {
	switch {
	case h.length != nil:
		return float64(*h.length(r))
	case h.time != nil:
		return h.time(r).Seconds()
	}
	return *h.at(r)
}

func thresholdOf(key string, v, least, most float64, what, why string, at func(*PhaseRules) *float64) phaseThreshold {
	return phaseThreshold{key: key, value: v, least: least, most: most, what: what, why: why, at: at}
}

func slopeOf(key string, v, least, most float64, what, why string, at func(*PhaseRules) *float64) phaseThreshold {
	h := thresholdOf(key, v, least, most, what, why, at)
	h.unit = "/m"
	return h
}

func speedOf(key string, v, least, most float64, what, why string, at func(*PhaseRules) *float64) phaseThreshold {
	h := thresholdOf(key, v, least, most, what, why, at)
	h.unit = "m/s"
	return h
}

func lengthOf(key string, v, least, most float64, what, why string, at func(*PhaseRules) *Length) phaseThreshold {
	return phaseThreshold{key: key, unit: "m", value: v, least: least, most: most, what: what, why: why, length: at}
}

func timeOf(key string, v, least, most float64, what, why string, at func(*PhaseRules) *time.Duration) phaseThreshold {
	return phaseThreshold{key: key, unit: "s", value: v, least: least, most: most, what: what, why: why, time: at}
}

// phaseWindow is the longest window a rule may have, m: what is remembered.
const phaseWindow = 6.0

// phaseThresholds is every threshold, in the order of the trial file. Where why
// names no source it is common practice, no source. B is the bare-rode level, D
// the dead-weight level, P the running peak of the series; phase_level.go says what
// of a rode's own tension is left out of their multiples and shares.
var phaseThresholds = [...]phaseThreshold{
	timeOf("standing", float64(phaseStill)/1e9, 1, 30, "how long without line hauled until the winch stands", "longer than a slow winch needs for 2 cm; also the longest silence bridged", func(r *PhaseRules) *time.Duration { return &r.Standing }),
	lengthOf("gap", 0.25, 0.05, 2, "the line that may be leapt or paid out before all is judged afresh", "half of the shortest window: a hole nobody saw must not fill one", func(r *PhaseRules) *Length { return &r.Gap }),
	lengthOf("coarse", 0.06, 0.02, 0.25, "the line a sample may stand for", "a little more than 2 Hz at 5 m/min; above it every phase is unclear", func(r *PhaseRules) *Length { return &r.Coarse }),
	lengthOf("settle", 0.2, 0.05, 1, "how long a new phase must hold before it is named", "against flicker; a breakout and a snag are not kept waiting", func(r *PhaseRules) *Length { return &r.Settle }),
	thresholdOf("stay_level", 1.2, 1, 2, "by how much a level may be passed before a phase is given up", "a tension near a threshold must not flicker", func(r *PhaseRules) *float64 { return &r.StayLevel }),
	thresholdOf("stay_slope", 1.5, 1, 3, "by how much a slope may be passed before a phase is given up", "wider than for levels: a slope scatters more", func(r *PhaseRules) *float64 { return &r.StaySlope }),

	thresholdOf("slack_level", 1.5, 1, 5, "the most slack may be, times B", "room for the scatter of B; a taut rode is well above", func(r *PhaseRules) *float64 { return &r.SlackLevel }),
	lengthOf("slack_length", 0.5, 0.1, phaseWindow, "the length a slack or a take-up is read over", "longer than one jerk of the vessel", func(r *PhaseRules) *Length { return &r.SlackLength }),
	slopeOf("take_up_slope", 0.3, 0.05, 10, "the rise of a take-up, of B a metre", "slack has no trend; a take-up doubles B within a metre or two", func(r *PhaseRules) *float64 { return &r.TakeUpSlope }),

	thresholdOf("drag_low", 0.75, 0.1, 1, "the least of dragging, times B", "from here the rode itself is being dragged", func(r *PhaseRules) *float64 { return &r.DragLow }),
	thresholdOf("drag_level", 1.5, 1, 3, "the most of dragging, times D", "up to here an anchor does no more than its weight", func(r *PhaseRules) *float64 { return &r.DragLevel }),
	lengthOf("drag_length", 3, 0.5, phaseWindow, "how long a dragging is level", "less can be a dip between two sets, or slack coming in", func(r *PhaseRules) *Length { return &r.DragLength }),
	lengthOf("held_length", 2, 0.5, 20, "how long above drag_level it must have been, or it is not set", "a touch of more at moments is no set", func(r *PhaseRules) *Length { return &r.HeldLength }),

	thresholdOf("engaged_level", 2, 1.1, 10, "the least of an engagement, times D", "between drag_level and this the engagement is weak", func(r *PhaseRules) *float64 { return &r.EngagedLevel }),
	lengthOf("engaged_length", 2, 0.2, 20, "how long above engaged_level it must have been", "a moment is not a set", func(r *PhaseRules) *Length { return &r.EngagedLength }),
	thresholdOf("engaged_peak", 8, 2, 100, "what engages whatever the length, times D", "in sand an anchor digs in within 1 to 3 m; from three quarters of it on, less length will do", func(r *PhaseRules) *float64 { return &r.EngagedPeak }),
	lengthOf("weak_length", 2, 0.5, phaseWindow, "how long a weak engagement is level", "as engaged_length", func(r *PhaseRules) *Length { return &r.WeakLength }),

	slopeOf("embed_slope", 0.03, 0.005, 1, "the rise while embedding, of P a metre", "above what a plateau may tilt", func(r *PhaseRules) *float64 { return &r.EmbedSlope }),
	lengthOf("embed_length", 2, 0.5, phaseWindow, "the length an embedding is read over", "the take-up alone is about as long", func(r *PhaseRules) *Length { return &r.EmbedLength }),
	slopeOf("plateau_slope", 0.02, 0.002, 0.5, "the most a plateau tilts, of its mean a metre", "6 % over its length, within its scatter", func(r *PhaseRules) *float64 { return &r.PlateauSlope }),
	thresholdOf("plateau_scatter", 0.1, 0.01, 0.5, "the scatter of a plateau, a share of its mean", "standard deviation; more is a saw-tooth or nothing known", func(r *PhaseRules) *float64 { return &r.PlateauScatter }),
	lengthOf("plateau_length", 3, 0.5, phaseWindow, "how long a plateau is level", "several waves of a ripple, and travel enough to mean something", func(r *PhaseRules) *Length { return &r.PlateauLength }),

	slopeOf("decline_slope", 0.025, 0.002, 0.5, "the fall of a decline, of its mean a metre", "just above what a plateau may tilt", func(r *PhaseRules) *float64 { return &r.DeclineSlope }),
	lengthOf("decline_length", 3, 0.5, phaseWindow, "the length a decline is read over", "a decline with the scope is slow", func(r *PhaseRules) *Length { return &r.DeclineLength }),
	thresholdOf("decline_share", 0.4, 0.05, 1, "how much of the fall the falling scope must explain", "the rule for it is good to a factor of two or so", func(r *PhaseRules) *float64 { return &r.DeclineShare }),
	thresholdOf("uplift", 1.8, 0.1, 5, "what a lifting line takes: holding is cos a (1 - uplift sin a)", "fits the small-craft rule of thumb between scopes 10 and 4 (from memory)", func(r *PhaseRules) *float64 { return &r.Uplift }),

	thresholdOf("saw_swing", 0.15, 0.1, 1, "the least swing of a saw-tooth, of its mean", "less is ripple", func(r *PhaseRules) *float64 { return &r.SawSwing }),
	thresholdOf("saw_count", 3, 3, 8, "how many swings make a saw-tooth", "two can be chance", func(r *PhaseRules) *float64 { return &r.SawCount }),
	lengthOf("saw_span", 5, 0.5, 20, "the length the swings must stand in", "waves of 0.2 to 1 m", func(r *PhaseRules) *Length { return &r.SawSpan }),
	thresholdOf("saw_fall", 0.25, 0.05, 0.5, "how long a fall may be, of its rise", "it grabs slowly and slips at once; a swell falls as it rises", func(r *PhaseRules) *float64 { return &r.SawFall }),

	thresholdOf("break_share", 0.5, 0.1, 0.9, "the share of the highest before, both above B, that a breakout is under", "a saw-tooth falls less; B stays whatever the anchor does", func(r *PhaseRules) *float64 { return &r.BreakShare }),
	lengthOf("break_length", 1.5, 0.2, phaseWindow, "how far back that highest is sought", "slow breakouts exist", func(r *PhaseRules) *Length { return &r.BreakLength }),
	timeOf("break_time", 2, 0.5, 10, "how long back that highest is sought", "with little or no line hauled there is no length", func(r *PhaseRules) *time.Duration { return &r.BreakTime }),
	timeOf("break_fast", 1, 0.2, 5, "how fast a fall is that is named at once", "most breakouts take about a second; slower falls wait for what comes back", func(r *PhaseRules) *time.Duration { return &r.BreakFast }),
	timeOf("calm", 10, 2, 60, "how long without a swing until there is no swell", "a swell shows a wave in less", func(r *PhaseRules) *time.Duration { return &r.Calm }),
	timeOf("confirm_calm", 1, 0.2, 10, "how long a fall must last with no swell", "longer than a jerk", func(r *PhaseRules) *time.Duration { return &r.ConfirmCalm }),
	timeOf("confirm", 4, 0.5, 20, "how long a fall must last where a swell cannot be excluded", "more than half of a wave of 6 s; 0.75 of the wave where it is known", func(r *PhaseRules) *time.Duration { return &r.Confirm }),
	thresholdOf("back_share", 0.9, 0.5, 1, "the share of what it fell from at which tension is back", "at the rode's own stiffness it comes back whole", func(r *PhaseRules) *float64 { return &r.BackShare }),
	lengthOf("back_near", 0.6, 0.05, 3, "how soon a fall is back that was no breakout", "no anchor is known to dig in again so fast", func(r *PhaseRules) *Length { return &r.BackNear }),
	lengthOf("back_far", 1.5, 0.1, 6, "how late a fall not back is the anchor's", "no surge of a held vessel is as long", func(r *PhaseRules) *Length { return &r.BackFar }),
	thresholdOf("back_stiff", 0.7, 0.3, 1, "the vessel's way back, of the rode's stiffness", "as stiff_slope", func(r *PhaseRules) *float64 { return &r.BackStiff }),
	speedOf("vessel_speed", 0.25, 0.02, 5, "the greatest speed of a held vessel", "a surge of 0.24 m either way in 6 s; a fall that needs more is the anchor's", func(r *PhaseRules) *float64 { return &r.VesselSpeed }),
	timeOf("fall_wait", 30, 5, 600, "how long a fall is left open with the winch standing", "a surge comes back by then", func(r *PhaseRules) *time.Duration { return &r.FallWait }),
	timeOf("mark_time", 10, 1, 60, "how near a mark of the vessel must stand to a fall", "a person needs some seconds", func(r *PhaseRules) *time.Duration { return &r.MarkTime }),
	thresholdOf("reset_share", 0.7, 0.3, 1, "the share of P from which it has re-set", "whatever the length of the rise", func(r *PhaseRules) *float64 { return &r.ResetShare }),

	thresholdOf("stiff_slope", 0.7, 0.3, 1, "the slope of an anchor not moving, of the rode's stiffness", "room for what the figures of the rode are worth", func(r *PhaseRules) *float64 { return &r.StiffSlope }),
	lengthOf("stiff_length", 0.2, 0.1, 2, "the length that slope is read over", "5 s at 2.4 m/min", func(r *PhaseRules) *Length { return &r.StiffLength }),
	lengthOf("snag_travel", 1, 0.1, 20, "how far the anchor must have travelled for a snag", "a firm set looks the same", func(r *PhaseRules) *Length { return &r.SnagTravel }),

	thresholdOf("relax_share", 0.02, 0.005, 0.5, "the loss with the winch standing that is relaxing", "more than the scatter of a mean", func(r *PhaseRules) *float64 { return &r.RelaxShare }),
	thresholdOf("vessel_share", 0.1, 0.02, 0.5, "the rise with nothing hauled that is the vessel's", "an anchor does not pull", func(r *PhaseRules) *float64 { return &r.VesselShare }),

	thresholdOf("short_stay", 1.5, 1.05, 3, "the scope of a short stay", "about half as much again as the depth", func(r *PhaseRules) *float64 { return &r.ShortStayScope }),
	thresholdOf("upright", 2, 1.1, 4, "the scope under which a load pulls the anchor up", "a deep anchor is up and down with some metres more out than the fairlead's height", func(r *PhaseRules) *float64 { return &r.UprightScope }),
	lengthOf("upright_band", 0.4, 0.05, 3, "how well line out and height are known", "depth 0.2, count 0.3, lead 0.2 m together", func(r *PhaseRules) *Length { return &r.UprightBand }),
}

// DefaultPhaseRules are the rules of a trial file that says none.
func DefaultPhaseRules() PhaseRules {
	var r PhaseRules
	for i := range phaseThresholds {
		phaseThresholds[i].set(&r, phaseThresholds[i].value)
	}
	return r
}

// within brings a threshold that is not a number, or out of its bounds, to its
// default, so that no value can make the detector read past what it remembers.
func (r PhaseRules) within() PhaseRules {
	for i := range phaseThresholds {
		h := &phaseThresholds[i]
		if v := h.get(&r); !(v >= h.least && v <= h.most) {
			h.set(&r, h.value)
		}
	}
	return r
}

// phaseRules are tried in this order; the first that holds names the phase. stay
// tells that its phase is the present one; back is how many cells ago it began.
// Falls, the recovery and the standing winch come before all of them: see
// phase_fall.go, phase_recover.go and phase_stand.go.
var phaseRules = [...]struct {
	phase  Phase
	prompt bool // not kept waiting
	holds  func(d *PhaseDetector, stay bool) (back int, ok bool)
}{
	{NotSet, false, (*PhaseDetector).isNotSet},
	{Dragging, false, (*PhaseDetector).isDragging},
	{TakeUp, false, (*PhaseDetector).isTakeUp},
	{Slack, false, (*PhaseDetector).isSlack},
	{SawTooth, true, (*PhaseDetector).isSawTooth},
	{Snagged, false, (*PhaseDetector).isSnag},
	{NotMoving, false, (*PhaseDetector).isNotMoving},
	{WeakEngagement, false, (*PhaseDetector).isWeak},
	{Decline, false, (*PhaseDetector).isDecline},
	{Plateau, false, (*PhaseDetector).isPlateau},
	{Resetting, false, (*PhaseDetector).isResetting},
	{Reset, true, (*PhaseDetector).isReset},
	{Embedding, false, (*PhaseDetector).isEmbedding},
	{Breakout, true, (*PhaseDetector).isBreakout},
}
