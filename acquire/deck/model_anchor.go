package deck

import (
	"math"
	"math/rand/v2"
)

// Figures of the anchor that no script changes. Those without a source are
// invention.
const (
	refSpeed   = 0.04  // m/s: the speed at which resistances are given, 2.4 m/min
	slowest    = -22.0 // ln of m/s, 0.3 nm/s: slower is not at all
	mostSpeed  = 1.0   // m/s of an anchor that has lost its hold: it falls in about 0.4 s
	stillSpeed = 1e-5  // m/s
	creepSpeed = 1e-3  // m/s
	inWater    = 0.87  // weight of steel in sea water over that in air: 1 - 1025/7850
	nearHold   = 0.9   // of the ultimate capacity: from here a breakout may come by chance
	healBy     = 0.04  // share gained for ten times the rest, from memory: thixotropy of soft soils
	healTop    = 0.10  // at most
	healAfter  = 10.0  // s
	healOver   = 0.05  // m of travel in which it is lost again
	leastHold  = 0.15  // of the capacity, however steep the line is
	nothing    = 1.0   // N: resistance of a rode's end with nothing on it
	fastOver   = 0.02  // m in which a fast breakout loses its hold
)

// anchorModel is the anchor and the ground around it.
type anchorModel struct {
	m   *Model
	rng *rand.Rand

	travel   float64 // m towards the vessel, all
	embedded float64 // m since the flukes bit
	slid     float64 // m since they hold nothing
	bites    bool    // the flukes are in the ground
	breaking float64 // share of the hold left while it breaks out; 1 otherwise
	over     float64 // m in which it is lost
	hold     float64 // share of the capacity: clogged flukes hold less
	after    float64 // m to slide before it bites; below 0 never
	breaks   int
	bitten   int
	teeth    int

	wedge    float64 // 0..1 of the tooth that builds up
	toothLen float64 // m
	v        float64 // m/s
	rest     float64 // s it has been still
	healed   float64 // share
	snagged  bool
	freed    bool    // its own snag has let go
	angle    float64 // of the line at the anchor, rad
}

func newAnchorModel(m *Model, seed uint64) *anchorModel {
	a := &anchorModel{m: m, rng: rand.New(rand.NewPCG(seed, 0x616e6368)), breaking: 1, hold: 1, after: float64(m.Bite)}
	a.toothLen = a.tooth()
	if m.Bite == 0 && m.Weight > 0 && !m.Block {
		a.bite()
	}
	return a
}

func (a *anchorModel) tooth() float64 {
	return float64(a.m.SawWave) * (0.8 + 0.4*a.rng.Float64())
}

func (a *anchorModel) bite() {
	a.bites, a.embedded, a.breaking = true, 0, 1
	a.bitten++
}

// dead is what drags without flukes that hold: weight in water times drag.
func (a *anchorModel) dead() float64 {
	return max(float64(a.m.Weight)*inWater*a.m.Drag*a.ground(1), nothing)
}

// ground is how the place the anchor has come to differs from the mean.
func (a *anchorModel) ground(seed uint64) float64 {
	if a.m.Rough == 0 || a.m.RoughWave == 0 {
		return 1
	}
	return 1 + a.m.Rough*scratch(seed, a.travel/float64(a.m.RoughWave))
}

// depth is the flukes' depth: it grows along the trajectory up to the ultimate.
func (a *anchorModel) depth() float64 {
	if !a.bites {
		return 0
	}
	return float64(a.m.Burial) * (1 - math.Exp(-a.embedded/float64(a.m.In)))
}

// buried is the share of the flukes that is in the ground.
func (a *anchorModel) buried() float64 { return min(1, a.depth()/(float64(a.m.Fluke)/2)) }

// capacity is what flukes and soil hold at the reference speed.
func (a *anchorModel) capacity() float64 {
	if !a.bites {
		return 0
	}
	m, z := a.m, a.depth()
	side := float64(m.Fluke)
	q := side * side * a.buried() * m.Bearing * (m.Su0 + m.SuK*z)
	if m.Weak > 0 {
		q = min(q, (m.Weak-1)*float64(m.Weight)*inWater*m.Drag)
	}
	lose := 1 - m.AngleLoss*max(a.angle-float64(m.AngleFrom), 0)
	return q * a.hold * a.breaking * max(lose, leastHold) * a.ground(2)
}

// resists is all that holds the anchor, at the reference speed.
func (a *anchorModel) resists() float64 {
	if a.snagged || a.m.Firm && a.bites {
		return math.Inf(1)
	}
	q := a.capacity()
	if a.m.Saw > 0 && a.bites {
		q *= 1 + a.m.Saw*(a.wedge-0.5)
	}
	return (a.dead() + q) * (1 + a.healed)
}

