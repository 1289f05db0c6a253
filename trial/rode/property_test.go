package rode

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// spread draws a number evenly by its logarithm.
func spread(t *rapid.T, name string, lo, hi float64) float64 {
	return min(max(math.Exp(rapid.Float64Range(math.Log(lo), math.Log(hi)).Draw(t, name)), lo), hi)
}

// anyPieces draws one to four pieces of invented gear; the first floors of
// them have a bottom, and with one piece or all floors that is all.
func anyPieces(t *rapid.T, elastic, edges bool) []Piece {
	n := rapid.IntRange(1, 4).Draw(t, "pieces")
	floors := n
	if edges {
		floors = rapid.IntRange(0, n).Draw(t, "floors")
	}
	var pieces []Piece
	for i := range n {
		p := Piece{
			Length: spread(t, "length", 1, 200),
			Weight: spread(t, "weight", 0.05, 100),
			EA:     spread(t, "EA", 1e5, 1e9),
		}
		if !elastic && rapid.Bool().Draw(t, "rigid") {
			p.EA = Unlimited
		}
		if p.Friction = NoBottom; i < floors {
			p.Friction = rapid.SampledFrom([]float64{0, 0.3, 0.7, 2}).Draw(t, "friction")
		}
		if i < n-1 {
			p.JointWeight = rapid.SampledFrom([]float64{0, 5, 60, 800}).Draw(t, "joint")
		}
		pieces = append(pieces, p)
	}
	return pieces
}

// anyRode draws a rode of those pieces that is longer than it is high.
func anyRode(t *rapid.T, elastic, edges bool) (*Rode, []Piece) {
	pieces := anyPieces(t, elastic, edges)
	total := 0.0
	for _, p := range pieces {
		total += p.Length
	}
	r, err := New(total/spread(t, "scope", 1.02, 20), pieces)
	if err != nil {
		t.Fatal(err)
	}
	if rapid.Bool().Draw(t, "cut") {
		if err := r.SetOut(r.height + (total-r.height)*rapid.Float64Range(0.05, 1).Draw(t, "out")); err != nil {
			t.Fatal(err)
		}
	}
	return r, pieces
}

func closeTo(t *rapid.T, what string, got, want, tol float64) {
	if d := math.Abs(got - want); !(d <= tol) {
		t.Fatalf("%s: got %.15g, want %.15g within %.3g (off by %.3g)", what, got, want, tol, d)
	}
}

func solveT(t *rapid.T, r *Rode, tension float64) State {
	s, err := r.AtTension(tension)
	if err != nil {
		t.Fatalf("%+v at %v N: %v", r, tension, err)
	}
	sane(t, s)
	return s
}

func solveX(t *rapid.T, r *Rode, x float64) State {
	s, err := r.AtSpan(x)
	if err != nil {
		t.Fatalf("%+v at %v m: %v", r, x, err)
	}
	sane(t, s)
	return s
}

// sane holds for every state there is: numbers, and signs.
func sane(t *rapid.T, s State) {
	for name, v := range map[string]float64{
		"Span": s.Span, "SpanMin": s.SpanMin, "SpanMax": s.SpanMax, "H": s.H, "V": s.V, "T": s.T,
		"AnchorH": s.AnchorH, "AnchorT": s.AnchorT, "OnBottom": s.OnBottom, "Friction": s.Friction,
		"Stretch": s.Stretch, "Energy": s.Energy, "SpanStiffness": s.SpanStiffness, "Scope": s.Scope, "FairleadAngle": s.FairleadAngle,
	} {
		if !(v >= 0) {
			if name == "Stretch" && s.AnchorV < 0 {
				continue // a bight pulled together is not, but rounding near 0 is no matter
			}
			t.Fatalf("%s is %v in %+v", name, v, s)
		}
	}
	if math.IsNaN(s.Stiffness) || math.IsNaN(s.AnchorV) || math.IsNaN(s.AnchorAngle) || s.Regime.String() == "unknown" {
		t.Fatalf("not a number in %+v", s)
	}
	if lo, hi := s.AnchorBand(); !(lo >= 0 && lo <= s.AnchorT && s.AnchorT <= hi) {
		t.Fatalf("the anchor's %v N is not in its band %v to %v of %+v", s.AnchorT, lo, hi, s)
	}
	if s.SpanMin > s.Span || s.Span > s.SpanMax {
		t.Fatalf("span %v is not in %v to %v", s.Span, s.SpanMin, s.SpanMax)
	}
}

func TestForcesBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, _ := anyRode(t, false, true)
		s := solveT(t, r, r.hang*spread(t, "over", 1, 1e4))
		closeTo(t, "tension from its parts", math.Hypot(s.H, s.V), s.T, 1e-12*s.T)
		if s.OnBottom == 0 {
			closeTo(t, "vertical", s.V-s.AnchorV, r.weight, 1e-11*(s.V+r.weight))
			closeTo(t, "horizontal", s.AnchorH, s.H, 1e-12*s.H)
		} else {
			closeTo(t, "friction", s.AnchorH, max(s.H-s.Friction, 0), 1e-11*(s.H+s.Friction))
		}
		var pieces PieceState
		for _, p := range r.Pieces(s, nil) {
			pieces.Energy += p.Energy
			pieces.Stretch += p.Stretch
			pieces.OnBottom += p.OnBottom
		}
		closeTo(t, "energy of the pieces", pieces.Energy, s.Energy, 1e-11*s.Energy)
		closeTo(t, "stretch of the pieces", pieces.Stretch, s.Stretch, 1e-11*s.Stretch+1e-15)
		closeTo(t, "bottom of the pieces", pieces.OnBottom, s.OnBottom, 1e-12*r.out)
	})
}

// The shape ends where the ends are, and its length is the stretched length.
func TestShapeFits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, _ := anyRode(t, false, true)
		s := solveT(t, r, r.hang*spread(t, "over", 1, 1e3))
		const n = 4000
		points := r.Shape(s, n, nil)
		tol := 1e-9 * (r.out + s.Stretch)
		first, last := points[0], points[n-1]
		closeTo(t, "x at the anchor", first.X, 0, tol)
		closeTo(t, "z at the anchor", first.Z, 0, tol)
		closeTo(t, "x at the fairlead", last.X, s.Span, 0)
		closeTo(t, "z at the fairlead", last.Z, r.height, 0)
		length := 0.0
		for i := range n - 1 {
			length += math.Hypot(points[i+1].X-points[i].X, points[i+1].Z-points[i].Z)
			if s.AnchorV >= 0 && r.use[len(r.use)-1].floor && points[i+1].Z < points[i].Z-tol {
				t.Fatalf("it goes down from %+v to %+v", points[i], points[i+1])
			}
		}
		// Chords are short of the arc, most of all where it turns sharply.
		closeTo(t, "length", length, r.out+s.Stretch, 2e-3*(r.out+s.Stretch))
	})
}

func TestMoreTensionIsMoreOfAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, _ := anyRode(t, false, false)
		at := r.hang * spread(t, "over", 1, 1e4)
		a := solveT(t, r, at)
		b := solveT(t, r, at*(1+spread(t, "more", 1e-6, 10)))
		slop := 1e-11
		if b.Span < a.Span*(1-slop) || b.H < a.H*(1-slop) || b.V < a.V*(1-slop) ||
			b.OnBottom > a.OnBottom+slop*r.out || b.AnchorH < a.AnchorH-slop*b.H || b.Energy < a.Energy*(1-slop) || b.Stretch < a.Stretch*(1-slop) {
			t.Fatalf("from %v N to %v N:\n%+v\n%+v", a.T, b.T, a, b)
		}
	})
}

