package trial

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"hawse/trial/rode"
)

// TestPinRatioByScope: a pin under a level lead feels little at long scope. The
// values are those of 2 sin(asin(1/S)/2), worked out by hand to two digits.
func TestPinRatioByScope(t *testing.T) {
	for _, tt := range []struct{ scope, want float64 }{{8, 0.13}, {5, 0.20}, {3, 0.34}, {2, 0.52}, {1, 1.41}} {
		if got := rode.PinRatio(math.Asin(1/tt.scope), 1); math.Abs(got-tt.want) > 0.005 {
			t.Errorf("scope %v: R/T = %.4f, want %v", tt.scope, got, tt.want)
		}
	}
	// Two unequal pulls at a right angle: Pythagoras.
	if got := rode.PinRatio(math.Pi/2, 0.75); math.Abs(got-1.25) > 1e-12 {
		t.Errorf("3 and 4 at a right angle: R/T = %v, want 1.25", got)
	}
}

// pinTrial is the template's with a pin in the roller, and other pieces of rode.
func pinTrial(lead, mu float64, pieces ...Piece) *Trial {
	t, err := ParseTrial("template", []byte(Template()))
	if err != nil {
		panic(err)
	}
	t.Vessel.Lead, t.Vessel.HasLead, t.Vessel.RollerFriction = Angle(lead), true, mu
	t.Load.Sits, t.Load.AngleU = SitsRoller, defaultAngleU
	if len(pieces) > 0 {
		t.Rode, t.Gear = pieces, nil
	}
	return t
}

// TestPinOfChainOnTheBottom holds the pin against a closed form. An inextensible
// chain of weight w that touches the bottom leads level at T - wV there, so that
// under a level lead R² = (T - H)² + (w s)² with H = T - wV and s² = V² + 2 V H/w,
// which is 2 w V T: what is felt grows as the root of the tension.
func TestPinOfChainOnTheBottom(t *testing.T) {
	const w, v = 20.0, 7.5
	p := NewPin(pinTrial(0, 0, Piece{Name: "chain", Length: 200, Weight: w, EA: 1e12, WLL: 1e5, Source: "invented"}), LoadCell{})
	for _, want := range []float64{200, 400, 1000, 2500, 6000} {
		felt := math.Sqrt(2 * w * v * want)
		got := p.Tension(Force(felt), PinAt{Out: 190, Height: v})
		if math.Abs(float64(got.T)-want) > 1e-4*want {
			t.Errorf("%.1f N felt: %.3f N, want %v", felt, got.T, want)
		}
		if dT := 2 * want / felt; math.Abs(got.Gain-dT) > 0.02*dT {
			t.Errorf("%.1f N felt: gain %.3f, want about 2T/R = %.3f", felt, got.Gain, dT)
		}
	}
}

// TestPinNeverReadsLow: whatever the true rode, angles, friction and way of the
// line within what is said of them, the tension the guard works with is no less
// than the larger of the two parts', and the likely one is within its uncertainty.
// So a pin is never later at a limit than a cell in the rode.
func TestPinNeverReadsLow(t *testing.T) {
	cover, known := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		f := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		lead, mu := f("lead", 0, 0.6), rapid.SampledFrom([]float64{0, 0.05, 0.2}).Draw(t, "mu")
		tr := pinTrial(lead, mu,
			Piece{Name: "chain", Length: Length(f("chain", 5, 40)), Weight: LineWeight(f("w1", 5, 60)), EA: 5e6, WLL: 1e5, Source: "invented"},
			Piece{Name: "line", Length: 120, Weight: LineWeight(f("w2", 0.1, 20)), EA: Force(f("ea", 2e5, 5e6)), WLL: 1e5, Source: "invented"})
		out, height := f("out", 8, 120), f("height", 2, 20)
		if out < 1.02*height {
			out = 1.02 * height
		}
		at := PinAt{Out: Length(out), Height: Length(height), OutU: 0.1, HeightU: 0.1, Way: rapid.IntRange(-1, 1).Draw(t, "way")}

		// The truth is anywhere on the sphere of two standard uncertainties.
		a, b := f("a", 0, math.Pi), f("b", 0, 2*math.Pi)
		e := [3]float64{2 * math.Cos(a), 2 * math.Sin(a) * math.Cos(b), 2 * math.Sin(a) * math.Sin(b)}
		r, err := rode.New(math.Max(height+0.1*e[0], 0.5), tr.RodePieces())
		if err != nil {
			t.Fatal(err)
		}
		if err := r.SetOut(math.Min(out+0.1*e[1], r.Total())); err != nil {
			t.Skip(err)
		}
		truth := math.Exp(f("log tension", math.Log(100), math.Log(20e3)))
		s, err := r.AtTension(truth)
		if err != nil {
			t.Skip("it does not hang so") // less than its own weight
		}
		bend := s.FairleadAngle + lead + float64(defaultAngleU)*e[2]
		if bend < 0.01 {
			t.Skip("no bend")
		}
		k := math.Exp(mu * bend * map[int]float64{-1: -1, 0: f("stuck", -1, 1), 1: 1}[at.Way])
		felt := truth * rode.PinRatio(bend, k)

		got := NewPin(tr, tr.Load).Tension(Force(felt), at)
		cover++
		if !got.Known {
			if got.Why == "" {
				t.Error("unknown, and no word of why")
			}
			return
		}
		known++
		if larger := truth * math.Max(1, k); float64(got.Most) < larger*(1-2e-3) {
			t.Errorf("true %.1f N outboard, %.1f N the larger part, %.1f N felt: at most %.1f N, which is less (%+v)", truth, larger, felt, got.Most, got)
		}
		if off := math.Abs(float64(got.T) - truth); (s.FairleadAngle < 0.35 || s.Regime == rode.Vertical) && off > 2.5*float64(got.U)+2e-3*truth { // between, it hardly carries its own weight
			t.Errorf("true %.1f N, told %.1f N: %.1f N off, more than 2.5 times its uncertainty of %.1f N (%+v)", truth, got.T, off, got.U, got)
		}
	})
	if known < cover/2 {
		t.Errorf("of %d pulls the tension was known in %d; want it in most, or nothing is proved", cover, known)
	}
}

