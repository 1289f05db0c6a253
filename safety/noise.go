package safety

import (
	"math"
	"slices"
)

// The rule for a number that has become noisy, as by a wet plug, a flat supply or a
// screen that has come off: what is left of it when all that a tension does is
// taken away is far more than it was before arming. Common practice, no source.
//
// Second differences leave nothing of a tension that stands, rises evenly or
// swings slowly. Of a steady swing, each of them and the one before the last add up
// to a fixed multiple of the one between: that, too, is taken away. The lower third of
// what is left does not see jerks, breakouts and the corners of a saw-tooth.
const (
	noiseKept  = 48         // numbers
	noiseEvery = int64(8e6) // ns between two that are kept, at least: the noise of a plug is the same at any rate
	noiseGap   = int64(4e8) // ns without one: begin anew; of fewer in a second a tension does too much between
	noiseLook  = 5          // judged each so many
	noiseFor   = int64(1e9) // ns that it must last
	noiseOld   = 0.25       // what one look before arming weighs in what the noise was

	noiseTimes = 5        // what it was
	noiseRate  = 0.1      // s from one number to the next: of a slower box so many times more, for a tension does more between
	noiseLeast = ZeroBand // of the range
	noiseMost  = 0.02     // of the range: noisy, whatever it was
	noiseSteps = 2        // display steps: what a coarse box makes by itself

	// noiseWhite is the multiple at which least is left of noise without any order: 10/3
	// of its square. A third of normal numbers lie within 0.4307 of their deviation.
	noiseWhite = -4.0 / 3
	noiseScale = 0.4307 * 1.8257418583505538
)

// noise is what must be remembered of the load cell's numbers to tell their noise.
type noise struct {
	v     [noiseKept]float64 // the newest last
	n     uint8
	look  uint8 // numbers until it is judged
	at    int64 // of the last
	since int64 // too much since; -1 it is not
	was   float64
	known bool // was is the noise before arming, or of the first look since
}

func (n *noise) forget() { n.n, n.since = 0, -1 }

// add takes a number and says whether it is time to look.
func (n *noise) add(t int64, v float64) (look bool) {
	switch {
	case n.n > 0 && t-n.at > noiseGap:
		n.forget()
	case n.n > 0 && t-n.at < noiseEvery:
		return false
	}
	copy(n.v[:], n.v[1:])
	n.v[noiseKept-1], n.at = v, t
	if n.n < noiseKept {
		n.n, n.look = n.n+1, 0
	}
	if n.look > 0 {
		n.look--
		return false
	}
	n.look = noiseLook - 1
	return n.n == noiseKept
}

// deviation is that of the noise in the numbers kept, N.
func (n *noise) deviation() float64 {
	var d [noiseKept - 2]float64
	for i := range d {
		d[i] = n.v[i+2] - 2*n.v[i+1] + n.v[i]
	}
	var k [len(d) - 2]float64
	some := k[:0]
	for i := 2; i < len(d); i++ {
		if d[i-1] != 0 {
			some = append(some, (d[i]+d[i-2])/d[i-1])
		}
	}
	left := leftOf(&d, noiseWhite)
	if len(some) > 0 {
		left = min(left, leftOf(&d, max(-2, min(part(some, 2), 2))))
	}
	return left / noiseScale
}

// leftOf is what the lower third is left below of second differences when a swing of
// that multiple is taken away.
func leftOf(d *[noiseKept - 2]float64, multiple float64) float64 {
	var left [len(d) - 2]float64
	for i := range left {
		left[i] = math.Abs(d[i+2] + d[i] - multiple*d[i+1])
	}
	return part(left[:], 3)
}

// part sorts a few numbers and returns the one that a half, a third, ... of them lie
// below.
func part(v []float64, of int) float64 {
	slices.Sort(v)
	return v[len(v)/of]
}

// judgeNoise looks for noise in the tension that the cell feels.
func (g *Guard) judgeNoise(t int64, felt float64, ev *Events) {
	s, rng := &g.s, float64(g.cfg.Range)
	if s.present[LoadUnit] == atLimit { // in another unit noise is another number, too
		s.noise.forget()
		return
	}
	if !s.noise.add(t, felt) || !(rng > 0) {
		return
	}
	now := s.noise.deviation()
	limit := noiseMost * rng
	if s.EverArmed {
		limit = min(limit, max(noiseLeast*rng, noiseTimes*s.noise.was)*max(1, s.Load.Period/noiseRate))
	}
	limit = max(limit, noiseSteps*float64(g.step()))
	switch n := &s.noise; {
	case !(now < limit): // that is no measure of a quiet cell
	case !n.known:
		n.was, n.known = now, true
	case !s.EverArmed:
		n.was += (now - n.was) * noiseOld
	}
	unit := max(s.noise.was, noiseLeast/100*rng) // a cell at rest may show one number
	switch {
	case !(now >= limit):
		s.noise.since = -1
		if now < limit/2 {
			g.lower(t, LoadNoisy, absent, now/unit, ev)
		}
	case s.noise.since < 0:
		s.noise.since = t
	case t-s.noise.since >= noiseFor:
		g.raise(t, LoadNoisy, atLimit, now/unit, limit/unit, Nobody, ev)
	}
}
