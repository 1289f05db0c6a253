package trial

// standing is what the tension does while the winch stands. There is no length
// then: it is judged by time. A fall is relaxing, a rise is the vessel: an anchor
// does not pull.
type standing struct {
	on     bool
	level  float64 // N, when the winch stopped
	low    float64 // N, lowest since, or since the vessel's last rise
	high   float64 // N, highest of that rise
	vessel bool    // rising
	fell   bool    // it has lost the least share of a relaxing
	before Phase
}

// judgeStand is asked after every bin, in stages other than recovery.
func (d *PhaseDetector) judgeStand(b bin) {
	if d.heard-d.moved < int64(d.rules.Standing) || d.fall.state != fallNone {
		return
	}
	s, now := &d.stand, d.lately(d.aWave(2*second))
	if !s.on {
		*s = standing{on: true, level: d.levelAt(d.moved), low: now, before: d.phase}
	}
	share := d.rules.VesselShare * max(s.level, s.low)
	switch {
	case s.vessel:
		s.high = max(s.high, now)
		if now <= s.high-share {
			s.vessel, s.fell, s.low = false, true, now
		}
	default:
		s.low = min(s.low, now)
		s.fell = s.fell || now <= (1-d.rules.RelaxShare)*s.level
		if now >= s.low+share {
			s.vessel, s.high = true, now
		}
	}
	found := Unclear
	switch {
	case d.bare > 0 && now < threshold(d.phase == Slack, d.rules.SlackLevel, d.rules.StayLevel)*d.bare:
		found = Slack
	case s.vessel, d.paying():
	case s.fell:
		found = Relaxing
	case s.before == Plateau || s.before == Dragging || s.before == NotSet:
		found = s.before // it stays level
	}
	if found == Relaxing && d.phase == s.before {
		d.name(Relaxing, d.moved, d.movedX)
		return
	}
	d.name(found, b.t, b.x)
}

// levelAt is the tension over the second, or the wave, before a time.
func (d *PhaseDetector) levelAt(t int64) float64 {
	sum, n, long := 0.0, 0.0, d.aWave(second)
	for i := range d.haveBins() {
		if b := d.binAt(i); b.t <= t && b.t > t-long {
			sum += b.mean
			n++
		}
	}
	if n == 0 {
		return d.binAt(d.haveBins() - 1).mean
	}
	return sum / n
}

// restart is told that line comes in again: what was level before goes on, until
// the rules have seen more.
func (d *PhaseDetector) restart() {
	if !d.stand.on {
		return
	}
	before := d.stand.before
	d.stand = standing{}
	d.wait.sum, d.wait.n = 0, 0
	if before == Relaxing {
		before = Unclear
	}
	d.name(before, d.heard, d.x)
}
