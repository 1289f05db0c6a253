package trial

import "math"

// The rules of hauling, as phaseRules orders them. Each says how many cells ago
// what it sees began.

// engage follows how the tension stands to the dead-weight level, over the
// series: what an anchor that has been engaged does is no longer what a weight
// does.
func (d *PhaseDetector) engage() {
	now := d.calmed(0)
	d.peak = max(d.peak, now)
	if d.dead == 0 {
		return
	}
	if now > d.weights(d.rules.DragLevel) {
		d.held += phaseCell
	} else {
		d.held = 0
	}
	d.hasHeld = d.hasHeld || d.held >= float64(d.rules.HeldLength)-phaseCell/2
	level := d.weights(d.rules.EngagedLevel)
	if now > level {
		if d.up.length == 0 {
			d.up.t, d.up.x = d.at(0).t, d.at(0).x-phaseCell
			if d.up.was > 0 && d.up.x-d.up.left <= float64(d.rules.BackNear) { // back too soon to have let go between
				d.up.length = d.up.was
			}
		}
		d.up.length += phaseCell
		d.up.peak = max(d.up.peak, now)
		d.engaged = d.engaged || d.up.length >= d.engagedAfter(d.up.peak)-phaseCell/2
		return
	}
	half := cellsIn(d.rules.SlackLength)
	if d.up.length == 0 || d.have() < 2*half {
		return
	}
	newest := d.mean(half)
	if newest < level && newest < d.sum(half, half)/float64(half) && d.fall.state == fallNone {
		d.weak = !d.engaged && !d.broken && d.up.length >= moment
		d.told.keepFrom(d.up.t, d.up.x)
		d.up.was, d.up.left = d.up.length, d.at(0).x
		d.up.length, d.up.peak = 0, 0
	}
}

// moment is the least stay above the engaged level that is told, m: longer than a
// crest of swell before its waves are known; common practice, no source.
const moment = 0.25 - phaseCell/2

// isSlack needs the bare rode's level.
func (d *PhaseDetector) isSlack(stay bool) (int, bool) {
	n := min(cellsIn(d.rules.SlackLength), d.have())
	if d.bare == 0 || !stay && n < cellsIn(d.rules.SlackLength) {
		return 0, false
	}
	if d.broken || d.phase == Dragging || d.phase == NotSet { // it is dragged: at the rode's own tension, too
		return n, d.mean(n) < d.rules.DragLow/d.rules.StayLevel*d.bare
	}
	return n, d.mean(n) < threshold(stay, d.rules.SlackLevel, d.rules.StayLevel)*d.bare
}

// isTakeUp needs both levels: the rise out of the slack, up to what a weight
// gives. It ends where the rise does.
func (d *PhaseDetector) isTakeUp(stay bool) (int, bool) {
	n := cellsIn(d.rules.SlackLength)
	if d.bare == 0 || d.dead == 0 || d.rose || d.broken || d.weak || d.have() < n {
		return 0, false
	}
	f, newest := d.fit(n), d.mean(min(4, n))
	most := d.dead
	if stay {
		most *= d.rules.EngagedLevel
	}
	return n / 2, newest <= most && f.slope > threshold(stay, d.rules.TakeUpSlope, 1/d.rules.StaySlope)*d.bare &&
		f.clear(threshold(stay, clearOfScatter, 0.5))
}

// clearOfScatter is how far a trend over its window must stand out of the
// standard deviation about it, or it is scatter; common practice, no source.
const clearOfScatter = 2.0

// isDragging needs both levels: from about B to 1.5 D, level, for 3 m. It comes
// before slack, because 3 m of line at the bare rode's own tension is a rode being
// dragged, not one lying slack.
func (d *PhaseDetector) isDragging(stay bool) (int, bool) {
	if d.bare == 0 || d.dead == 0 {
		return 0, false
	}
	low, high := d.rules.DragLow*d.bare, d.weights(d.rules.DragLevel)
	if stay {
		mean := d.mean(min(cellsIn(d.rules.SlackLength), d.have()))
		return 0, mean >= low/d.rules.StayLevel && mean <= high*d.rules.StayLevel
	}
	n := cellsIn(d.rules.DragLength)
	if d.have() < n {
		return 0, false
	}
	f := d.fit(n)
	if f.mean < low || f.mean > high || math.Abs(f.slope)*f.length > dragTilt*f.mean {
		return 0, false
	}
	for k := range 3 { // what only comes down to it is not level yet
		if third := n / 3; d.sum(k*third, third) > high*float64(third) {
			return 0, false
		}
	}
	for i := range n { // a touch of more at a moment is still dragging, a stay is not
		if d.calmed(i) > d.weights(d.rules.EngagedLevel) {
			return 0, false
		}
	}
	return n, true
}

