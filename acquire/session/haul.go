package session

import (
	"math"

	"hawse/acquire"
	"hawse/safety"
	"hawse/trial"
)

// haulState is the line as counted. Line hauled is measured from a fix: where
// the rode out was said, or the last mark on the rode that passed.
type haulState struct {
	counts    int64
	hasCounts bool
	payout    trial.Length // rode out as it was said last: line hauled is counted from there
	said      bool         // it has been said once
	hasPayout bool         // and still holds: x and rodeOut are known
	from      fix
	marks     marks
	began     bool // the last count was the first of a box that began anew
	depth     trial.Length
	hasDepth  bool
	at        int64
	x         trial.Length
	rodeOut   trial.Length
	scope     float64
	scope2    float64
	hasScope  bool
	speed     slope
	way       oneWay
}

// fix is a count at which line hauled is known.
type fix struct {
	counts int64
	x      trial.Length
}

// What a count may change by from one to the next, beyond which it is not
// believed: common practice, no source. No winch of a workboat hauls as fast.
const (
	fastestLine = 2.5   // m/s
	lineLeap    = 0.5   // m
	anewWithin  = 1e9   // ns: a box that begins anew is soon back
	wrap16      = 65536 // counts
)

func (c *Core) lineFrame(frame []byte, bad string) {
	var reading acquire.LineReading
	if bad == "" {
		reading = c.lineDec.Decode(frame)
	}
	good := bad == "" && reading.Kind == acquire.Good
	if good {
		c.line.isLate = c.lateTimes(SrcLine, &c.line, c.t)
	}
	c.line.count(c.t, frame, good)
	if !good {
		c.guard.BadFrame(c.t, safety.LineEncoder, &c.ev)
		return
	}
	c.follow(reading.Counts)
	c.watchWay(reading.Counts)
	c.haul.counts, c.haul.hasCounts, c.haul.at = reading.Counts, true, c.t
	c.measure()
	if c.line.isLate {
		c.haul.speed.reset()
	} else if c.haul.hasPayout {
		c.haul.speed.add(c.t, float64(c.haul.x))
	}
	c.guard.Count(c.t, c.lineNow(), &c.ev)
}

// counted is how much line two counts lie apart, in metres, hauling positive. By
// layers it depends on where they are, which is known once the rode out was said.
func (c *Core) counted(from, to int64) float64 {
	enc := &c.head.Trial.Line
	if (enc.Drum != nil || enc.Layers != nil) && c.haul.said {
		return c.hauledAt(to) - c.hauledAt(from)
	}
	return float64((to-from)*int64(enc.HaulSign)) / enc.PerMetre
}

// follow looks whether the next count can follow from the last one. A box that
// has begun anew, or has run over its 16 bits, goes on from where it was; any
// other jump leaves the rode out unknown until it is said again or a mark
// passes.
func (c *Core) follow(counts int64) {
	h := &c.haul
	if !h.hasCounts || !h.hasPayout {
		return
	}
	perMetre := c.head.Trial.Line.PerMetre
	gap := c.t - h.at
	// In floats: a count may be as large as 64 bits hold.
	jump, may := (float64(counts)-float64(h.counts))/perMetre, fastestLine*float64(gap)/1e9+lineLeap
	atZero := math.Abs(float64(counts))/perMetre <= lineLeap
	can := math.Abs(jump) <= may
	if can && gap > anewWithin && atZero && math.Abs(jump) > lineLeap {
		can = false // after a silence: begun anew, or hauled to just there
	}
	var shift int64
	switch {
	case can:
	case math.Abs(jump+wrap16/perMetre) <= may:
		shift = -wrap16
	case math.Abs(jump-wrap16/perMetre) <= may:
		shift = wrap16
	case atZero && gap <= anewWithin:
		shift = counts - h.counts
	default:
		h.hasPayout, h.marks.hasRef = false, false
		h.x, h.rodeOut = trial.Length(math.NaN()), trial.Length(math.NaN())
		h.speed.reset()
		c.guard.Fault(c.t, safety.LineJumped, true, math.Abs(jump), may, &c.ev)
		return
	}
	if shift != 0 {
		h.from.counts += shift
		h.marks.ref.counts += shift
		h.marks.passedAt += shift
		h.way.from += shift
		c.guard.Fault(c.t, safety.LineReset, true, math.Abs(jump), 0, &c.ev)
	} else if h.began {
		c.guard.Fault(c.t, safety.LineReset, false, 0, 0, &c.ev)
	}
	h.began = shift != 0
}

func (c *Core) lineNow() safety.Line {
	return safety.Line{X: c.haul.x, RodeOut: c.haul.rodeOut, Scope: c.haul.scope, HasX: c.haul.hasPayout, HasS: c.haul.hasScope}
}

// height is that of the fairlead over the bottom, NaN unknown.
func (c *Core) height() trial.Length {
	if !c.haul.hasDepth {
		return trial.Length(math.NaN())
	}
	return c.haul.depth + c.head.Trial.Vessel.Fairlead
}

// measure derives line hauled, rode out and scope from the last count.
func (c *Core) measure() {
	h := &c.haul
	h.hasScope, h.scope, h.scope2 = false, math.NaN(), math.NaN()
	if !h.hasCounts || !h.hasPayout {
		return
	}
	h.x = h.from.x + trial.Length(c.counted(h.from.counts, h.counts)*h.marks.scale)
	h.rodeOut = h.payout - h.x
	if !h.hasDepth {
		return
	}
	// The guard works with the arithmetic scope down to nothing: an error for
	// a rode shorter than the water is deep would hide the number in recovery,
	// where that is the usual case.
	height := h.depth + c.head.Trial.Vessel.Fairlead
	if height > 0 {
		h.scope, h.hasScope = float64(h.rodeOut/height), true
	}
	if h.depth > 0 {
		h.scope2 = float64(h.rodeOut / h.depth)
	}
}
