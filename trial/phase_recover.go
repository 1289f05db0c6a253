package trial

import "math"

// recoveryState is what is known of the recovery. It goes forward only, unless
// line is given out again or the anchor grips once more.
type recoveryState struct {
	peak   float64 // N, highest while breaking out, over a second
	top    float64 // N, highest of all
	loaded bool    // breaking out has begun
	free   bool    // aweigh
}

// comesUp tells whether the line is so short that the anchor is pulled up.
func (d *PhaseDetector) comesUp() bool {
	return d.rode > 0 && d.height > 0 && d.rode <= d.rules.UprightScope*d.height
}

// recover names the phases of recovery, by time: the winch waits in them. They
// need RodeOut and Height; a load needs the dead-weight level. Sinking while the
// winch waits is no failure: breaking out goes on until the anchor is free.
func (d *PhaseDetector) recover(b bin) {
	c, r := &d.rec, &d.rules
	if d.fall.open() || d.fall.state == fallBroken {
		return
	}
	now := d.lately(d.aWave(second))
	band := float64(r.UprightBand)
	switch {
	case !d.comesUp():
		if d.rode == 0 || d.height == 0 || d.rode > r.UprightScope*r.StayLevel*d.height {
			*c = recoveryState{}
			d.name(d.slackOr(now, Unclear), b.t, b.x)
		}
		return
	case c.free && (c.peak == 0 || now < r.ResetShare*c.peak || d.rode < d.height-band):
		return // it stays aweigh, up and down with the vessel
	case c.free:
		c.free = false // it grips again
	}
	if d.rode < d.height-band {
		d.aweigh(c.peak, b.t, b.x)
		return
	}
	if d.dead > 0 && now > r.EngagedLevel*d.dead {
		c.loaded = true
	}
	if c.loaded {
		c.peak, c.top = max(c.peak, now), max(c.top, b.mean)
	}
	found := d.slackOr(now, Unclear)
	switch {
	case c.loaded:
		found = BreakingOut
	case d.rode <= d.height+band, d.dead > 0 && now > r.DragLevel*d.dead, d.phase == UpAndDown && d.rode <= d.height*r.ShortStayScope:
		found = UpAndDown
	case d.rode <= threshold(d.phase == ShortStay, r.ShortStayScope, 1.05)*d.height:
		found = ShortStay
	}
	if d.fall.state == fallNone {
		d.name(found, b.t, b.x)
	}
}

func (d *PhaseDetector) slackOr(now float64, other Phase) Phase {
	if d.bare > 0 && now < threshold(d.phase == Slack, d.rules.SlackLevel, d.rules.StayLevel)*d.bare {
		return Slack
	}
	return other
}

// aweigh says that the anchor is off the bottom, and what it came off at.
func (d *PhaseDetector) aweigh(from float64, t int64, x float64) {
	if d.rec.free {
		return
	}
	d.rec.free, d.rec.loaded = true, false
	d.rec.peak = max(d.rec.peak, from)
	d.name(Aweigh, t, x)
	d.event(PhaseEvent{Kind: EventAweigh, T: t, X: Length(x), From: Force(max(d.rec.top, from)), To: Force(d.lately(second)), Cause: AnchorMoved})
}

// BurialError is how well the parts of a burial estimate are known, m each.
type BurialError struct{ Depth, Count, Lead Length }

// DefaultBurialError: a sounder under the vessel, a count over the whole length,
// a lead that is not quite vertical; together 0.4 m. Common practice, no source.
var DefaultBurialError = BurialError{Depth: 0.2, Count: 0.3, Lead: 0.2}

// Burial is how deep an anchor lay, estimated at up and down.
type Burial struct {
	Depth    Length // of what the line was measured to, m; negative: it cannot have been so
	Band     Length // it may be so much more or less
	Resolved bool   // the depth is more than the band; else say "not resolved"
}

// BurialAtUpAndDown estimates the burial from the line out beyond the fairlead
// when the line was up and down, the height of the fairlead above the bottom then,
// and what of the line is not burial: the roller's geometry, and the shank's
// length if it was hauled to the shackle. All in m. Inputs that are not finite, or
// no line out or height, give nothing resolved.
func BurialAtUpAndDown(rodeOut, height, between Length, e BurialError) Burial {
	band := Length(math.Sqrt(float64(e.Depth*e.Depth + e.Count*e.Count + e.Lead*e.Lead)))
	depth := rodeOut - height - between
	if !finite(float64(depth)) || !finite(float64(band)) || rodeOut <= 0 || height <= 0 {
		return Burial{Band: band}
	}
	return Burial{Depth: depth, Band: band, Resolved: depth > band}
}
