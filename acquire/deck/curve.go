package deck

import (
	"math"
	"sort"

	"hawse/trial"
)

// point is one row of a table: the tension at a place along the line.
type point struct {
	at trial.Length
	t  trial.Force
}

// extra is a statement that bends the table between two places: a ripple, a
// scratch or a saw-tooth.
type extra struct {
	kind     string // "ripple", "scratch", "saw-tooth"
	from, to trial.Length
	wave     trial.Length
	amp      trial.Force  // ripple, scratch
	low, top trial.Force  // saw-tooth
	fall     trial.Length // saw-tooth: the length in which it falls
}

// curve is the tension the ground gives while the winch hauls at its own
// speed, against line hauled. Recovery tables are turned into the same form.
type curve struct {
	rows   []point // ascending in at
	extras []extra
	seed   uint64
}

// at is the tension at x metres hauled, never below 0.
func (c *curve) at(x trial.Length) trial.Force {
	t := c.row(x)
	for i := range c.extras {
		e := &c.extras[i]
		if x < e.from || x >= e.to {
			continue
		}
		switch phase := float64((x - e.from) / e.wave); e.kind {
		case "ripple":
			t += e.amp * trial.Force(math.Sin(2*math.Pi*phase))
		case "scratch":
			t += e.amp * trial.Force(scratch(c.seed+uint64(i), phase))
		case "saw-tooth":
			t = e.tooth(trial.Length(phase-math.Floor(phase)) * e.wave)
		}
	}
	return max(t, 0)
}

// tooth is the saw-tooth at s metres into one wave: a slow rise, a quick fall.
func (e *extra) tooth(s trial.Length) trial.Force {
	rise := e.wave - e.fall
	if s < rise {
		return e.low + (e.top-e.low)*trial.Force(s/rise)
	}
	return e.top - (e.top-e.low)*trial.Force((s-rise)/e.fall)
}

func (c *curve) row(x trial.Length) trial.Force {
	i := sort.Search(len(c.rows), func(i int) bool { return c.rows[i].at > x })
	switch {
	case len(c.rows) == 0:
		return 0
	case i == 0:
		return c.rows[0].t
	case i == len(c.rows):
		return c.rows[i-1].t
	}
	a, b := c.rows[i-1], c.rows[i]
	return a.t + (b.t-a.t)*trial.Force((x-a.at)/(b.at-a.at))
}

// scratch is a rough line between -1 and 1, fixed along the ground: hauling
// over the same place again meets the same stones.
func scratch(seed uint64, s float64) float64 {
	k := math.Floor(s)
	a, b := lattice(seed, int64(k)), lattice(seed, int64(k)+1)
	return a + (b-a)*(s-k)
}

// lattice is a number from -1 to 1 that depends on seed and k alone. The mixing
// is the finaliser of the splitmix64 generator (from memory).
func lattice(seed uint64, k int64) float64 {
	z := seed + uint64(k)*0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	z ^= z >> 31
	return float64(z>>11)/(1<<52) - 1
}