// A tiny step of tension is a small step of everything, across every regime:
// each kink of the curve is met, since the steps run along all of it.
func TestContinuousAcrossRegimes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, _ := anyRode(t, true, false)
		const n = 400
		var a State
		for i := range n {
			at := r.hang * math.Pow(1e4, float64(i)/n)
			b := solveT(t, r, at)
			if i > 0 {
				// dX/dT >= 0 is bounded by where it starts from the slack rode.
				mid := solveT(t, r, math.Sqrt(a.T*b.T))
				for name, v := range map[string][3]float64{"span": {a.Span, mid.Span, b.Span}, "H": {a.H, mid.H, b.H}, "V": {a.V, mid.V, b.V}} {
					if v[1] < v[0]-1e-9*v[2] || v[1] > v[2]*(1+1e-9) {
						t.Fatalf("%s jumps at %v N: %v", name, mid.T, v)
					}
				}
			}
			a = b
		}
		// At each boundary itself: a relative 1e-9 either side.
		edge, lo, hi := 0.0, r.hang, r.hang*1e4
		first := solveT(t, r, hi).Regime
		for range 60 {
			edge = math.Sqrt(lo * hi)
			if solveT(t, r, edge).Regime == first {
				hi = edge
			} else {
				lo = edge
			}
		}
		a, b := solveT(t, r, max(edge*(1-1e-9), r.hang)), solveT(t, r, edge*(1+1e-9))
		closeTo(t, "span across", b.Span, a.Span, 1e-6*a.Span)
		closeTo(t, "H across", b.H, a.H, 1e-6*a.T)
		closeTo(t, "V across", b.V, a.V, 1e-6*a.T)
		closeTo(t, "bottom across", b.OnBottom, a.OnBottom, 1e-6*r.out+4e-9*a.T/r.lightest())
		closeTo(t, "energy across", b.Energy, a.Energy, 1e-6*a.Energy)
	})
}

func TestRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, _ := anyRode(t, true, true)
		over := spread(t, "over", 1.0001, 1e3)
		s := solveT(t, r, r.hang*over)
		back := solveX(t, r, s.Span)
		// The span says the tension as well as its last digit lets it.
		digit := 16 * eps * r.out * tensionPerSpan(s)
		closeTo(t, "tension from span", back.T, s.T, 1e-9*s.T+digit)
		closeTo(t, "H from span", back.H, s.H, 1e-9*s.H+digit)
		if r.use[len(r.use)-1].floor {
			closeTo(t, "span from tension", solveT(t, r, back.T).Span, s.Span, 1e-9*s.Span)
		}
	})
}

func (r *Rode) lightest() float64 {
	w := math.Inf(1)
	for i := range r.use {
		w = min(w, r.use[i].w)
	}
	return w
}

// tensionPerSpan is about dT/dX: not below, and that is enough.
func tensionPerSpan(s State) float64 { return 2 * s.SpanStiffness * s.T / max(s.H, 1e-300) }

func TestRoundTripFromSpan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, _ := anyRode(t, true, false)
		// From slack to a strain of some percent.
		top := math.Sqrt(r.out*r.out*1.02 - r.height*r.height)
		x := r.heap + (top-r.heap)*rapid.Float64Range(0, 1).Draw(t, "along")
		s := solveX(t, r, x)
		closeTo(t, "span", s.Span, x, 1e-11*r.out)
		if s.Regime != Slack {
			// To 1e-9, or to 1e-11 of the tension where the span hangs on it
			// more than that: the curve starts flat at the slack rode.
			back, next := solveT(t, r, s.T), solveT(t, r, s.T*(1+1e-11))
			closeTo(t, "span from tension", back.Span, x, 1e-9*x+next.Span-back.Span)
		}
	})
}

// Without friction the rode keeps energy: moving the vessel by dX costs H dX,
// elastic and lifted weight together.
func TestWorkBecomesEnergy(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pieces := anyPieces(t, true, true)
		total := 0.0
		for i := range pieces {
			total += pieces[i].Length
			if !math.IsNaN(pieces[i].Friction) {
				pieces[i].Friction = 0
			}
		}
		r, err := New(total/spread(t, "scope", 1.1, 10), pieces)
		if err != nil {
			t.Fatal(err)
		}
		s := solveT(t, r, r.hang*spread(t, "over", 1.1, 100))
		d := 1e-3 * s.Span
		a, b := solveX(t, r, s.Span-d), solveX(t, r, s.Span+d)
		gain := b.Energy - a.Energy + lifted(r, b) - lifted(r, a)
		// H only grows on the way, so the work lies between these two.
		slop := 1e-7 * (math.Abs(lifted(r, b)) + b.Energy)
		if gain < 2*d*a.H-slop || gain > 2*d*b.H+slop {
			t.Fatalf("energy grows by %v J over %v m, with H from %v to %v N", gain, 2*d, a.H, b.H)
		}
	})
}

