package trial

import "math"

// Whose a fall was: the anchor's, the vessel's, or nobody can say.

// fastCause is what is known at once of a fall that took about a second. A held
// vessel would have to go faster than it can; where the rode's stiffness is not
// known, one that lay calm before does not jump. told: it is a breakout as far as
// anybody can tell, and not what a vessel may do.
func (d *PhaseDetector) fastCause() (c Cause, told bool) {
	f := &d.fall
	speed, known := d.slackened(f.topT, f.halfT)
	if known && speed > d.rules.VesselSpeed || !known && f.calm {
		return AnchorMoved, true
	}
	return Undecided, !known
}

// slackened is the speed, m/s, of a vessel that let the tension go as it fell between
// two times, where it fell fastest, the anchor still, at the stiffness the rode had
// at each tension; false: that is not known.
func (d *PhaseDetector) slackened(from, to int64) (speed float64, known bool) {
	for i := 1; i < d.haveBins(); i++ {
		newer, older := d.binAt(i-1), d.binAt(i)
		if older.t < from {
			break
		}
		if newer.t > to {
			continue
		}
		if newer.stiff == 0 || older.stiff == 0 {
			return 0, false
		}
		way := (older.mean - newer.mean) * (1/older.stiff + 1/newer.stiff) / 2
		speed, known = max(speed, way/(float64(newer.t-older.t)/1e9)), true
	}
	return speed, known
}

// backCause is whose a fall was that has come back to now, in that much line hauled
// since its lowest; pull is what that line gives at the rode's stiffness, N; false:
// it does not tell.
//
// Line hauled against an anchor that stays gives no more than the rode's stiffness
// times its length, and against one that comes less. What is more, or near it, was
// the vessel's way back.
func (d *PhaseDetector) backCause(now, way, pull float64) (c Cause, none bool) {
	f, r := &d.fall, &d.rules
	least := r.BackStiff
	if f.marked {
		least *= markWorth
	}
	elastic := d.stiff > 0 && now-f.low >= least*pull || way < phaseCreep
	near := way <= float64(r.BackNear)
	switch {
	case near && (elastic || f.marked), f.marked && (elastic || d.stiff == 0) && way < float64(r.BackFar):
		return VesselMoved, true
	case near:
		return Undecided, true
	}
	return Undecided, false
}

// markWorth is how much of the stiffness of the way back is asked for where the
// vessel is known to have moved: one that comes back by and by, while the anchor
// comes a little, does not give all of it. Common practice, no source.
const markWorth = 1.0 / 3

// Moved says how far the vessel has moved towards the anchor by its position, m, and
// how uncertain that is, for the points that follow at once.
func (d *PhaseDetector) Moved(by, u Length) { d.vessel, d.vesselU = float64(by), float64(u) }

// seeVessel takes a way of the vessel towards the anchor, since the top of the fall,
// for a mark of it. As an anchor lets go, the vessel goes the other way.
func (d *PhaseDetector) seeVessel() {
	f := &d.fall
	if ahead := d.binAt(0).vessel - f.seen; ahead >= vesselSure*d.vesselU && d.vesselU > 0 {
		f.marked = true
	}
}

// vesselSure is by how many of its uncertainties a way of the vessel must stand out:
// the difference of two positions is uncertain by 1.4 of them, twice that is 2.8.
const vesselSure = 2 * math.Sqrt2

// markFall holds the marks against the fall under way, and the newest one (t)
// against a fall that is over and was left undecided.
func (d *PhaseDetector) markFall(t int64) {
	f, near := &d.fall, int64(d.rules.MarkTime)
	if f.state != fallNone {
		for i := range min(d.nmarks, len(d.marks)) {
			m := d.marks[i]
			f.marked = f.marked || m >= f.topT-near && m <= max(f.lowT, f.halfT)+near
		}
		return
	}
	e := &f.lastEvent
	if t > 0 && e.Kind == EventFall && e.Cause == Undecided && d.dead > 0 && t >= e.T-near && t <= max(f.lowT, e.T)+near {
		e.Cause = VesselMoved
		d.event(*e)
		d.told.cause(e.T, VesselMoved)
	}
}
