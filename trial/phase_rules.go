package trial

import "math"

// Every threshold of the phase detector stands here. All of them are common
// practice, no source; none is a limit, and no stop depends on one. Lengths are
// line hauled. A rule that already holds is given up later than it is taken up
// (the "stay" figures), so that a tension near a threshold does not flicker.
const (
	phaseCell = 0.05 // m hauled to one mean: long against cell noise and ripple at deck speeds, short against every rule below

	phaseStill = int64(5e9) // ns; less than phaseCreep in this time: the winch stands. Also the longest silence bridged
	phaseCreep = 0.02       // m; with phaseStill 0.24 m/min, half the slowest preset
	phaseLeap  = 0.25       // m; the counter jumping further ahead leaves a hole nobody saw
	phaseBack  = 0.25       // m paid out; more and the ground ahead is hauled over a second time

	settleCells = 4 // a new phase must be found for 0.2 m on end; a fall by half is not kept waiting

	slackCells = 10   // 0.5 m: longer than one jerk of the vessel
	slackRode  = 1.5  // times the bare rode B: room for B's own scatter; a taut rode is well above
	slackStay  = 1.75 // times B

	bareCells     = 60   // 3 m level: less can be a dip between two sets, or slack coming in
	bareRode      = 0.75 // times B: from here the rode itself is being dragged
	bareRodeStay  = 0.65 // times B
	bareDead      = 1.5  // times the dead weight D: up to here an anchor does no more than its weight
	bareDeadStay  = 1.75 // times D
	bareDeadTop   = 2.0  // times D: no 5 cm above it in the 3 m; above it an anchor holds
	bareTilt      = 0.5  // of the mean, over the 3 m: a tension only passing through rises faster
	bareStayCells = 10   // 0.5 m: the level is left as soon as slack would be

	loadCells       = 40     // 2 m: the take-up alone is about as long
	loadSlope       = 0.03   // of the running peak a metre: above what a plateau may tilt
	loadSlopeStay   = 0.015  // of the running peak a metre: embedding slows down before it ends
	loadNewest      = 20     // 1 m: the newest half must rise too, or the rise is over
	loadNewestSlope = 0.015  // of the running peak a metre
	loadNewestStay  = 0.0075 // of the running peak a metre: not zero, or rounding would decide
	clearOfScatter  = 2.0    // a trend over its window, in standard deviations about it: else it is scatter
	clearStay       = 1.0    // the same, to stay

	plateauCells       = 60    // 3 m: several waves of a ripple, and travel enough to mean something
	plateauSlope       = 0.02  // of the mean a metre: 6 % over the window, within its scatter
	plateauSlopeStay   = 0.03  // of the mean a metre
	plateauScatter     = 0.10  // of the mean, standard deviation about the slope: more is a saw-tooth
	plateauScatterStay = 0.125 // of the mean
	plateauDead        = 2.0   // times D: below it the engagement is weak, no plateau
	plateauDeadStay    = 1.75  // times D

	declineCells     = 60    // 3 m: a decline with falling scope is slow
	declineSlope     = 0.025 // of the mean a metre; between the plateau's two figures, so that one follows the other
	declineSlopeStay = 0.015 // of the mean a metre

	halfCells    = 30   // 1.5 m: slow breakouts exist
	halfShare    = 0.5  // under half of the highest in the window: a saw-tooth falls less
	halfConfirm  = 2    // cells, so that one bad sample is no fall
	halfDead     = 2.0  // times D: from lower than this there is nothing to fall from
	halfPeak     = 0.25 // of the running peak, in place of D when D is unknown
	halfLower    = 0.9  // of the lowest so far: it falls on, and this is no scatter
	halfRecovers = 0.10 // of the running peak, risen from the lowest: the fall is over
)

// phaseRules are tried in this order; the first that holds names the phase.
// stay tells that its phase is the present one. A fall by half comes before all
// of them: see [PhaseDetector.fallByHalf].
var phaseRules = [...]struct {
	phase Phase
	holds func(d *PhaseDetector, stay bool) bool
}{
	{AtBareRode, (*PhaseDetector).isAtBareRode},
	{Slack, (*PhaseDetector).isSlack},
	{Falling, (*PhaseDetector).isDeclining},
	{Loading, (*PhaseDetector).isLoading},
	{Plateau, (*PhaseDetector).isPlateau},
}

