package trial

// What is held against a multiple of the dead-weight level D, or against a share of
// a peak, is meant of the anchor. The bare rode's own level B is in both, and stays
// whatever the anchor does.

// rodeBeyond is how much of what the rode makes beyond half of D is left out of
// multiples of D: not all, because B and D are each known to some 15 % only and
// their difference is worth less. Common practice, no source.
const rodeBeyond = 0.75

// weights is k times D. Where the rode makes more than half of D, what it makes
// beyond that is not multiplied: in a heavy rode twice D is far more than twice what
// a weight does.
func (r *PhaseRules) weights(k, bare, dead float64) float64 {
	return k*dead - rodeBeyond*(k-1)*max(0, 2*min(bare, dead)-dead)
}

func (d *PhaseDetector) weights(k float64) float64 { return d.rules.weights(k, d.bare, d.dead) }

// shareOf is that share of a tension, of what is above the rode's own.
func (d *PhaseDetector) shareOf(share, top float64) float64 {
	return share*top + (1-share)*min(d.bare, top)
}

// lost is the tension under which it has fallen by half. In recovery the line hangs,
// and what it weighs is not B.
func (d *PhaseDetector) lost(top float64) float64 {
	if d.stage == Recover {
		return d.rules.BreakShare * top
	}
	return d.shareOf(d.rules.BreakShare, top)
}

// engagedAfter is how long, m, a stay above the engaged level with that peak must be
// to be a set: none from the engaged peak on, and from three quarters of that less and less.
func (d *PhaseDetector) engagedAfter(peak float64) float64 {
	long, most := float64(d.rules.EngagedLength), d.weights(d.rules.EngagedPeak)
	if !(peak < most) {
		return 0
	}
	return long * min(1, 4*(most-peak)/most)
}
