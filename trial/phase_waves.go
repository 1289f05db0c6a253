package trial

import "math"

// turnRing is how many turning points are kept: some twenty waves.
const turnRing = 40

// turnShare is by how much tension must turn to make a turning point, of the
// mean of both: above noise, below the least swing of a saw-tooth.
const turnShare = 0.1

// turning is a highest or lowest point of tension by time.
type turning struct {
	t       int64
	x, mean float64
	drop    int64 // ns, of a low of a tooth: the middle half of the fall to it took so long; 0 not known
}

// turns follows the swings of tension, in a zigzag.
type turns struct {
	ring   [turnRing]turning // alternately low and high
	n      int
	up     bool    // rising since the newest
	end    turning // furthest since the newest
	begun  bool
	turned int64 // ns, when the newest was seen; 0 none
}

func (z *turns) at(i int) turning { return z.ring[(z.n-1-i)%turnRing] }

// A saw-tooth is read from means over 1.5 cm hauled: a slow winch would show noise
// as teeth, and one that stands has none. Common practice, no source.
const (
	toothStep  = 0.015 // m
	toothLeast = 0.15  // m, the shortest wave: waves of 0.2 to 1 m
	toothMost  = 4.0   // longest to shortest of the waves
	toothWorn  = 0.85  // what such a mean leaves of a swing
	// The middle half of a fall, of a wave, where the whole may be all of SawFall of
	// its rise: an eighth of the wave against the sixth that a sine has.
	toothMiddle = 0.45
	toothShare  = 0.6 // of the waves must be teeth: a swell or noise is one here and there

	// Those two hold where a sample comes every 0.3 s or faster. Of a slower box,
	// whose noise no mean takes out, all waves must be whole teeth.
	toothFine = 3 * second / 10
	toothTime = 1.5 // by how much that may be more than longest to shortest in time: else they keep time, not length
)

func (d *PhaseDetector) worn() (swing, share float64) {
	if d.every <= toothFine {
		return toothWorn, toothShare
	}
	return 1, 1
}

// turnAt follows the swings twice: all of them, and those of a saw-tooth.
func (d *PhaseDetector) turnAt(b bin) {
	worn, _ := d.worn()
	d.tooth.sum += b.mean
	d.tooth.n++
	if d.tooth.n == 1 {
		d.tooth.t = b.t
	}
	if b.x-d.tooth.x >= toothStep {
		if d.teeth.follow(bin{mean: d.tooth.sum / d.tooth.n, t: d.tooth.t, x: b.x}, worn*d.rules.SawSwing) && d.teeth.up {
			d.teeth.ring[(d.teeth.n-1)%turnRing].drop = d.dropTime(d.teeth.at(1), d.teeth.at(0))
		}
		d.tooth.sum, d.tooth.n, d.tooth.x = 0, 0, b.x
	}
	if !d.turns.follow(b, turnShare) {
		return
	}
	if w := d.turns.swell(); w > 0 {
		d.swell, d.swellAt = w, b.t
	} else if b.t-d.swellAt > swellLasts {
		d.swell = 0
	}
}

// dropTime is how long the middle half of a fall took, read from the bins; 0: they no
// longer go back so far. Ground that is rough as well rounds the ends of a tooth:
// it hangs at its height before it lets go, or at its foot before it grabs. The
// middle is still at once.
func (d *PhaseDetector) dropTime(high, low turning) int64 {
	upper, lower := low.mean+0.75*(high.mean-low.mean), low.mean+0.25*(high.mean-low.mean)
	foot := int64(0)
	for i := range d.haveBins() {
		switch b := d.binAt(i); {
		case b.t < high.t-second:
			return 0
		case b.t > low.t+second:
		case b.mean <= lower:
			foot = b.t
		case b.mean >= upper && foot != 0:
			return foot - b.t
		}
	}
	return 0
}

// follow tells of a turn by that share of the mean of both ends.
func (z *turns) follow(b bin, share float64) bool {
	now := turning{t: b.t, x: b.x, mean: b.mean}
	if !z.begun {
		z.begun, z.end, z.up = true, now, true
		return false
	}
	if further := b.mean > z.end.mean; further == z.up && b.mean != z.end.mean {
		z.end = now
		return false
	}
	if b.mean == z.end.mean || math.Abs(b.mean-z.end.mean) < share*(math.Abs(b.mean)+math.Abs(z.end.mean))/2 {
		return false
	}
	z.ring[z.n%turnRing] = z.end
	z.n++
	z.turned = b.t
	z.up, z.end = !z.up, now
	return true
}