// threshold is the threshold to take a phase up by, or the one to stay in it by.
func threshold(stay bool, enter, remain float64) float64 {
	if stay {
		return remain
	}
	return enter
}

// isSlack needs the bare rode's level.
func (d *PhaseDetector) isSlack(stay bool) bool {
	n := min(slackCells, d.have())
	if d.bare == 0 || !stay && n < slackCells {
		return false
	}
	return d.mean(n) < threshold(stay, slackRode, slackStay)*d.bare
}

// isAtBareRode needs both levels: from about B to 1.5 D, level, for 3 m. It says
// "dragging" and "not set" alike: what came before tells them apart. It comes
// before slack, because 3 m of line at the bare rode's own tension is a rode being
// dragged, not one lying slack.
func (d *PhaseDetector) isAtBareRode(stay bool) bool {
	if d.bare == 0 || d.dead == 0 || d.stage == Recover {
		return false
	}
	if stay {
		mean := d.mean(min(bareStayCells, d.have()))
		return mean >= bareRodeStay*d.bare && mean <= bareDeadStay*d.dead
	}
	if d.have() < bareCells {
		return false
	}
	f := d.fit(bareCells)
	return f.mean >= bareRode*d.bare && f.mean <= bareDead*d.dead &&
		d.highest(bareCells) <= bareDeadTop*d.dead &&
		math.Abs(f.slope)*f.length <= bareTilt*f.mean
}

func (d *PhaseDetector) isDeclining(stay bool) bool {
	if d.have() < declineCells {
		return false
	}
	f := d.fit(declineCells)
	return f.mean > bareDead*d.dead &&
		-f.slope > threshold(stay, declineSlope, declineSlopeStay)*f.mean &&
		-f.slope*f.length >= threshold(stay, clearOfScatter, clearStay)*f.scatter
}

func (d *PhaseDetector) isLoading(stay bool) bool {
	if d.have() < loadCells {
		return false
	}
	f := d.fit(loadCells)
	newest := d.fit(loadNewest)
	return f.slope > threshold(stay, loadSlope, loadSlopeStay)*d.peak &&
		f.slope*f.length >= threshold(stay, clearOfScatter, clearStay)*f.scatter &&
		newest.slope > threshold(stay, loadNewestSlope, loadNewestStay)*d.peak &&
		(stay || newest.slope*newest.length >= clearOfScatter*newest.scatter)
}

// isPlateau needs the dead-weight level: without it nobody can tell a plateau
// from a weight being dragged. In recovery there is none.
func (d *PhaseDetector) isPlateau(stay bool) bool {
	if d.dead == 0 || d.have() < plateauCells || d.stage == Recover {
		return false
	}
	f := d.fit(plateauCells)
	return f.mean > threshold(stay, plateauDead, plateauDeadStay)*d.dead &&
		math.Abs(f.slope) < threshold(stay, plateauSlope, plateauSlopeStay)*f.mean &&
		f.scatter < threshold(stay, plateauScatter, plateauScatterStay)*f.mean
}

// fallByHalf is told of every new cell and says whether tension is in a fall by
// half. It stays so for 1.5 m, or until tension has risen again. From the lowest
// cell on everything is judged afresh, so that no window looks across the fall.
func (d *PhaseDetector) fallByHalf() bool {
	now := d.at(0)
	if d.fallen > 0 {
		if now < halfLower*d.lowest {
			d.lowest = now
			d.since = d.n - 1
		}
		d.fallen++
		if d.fallen > halfCells || now > d.lowest+halfRecovers*d.peak {
			d.fallen = 0
		}
		return d.fallen > 0
	}
	if d.have() <= halfConfirm {
		return false
	}
	top := d.highest(min(halfCells, d.have()))
	worth := halfDead * d.dead
	if d.dead == 0 {
		if !d.rose {
			return false // no level and no rise yet: nothing to fall from
		}
		worth = halfPeak * d.peak
	}
	if top < worth || d.highest(halfConfirm) >= halfShare*top {
		return false
	}
	d.fallen, d.lowest, d.since = 1, now, d.n-1
	return true
}
