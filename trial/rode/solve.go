package rode

import (
	"fmt"
	"math"
)

// eps is the step from 1 to the next float64.
const eps = 0x1p-52

// plumbTolerance is how far under the hanging weight a tension still counts as
// that weight, relative. A heavy joint on a stiff line takes much weight for
// little height, so the weight is not known to the last digits.
const plumbTolerance = 1e-10

// AtTension solves the rode for the tension t at the fairlead, N.
//
// A tension of just the hanging weight gives a slack rode with its whole range
// of spans. Less is [ErrCannotHang], or [ErrTooShort] where the rode would have
// to stretch to reach at all. With the rode as long as the height and no
// stretch in it, every tension from the weight up is up and down.
//
// A rode that sags below the anchor, with heavy pieces high and light ones low,
// can have two states of one tension; this finds one of them, and [Rode.AtSpan]
// tells them apart.
func (r *Rode) AtTension(t float64) (State, error) {
	if !(t >= 0 && t <= maxTension) {
		return State{}, fmt.Errorf("%w: tension at the fairlead %v; give newtons, 0 to %g", ErrInput, t, float64(maxTension))
	}
	if err := r.canReach(); err != nil {
		return State{}, err
	}
	if t < r.hang*(1-plumbTolerance) {
		if r.hang > r.weight {
			return State{}, fmt.Errorf("%w: %v m of rode is out for a height of %v m, which takes %.6g N of stretch, not %v N; check line count and depth", ErrTooShort, r.out, r.height, r.hang, t)
		}
		return State{}, fmt.Errorf("%w: %v N at the fairlead, but %.6g N must hang from it; check the zero of the load cell, the height %v m and the weights", ErrCannotHang, t, r.hang, r.height)
	}
	if t <= r.hang*(1+2*eps) {
		return r.plumbState(r.hang), nil
	}
	if z, _ := r.upright(t); z <= r.height*(1+eps) {
		return r.plumbState(t), nil // nothing stretches and it just reaches
	}
	h, v, ok := r.lead(t)
	if !ok {
		return State{}, fmt.Errorf("%w: tension %v N, height %v m, rode out %v m", ErrNotConverged, t, r.height, r.out)
	}
	return r.state(h, v), nil
}

func (r *Rode) canReach() error {
	if !r.reaches {
		return fmt.Errorf("%w: %v m of rode out, nothing in it stretches, and the fairlead is %v m over the anchor; check line count and depth", ErrTooShort, r.out, r.height)
	}
	return nil
}

// lead finds the direction in which the tension t leads to the right height.
// u is the tangent of half the angle from the plumb line, so neither force
// loses digits near an end; the height falls with u from 0 to 1.
func (r *Rode) lead(t float64) (h, v float64, ok bool) {
	v = r.guessV(t)
	u := math.Sqrt((t - v) / (t + v))
	b := bracket{0, 1, math.Inf(1)}
	for range 300 {
		q := 1 + u*u
		h, v = 2*u/q*t, (1-u)*(1+u)/q*t
		z, zh, zv := r.top(h, v)
		off := z - r.height
		if math.Abs(off) <= eps*r.height {
			return h, v, true
		}
		if off > 0 {
			b.lo = u
		} else {
			b.hi = u
		}
		var done bool
		if u, done = b.next(u, u-off*q/(2*(zh*v-zv*h))); done {
			return h, v, true
		}
	}
	return h, v, false
}

// guessV is a first vertical force at the fairlead for the tension t: that of
// an even rode tangent to the bottom, or of a straight line with its weight.
func (r *Rode) guessV(t float64) float64 {
	if v := math.Sqrt(r.hang * max(2*t-r.hang, 0)); r.use[0].floor && v < r.weight {
		return min(v, t*(1-1e-9))
	}
	return min(r.weight/2+t*min(r.height/(r.out+t*r.flex), 1), t*(1-1e-6))
}

// bracket holds a root between lo and hi, and the last step towards it.
type bracket struct{ lo, hi, step float64 }

// next goes on from x: to where Newton points while that stays inside and
// halves the step, and to the middle otherwise. done says that x is as near as
// it gets.
func (b *bracket) next(x, newton float64) (next float64, done bool) {
	step := math.Abs(newton - x)
	switch {
	case step <= 4*eps*x:
		return newton, true
	case newton > b.lo && newton < b.hi && step <= b.step/2:
		b.step = step
		return newton, false
	}
	b.step = math.Inf(1)
	next = middle(b.lo, b.hi)
	return next, next <= b.lo || next >= b.hi
}

// middle halves a bracket by ratio, so that tiny roots are found as fast as
// large ones.
func middle(lo, hi float64) float64 {
	switch {
	case math.IsInf(hi, 1):
		return 8*lo + 1
	case lo > hi/8:
		return lo + (hi-lo)/2
	case lo > 0:
		return math.Sqrt(lo) * math.Sqrt(hi)
	}
	return hi / 16
}

