package trial

import (
	"math"
	"time"
)

// PhasesCame is what a [PhaseDetector] knows of its haul series, for a pull that
// breaks off and goes on in another log: all that a break leaves it, see
// [PhaseDetector]. Nothing in it is a time or a place, so it holds by another clock
// and where line hauled is counted anew.
type PhasesCame struct {
	Stage   Stage
	Tension [4]float64    // N, by [PhasesCameKeys]; 0 none
	Wave    time.Duration // of the swell there was before the last fall; 0 none
	Is      uint16        // bit i: that of [PhasesCameWords]
}

// PhasesCameKeys are the names of its tensions in a record: the running peak, the
// one there was at the breakout, and of recovery the highest over a second and the
// highest of all.
var PhasesCameKeys = [4]string{"peak_n", "best_n", "out_n", "out_top_n"}

// PhasesCameWords are the names of what it is, in the order of the bits of Is.
var PhasesCameWords = [...]string{"rose", "held", "engaged", "broken", "re-set", "weak", "not-set", "calm", "loaded", "aweigh"}

// flags are what the words stand for, in their order.
func (s *haulSeries) flags() [len(PhasesCameWords)]*bool {
	return [...]*bool{&s.rose, &s.hasHeld, &s.engaged, &s.broken, &s.reset, &s.weak, &s.unset, &s.fall.calm, &s.rec.loaded, &s.rec.free}
}

func (s *haulSeries) tensions() [len(PhasesCameKeys)]*float64 {
	return [...]*float64{&s.peak, &s.best, &s.rec.peak, &s.rec.top}
}

// Came is what another detector needs to go on from here; not ok where no series
// goes on. A fall that nobody had decided yet is left behind, as by any break.
func (d *PhaseDetector) Came() (c PhasesCame, ok bool) {
	c.Stage = d.stage
	if d.goesOn != StandBy {
		c.Stage = d.goesOn
	}
	if !c.Stage.Hauls() {
		return PhasesCame{}, false
	}
	c.Wave = time.Duration(d.fall.wave)
	for i, v := range d.tensions() {
		c.Tension[i] = *v
	}
	for i, is := range d.flags() {
		if *is {
			c.Is |= 1 << i
		}
	}
	return c, true
}

// GoOn takes over what another detector had. It goes on when the same stage is
// entered, with no phase named and every rule waiting for its full length. With
// numbers that cannot be it begins anew.
func (d *PhaseDetector) GoOn(c PhasesCame) {
	for _, v := range c.Tension {
		if !(v >= 0 && v <= tensionMost) {
			return
		}
	}
	if !c.Stage.Hauls() || c.Wave < 0 || c.Wave > time.Minute || int(c.Is)>>len(PhasesCameWords) != 0 {
		return
	}
	d.goesOn, d.haulSeries = c.Stage, haulSeries{}
	d.fall.wave, d.fall.seen = int64(c.Wave), math.NaN()
	for i, v := range d.tensions() {
		*v = c.Tension[i]
	}
	for i, is := range d.flags() {
		*is = c.Is&(1<<i) != 0
	}
}
