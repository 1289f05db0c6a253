package session

import (
	"fmt"
	"math"
	"slices"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/trial"
)

// sounding is the depth as a sounder tells it, beside the one a person said.
type sounding struct {
	s   stream
	dec *acquire.DepthDecoder

	ring [soundings]struct {
		t int64
		v float64
	}
	n  int   // of them, the newest last
	at int64 // of the last one that was believed; -1 none yet

	refused trial.Length // the last that was not believed, since; NaN none stands
	since   int64
	agree   int // refused ones in a row that agree with each other

	hand    trial.Length // as a person said it; NaN not
	handAt  int64
	byHand  bool         // it is in force: nothing has been sounded since that agrees with it
	asked   trial.Length // by hand, about twice or half the depth in force: not taken until it is said again; NaN none
	askedAt int64
	silent  bool // told
	odd     bool // told that hand and sounder disagree
}

// How a sounder is believed: common practice, no source, but for the median of
// 10 s, which is common on deck too.
const (
	soundings    = 64   // more come in 10 s from no sounder; then the last ones count
	soundedOver  = 10e9 // ns: the median is of so long
	soundedFor   = 30e9 // ns: without a sounding the depth is the last known one
	soundJump    = 1.0  // m: a sounding further off than this, and
	soundShare   = 0.15 // than this share, is not believed
	soundTwice   = 0.12 // as near as this share to twice or half is a double echo
	soundAgain   = 0.5  // m: refused ones so near each other agree
	soundProved  = 20e9 // ns: refused ones that agree for so long are the depth, unless doubled
	soundOddness = 0.5  // m: by so much hand and sounder may differ untold
)

func (d *sounding) begin() {
	nan := trial.Length(math.NaN())
	d.at, d.refused, d.hand, d.handAt, d.asked = -1, nan, nan, -1, nan
}

// now is the median of the last 10 s, NaN if nothing was sounded in them.
func (d *sounding) now(t int64) trial.Length {
	var v [soundings]float64
	n := 0
	for _, s := range d.ring[:d.n] {
		if t-s.t < soundedOver {
			v[n] = s.v
			n++
		}
	}
	if n == 0 {
		return trial.Length(math.NaN())
	}
	slices.Sort(v[:n])
	return trial.Length((v[(n-1)/2] + v[n/2]) / 2)
}

func (d *sounding) push(t int64, v float64) {
	if d.n == soundings {
		d.n = copy(d.ring[:], d.ring[1:])
	}
	d.ring[d.n].t, d.ring[d.n].v = t, v
	d.n++
	d.at = t
}

// depthFrame takes one frame of the sounder. One that is far off the depth so
// far is refused and told: a double echo always, anything else until it has
// stood for a while.
func (c *Core) depthFrame(frame []byte, bad string) {
	d := &c.aids.depth
	var r acquire.DepthReading
	if bad == "" {
		r = d.dec.Decode(frame)
	}
	good := bad == "" && r.Kind == acquire.Good
	d.s.count(c.t, frame, good)
	if !good || math.IsNaN(float64(r.Depth)) {
		return // unknown is not zero
	}
	if d.silent {
		d.silent = false
		c.tell(c.by, "the sounder tells the depth again", text("what", "depth"), text("state", "heard"))
	}
	before := c.haul.depth
	if c.haul.hasDepth && !c.believes(before, r.Depth) {
		return
	}
	if !math.IsNaN(float64(d.refused)) {
		d.refused, d.agree = trial.Length(math.NaN()), 0
		c.tell(c.by, "the sounder is believed again: "+c.length(r.Depth), text("what", "depth"), text("state", "believed"), metres("depth_m", r.Depth))
	}
	d.push(c.t, float64(r.Depth))
	d.byHand = false
	c.setDepth(d.now(c.t))
	c.compareHand()
}

