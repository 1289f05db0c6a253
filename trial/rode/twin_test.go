package rode

import (
	"fmt"
	"math"
	"testing"
)

// The dumb twin: the rode as thousands of straight links between pins, each
// pin with the weight of half its two links, laid out from the fairlead down
// by the forces alone. It knows no asinh and no formula of the solver; it
// halves brackets until height and span fit.

type link struct {
	l, inv, mu float64
	pin, rub   float64 // weight at its lower pin, and the friction of it lying
}

// links cuts a rode; per is the number of links in a piece, from the top down.
func links(pieces []Piece, per int) []link {
	var all []link
	for i := len(pieces) - 1; i >= 0; i-- {
		p := pieces[i]
		l := p.Length / float64(per)
		for k := range per {
			n := link{l: l, inv: 1 / p.EA, mu: p.Friction, pin: p.Weight * l, rub: p.Friction * p.Weight * l}
			if k == per-1 { // half of this link, half of the next, and the joint
				n.pin, n.rub = n.pin/2, n.rub/2
				if i > 0 {
					below := pieces[i-1]
					more := below.JointWeight + below.Weight*below.Length/float64(per)/2
					n.pin, n.rub = n.pin+more, n.rub+below.Friction*more
				}
			}
			all = append(all, n)
		}
	}
	return all
}

// hung lays the links out under h and v at the fairlead: where it is over and
// from the anchor, the tension at the anchor, and the length on the bottom.
// Once a pin's weight outweighs what the link above lifts, the rest is laid.
func hung(all []link, pieces []Piece, h, v float64) (x, z, end, bottom float64) {
	v -= all[0].l * pieces[len(pieces)-1].Weight / 2
	for i, n := range all {
		t := math.Hypot(h, v)
		x, z = x+n.l*(1+t*n.inv)*h/t, z+n.l*(1+t*n.inv)*v/t
		if i == len(all)-1 {
			return x, z, t, 0
		}
		if below := all[i+1]; !math.IsNaN(below.mu) && v < n.pin {
			end = max(h-below.mu*(n.pin-v), 0)
			for _, b := range all[i+1:] {
				x += b.l * (1 + end*b.inv)
				bottom += b.l
				end = max(end-b.rub, 0)
			}
			return x, z, end, bottom
		}
		v -= n.pin
	}
	panic("no links")
}

// twinAtTension halves the direction of t, from plumb to level, until it fits.
func twinAtTension(pieces []Piece, per int, height, t float64) (h, v, x, end, bottom float64) {
	all := links(pieces, per)
	lo, hi := 0.0, math.Pi/2 // the height falls with the angle from plumb
	for range 60 {
		mid := (lo + hi) / 2
		if _, z, _, _ := hung(all, pieces, t*math.Sin(mid), t*math.Cos(mid)); z > height {
			lo = mid
		} else {
			hi = mid
		}
	}
	h, v = t*math.Sin(hi), t*math.Cos(hi)
	x, _, end, bottom = hung(all, pieces, h, v)
	return h, v, x, end, bottom
}

func TestTwinOfManyLinks(t *testing.T) {
	chain := Piece{Length: 30, Weight: 19.6, EA: 8.54e6, Friction: 0.7}
	sinker := chain
	sinker.JointWeight = 300
	wire := Piece{Length: 60, Weight: 5, EA: 1e7, Friction: 0.4}
	nylon := Piece{Length: 40, Weight: 0.6, EA: 2.5e5, Friction: 0.2}
	over := wire
	over.Friction = NoBottom
	tests := []struct {
		name   string
		height float64
		pieces []Piece
	}{
		{"chain", 9, []Piece{chain}},
		{"stiff chain", 9, []Piece{{Length: 60, Weight: 12, EA: Unlimited, Friction: 1}}},
		{"chain and nylon", 9, []Piece{chain, nylon}},
		{"sinker between", 9, []Piece{sinker, nylon}},
		{"three pieces", 12, []Piece{sinker, wire, nylon}},
		{"beyond an edge", 12, []Piece{sinker, over}},
		{"no bottom", 6, []Piece{{Length: 50, Weight: 8, EA: 1e6, Friction: NoBottom}}},
		{"no bottom, two pieces", 20, []Piece{{Length: 20, Weight: 8, EA: 1e6, Friction: NoBottom, JointWeight: 50}, {Length: 30, Weight: 8, EA: 1e6, Friction: NoBottom}}},
	}
	for _, tt := range tests {
		r := must(t, tt.height, tt.pieces...)
		for _, over := range []float64{1.05, 1.3, 2, 5, 20, 100} {
			tension := r.hang * over
			t.Run(fmt.Sprintf("%s at %.3gN", tt.name, tension), func(t *testing.T) {
				s, err := r.AtTension(tension)
				if err != nil {
					t.Fatal(err)
				}
				const per = 4000
				h, v, x, end, bottom := twinAtTension(tt.pieces, per, tt.height, tension)
				near(t, "H", s.H, h, 2e-4, 0.1)
				near(t, "V", s.V, v, 2e-4, 0.1)
				near(t, "span", s.Span, x, 2e-5, 1)
				near(t, "tension at the anchor", s.AnchorT, end, 3e-4, 10)
				near(t, "on bottom", s.OnBottom, bottom, 1e-3, 20)
			})
		}
	}
}

// Runge and Kutta draw the rode down from the fairlead by its slope alone, with
// the steps cut at the joints; the forces at the fairlead are the solver's.
func TestTwinOfRungeAndKutta(t *testing.T) {
	pieces := []Piece{
		{Length: 25, Weight: 19.6, EA: 8.54e6, Friction: 0.7, JointWeight: 40},
		{Length: 30, Weight: 5, EA: 1e7, Friction: 0.4},
		{Length: 30, Weight: 0.6, EA: 2.5e5, Friction: 0.2},
	}
	r := must(t, 10, pieces...)
	for _, tension := range []float64{7e3, 1.2e4, 5e4} {
		s, err := r.AtTension(tension)
		if err != nil {
			t.Fatal(err)
		}
		if s.OnBottom != 0 {
			t.Fatalf("%v N does not lift all of it: pick more", tension)
		}
		x, z, v, stretch, energy := 0.0, 0.0, s.V, 0.0, 0.0
		for i := len(pieces) - 1; i >= 0; i-- {
			p := pieces[i]
			const n = 2000
			dl := p.Length / n
			slope := func(v float64) [4]float64 {
				t := math.Hypot(s.H, v)
				return [4]float64{(1 + t/p.EA) * s.H / t, (1 + t/p.EA) * v / t, t / p.EA, t * t / 2 / p.EA}
			}
			for range n {
				// The slope depends on v alone, and v is linear: three values do.
				a, b, c := slope(v), slope(v-p.Weight*dl/2), slope(v-p.Weight*dl)
				for k, sum := range []*float64{&x, &z, &stretch, &energy} {
					*sum += dl / 6 * (a[k] + 4*b[k] + c[k])
				}
				v -= p.Weight * dl
			}
			if i > 0 {
				v -= pieces[i-1].JointWeight
			}
		}
		near(t, "height", z, 10, 1e-10, 0)
		near(t, "span", s.Span, x, 1e-10, 0)
		near(t, "stretch", s.Stretch, stretch, 1e-9, 0)
		near(t, "energy", s.Energy, energy, 1e-9, 0)
		near(t, "anchor V", s.AnchorV, v, 1e-9, 1)
	}
}
