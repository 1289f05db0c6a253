package rode

import (
	"fmt"
	"math"
)

// Soil is clay or mud whose undrained shear strength grows evenly with depth,
// and the line in it: a model of the buried line between mudline and anchor.
//
// It is a model, not a measurement: strength, bearing factor and friction ratio
// are assumed or from a site survey, scatter widely, and the line's own weight
// is left out. Sand is not in it. Source: Neubecker and Randolph, OTC 7712
// (1995); its special case of a level line at the mudline read, the rest from
// memory.
type Soil struct {
	Strength float64 // undrained shear strength at the mudline, Pa
	Gradient float64 // its growth, Pa/m
	// Bearing is the factor Nc on the strength. Public codes use 8.5 to 12.
	Bearing float64
	// Width is what the line bears on, m: 2.5 times the bar diameter of a
	// chain, once that of a wire.
	Width float64
	// Friction is the ratio of friction along the line to bearing across it:
	// 0.4 to 0.6 for chain, 0.1 to 0.2 for wire, from memory.
	Friction float64
}

// Buried is a line from the mudline down to the padeye of the anchor.
type Buried struct {
	Mudline, MudlineAngle float64 // tension N; angle over the horizontal, rad
	Padeye, PadeyeAngle   float64 // the same at the anchor: less, and steeper
	Length                float64 // of line in the soil, m; +Inf if it nears the mudline only in the limit
	Back                  float64 // horizontal distance of padeye from where the line enters, m; +Inf likewise
}

func (s Soil) check(t, angle, depth float64) error {
	bad := func(what string, v float64, want string) error {
		return fmt.Errorf("%w: buried line: %s %v; %s", ErrInput, what, v, want)
	}
	switch {
	case !(s.Strength >= 0 && s.Strength <= 1e7):
		return bad("soil strength", s.Strength, "give pascals at the mudline, 0 to 1e7")
	case !(s.Gradient >= 0 && s.Gradient <= 1e7) || s.Strength+s.Gradient == 0:
		return bad("gradient of the strength", s.Gradient, "give pascals a metre, not below 0, and not 0 with no strength at the mudline")
	case !(s.Bearing > 0 && s.Bearing <= 100):
		return bad("bearing factor", s.Bearing, "give a ratio above 0, commonly 8.5 to 12")
	case !(s.Width > 0 && s.Width <= 10):
		return bad("width", s.Width, "give metres, above 0")
	case !(s.Friction >= 0 && s.Friction <= 10):
		return bad("friction ratio", s.Friction, "give a ratio from 0 up")
	case !(t > 0 && t <= maxTension):
		return bad("tension", t, "give newtons above 0")
	case !(angle >= 0 && angle < math.Pi/2):
		return bad("angle at the mudline", angle, "give radians over the horizontal, 0 to under a quarter turn")
	case !(depth >= 0 && depth <= 1000):
		return bad("depth of the padeye", depth, "give metres under the mudline, 0 to 1000")
	}
	return nil
}

// Across is the bearing on a metre of line at the depth z, N/m: width Nc su.
func (s Soil) Across(z float64) float64 {
	return s.Width * s.Bearing * (s.Strength + s.Gradient*z)
}

// above is the bearing summed from the mudline to the depth z, N.
func (s Soil) above(z float64) float64 {
	return s.Width * s.Bearing * z * (s.Strength + s.Gradient*z/2)
}

// depth is the inverse of above.
func (s Soil) depth(sum float64) float64 {
	q := sum / (s.Width * s.Bearing)
	return 2 * q / (s.Strength + math.Sqrt(s.Strength*s.Strength+2*s.Gradient*q))
}

