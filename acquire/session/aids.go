package session

import (
	"fmt"
	"hash"
	"math"
	"slices"
	"time"

	"hawse/acquire"
	"hawse/trial"
	"hawse/trial/plan"
)

// aids are the instruments that tell of the vessel. No stop depends on them but
// the least scope, whose depth may be the sounder's.
type aids struct {
	depth    sounding
	position track
	heading  struct {
		s   stream
		now trial.Angle // NaN unknown
		at  int64
	}
	clock struct {
		s    stream
		off  time.Duration // satellites ahead of the computer
		has  bool
		told time.Duration
		said bool
	}
	drop    plan.Drop
	hasDrop bool
}

func (c *Core) beginAids() error {
	a, t := &c.aids, c.head.Trial
	if t.Sounder != nil {
		dec, err := acquire.NewDepthDecoder(*t.Sounder)
		if err != nil {
			return fmt.Errorf("depth: %w", err)
		}
		a.depth.dec = dec
	}
	a.depth.begin()
	a.position.begin()
	a.heading.now, a.heading.at = trial.Angle(math.NaN()), -1
	a.depth.s.onFrame, a.position.s.onFrame, a.heading.s.onFrame, a.clock.s.onFrame = c.depthFrame, c.positionFrame, c.headingFrame, c.clockFrame
	c.beginDrop()
	for _, s := range a.streams() {
		s.lastAt, s.heardAt = -1, -1
	}
	return nil
}

func (a *aids) streams() [4]*stream {
	return [...]*stream{&a.depth.s, &a.position.s, &a.heading.s, &a.clock.s}
}

// heldFor is how long a heading or a position is believed without a new one:
// common practice, no source. They come about once a second.
const heldFor = 10e9

func (c *Core) headingFrame(frame []byte, bad string) {
	h := &c.aids.heading
	v := trial.Angle(math.NaN())
	if bad == "" {
		v, bad = acquire.DecodeHeading(*c.head.Trial.Compass, frame)
	}
	if h.s.count(c.t, frame, bad == ""); bad == "" && !math.IsNaN(float64(v)) {
		h.now, h.at = v, c.t
	}
}

// headingNow is NaN unless it is fresh.
func (c *Core) headingNow() trial.Angle {
	if h := &c.aids.heading; h.at >= 0 && c.t-h.at <= heldFor {
		return h.now
	}
	return trial.Angle(math.NaN())
}

// clockTold is by how much the difference of the two clocks must change to be
// told again. A sentence comes up to a second after the time it says: common
// practice, no source.
const clockTold = time.Second

// clockFrame holds the time of satellites against the computer's. In a scaled
// run the two part by design.
func (c *Core) clockFrame(frame []byte, bad string) {
	k := &c.aids.clock
	var at time.Time
	if bad == "" {
		at, bad = acquire.DecodeClock(frame)
	}
	k.s.count(c.t, frame, bad == "")
	if bad != "" || at.IsZero() || c.wall.last.IsZero() || c.head.Scale != 1 {
		return
	}
	k.off, k.has = at.Sub(c.wall.last.Add(time.Duration(c.t-c.wall.lastT))), true
	if d := k.off - k.told; k.said && d < clockTold && d > -clockTold {
		return
	}
	k.said, k.told = true, k.off
	by, side := k.off.Round(100*time.Millisecond), "behind"
	if by < 0 {
		by, side = -by, "ahead of"
	}
	c.tell(c.by, fmt.Sprintf("the computer's clock is %s %s satellite time, as the sentence came", by, side),
		text("what", "satellite-time"), text("off", fmt.Sprint(int64(k.off))))
}

// Aids is what the instruments of the vessel say now.
type Aids struct {
	Depth, Position, Heading, Clock Stream // Src is empty where none is fitted

	Sounded   trial.Length // median of 10 s below the water line; NaN unknown
	SoundedAt int64
	Refused   trial.Length // the last sounding that was not believed; NaN none stands
	Hand      trial.Length // depth as a person said it last; NaN not
	HandAt    int64
	ByHand    bool // the hand-entered one is in force

	Lat, Lon   float64 // of the antenna, degrees; NaN unknown
	Quality    int
	Course     trial.Angle  // heading, rad; NaN unknown
	HasMoved   bool         // what follows is known
	Along      trial.Length // how far the fairlead has moved towards the anchor since the pull began
	Across     trial.Length // and to starboard of that
	Uncertain  trial.Length // of both, one standard deviation
	Drop       Drop
	ClockKnown bool
	ClockOff   time.Duration // satellites ahead of the computer
}

// Aids returns what the instruments of the vessel say.
func (c *Core) Aids() Aids {
	d, p, k := &c.aids.depth, &c.aids.position, &c.aids.clock
	out := Aids{Sounded: d.now(c.t), SoundedAt: d.at, Refused: d.refused, Hand: d.hand, HandAt: d.handAt, ByHand: d.byHand,
		Lat: p.lat, Lon: p.lon, Quality: p.quality, Course: c.headingNow(), ClockKnown: k.has, ClockOff: k.off}
	out.Drop = c.dropNow()
	out.Along, out.Across, out.Uncertain, out.HasMoved = c.moved()
	for i, to := range []*Stream{&out.Depth, &out.Position, &out.Heading, &out.Clock} {
		if src := [...]string{SrcDepth, SrcPosition, SrcHeading, SrcClock}[i]; slices.ContainsFunc(c.head.Trial.Instruments(),
			func(ins trial.Instrument) bool { return ins.Table == src }) {
			*to = c.aids.streams()[i].shot(src, c.t)
		}
	}
	return out
}

// digest adds all that the aids hold.
func (a *aids) digest(h hash.Hash64) {
	bits := func(f float64) uint64 { return math.Float64bits(f) }
	d, p, k := &a.depth, &a.position, &a.clock
	fmt.Fprintln(h, d.n, d.at, bits(float64(d.refused)), d.since, d.agree, bits(float64(d.hand)), d.handAt, d.byHand, bits(float64(d.asked)), d.askedAt, d.silent, d.odd)
	for i := range d.n {
		fmt.Fprintln(h, d.ring[i].t, bits(d.ring[i].v))
	}
	fmt.Fprintln(h, bits(p.lat), bits(p.lon), p.at, p.quality, p.hasZero, bits(p.zero.north), bits(p.zero.east), bits(p.from.north), bits(p.from.east),
		p.hasFrom, bits(p.lead), p.gone, p.told, p.n)
	for i := range p.n {
		fmt.Fprintln(h, p.ring[i].t, bits(p.ring[i].north), bits(p.ring[i].east))
	}
	fmt.Fprintln(h, bits(float64(a.heading.now)), a.heading.at, k.off, k.has, k.told, k.said)
	for _, s := range a.streams() {
		fmt.Fprintln(h, s.state, s.name, s.reason, s.lastAt, s.heardAt, s.good, s.bad)
	}
}
