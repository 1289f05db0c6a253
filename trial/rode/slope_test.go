package rode

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// taken is which pieces feel any of the tension: each is a kink of the curve.
func taken(r *Rode, s State) (n int) {
	for _, p := range r.Pieces(s, nil) {
		for _, t := range []float64{p.Low, p.High} {
			if n *= 2; t > 0 {
				n++
			}
		}
	}
	return n
}

func TestStiffnessIsTheSlope(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, _ := anyRode(t, true, true)
		s := solveT(t, r, r.hang*spread(t, "over", 1.01, 300))
		kinks := func(s State) int {
			i, l, _ := r.touch(s.V)
			n := taken(r, s)*2*MaxPieces + 2*i
			if l > 0 {
				n++
			}
			return n
		}
		check := func(what string, got, d float64, of func(State) float64, at func(d float64) State) {
			lo := at(-d)
			was := kinks(lo)
			hi := at(d)
			if was != kinks(hi) || lo.Regime != hi.Regime || lo.Regime == Slack {
				return // a step across a kink says nothing
			}
			fd := (of(hi) - of(lo)) / (2 * d)
			curl := math.Abs(of(hi)-2*of(s)+of(lo)) / d
			closeTo(t, what, got, fd, 1e-4*math.Abs(fd)+1.1*curl+1e-8*s.T/r.out)
		}
		check("dH/dX", s.SpanStiffness, 1e-6*s.Span, func(s State) float64 { return s.H },
			func(d float64) State { return solveX(t, r, s.Span+d) })
		check("dT/dX", s.SpanTension, 1e-6*s.Span, func(s State) float64 { return s.T },
			func(d float64) State { return solveX(t, r, s.Span+d) })
		out := r.out
		d := min(1e-6*out, r.use[len(r.use)-1].l/4)
		if out+d > r.Total() {
			return // no more rode to pay out
		}
		check("-dT/dL", s.Stiffness, d, func(s State) float64 { return -s.T },
			func(d float64) State {
				if err := r.SetOut(out + d); err != nil {
					t.Fatal(err)
				}
				return solveX(t, r, s.Span)
			})
	})
}

// Hauled straight up, the rode answers with the weight it lifts off the bottom
// less what it takes in: by hand, for rodes that do not stretch.
func TestStiffnessOfASlackRode(t *testing.T) {
	chain := Piece{Length: 30, Weight: 20, EA: Unlimited, Friction: 0.7}
	rope := Piece{Length: 5, Weight: 2, EA: Unlimited, Friction: 0.2}
	long := rope
	long.Length = 10
	free := chain
	free.Friction = NoBottom
	for _, tt := range []struct {
		name   string
		pieces []Piece
		want   float64
	}{
		{"chain lifts as chain comes in", []Piece{chain}, 0},
		{"chain lifts as rope comes in", []Piece{chain, rope}, 18},
		{"rope lifts as rope comes in", []Piece{chain, long}, 0},
		{"a bight rises by half", []Piece{free}, -10},
	} {
		r := must(t, 9, tt.pieces...)
		s, err := r.AtTension(r.hang)
		if err != nil || s.Regime != Slack {
			t.Fatalf("%s: %+v, %v", tt.name, s, err)
		}
		near(t, tt.name, s.Stiffness, tt.want, 1e-9, 1)
		out := r.Out()
		if err := r.SetOut(out - 0.01); err != nil {
			t.Fatal(err)
		}
		near(t, tt.name+", hauled", (r.hang-s.T)/0.01, tt.want, 1e-9, 1)
	}
}

// On a soft rode friction along the bottom shows in both stiffnesses: the line
// that is let off lies slacker. Against differences of the solved states.
func TestStiffnessWithSoftLineOnTheBottom(t *testing.T) {
	r := must(t, 10, Piece{Length: 100, Weight: 20, EA: 1e4, Friction: 0.7})
	if err := r.SetOut(90); err != nil {
		t.Fatal(err)
	}
	at := func(out, x float64) State {
		if err := r.SetOut(out); err != nil {
			t.Fatal(err)
		}
		s, err := r.AtSpan(x)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	s := at(90, 95)
	if s.Regime != OnBottom || s.AnchorT == 0 {
		t.Fatalf("%+v: want some of it on the bottom, drawn to the anchor", s)
	}
	const d = 1e-4
	near(t, "dH/dX", s.SpanStiffness, (at(90, 95+d).H-at(90, 95-d).H)/(2*d), 1e-7, 0)
	near(t, "dT/dX", s.SpanTension, (at(90, 95+d).T-at(90, 95-d).T)/(2*d), 1e-7, 0)
	near(t, "-dT/dL", s.Stiffness, (at(90-d, 95).T-at(90+d, 95).T)/(2*d), 1e-7, 0)
}
