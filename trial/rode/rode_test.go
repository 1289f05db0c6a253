package rode

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// All gear in these tests is invented.

func TestBadInputSaysWhereAndWhat(t *testing.T) {
	good := Piece{Length: 60, Weight: 12, EA: 5e6, Friction: 0.7}
	with := func(f func(*Piece)) []Piece {
		p := good
		f(&p)
		return []Piece{good, p}
	}
	nan, inf := math.NaN(), math.Inf(1)
	tests := []struct {
		name   string
		height float64
		pieces []Piece
		kind   error
		says   []string
	}{
		{"no pieces", 8, nil, ErrInput, []string{"1 to 64 pieces", "not 0"}},
		{"too many", 8, make([]Piece, 65), ErrInput, []string{"not 65"}},
		{"no height", 0, []Piece{good}, ErrInput, []string{"height", "metres"}},
		{"negative height", -3, []Piece{good}, ErrInput, []string{"-3"}},
		{"height not a number", nan, []Piece{good}, ErrInput, []string{"NaN"}},
		{"endless height", inf, []Piece{good}, ErrInput, []string{"Inf"}},
		{"length 0", 8, with(func(p *Piece) { p.Length = 0 }), ErrInput, []string{"piece 2", "length 0"}},
		{"length in the wrong unit", 8, with(func(p *Piece) { p.Length = 6e6 }), ErrInput, []string{"piece 2", "100000 m"}},
		{"length not a number", 8, with(func(p *Piece) { p.Length = nan }), ErrInput, []string{"piece 2", "NaN"}},
		{"weightless", 8, with(func(p *Piece) { p.Weight = 0 }), ErrFloats, []string{"piece 2", "0 N/m", "sinks"}},
		{"floating line", 8, with(func(p *Piece) { p.Weight = -0.3 }), ErrFloats, []string{"piece 2", "-0.3"}},
		{"weight not a number", 8, with(func(p *Piece) { p.Weight = nan }), ErrInput, []string{"piece 2", "weight"}},
		{"endless weight", 8, with(func(p *Piece) { p.Weight = inf }), ErrInput, []string{"piece 2", "weight"}},
		{"no stiffness", 8, with(func(p *Piece) { p.EA = 0 }), ErrInput, []string{"piece 2", "EA 0", "left out"}},
		{"negative stiffness", 8, with(func(p *Piece) { p.EA = -1 }), ErrInput, []string{"EA -1"}},
		{"stiffness not a number", 8, with(func(p *Piece) { p.EA = nan }), ErrInput, []string{"EA NaN"}},
		{"negative friction", 8, with(func(p *Piece) { p.Friction = -0.1 }), ErrInput, []string{"friction -0.1", "leave it out"}},
		{"endless friction", 8, with(func(p *Piece) { p.Friction = inf }), ErrInput, []string{"friction"}},
		{"float at a joint", 8, []Piece{{60, 12, 5e6, 0.7, -5}, good}, ErrFloats, []string{"joint above piece 1", "-5"}},
		{"joint not a number", 8, []Piece{{60, 12, 5e6, 0.7, nan}, good}, ErrInput, []string{"piece 1", "joint"}},
		{"weight at the fairlead", 8, with(func(p *Piece) { p.JointWeight = 5 }), ErrInput, []string{"piece 2", "fairlead"}},
		{"bottom above none", 8, []Piece{{60, 12, 5e6, NoBottom, 0}, good}, ErrBottomGap, []string{"piece 2", "piece 1"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r, err := New(tt.height, tt.pieces)
			if !errors.Is(err, tt.kind) || r != nil && err != nil {
				t.Fatalf("New = %v, %v; want %v", r, err, tt.kind)
			}
			for _, word := range tt.says {
				if !strings.Contains(err.Error(), word) {
					t.Errorf("%q does not say %q", err, word)
				}
			}
		})
	}
}

