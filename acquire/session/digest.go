package session

import (
	"fmt"
	"hash/fnv"
	"math"
)

// Digest is a checksum over everything the fold holds, floats by their bits: if
// it agrees, live run and replay are in the same state.
func (c *Core) Digest() uint64 {
	h := fnv.New64a()
	bits := func(f float64) uint64 { return math.Float64bits(f) }
	ts, hs, now := &c.tension, &c.haul, c.reading()
	fmt.Fprintln(h, c.t, bits(float64(ts.now)), bits(float64(ts.indicated)), ts.over, ts.at, bits(float64(ts.biggest())),
		bits(ts.slope.perSecond(c.t)), hs.counts, hs.hasCounts, bits(float64(hs.payout)), hs.said, hs.hasPayout, hs.began,
		bits(float64(hs.depth)), hs.hasDepth, hs.at, bits(float64(hs.x)), bits(float64(hs.rodeOut)), bits(hs.scope), hs.hasScope,
		bits(hs.speed.perSecond(c.t)), c.relay, c.ended, c.record)
	fmt.Fprintln(h, ts.zero.Known, bits(float64(ts.zero.Force)), ts.zero.At, now.N, bits(float64(now.Mean)), bits(float64(now.Low)), bits(float64(now.High)),
		c.fix.reversed, c.fix.unit, c.fix.open, c.wall.last.UnixNano(), c.wall.lastT, c.wall.stepped)
	m := &hs.marks
	fmt.Fprintln(h, hs.from.counts, bits(float64(hs.from.x)), m.ref.counts, bits(float64(m.ref.x)), m.hasRef, m.refMark, m.passed, m.passedAt,
		bits(m.scale), bits(m.off))
	fmt.Fprintln(h, c.carry.state, c.short)
	if c.cameUp != nil {
		fmt.Fprintln(h, *c.cameUp)
	}
	for _, s := range c.streams() {
		fmt.Fprintln(h, s.state, s.name, s.reason, s.lastAt, s.heardAt, s.good, s.bad, s.badThen, s.quiet, s.late, s.isLate)
	}
	c.aids.digest(h)
	c.soak.digest(h)
	c.pin.digest(h)
	c.cells.digest(h)
	fmt.Fprintln(h, hs.way)
	for _, ins := range c.head.Trial.Instruments() {
		if w := c.wires[ins.Table]; w != nil {
			fmt.Fprintln(h, w.open, w.recv.State())
			for i := range w.users {
				fmt.Fprintln(h, w.users[i].trouble, w.users[i].toldAt)
			}
		}
	}
	guard := c.guard.State()
	c.bits = guard.AppendBits(c.bits[:0])
	h.Write(c.bits)
	return h.Sum64()
}