// believes says whether a sounding can follow from the depth so far.
func (c *Core) believes(before, v trial.Length) bool {
	d := &c.aids.depth
	off := math.Abs(float64(v - before))
	if off <= max(soundJump, soundShare*float64(before)) {
		return true
	}
	twice := doubled(before, v)
	first := math.IsNaN(float64(d.refused))
	if first || math.Abs(float64(v-d.refused)) > soundAgain {
		d.since, d.agree = c.t, 0
	}
	d.refused = v
	d.agree++
	if twice == "" && d.agree >= 3 && c.t-d.since >= soundProved {
		d.n = 0 // what was before is another ground
		return true
	}
	if first {
		why := fmt.Sprintf("%s off the %s so far", c.length(trial.Length(off)), c.length(before))
		if twice != "" {
			why = fmt.Sprintf("about %s the %s so far", twice, c.length(before))
		}
		c.tell(c.by, fmt.Sprintf("depth %s of the sounder refused: %s", c.length(v), why),
			text("what", "depth"), text("state", "refused"), metres("depth_m", v), metres("before_m", before))
	}
	return false
}

// doubled says whether a depth is about "twice" or "half" the one before; "" neither.
func doubled(before, v trial.Length) string {
	switch ratio := float64(v / before); {
	case math.Abs(ratio-2) <= 2*soundTwice:
		return "twice"
	case math.Abs(ratio-0.5) <= 0.5*soundTwice:
		return "half"
	}
	return ""
}

// askDepth asks about a depth by hand that is about twice or half the one in force
// while the pull is armed: it would move the scope, and with it an end of the stage,
// at once. Said again within so long it is taken; the water does not do so, but what
// was in force may have been wrong. A log whose head does not say that it is asked is
// folded as it was recorded.
func (c *Core) askDepth(v trial.Length) (refused string) {
	d := &c.aids.depth
	was := d.asked
	d.asked = trial.Length(math.NaN())
	if c.head.asks != asksDepth || !c.haul.hasDepth || !c.guard.State().Armed || v == was && c.t-d.askedAt <= askedFor {
		return ""
	}
	twice := doubled(c.haul.depth, v)
	if twice == "" {
		return ""
	}
	d.asked, d.askedAt = v, c.t
	return fmt.Sprintf("depth not taken yet: %s is about %s the %s in force; if it is so, say it again within %d s", c.length(v), twice, c.length(c.haul.depth), int64(askedFor/1e9))
}

// asksDepth is what the head says of it.
const asksDepth = "depth"

// askedFor is how long a depth that was asked about may be said again, ns: common
// practice, no source.
const askedFor = 60e9

// setDepth puts a depth in force: the scope follows with it.
func (c *Core) setDepth(v trial.Length) {
	c.haul.depth, c.haul.hasDepth = v, true
	c.measure()
	c.judgeDepth(v)
}

// depthByHand notes the depth a person said. It is in force until the sounder
// agrees with it, and what the sounder said before counts no more.
func (c *Core) depthByHand(v trial.Length) {
	d := &c.aids.depth
	d.hand, d.handAt, d.byHand, d.odd = v, c.t, true, false
	d.n, d.refused, d.agree = 0, trial.Length(math.NaN()), 0
}

// compareHand tells that hand and sounder disagree, once for each hand-entered
// depth: the tide may well have moved on since.
func (c *Core) compareHand() {
	d := &c.aids.depth
	off := float64(c.haul.depth - d.hand)
	if math.IsNaN(off) || d.odd || math.Abs(off) <= soundOddness {
		return
	}
	d.odd = true
	c.tell(c.by, fmt.Sprintf("depth by the sounder %s, by hand %s", c.length(c.haul.depth), c.length(d.hand)),
		text("what", "depth"), text("state", "differs"), metres("depth_m", c.haul.depth), metres("hand_m", d.hand))
}

// watchDepth tells that the sounder has been silent: the depth is then the last
// one known. It is looked at where the clock is, once a second.
func (c *Core) watchDepth() {
	d := &c.aids.depth
	if d.at < 0 || d.silent || c.t-d.at < soundedFor {
		return
	}
	if refused := !math.IsNaN(float64(d.refused)); refused && c.t-d.s.lastAt < soundedFor {
		return // it tells one, which is refused and told
	}
	d.silent = true
	c.tell(c.by, "the sounder tells no depth; the last one known stands: "+c.length(c.haul.depth),
		text("what", "depth"), text("state", "silent"), metres("depth_m", c.haul.depth))
}

func text(key, val string) logfmt.Field { return logfmt.Field{Key: key, Val: val} }

func metres(key string, v trial.Length) logfmt.Field {
	return logfmt.Field{Key: key, Val: logfmt.FormatFloat(float64(v))}
}