// dragTilt is the most a dragging tilts over its length, of its mean: a tension
// only passing through rises faster; common practice, no source.
const dragTilt = 0.5

// isNotSet is dragging where the anchor never held.
func (d *PhaseDetector) isNotSet(stay bool) (int, bool) {
	if d.hasHeld || d.engaged || d.broken || d.phase == Dragging {
		return 0, false
	}
	return d.isDragging(stay)
}

// isWeak needs the dead-weight level: a stay above the engaged level too short to
// be a set, and a level below it that no weight gives.
func (d *PhaseDetector) isWeak(stay bool) (int, bool) {
	if d.dead == 0 {
		return 0, false
	}
	short := min(cellsIn(d.rules.SlackLength), d.have())
	mean := d.mean(short)
	low, high := d.weights(d.rules.DragLevel), d.weights(d.rules.EngagedLevel)
	switch {
	case stay && mean > low/d.rules.StayLevel && mean < high*d.rules.StayLevel:
		return 0, true
	case d.weak && !stay:
		d.weak = mean < high
		return short, d.weak
	}
	n := cellsIn(d.rules.WeakLength)
	if d.have() < n {
		return 0, false
	}
	f := d.fit(n)
	return n, f.mean > low && f.mean < high && mean > low && mean < high && math.Abs(f.slope)*f.length < dragTilt/2*f.mean
}

// isDecline needs the scope: a smooth fall, of which the falling scope explains
// enough.
func (d *PhaseDetector) isDecline(stay bool) (int, bool) {
	n := cellsIn(d.rules.DeclineLength)
	if d.have() < n || d.rode == 0 || d.height == 0 {
		return 0, false
	}
	f := d.fit(n)
	fell := -f.slope * f.length
	if fell <= 0 || f.mean <= d.weights(d.rules.EngagedLevel) || d.dead == 0 ||
		fell < threshold(stay, d.rules.DeclineSlope, 1/d.rules.StaySlope)*f.mean*f.length || !f.clear(threshold(stay, clearOfScatter, 0.5)) {
		return 0, false
	}
	top := 0
	explained := 1 - upliftHolding(d.rode/d.height, d.rules.Uplift)/upliftHolding((d.rode+f.length)/d.height, d.rules.Uplift)
	for back := 1; back < n; back++ {
		if d.calmed(back) > d.calmed(top) {
			top = back
		}
	}
	return top + 1, explained >= threshold(stay, d.rules.DeclineShare, 1/d.rules.StaySlope)*fell/(f.mean+fell/2)
}

// upliftHolding is what an anchor holds at a scope, as a share of what it holds
// under a level line: cos a (1 - u sin a), with a the angle of a straight line at
// the bottom, sin a = 1/scope. The cosine turns tension into level pull, the rest
// is what the line's lift takes away. With u = 1.8 it gives 0.90, 0.76 and 0.65
// of scope 10 at scopes 7, 5 and 4; the rule of thumb of small craft is 0.91, 0.77
// and 0.67 (from memory). It is no more than that: soil and anchor are not in it.
func upliftHolding(scope, u float64) float64 {
	sin := min(1/scope, 1)
	return max(math.Sqrt(1-sin*sin)*(1-u*sin), 0.02)
}

// isEmbedding needs no level, but tells from the take-up by D where that is known,
// and is sure of it from the level of dragging on: without D only a rise that no
// longer gets steeper counts.
func (d *PhaseDetector) isEmbedding(stay bool) (int, bool) {
	n := cellsIn(d.rules.EmbedLength)
	if d.have() < n {
		return 0, false
	}
	f, newest := d.fit(n), d.fit(n/2)
	if f.slope <= threshold(stay, d.rules.EmbedSlope, 1/d.rules.StaySlope)*d.peak || !f.clear(threshold(stay, clearOfScatter, 0.5)) ||
		newest.slope <= threshold(stay, d.rules.EmbedSlope/2, 1/d.rules.StaySlope)*d.peak || !stay && !newest.clear(clearOfScatter) {
		return 0, false
	}
	if d.dead == 0 {
		if older := 2*f.slope - newest.slope; !stay && newest.slope > 1.5*older { // about the older half's slope
			return 0, false
		}
		return n, true
	}
	if d.mean(min(4, n)) <= threshold(stay, d.weights(d.rules.DragLevel), 1/d.rules.StayLevel) || d.reset {
		return 0, false
	}
	back := 1
	for back < n && d.calmed(back) > d.dead { // the take-up ends at D
		back++
	}
	return back, true
}