// AtSpan solves the rode for the span x from anchor to fairlead, m. A span
// within the slack range gives a slack rode of that span. It returns
// [ErrTooFar] or [ErrTooShort] for a rode that would have to stretch and
// cannot.
func (r *Rode) AtSpan(x float64) (State, error) {
	if !(x >= 0 && x <= 2*MaxPieces*maxLength) {
		return State{}, fmt.Errorf("%w: span from anchor to fairlead %v; give metres, 0 to %g", ErrInput, x, float64(2*MaxPieces*maxLength))
	}
	if err := r.canReach(); err != nil {
		return State{}, err
	}
	if x <= r.heap {
		s := r.plumbState(r.hang)
		s.Span = x
		return s, nil
	}
	if r.flex == 0 && x >= TautSpan(r.out, r.height) {
		return State{}, fmt.Errorf("%w: %v m, but %v m of rode that does not stretch reaches %.6g m at the most from %v m up; check position and line count, or give a stiffness EA", ErrTooFar, x, r.out, TautSpan(r.out, r.height), r.height)
	}
	h, v, ok := r.drawn(x)
	if h > maxTension || v > maxTension {
		return State{}, fmt.Errorf("%w: %v m takes more than %g N; check position and line count", ErrTooFar, x, float64(maxTension))
	}
	if !ok {
		return State{}, fmt.Errorf("%w: span %v m, height %v m, rode out %v m", ErrNotConverged, x, r.height, r.out)
	}
	return r.state(h, v), nil
}

// drawn finds the forces at the fairlead for the span x, beyond the slack
// ones. The span always grows with the horizontal force.
func (r *Rode) drawn(x float64) (h, v float64, ok bool) {
	b := bracket{0, math.Inf(1), math.Inf(1)}
	h = r.guessH(x)
	v = math.Sqrt(r.hang*r.hang + 2*r.hang*h)
	for range 300 {
		if v, ok = r.lift(h, v); !ok {
			return h, v, false
		}
		at := r.reach(h, v)
		off := at.x - x
		if math.Abs(off) <= 2*eps*x {
			return h, v, true
		}
		if off > 0 {
			b.hi = h
		} else {
			b.lo = h
		}
		dv := -at.zh / at.zv
		newton := h - off/(at.xh+at.xv*dv)
		if math.IsInf(b.hi, 1) && !(newton < 64*h) {
			newton = math.NaN() // a step too far where the curve is flat
		}
		next, done := b.next(h, newton)
		if done || next < 1e-30*r.hang || next > 16*maxTension {
			return next, v, true
		}
		v = max(v+dv*(next-h), 0)
		h = next
	}
	return h, v, false
}

// guessH is a first horizontal force for the span x: from an even rode tangent
// to the bottom whose arc outruns its span by L-x = h sqrt(2h/a)/3, from the
// sag of a parabola, and from the stretch of a straight line.
func (r *Rode) guessH(x float64) float64 {
	chord := math.Hypot(x, r.height)
	w := r.weight / r.out
	spare := max(r.out-x, 1e-6*r.out)
	if a := 2 * r.height * r.height * r.height / (9 * spare * spare); r.use[0].floor && 2*a*r.height < r.out*r.out {
		return a * w
	}
	spare = r.out - chord
	sag := w * x * math.Sqrt(chord/24/max(spare, 1e-9*chord)) * x / chord
	if r.flex == 0 || spare > 0 {
		return sag
	}
	return min(sag, max(-spare/r.flex, w*r.height)) * x / chord
}

// lift finds the vertical force at the fairlead that lifts it to the right
// height with h drawing; from is a first guess. The height grows with it.
func (r *Rode) lift(h, from float64) (float64, bool) {
	// Beyond hi every element leads more steeply than the straight line, or
	// the vertical force alone stretches the rode to the height.
	b := bracket{0, math.Inf(1), math.Inf(1)}
	if r.out > r.height {
		b.hi = r.weight + h*r.height/TautSpan(r.out, r.height)
	}
	if r.flex > 0 {
		b.hi = min(b.hi, r.weight+r.height/r.flex)
	}
	b.hi *= 1 + 1e-9
	v := from
	if !(v > b.lo && v < b.hi) {
		v = middle(b.lo, b.hi)
	}
	for range 300 {
		z, _, zv := r.top(h, v)
		off := z - r.height
		if math.Abs(off) <= eps*r.height {
			return v, true
		}
		if off > 0 {
			b.hi = v
		} else {
			b.lo = v
		}
		var done bool
		if v, done = b.next(v, v-off/zv); done {
			return v, true
		}
	}
	return v, false
}