func TestBadCallsLeaveTheRodeAsItWas(t *testing.T) {
	r := must(t, 8, Piece{Length: 60, Weight: 12, EA: Unlimited, Friction: 0.7})
	before, err := r.AtTension(1000)
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), -1, 0, 60.1} {
		if err := r.SetOut(v); !errors.Is(err, ErrInput) {
			t.Errorf("SetOut(%v) = %v", v, err)
		}
		if v != 60.1 {
			if err := r.SetHeight(v); !errors.Is(err, ErrInput) {
				t.Errorf("SetHeight(%v) = %v", v, err)
			}
		}
		if v == 0 || v == 60.1 {
			continue
		}
		if _, err := r.AtTension(v); !errors.Is(err, ErrInput) {
			t.Errorf("AtTension(%v) = %v", v, err)
		}
		if _, err := r.AtSpan(v); !errors.Is(err, ErrInput) {
			t.Errorf("AtSpan(%v) = %v", v, err)
		}
		if _, err := r.NoUplift(v); !errors.Is(err, ErrInput) {
			t.Errorf("NoUplift(%v) = %v", v, err)
		}
	}
	if after, err := r.AtTension(1000); err != nil || after != before {
		t.Errorf("after bad calls %+v, %v; want %+v", after, err, before)
	}
	// 8 m of 12 N/m must hang.
	if _, err := r.AtTension(95.9); !errors.Is(err, ErrCannotHang) || !strings.Contains(err.Error(), "96 N") {
		t.Errorf("95.9 N: %v", err)
	}
	if _, err := r.AtSpan(60); !errors.Is(err, ErrTooFar) || !strings.Contains(err.Error(), "59.464") {
		t.Errorf("60 m: %v", err)
	}
	if err := r.SetOut(7.9); err != nil {
		t.Fatal(err)
	}
	if _, err := r.AtTension(1000); !errors.Is(err, ErrTooShort) {
		t.Errorf("7.9 m out for 8 m: %v", err)
	}
	if _, err := r.AtSpan(0); !errors.Is(err, ErrTooShort) {
		t.Errorf("7.9 m out for 8 m: %v", err)
	}
}

func TestSlackIsARangeOfSpans(t *testing.T) {
	r := must(t, 10, Piece{Length: 60, Weight: 19.6, EA: 8.54e6, Friction: 0.7})
	// The hanging length and weight of catenary.md's slack limit, to 12 digits
	// there: z = s + w s^2/(2 EA).
	near(t, "hanging weight", r.hang, 195.997750871, 1e-11, 0)
	s, err := r.AtTension(r.hang)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "hanging length", 60-s.OnBottom, 9.99988524854, 1e-11, 0)
	if s.Regime != Slack || s.H != 0 || s.SpanMin != 0 || s.SpanMax != s.OnBottom || s.AnchorT != 0 || s.SpanStiffness != 0 {
		t.Errorf("at the hanging weight: %+v", s)
	}
	if lo, hi := s.AnchorBand(); lo != 0 || math.Abs(hi-0.7*19.6*s.OnBottom) > 1e-9 {
		t.Errorf("band %v to %v, want 0 to all the friction", lo, hi)
	}
	for _, x := range []float64{0, 20, s.SpanMax} {
		at, err := r.AtSpan(x)
		if err != nil || at.Regime != Slack || at.Span != x || at.T != r.hang {
			t.Errorf("span %v: %+v, %v", x, at, err)
		}
		if p := r.At(at, at.OnBottom); math.Abs(p.X-x) > 1e-12 || p.Z != 0 {
			t.Errorf("span %v: leaves the bottom at %+v", x, p)
		}
	}
}