// TestPinInRecovery: the line is at any angle from that of its statics to plumb, for
// the anchor's eye is somewhere in the bottom, or off it. The guard's tension is no less
// than the true one; and near plumb, where the angle is known well, not much more.
func TestPinInRecovery(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		lead, mu := f("lead", 0, 1.3), f("mu", 0, 1)
		tr := pinTrial(lead, mu,
			Piece{Name: "chain", Length: 10, Weight: LineWeight(f("w1", 5, 60)), EA: 5e6, WLL: 1e5, Source: "invented"},
			Piece{Name: "line", Length: 70, Weight: 0.3, EA: 4e5, WLL: 1e5, Source: "invented"})
		height := f("height", 3, 20)
		out := height * f("out over height", 0.6, 3)
		at := PinAt{Out: Length(out), Height: Length(height), OutU: 0.1, HeightU: 0.1, Deeper: 2, Way: rapid.IntRange(-1, 1).Draw(t, "way")}
		truth := math.Exp(f("log tension", math.Log(100), math.Log(10e3)))
		flattest := math.Pi / 2
		if r, err := rode.New(height, tr.RodePieces()); err != nil {
			t.Fatal(err)
		} else if out > height && r.SetOut(out) == nil {
			if s, err := r.AtTension(truth); err == nil {
				flattest = s.FairleadAngle
			}
		}
		line := flattest + f("plumb", 0, 1)*(math.Pi/2-flattest)
		k := math.Exp(mu * (line + lead) * map[int]float64{-1: -f("slips", 0, 1), 0: f("stuck", -1, 1), 1: f("runs", 0, 1)}[at.Way])
		felt := truth * rode.PinRatio(line+lead, k)

		got := NewPin(tr, tr.Load).Tension(Force(felt), at)
		larger := truth * math.Max(1, k)
		if got.Known && float64(got.Most) < larger*(1-2e-3) {
			t.Errorf("%.2f m out at a height of %.2f m, line at %.1f deg: true %.1f N, the larger part %.1f N, %.1f N felt: at most %.1f N, which is less",
				out, height, degrees(line), truth, larger, felt, got.Most)
		}
		if out > height-0.5 || mu > 0.2 {
			return
		}
		if !got.Known || float64(got.Most) > 1.6*larger || math.Abs(float64(got.T)-truth) > 2.2*float64(got.U)+2e-3*truth {
			t.Errorf("%.2f m out at a height of %.2f m is plumb: true %.1f N, told %.1f ± %.1f N, at most %.1f N, known %v %q", out, height, truth, got.T, got.U, got.Most, got.Known, got.Why)
		}
	})
}

// TestPinThatTellsNothing: what is unknown says what to do.
func TestPinThatTellsNothing(t *testing.T) {
	nan := Length(math.NaN())
	p := NewPin(pinTrial(0, 0), LoadCell{})
	for _, tt := range []struct {
		name string
		p    *Pin
		at   PinAt
	}{
		{"no rode out", p, PinAt{Out: nan, Height: 7.5}},
		{"no depth", p, PinAt{Out: 60, Height: nan}},
		{"hardly a bend", p, PinAt{Out: 79, Height: 1.5, HeightU: 0.1, OutU: 0.1}},
		{"a winch above the roller", NewPin(pinTrial(-0.3, 0), LoadCell{}), PinAt{Out: 60, Height: 7.5}},
	} {
		if got := tt.p.Tension(800, tt.at); got.Known || got.Why == "" {
			t.Errorf("%s: %+v; want it unknown, and why", tt.name, got)
		}
	}
	for _, felt := range []Force{0, -40} {
		if got := p.Tension(felt, PinAt{Out: 60, Height: 7.5}); !got.Known || got.T != felt || got.Most != felt {
			t.Errorf("%v felt: %+v; want it known and %v", felt, got, felt)
		}
	}
}

// BenchmarkPin is a sample of a pin: several solutions of the statics.
func BenchmarkPin(b *testing.B) {
	p := NewPin(pinTrial(0.2, 0.1), LoadCell{})
	b.ReportAllocs()
	for i := range b.N {
		p.Tension(Force(600+i%100*10), PinAt{Out: 60 - Length(i%1000)*0.02, Height: 7.5, OutU: 0.1, HeightU: 0.1, Way: 1})
	}
}