// step lets dt seconds pass with the rode's pull h at their beginning, and returns
// how far the anchor came. The speed is that at which the ground resists as much
// as the rode, slackened by the travel, still pulls:
//
//	T - K v dt = R (1 + rate log10(v/vref))
//
// This one law makes a fast anchor hold more, and lets a pulled one creep on, ever
// slower, when the winch stands.
func (a *anchorModel) step(h held, dt float64) float64 {
	a.angle = h.angle
	r := a.resists()
	a.v = 0
	if !math.IsInf(r, 1) && h.anchor > 0 {
		rate := max(a.m.Rate, 0.005)
		a.v = creepAt(h.anchor, max(h.stiff, 0)*dt, r, r*rate, refSpeed, mostSpeed)
	}
	if a.v < stillSpeed {
		a.rest += dt
		if a.m.Soil == Mud || a.m.Soil == Clay {
			a.healed = max(a.healed, min(healTop, healBy*math.Log10(1+a.rest/healAfter)))
		}
	}
	if a.v == 0 {
		return 0
	}
	da := a.v * dt
	a.goes(da)
	return da
}

// creepAt solves the law of step for the speed v: Newton on ln(v), in which the pull
// left falls and the resistance rises. slacken is what the pull loses at 1 m/s, r
// the resistance at the speed ref, perDecade its gain for ten times that.
func creepAt(pull, slacken, r, perDecade, ref, most float64) float64 {
	gain, at := perDecade/math.Ln10, math.Log(ref)
	over := func(u, v float64) float64 { return pull - slacken*v - r - gain*(u-at) }
	low, high := slowest, math.Log(most)
	if over(high, most) >= 0 {
		return most
	}
	if over(low, 0) <= 0 {
		return 0
	}
	u := at
	for range 60 {
		v := math.Exp(u)
		miss := over(u, v)
		if miss > 0 {
			low = u
		} else {
			high = u
		}
		next := u + miss/(slacken*v+gain)
		if !(next > low && next < high) {
			next = (low + high) / 2
		}
		if math.Abs(next-u) < 1e-7 {
			u = next
			break
		}
		u = next
	}
	return math.Exp(u)
}

// goes moves the anchor on.
func (a *anchorModel) goes(da float64) {
	a.travel += da
	if a.v > creepSpeed {
		a.rest = 0
	}
	a.healed = max(0, a.healed-healTop*da/healOver)
	if s := float64(a.m.SnagAfter); s > 0 && !a.freed && a.travel >= s {
		a.snagged = true
	}
	switch {
	case !a.bites:
		a.slid += da
		if a.after >= 0 && a.slid >= a.after && a.m.Weight > 0 && !a.m.Block {
			a.bite()
		}
	case a.breaking < 1:
		a.embedded += da
		if a.breaking -= da / a.over; a.breaking <= 0 {
			a.lose()
		}
	default:
		a.embedded += da
		if a.m.Saw > 0 {
			if a.wedge += da / a.toothLen; a.wedge >= 1 {
				a.wedge, a.toothLen = 0, a.tooth()
				a.teeth++
			}
		}
		if b, ok := a.breaksNow(da); ok {
			a.breaking, a.over = 1-1e-9, max(float64(b.Over), fastOver)
			a.breaks++
		}
	}
}

// breaksNow says whether the anchor breaks out, and how.
func (a *anchorModel) breaksNow(da float64) (Break, bool) {
	if a.breaks >= len(a.m.Breaks) {
		return Break{}, false
	}
	b := a.m.Breaks[a.breaks]
	if b.After > 0 {
		return b, a.embedded >= float64(b.After)
	}
	near := a.depth() >= nearHold*float64(a.m.Burial) || a.angle > float64(a.m.AngleFrom)
	return b, near && a.rng.Float64() < b.Chance*da
}

// lose is the end of a breakout: the flukes hold nothing.
func (a *anchorModel) lose() {
	a.bites, a.breaking, a.slid, a.embedded, a.wedge = false, 1, 0, 0, 0
	a.after, a.hold = -1, 1
	if i := a.breaks - 1; i < len(a.m.Again) && !a.m.Again[i].Never {
		a.after, a.hold = float64(a.m.Again[i].After), a.m.Again[i].Holding
	}
}

// contact is how anchor and ground are together now.
func (a *anchorModel) contact() Contact {
	switch {
	case a.v < stillSpeed:
		return Still
	case a.v < creepSpeed:
		return Creeping
	case !a.bites || a.breaking < 1:
		return SlippingFree
	}
	return SlidingInSoil
}
