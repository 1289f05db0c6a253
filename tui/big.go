package tui

import (
	"time"

	"hawse/acquire/session"
	"hawse/trial"
)

// redraw is how often the big number changes: faster than that nobody reads it.
const redraw = 250 * time.Millisecond

// bigNumber is the tension in big digits: the largest valid sample since it was
// last drawn, never a mean, so that no peak falls between two of them. A new
// order or an unknown tension does not wait for its turn.
type bigNumber struct {
	shown  trial.Force
	since  trial.Force // the largest since it was shown
	has    bool        // since means something
	at     time.Time   // when it was shown
	t      int64       // the record it was shown at
	fallow bool        // nothing is shown
}

// next takes the newest snapshot at a moment of the screen's own clock.
func (b bigNumber) next(now time.Time, was, is *session.Snapshot) bigNumber {
	if !is.Tension.Known {
		return bigNumber{fallow: true}
	}
	if v := is.Tension.Big; !b.has || v > b.since {
		b.since, b.has = v, true
	}
	due := b.at.IsZero() || b.fallow || now.Sub(b.at) >= redraw || is.T < b.t
	if was != nil && is.Guard.Order != was.Guard.Order {
		due = true
	}
	if due {
		return bigNumber{shown: b.since, at: now, t: is.T}
	}
	return b
}