func TestUpAndDown(t *testing.T) {
	// No stretch and just as long as high: every tension from the weight up.
	r := must(t, 8, Piece{Length: 8, Weight: 12, EA: Unlimited, Friction: 0.7})
	for _, tension := range []float64{96, 500, 1e5} {
		s, err := r.AtTension(tension)
		if err != nil || s.Regime != Vertical || s.Span != 0 || s.H != 0 || math.Abs(s.AnchorV-(tension-96)) > 1e-9 || !math.IsInf(s.Stiffness, 1) {
			t.Errorf("%v N: %+v, %v", tension, s, err)
		}
	}
	// Elastic and shorter: it takes EA over the missing length.
	r = must(t, 8, Piece{Length: 7.99, Weight: 1e-6, EA: 1e6, Friction: NoBottom})
	want := 1e6 * 0.01 / 7.99
	s, err := r.AtSpan(0)
	if err != nil || s.Regime != Vertical {
		t.Fatalf("%+v, %v", s, err)
	}
	near(t, "tension", s.T, want, 1e-8, 0)
	near(t, "counted stiffness", s.StiffnessCounted, 1e6/7.99, 1e-6, 0)
	near(t, "pendulum", s.SpanStiffness, want/8, 1e-6, 0)
	if _, err := r.AtTension(want / 2); !errors.Is(err, ErrTooShort) {
		t.Errorf("half of it: %v", err)
	}
	more, err := r.AtTension(2 * want)
	if err != nil || more.Regime != Taut || !(more.Span > 0) {
		t.Errorf("twice of it: %+v, %v", more, err)
	}
}

// A sinker at the joint comes off the bottom over a range of tension, with the
// rode leaving the bottom at the joint all the while.
func TestJointLiftsOverARange(t *testing.T) {
	r := must(t, 10,
		Piece{Length: 30, Weight: 19.6, EA: 8.54e6, Friction: 0.7, JointWeight: 200},
		Piece{Length: 50, Weight: 0.6, EA: 2.5e7, Friction: 0.2})
	var first, last float64
	order := []Regime{}
	for tension := r.hang; tension < 2e4; tension *= 1.01 {
		s, err := r.AtTension(tension)
		if err != nil {
			t.Fatal(err)
		}
		if len(order) == 0 || order[len(order)-1] != s.Regime {
			order = append(order, s.Regime)
		}
		if s.Regime == AtJoint {
			if first == 0 {
				first = tension
			}
			last = tension
			if s.OnBottom != 30 {
				t.Fatalf("%v N: %v m on the bottom, want the 30 m under the joint", tension, s.OnBottom)
			}
			carried := s.V - 0.6*50 // of the 200 N
			near(t, "anchor", s.AnchorT, max(s.H-0.7*(200-carried)-0.7*19.6*30, 0), 1e-9, 1)
		}
	}
	if last < 2*first {
		t.Errorf("the joint lifts from %v N to %v N: want a range", first, last)
	}
	want := []Regime{Slack, OnBottom, AtJoint, OnBottom, Lifted, Taut}
	if len(order) != len(want) {
		t.Fatalf("regimes %v, want %v", order, want)
	}
	for i := range want {
		if order[i] != want[i] {
			t.Fatalf("regimes %v, want %v", order, want)
		}
	}
}

// With friction fully eaten the anchor feels nothing; after easing it may feel
// the friction the other way.
func TestAnchorBand(t *testing.T) {
	r := must(t, 10, Piece{Length: 80, Weight: 19.6, EA: 8.54e6, Friction: 0.7})
	s, err := r.AtSpan(78.56)
	if err != nil {
		t.Fatal(err)
	}
	lo, hi := s.AnchorBand()
	near(t, "lo", lo, s.AnchorT, 1e-12, 0)
	near(t, "hi", hi, s.H+0.7*19.6*s.OnBottom, 1e-12, 0)
	s, err = r.AtTension(2e4)
	if lo, hi := s.AnchorBand(); err != nil || lo != s.AnchorT || hi != s.AnchorT {
		t.Errorf("lifted: %v to %v of %+v, %v", lo, hi, s, err)
	}
}

