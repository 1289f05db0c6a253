package rode

import "math"

// rodeSums is what is known of a rode before any force is: it changes only
// with the height and the rode out.
type rodeSums struct {
	weight float64 // of all that is out, joints too, N
	flex   float64 // sum of l/EA, m/N; 0 where nothing stretches
	// hang is the least tension at the fairlead: with no horizontal force the
	// rode hangs straight down and the rest lies on the bottom.
	hang    float64 // N
	heap    float64 // rode on the bottom then, m: the longest slack span
	reaches bool    // false: nothing stretches and the rode is too short
}

// settle works out rodeSums.
func (r *Rode) settle() {
	r.rodeSums = rodeSums{reaches: true}
	for i := range r.use {
		p := &r.use[i]
		r.weight += p.wl
		if i > 0 {
			r.weight += p.joint
		}
		r.flex += p.l * p.inv
	}
	r.hang, r.reaches = r.plumb()
	if r.reaches {
		r.heap = r.lying(r.hang)
	}
}

// plumb is the smallest vertical force at which the rode, with no horizontal
// force, hangs as high as the fairlead.
func (r *Rode) plumb() (float64, bool) {
	top, _ := r.upright(r.weight)
	switch {
	case top >= r.height:
	case r.flex > 0: // all of it hangs and stretches: linear from here
		return r.weight + (r.height-top)/r.flex, true
	default:
		return r.weight, top >= r.height*(1-1e-13)
	}
	b := bracket{0, r.weight, math.Inf(1)}
	v := math.Min(b.hi, r.use[len(r.use)-1].w*r.height)
	for range 300 {
		z, dz := r.upright(v)
		if z < r.height {
			b.lo = v
		} else {
			b.hi = v
		}
		next, done := b.next(v, v-(z-r.height)/dz)
		if done {
			break
		}
		v = next
	}
	return v, true
}

// upright is the height of a rode without horizontal force under the vertical
// force v at the fairlead, and how fast it grows with v. It never falls with v.
func (r *Rode) upright(v float64) (z, dz float64) {
	for i := len(r.use) - 1; i >= 0; i-- {
		p := &r.use[i]
		if p.floor && v < p.wl {
			return z + v/p.w*(1+v*p.inv/2), dz + (1+v*p.inv)/p.w
		}
		low := v - p.wl
		switch stretch := (low + v) / 2 * p.inv; {
		case low >= 0:
			z += p.l * (1 + stretch)
		case v <= 0: // hangs upside down from the piece below
			z += p.l * (stretch - 1)
		default: // a bight
			z += (low+v)/p.w + p.l*stretch
			dz += 2 / p.w
		}
		dz += p.l * p.inv
		if i == 0 || r.use[i-1].floor && low < p.joint {
			break
		}
		v = low - p.joint
	}
	return z, dz
}

// lying is the unstretched length on the bottom under the vertical force v.
func (r *Rode) lying(v float64) float64 {
	i, length, _ := r.touch(v)
	for ; i > 0; i-- {
		length += r.use[i-1].l
	}
	return length
}

// touch finds where a rode leaves the bottom under the vertical force v at the
// fairlead: in piece i with length metres of it lying, or at the joint under
// piece i with length 0 and low the vertical force just above that joint. With
// i 0 and length 0 all is lifted and low is the vertical force at the anchor.
func (r *Rode) touch(v float64) (i int, length, low float64) {
	for i = len(r.use) - 1; ; i-- {
		p := &r.use[i]
		if p.floor && v < p.wl {
			return i, p.l - v/p.w, 0
		}
		low = v - p.wl
		if i == 0 || r.use[i-1].floor && low < p.joint {
			return i, 0, low
		}
		v = low - p.joint
	}
}