// FromMudline follows the line down from the tension and angle at the mudline
// to a padeye depth metres below. With Q the bearing and mu the friction ratio
// an element of line obeys
//
//	T dtheta/ds = -Q,  dT/ds = mu Q,  dz/ds = -sin theta
//
// (s towards the vessel, z down), so T = T0 e^(-mu(theta-theta0)) and the
// integral of T sin theta over the angle is that of Q over the depth. Both are
// integrated here in full. The closed form of Neubecker and Randolph takes small
// angles; the tests hold this against it.
func (s Soil) FromMudline(t0, angle, depth float64) (Buried, error) {
	if err := s.check(t0, angle, depth); err != nil {
		return Buried{}, err
	}
	b := Buried{Mudline: t0, MudlineAngle: angle}
	load := s.above(depth) / t0
	if s.turned(angle, math.Pi/2) < load {
		return Buried{}, fmt.Errorf("%w: %v N at the mudline stands upright before it is %v m down; give more tension or less depth", ErrBuried, t0, depth)
	}
	lo, hi := angle, math.Pi/2
	for range 100 {
		if mid := lo + (hi-lo)/2; mid <= lo || mid >= hi {
			break
		} else if s.turned(angle, mid) < load {
			lo = mid
		} else {
			hi = mid
		}
	}
	b.PadeyeAngle = hi
	if depth == 0 {
		b.PadeyeAngle = angle
	}
	b.Padeye = t0 * math.Exp(-s.Friction*(b.PadeyeAngle-angle))
	s.follow(&b)
	return b, nil
}

// FromPadeye is the same from the tension at the padeye; the angle is still
// that at the mudline.
func (s Soil) FromPadeye(ta, angle, depth float64) (Buried, error) {
	if err := s.check(ta, angle, depth); err != nil {
		return Buried{}, err
	}
	// The tension at the mudline is ta times e^(mu turn), the turn a quarter
	// at the most; more tension there is more at the padeye too.
	lo, hi := ta, ta*math.Exp(s.Friction*(math.Pi/2-angle))
	for range 200 {
		mid := lo + (hi-lo)/2
		if mid <= lo || mid >= hi {
			break
		}
		if b, err := s.FromMudline(mid, angle, depth); err != nil || b.Padeye < ta {
			lo = mid
		} else {
			hi = mid
		}
	}
	b, err := s.FromMudline(hi, angle, depth)
	if err != nil {
		return b, fmt.Errorf("%w: %v N at the padeye, %v m down", ErrBuried, ta, depth)
	}
	return b, nil
}

// turned is the integral of e^(-mu(a-from)) sin a from from to to.
func (s Soil) turned(from, to float64) float64 {
	mu := s.Friction
	f := func(a float64) float64 { return math.Exp(-mu*(a-from)) * (mu*math.Sin(a) + math.Cos(a)) }
	if to-from > 0.1 {
		return (f(from) - f(to)) / (1 + mu*mu)
	}
	// Three-point Gauss on each quarter: the difference above loses digits.
	var sum float64
	for q := range 4 {
		mid, half := from+(to-from)*(float64(q)+0.5)/4, (to-from)/8
		for i, w := range [3]float64{5. / 9, 8. / 9, 5. / 9} {
			a := mid + half*float64(i-1)*math.Sqrt(0.6)
			sum += w * half * math.Exp(-mu*(a-from)) * math.Sin(a)
		}
	}
	return sum
}

// follow sums length and distance along the angle: ds = T/Q dtheta. Simpson in
// v with the angle from + turn v^2, which takes the sting out of a strength
// that begins at nothing.
func (s Soil) follow(b *Buried) {
	turn := b.PadeyeAngle - b.MudlineAngle
	if turn <= 0 {
		return
	}
	if s.Strength == 0 && b.MudlineAngle == 0 {
		b.Length, b.Back = math.Inf(1), math.Inf(1)
		return
	}
	at := func(v float64) (ds, dx float64) {
		if v == 0 && s.Strength == 0 { // the limit: z grows as v there
			v = 1e-6
		}
		a := b.MudlineAngle + turn*v*v
		z := s.depth(b.Mudline * s.turned(b.MudlineAngle, a))
		ds = b.Mudline * math.Exp(-s.Friction*(a-b.MudlineAngle)) / s.Across(z) * 2 * turn * v
		return ds, ds * math.Cos(a)
	}
	const n = 64
	for i := range n + 1 {
		weight := float64(2 + 2*(i%2))
		if i == 0 || i == n {
			weight = 1
		}
		ds, dx := at(float64(i) / n)
		b.Length += weight * ds / (3 * n)
		b.Back += weight * dx / (3 * n)
	}
}