// As the weight goes to nothing the rode becomes the straight line, to the last
// digits, and nothing blows up on the way.
func TestWeightToNothing(t *testing.T) {
	const out, height, tension, ea = 40.0, 10.0, 5000.0, 1e6
	long := out * (1 + tension/ea)
	span := math.Sqrt(long*long - height*height)
	for _, friction := range []float64{0.7, NoBottom} {
		for w := 1.0; w > 1e-12; w /= 10 {
			for _, stiff := range []float64{ea, Unlimited} {
				r := must(t, height, Piece{Length: out, Weight: w, EA: stiff, Friction: friction})
				s, err := r.AtTension(tension)
				if err != nil {
					t.Fatal(err)
				}
				want := span
				if stiff != ea {
					want = TautSpan(out, height)
				}
				near(t, "span", s.Span, want, 1e-12+w*w*1e-4+w*1e-4, 0) // the tension falls by w h to the anchor
				near(t, "sine of the lead", s.V/s.T, height/math.Hypot(want, height), 1e-12+w*0.02, 0)
				if stiff == ea {
					near(t, "energy", s.Energy, tension*tension*out/2/ea, 1e-12+w*0.01, 0)
					near(t, "counted stiffness", s.StiffnessCounted, ea/out, 1e-9+w*0.05, 0)
					back, err := r.AtSpan(s.Span)
					if err != nil {
						t.Fatal(err)
					}
					near(t, "tension back", back.T, tension, 1e-9, 0)
				}
			}
		}
	}
}

// Where Newton alone jumps to and fro over the kinks of a joint.
func TestKinksDoNotTrapTheSolver(t *testing.T) {
	r := must(t, 0.8189200843799787,
		Piece{Length: 15.370066359341997, Weight: 3.080216848918031, EA: 1e5, JointWeight: 800},
		Piece{Length: 1.0083353282575724, Weight: math.E, EA: 1e5})
	if s, err := r.AtTension(6645.553684168581); err != nil || !(s.Span > 0) {
		t.Errorf("%+v, %v", s, err)
	}
}

// The bend of a line that hardly leaves the bottom, by its series and beyond,
// against the integral of q^2/(1+q^2)^1.5 by Simpson.
func TestFlatBend(t *testing.T) {
	p := piece{w: 1}
	for _, q := range []float64{1e-6, 1e-3, 0.00299, 0.00301, 0.1, 10} {
		f := func(q float64) float64 { return q * q / math.Pow(1+q*q, 1.5) }
		const n = 2000
		want := 0.0
		for i := range n {
			a, h := q*float64(i)/n, q/n
			want += h / 6 * (f(a) + 4*f(a+h/2) + f(a+h))
		}
		_, got := p.touchRun(1, q)
		near(t, "bend", got, want, 1e-9, 0)
	}
}

// A deep bight under two ends near each other: the span by the plain formula,
// which loses nothing here.
func TestDeepBight(t *testing.T) {
	r := must(t, 5, Piece{Length: 60, Weight: 19.6, EA: Unlimited, Friction: NoBottom})
	for _, x := range []float64{1e-9, 1e-6, 1e-3, 0.1} {
		s, err := r.AtSpan(x)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "span", s.H/19.6*(math.Asinh(s.V/s.H)-math.Asinh(s.AnchorV/s.H)), x, 1e-9, 0)
	}
}

// Light chain longer than the height, then heavy: the joint's weight is on the
// vessel until a little more is out, and then it holds the anchor down.
func TestNoUpliftJustBeyondAJoint(t *testing.T) {
	r := must(t, 24, Piece{Length: 33, Weight: 0.37, EA: 1e5, JointWeight: 5}, Piece{Length: 2, Weight: 1.6, EA: 1e5})
	got, err := r.NoUplift(17)
	if err != nil || got != 33 {
		t.Errorf("NoUplift = %v, %v; want the 33 m under the joint", got, err)
	}
}

// Identities of published test files for such solvers: any values may be used.
func TestIdentities(t *testing.T) {
	// A symmetric U on the bottom has the end forces of its half: 12 digits
	// from an independent solution with 40.
	half := must(t, 20, Piece{Length: 65, Weight: 100, EA: 1e12})
	s, err := half.AtSpan(50)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "H", s.H, 263.195233449, 1e-10, 0)
	near(t, "V", s.V, 2247.83916737, 1e-10, 0)
	near(t, "LB", s.OnBottom, 42.5216083263, 1e-10, 0)

	// Swapped ends swap the forces: a line that hangs between two heights is
	// the free part of a bight seen from its low end.
	free := must(t, 5, Piece{Length: 60, Weight: 19.6, EA: 8.54e6, Friction: NoBottom})
	s, err = free.AtSpan(58.38)
	if err != nil {
		t.Fatal(err)
	}
	low := free.At(s, 0)
	near(t, "x of the low end", low.X, 0, 1e-9, 1)
	near(t, "tension of the low end", low.T, s.AnchorT, 1e-12, 0)
}

