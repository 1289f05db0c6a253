package rode

import (
	"fmt"
	"math"
)

// NoUplift is the least rode out, m unstretched, at which the tension t at the
// fairlead does not lift the anchor: the line is then level at the anchor with
// nothing more on the bottom. The last piece is taken as long as need be, so
// the length may be more than [Rode.Total]; what is out now does not matter.
//
// For one piece that does not stretch it is h sqrt(2T/(w h) - 1) (Faltinsen,
// Sea Loads on Ships and Offshore Structures, 1990, ch. 8; from memory).
//
// It returns [ErrCannotHang] for a tension under the weight that must hang.
func (r *Rode) NoUplift(t float64) (float64, error) {
	if !(t > 0 && t <= maxTension) {
		return 0, fmt.Errorf("%w: tension at the fairlead %v; give newtons, above 0 and up to %g", ErrInput, t, float64(maxTension))
	}
	var below, weight float64 // rode and weight under piece i
	for i := range r.full {
		p, last := &r.full[i], i == len(r.full)-1
		weight += p.joint
		room := p.l // of this piece
		if last {
			room = max(p.l, 2*r.height+t/p.w)
		}
		top := min(room, (t-weight)/p.w) // from here the tension cannot carry all
		if i > 0 && top > 0 && r.tangent(t, weight, i, 0) >= r.height {
			return below, nil // any longer, and the joint's weight holds it down
		}
		if top > 0 && r.tangent(t, weight, i, top) >= r.height*(1-1e-13) {
			return below + least(0, top, func(l float64) bool { return r.tangent(t, weight, i, l) >= r.height }), nil
		}
		if top < room {
			if l, ok := r.plumbed(i, t, max(top, 0), room); ok {
				return below + l, nil
			}
		}
		weight += p.wl
		below += p.l
	}
	return 0, fmt.Errorf("%w: %v N at the fairlead does not carry the rode up %v m from the bottom; check the height and the weights", ErrCannotHang, t, r.height)
}

// plumbed is the least length of piece i, over from, at which the tension t is
// no less than what hangs. It cannot carry all of the rode then, so some of it
// lies. What hangs grows and falls with the length, and is least where the
// bottom has just taken a joint: those lengths part the search.
func (r *Rode) plumbed(i int, t, from, room float64) (float64, bool) {
	if hang, _ := r.hangs(i, from); hang <= t {
		return from, true
	}
	for k := 1; k <= i+1 && from < room; k++ {
		to := room
		if k <= i {
			to = least(from, room, func(l float64) bool {
				_, lies := r.hangs(i, l)
				return lies >= k
			})
		}
		if hang, _ := r.hangs(i, to); hang <= t {
			return least(from, to, func(l float64) bool {
				hang, _ := r.hangs(i, l)
				return hang <= t
			}), true
		}
		from = to
	}
	return 0, false
}

// least is the least length between lo and hi for which yes, which must be
// false before it and true from there on.
func least(lo, hi float64, yes func(l float64) bool) float64 {
	for range 200 {
		mid := middle(lo, hi)
		if mid <= lo || mid >= hi {
			break
		}
		if yes(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi
}

// hangs is the least tension at the fairlead with l metres of piece i out, +Inf
// if that does not reach, and the highest piece that lies on the bottom in part
// and has all its joint below it down; 0 if none has.
func (r *Rode) hangs(i int, l float64) (tension float64, lies int) {
	var room [MaxPieces]piece
	cut := Rode{use: room[:i+1], height: r.height}
	copy(cut.use, r.full)
	cut.use[i].l, cut.use[i].wl = l, l*cut.use[i].w
	cut.settle()
	if !cut.reaches {
		return math.Inf(1), 0
	}
	if k, length, _ := cut.touch(cut.hang); length > 0 {
		lies = k
	} else {
		lies = max(k-1, 0)
	}
	return cut.hang, lies
}

// tangent is how high a rode reaches that is level at the anchor, with the
// tension t at its upper end, l metres up in piece i; weight is all below that
// piece. It grows with l.
func (r *Rode) tangent(t, weight float64, i int, l float64) (z float64) {
	v := weight + r.full[i].w*l
	h := math.Sqrt(max((t-v)*(t+v), 0))
	for j := i; j >= 0; j-- {
		p := &r.full[j]
		_, dz := p.back(h, v, l)
		z += dz
		if j > 0 {
			v -= p.w*l + p.joint
			l = r.full[j-1].l
		}
	}
	return z
}