// isPlateau needs the dead-weight level: without it nobody can tell a plateau
// from a weight being dragged.
func (d *PhaseDetector) isPlateau(stay bool) (int, bool) {
	n := cellsIn(d.rules.PlateauLength)
	if d.dead == 0 || d.have() < n {
		return 0, false
	}
	f := d.fit(n)
	return d.risen(n), f.mean > threshold(stay, d.weights(d.rules.EngagedLevel), 1/d.rules.StayLevel) &&
		math.Abs(f.slope) < threshold(stay, d.rules.PlateauSlope, d.rules.StaySlope)*f.mean &&
		f.scatter < threshold(stay, d.rules.PlateauScatter, d.rules.StayLevel)*f.mean &&
		f.raw < threshold(stay, 1.5*d.rules.PlateauScatter, d.rules.StayLevel)*f.mean // a swell as large hides what it is
}

// risen is the newest n cells less those at their beginning in which tension still
// rose as it embeds, read by half metres.
func (d *PhaseDetector) risen(n int) int {
	const block = 10
	for n >= 3*block && d.sum(n-2*block, block)-d.sum(n-block, block) > d.rules.EmbedSlope*block*phaseCell*d.peak*block {
		n -= block
	}
	return n
}

// isSawTooth lasts until no new wave has come for the length of two.
func (d *PhaseDetector) isSawTooth(stay bool) (int, bool) {
	s, ok := d.sawTooth()
	if !ok || d.front-s.to.x > 2*s.wave {
		return 0, false
	}
	if stay {
		d.told.sawTooth(s)
		d.sawn = s.to.t
	}
	return int((d.front - s.from.x) / phaseCell), true
}

// tellSawTooth says that one begins, if it is not the last one that goes on.
func (d *PhaseDetector) tellSawTooth() {
	s, _ := d.sawTooth()
	d.told.sawTooth(s)
	if s.from.t >= d.sawn {
		d.event(PhaseEvent{Kind: EventSawTooth, T: s.from.t, X: Length(s.from.x)})
	}
	d.sawn = s.to.t
}

// isNotMoving needs the rode's stiffness.
func (d *PhaseDetector) isNotMoving(stay bool) (int, bool) {
	n := max(cellsIn(d.rules.StiffLength), d.swellCells)
	if d.dead == 0 || d.have() < n {
		return 0, false
	}
	stiff := 0.0
	for i := range n {
		if d.at(i).stiff == 0 {
			return 0, false
		}
		stiff += d.at(i).stiff / float64(n)
	}
	return n, d.mean(n) > d.weights(d.rules.EngagedLevel) && d.fit(n).slope > threshold(stay, d.rules.StiffSlope, 1/d.rules.StayLevel)*stiff
}

// isSnag is the same after the anchor has travelled.
func (d *PhaseDetector) isSnag(stay bool) (int, bool) {
	if !(d.travel >= float64(d.rules.SnagTravel)) && !stay {
		return 0, false // a travel that is not known is none
	}
	return d.isNotMoving(stay)
}

// isResetting is a rise after a breakout, from what a weight gives.
func (d *PhaseDetector) isResetting(stay bool) (int, bool) {
	n := cellsIn(d.rules.SlackLength)
	if !d.broken || d.dead == 0 || d.have() < n {
		return 0, false
	}
	f := d.fit(n)
	return n, d.mean(min(4, n)) > threshold(stay, d.weights(d.rules.EngagedLevel), 1/d.rules.StayLevel) &&
		(stay || f.slope > 0 && f.clear(clearOfScatter))
}

// isReset holds from the re-set on until something more is known of it.
func (d *PhaseDetector) isReset(stay bool) (int, bool) {
	now := d.calmed(0)
	if !d.reset || now > d.best || now < d.shareOf(threshold(stay, d.rules.ResetShare, 1/d.rules.StayLevel), d.best) {
		d.reset = d.reset && now <= d.best
		return 0, false
	}
	return 1, true
}

// isBreakout goes on for the length in which breakouts happen, and a while after a
// late one was said.
func (d *PhaseDetector) isBreakout(stay bool) (int, bool) {
	f, long := &d.fall, float64(d.rules.BreakLength)
	return 0, stay && d.broken && (d.front-f.topX < long || d.front-f.saidX < long/3)
}