// lifted is the energy of the weight over the anchor's level, summed by the
// shape alone.
func lifted(r *Rode, s State) float64 {
	sum, from := 0.0, 0.0
	for i := range r.use {
		p := &r.use[i]
		sum += p.joint * r.At(s, from).Z
		start := from
		if k, length, _ := r.touch(s.V); k == i {
			start += length
		}
		from += p.l
		const n = 400
		for k := range n {
			dl := (from - start) / n
			a := start + float64(k)*dl
			sum += p.w * dl / 6 * (r.At(s, a).Z + 4*r.At(s, a+dl/2).Z + r.At(s, a+dl).Z)
		}
	}
	return sum
}

// Every number in the domain gives a state that is one, or an error that says
// why: the fairlead's height may be more than the rode, all may be rigid.
func TestNoNaNAnywhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 3).Draw(t, "pieces")
		var pieces []Piece
		for i := range n {
			p := Piece{
				Length:   spread(t, "length", 1e-3, 1e5),
				Weight:   spread(t, "weight", 1e-12, 1e6),
				EA:       spread(t, "EA", 1, 1e15),
				Friction: rapid.SampledFrom([]float64{0, 0.7, 100}).Draw(t, "friction"),
			}
			if rapid.Bool().Draw(t, "rigid") {
				p.EA = Unlimited
			}
			if i < n-1 && rapid.Bool().Draw(t, "heavy") {
				p.JointWeight = spread(t, "joint", 1e-9, 1e9)
			}
			pieces = append(pieces, p)
		}
		if rapid.Bool().Draw(t, "edge") {
			pieces[n-1].Friction = NoBottom
		}
		r, err := New(spread(t, "height", 1e-3, 1e5), pieces)
		if err != nil {
			t.Fatal(err)
		}
		known := func(err error) {
			if err != nil && !errors.Is(err, ErrCannotHang) && !errors.Is(err, ErrTooShort) && !errors.Is(err, ErrTooFar) {
				t.Fatalf("%+v: %v", r, err)
			}
		}
		s, err := r.AtTension(spread(t, "tension", 1e-9, 1e12))
		if known(err); err == nil {
			sane(t, s)
		}
		s, err = r.AtSpan(rapid.SampledFrom([]float64{0, 1, r.heap, TautSpan(r.out, r.height)}).Draw(t, "from") + rapid.SampledFrom([]float64{0, 1, 1e-9, 1e5}).Draw(t, "plus"))
		if known(err); err == nil {
			sane(t, s)
		}
		_, err = r.NoUplift(spread(t, "tension", 1e-9, 1e12))
		known(err)
	})
}

// The dumb way: try every length of a fine comb, and look at the anchor.
func TestNoUpliftIsWhereTheAnchorLifts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, _ := anyRode(t, false, false)
		tension := r.hang * spread(t, "over", 1.01, 100)
		length, err := r.NoUplift(tension)
		if err != nil && !errors.Is(err, ErrCannotHang) {
			t.Fatal(err)
		}
		flat := func(out float64) bool {
			if err := r.SetOut(out); err != nil {
				t.Fatal(err)
			}
			s, err := r.AtTension(tension)
			if err != nil && !errors.Is(err, ErrCannotHang) && !errors.Is(err, ErrTooShort) {
				t.Fatal(err)
			}
			return err == nil && (s.OnBottom > 0 || s.AnchorV == 0)
		}
		end := r.Total()
		if err == nil && length < end {
			end = length * (1 - 1e-6)
			if out := length * (1 + 1e-6); out < r.Total() && !flat(out) {
				t.Fatalf("the anchor lifts at %v m, over the %v m said", out, length)
			}
		}
		for i := range 200 {
			if out := end * float64(i+1) / 200; flat(out) {
				t.Fatalf("the anchor lies at %v m, short of the %v m said (%v)", out, length, err)
			}
		}
	})
}