// Waves of a swell: as many in a row, of about one length in time, falling as
// they rise. 3 to 15 s covers wind sea and swell; common practice, no source.
const (
	swellWaves  = 3
	swellLeast  = 15 * second / 10
	swellMost   = 20 * second
	swellSpread = 1.6         // longest to shortest
	swellLasts  = 30 * second // a swell that is disturbed goes on for so long
	swellSkew   = 0.4         // the shorter of rise and fall, of the longer, least
	swellUneven = 1.7         // greatest to smallest of its swings: more is a swell on something else
)

// swell is the mean time of a wave; 0: no swell. It is judged at each turn.
func (z *turns) swell() int64 {
	if z.n < 2*swellWaves+1 {
		return 0
	}
	least, most := int64(math.MaxInt64), int64(0)
	low, high := math.Inf(1), 0.0
	for k := range swellWaves {
		a, b, c := z.at(2*k), z.at(2*k+1), z.at(2*k+2)
		least, most = min(least, a.t-c.t), max(most, a.t-c.t)
		one, other := float64(a.t-b.t), float64(b.t-c.t)
		if min(one, other) < swellSkew*max(one, other) {
			return 0
		}
		one, other = math.Abs(a.mean-b.mean), math.Abs(b.mean-c.mean)
		low, high = min(low, one, other), max(high, one, other)
	}
	if high > swellUneven*low || least < swellLeast || most > swellMost || float64(most) > swellSpread*float64(least) {
		return 0
	}
	return (z.at(0).t - z.at(2*swellWaves).t) / swellWaves
}

// calm tells that no swing has been seen for a while, and would have been.
func (d *PhaseDetector) calm(t int64) bool {
	z, quiet := &d.turns, int64(d.rules.Calm)
	last := d.begun
	switch {
	case z.n > 0 && z.up:
		last = z.turned
	case z.n > 1: // a fall that is still going on is no swing yet
		last = z.at(1).t
	}
	return t-last > quiet
}

// swellLength is a wave of the swell in cells at the present speed; 1: none.
func (d *PhaseDetector) swellLength() int {
	if d.swell == 0 || d.n < 2 || d.binAt(0).t-d.turns.turned > swellLasts {
		return 1
	}
	k := min(d.have(), 20) - 1
	if k < 1 {
		return 1
	}
	dt := d.at(0).t - d.at(k).t
	if dt <= 0 {
		return 1
	}
	return min(max(int(math.Round(float64(d.swell)/(float64(dt)/float64(k)))), 1), 30)
}

// saw is the saw-tooth the newest turning points show.
type saw struct {
	from  turning // its first low
	to    turning // its last low
	wave  float64 // m hauled, mean
	swing float64 // share of the mean, mean
}

// sawTooth needs the dead-weight level: the lows must be above what a weight
// gives. A wave goes from a low over a high to the next low. Its fall is compared
// by time, which is finer than the line; with the winch standing a wave has no
// length, and is none. If the speed has changed under way, the waves must not
// keep their time better than their length.
func (d *PhaseDetector) sawTooth() (s saw, ok bool) {
	z, count := &d.teeth, int(d.rules.SawCount)
	first := 0
	if z.n > 0 && !z.up { // the newest is a high
		first = 1
	}
	if d.dead == 0 || min(z.n, turnRing) < first+2*count+1 {
		return s, false
	}
	s.to = z.at(first)
	var leastX, mostX, leastT, mostT = math.Inf(1), 0.0, math.Inf(1), 0.0
	n, waves, seen := 0, 0, 0
	worn, part := d.worn()
	fine := d.every <= toothFine && d.swell == 0 // in noise and swell the whole fall must be short
	for i := first; i+2 < min(z.n, turnRing); i += 2 {
		low, high, before := z.at(i), z.at(i+1), z.at(i+2)
		mean := (high.mean + (low.mean+before.mean)/2) / 2
		swing := high.mean - low.mean
		rise, fall := float64(high.t-before.t), float64(low.t-high.t)
		long := low.x - before.x
		if s.to.x-before.x > float64(d.rules.SawSpan) || before.t < d.begun || min(low.mean, before.mean) <= d.weights(d.rules.EngagedLevel) {
			break
		}
		seen++
		sudden := fine && low.drop > 0 && float64(low.drop) <= d.rules.SawFall*toothMiddle*(rise+fall)
		if swing < worn*d.rules.SawSwing*mean || fall > d.rules.SawFall*rise && !sudden || long < toothLeast {
			continue
		}
		leastX, mostX = min(leastX, long), max(mostX, long)
		leastT, mostT = min(leastT, rise+fall), max(mostT, rise+fall)
		s.from, s.swing = before, s.swing+swing/mean
		n, waves = n+1, seen
	}
	if n < count || float64(n) < part*float64(waves) {
		return s, false
	}
	if mostX > toothMost*leastX || mostX/leastX > toothTime*mostT/leastT {
		return s, false
	}
	s.wave, s.swing = (s.to.x-s.from.x)/float64(waves), s.swing/float64(n)
	return s, true
}