// Cutting a piece in two changes nothing.
func TestCutPiecesAreOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pieces := anyPieces(t, false, true)
		var cut []Piece
		total := 0.0
		for _, p := range pieces {
			total += p.Length
			low := p
			low.Length *= rapid.Float64Range(0.01, 0.99).Draw(t, "cut")
			low.JointWeight = 0
			high := p
			high.Length -= low.Length
			cut = append(cut, low, high)
		}
		height := total / spread(t, "scope", 1.05, 10)
		one, err1 := New(height, pieces)
		two, err2 := New(height, cut)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		a := solveT(t, one, one.hang*spread(t, "over", 1.01, 1e3))
		b := solveT(t, two, a.T)
		closeTo(t, "span", b.Span, a.Span, 1e-9*a.Span)
		closeTo(t, "H", b.H, a.H, 1e-8*a.T)
		closeTo(t, "anchor", b.AnchorT, a.AnchorT, 1e-8*a.T)
		closeTo(t, "bottom", b.OnBottom, a.OnBottom, 1e-8*total)
		closeTo(t, "energy", b.Energy, a.Energy, 1e-8*a.Energy)
		if !math.IsInf(a.Stiffness, 1) {
			closeTo(t, "stiffness", b.Stiffness, a.Stiffness, 1e-6*math.Abs(a.Stiffness))
		}
	})
}

// Hauling cuts the rode at the vessel, joint by joint.
func TestOutCutsAtTheVessel(t *testing.T) {
	a := Piece{Length: 20, Weight: 19.6, EA: 8.54e6, Friction: 0.7, JointWeight: 60}
	b := Piece{Length: 30, Weight: 5, EA: 1e7, Friction: 0.4, JointWeight: 10}
	c := Piece{Length: 40, Weight: 0.6, EA: 2.5e5, Friction: 0.2}
	r := must(t, 9, a, b, c)
	if r.Total() != 90 || r.Out() != 90 || r.Height() != 9 {
		t.Errorf("total %v, out %v, height %v", r.Total(), r.Out(), r.Height())
	}
	bare := func(p Piece, l float64) Piece { p.Length, p.JointWeight = l, 0; return p }
	for _, tt := range []struct {
		out  float64
		want []Piece
	}{
		{90, []Piece{a, b, c}}, {60, []Piece{a, b, bare(c, 10)}}, {50, []Piece{a, bare(b, 30)}},
		{35, []Piece{a, bare(b, 15)}}, {20, []Piece{bare(a, 20)}}, {12, []Piece{bare(a, 12)}}, {90, []Piece{a, b, c}},
	} {
		if err := r.SetOut(tt.out); err != nil {
			t.Fatal(err)
		}
		got, err := r.AtTension(3000)
		if err != nil {
			t.Fatal(err)
		}
		want, err := must(t, 9, tt.want...).AtTension(3000)
		if err != nil {
			t.Fatal(err)
		}
		if got != want {
			t.Errorf("%v m out: %+v\nwant %+v", tt.out, got, want)
		}
	}
	s, _ := r.AtTension(3000)
	if err := r.SetOut(60); err != nil {
		t.Fatal(err)
	}
	if r.Fits(s) || len(r.Shape(s, 9, nil)) != 0 || len(r.Pieces(s, nil)) != 0 {
		t.Error("a state of 90 m out is drawn on 60 m")
	}
}

func TestRegimeWords(t *testing.T) {
	for g, want := range map[Regime]string{Slack: "slack", OnBottom: "on bottom", AtJoint: "joint lifting", Lifted: "lifted", Taut: "taut", Vertical: "up and down", 0: "unknown"} {
		if g.String() != want {
			t.Errorf("%d is %q, want %q", g, g, want)
		}
	}
}
