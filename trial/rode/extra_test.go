package rode

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestScopeBothWays(t *testing.T) {
	// 60 m out in 6 m under a roller of 1.5 m: 8 to 1 by the boat, 10 by the class.
	near(t, "scope", Scope(60, 6, 1.5), 8, 1e-15, 0)
	near(t, "by depth", ScopeByDepth(60, 6), 10, 1e-15, 0)
	for _, bad := range []float64{Scope(60, 0, 1), Scope(60, 6, -1), Scope(math.NaN(), 6, 1), Scope(math.Inf(1), 6, 1), ScopeByDepth(0, 6), ScopeByDepth(60, math.Inf(1)), Scope(60, 6, math.NaN())} {
		if !math.IsNaN(bad) {
			t.Errorf("got %v, want NaN", bad)
		}
	}
}

// A taut line at height 7.5 m: span, angle and pin load worked out by hand from
// the definitions, to the digits printed here.
func TestTautLineTable(t *testing.T) {
	for _, c := range []struct{ scope, out, span, pin float64 }{
		{10, 75, 74.6, 0.10}, {8, 60, 59.5, 0.13}, {5, 37.5, 36.7, 0.20}, {3, 22.5, 21.2, 0.34}, {2, 15, 13.0, 0.52},
	} {
		if d := math.Abs(TautSpan(c.out, 7.5) - c.span); d > 0.05 {
			t.Errorf("scope %v: span off by %v", c.scope, d)
		}
		if d := math.Abs(PinRatio(math.Asin(1/c.scope), 1) - c.pin); d > 0.005 {
			t.Errorf("scope %v: pin off by %v", c.scope, d)
		}
	}
	near(t, "up and down", PinRatio(math.Pi/2, 1), math.Sqrt2, 1e-15, 0)
	near(t, "by its definition", 1234*PinRatio(0.3, 1), 2*1234*math.Sin(0.15), 1e-14, 0)
	if TautSpan(7, 7.5) != 0 || !math.IsInf(1/PinRatio(0, 1), 1) {
		t.Error("a short line has no span; a straight one no pin load")
	}
}

func TestFairleadFriction(t *testing.T) {
	// Friction 0.2: 2.5 % at 8 to 1, 37 % up and down, while hauling.
	near(t, "8 to 1", Capstan(0.2, math.Asin(1./8)), 1.025, 5e-4, 0)
	near(t, "up and down", Capstan(0.2, math.Pi/2), 1.37, 3e-3, 0)
	near(t, "there and back", 900*Capstan(0.2, 1)*Capstan(-0.2, 1), 900, 1e-14, 0)
	if in := Capstan(-0.2, 1); in >= 1 {
		t.Errorf("paying out: %v inboard of 1", in)
	}
}

func TestUnstretched(t *testing.T) {
	near(t, "5 percent", UnstretchedStep(42, 5000, 5000, 1e5), 40, 1e-15, 0)
	near(t, "rigid", UnstretchedStep(42, 1, 5000, Unlimited), 42, 0, 0)
	rapid.Check(t, func(t *rapid.T) {
		ea := spread(t, "EA", 1e4, 1e9)
		t1, t2 := spread(t, "t1", 1e-3, 1e5), spread(t, "t2", 1e-3, 1e5)
		got := UnstretchedStep(2, t1, t2, ea)
		want := 0.0 // the midpoint rule, dumb
		const n = 20000
		for i := range n {
			want += 2. / n / (1 + (t1+(t2-t1)*(float64(i)+0.5)/n)/ea)
		}
		closeTo(t, "step", got, want, 1e-7*want)
		closeTo(t, "sign", UnstretchedStep(-2, t1, t2, ea), -got, 1e-15)
		closeTo(t, "way", UnstretchedStep(2, t2, t1, ea), got, 1e-14)
	})
}

func TestDrumWords(t *testing.T) {
	good := Drum{Barrel: 0.2, Flange: 0.5, Width: 0.4, Line: 0.012}
	if err := good.Check(); err != nil {
		t.Fatal(err)
	}
	for name, f := range map[string]func(*Drum){
		"no line": func(d *Drum) { d.Line = 0 }, "line not a number": func(d *Drum) { d.Line = math.NaN() },
		"no barrel": func(d *Drum) { d.Barrel = 0 }, "flange under the barrel": func(d *Drum) { d.Flange = 0.1 },
		"narrow": func(d *Drum) { d.Width = 0.01 }, "endless": func(d *Drum) { d.Flange = math.Inf(1) }, "pitch": func(d *Drum) { d.Pitch = 0.5 },
	} {
		d := good
		f(&d)
		if err := d.Check(); !errors.Is(err, ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
		if d.Turns() != 0 || d.Layers() != 0 || !math.IsNaN(d.Wound(1)) || !math.IsNaN(d.TurnsFor(1)) || !math.IsNaN(d.WrapDiameter(1)) {
			t.Errorf("%s: a bad drum gives numbers", name)
		}
	}
	// 12 mm on a barrel of 200 mm: 0.666, 0.741, 0.817, 0.892 m a turn.
	for i, want := range []float64{0.666, 0.741, 0.817, 0.892} {
		near(t, fmt.Sprintf("turn on layer %d", i+1), math.Pi*good.WrapDiameter(i+1), want, 8e-4, 0)
	}
	if !math.IsNaN(good.Wound(-1)) || !math.IsNaN(good.Wound(1e9)) || !math.IsNaN(good.TurnsFor(1e9)) || !math.IsNaN(good.WrapDiameter(0)) {
		t.Error("turns that cannot be give numbers")
	}
	nested := good
	nested.Pitch = Nested
	if nested.Layers() <= good.Layers() || nested.Capacity() <= good.Capacity() {
		t.Errorf("nested layers hold %v m, square ones %v m", nested.Capacity(), good.Capacity())
	}
}

// The length on a drum, turn by turn.
func TestDrumCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Drum{Barrel: spread(t, "barrel", 0.05, 1), Line: spread(t, "line", 0.004, 0.04), Pitch: rapid.SampledFrom([]float64{0, 1, Nested}).Draw(t, "pitch")}
		d.Width = d.Line * spread(t, "turns", 1, 60)
		d.Flange = d.Barrel + 2*d.Line*spread(t, "layers", 1, 15)
		if err := d.Check(); err != nil {
			t.Fatal(err)
		}
		whole, sum := d.Turns()*d.Layers(), 0.0
		for i := range whole {
			closeTo(t, "wound", d.Wound(float64(i)), sum, 1e-9*(sum+1))
			sum += math.Pi * d.WrapDiameter(1+i/d.Turns())
		}
		closeTo(t, "capacity", d.Capacity(), sum, 1e-9*sum)
		turns := rapid.Float64Range(0, float64(whole)).Draw(t, "on it")
		closeTo(t, "turns back", d.TurnsFor(d.Wound(turns)), turns, 1e-9*(turns+1))
		off := rapid.Float64Range(0, turns).Draw(t, "off")
		paid, least, most := d.Wound(turns)-d.Wound(turns-off), math.Pi*d.WrapDiameter(1)*off, math.Pi*d.WrapDiameter(d.Layers())*off
		if slack := 1e-9 * (sum + 1); paid > most+slack || paid < least-slack {
			t.Fatalf("%v m paid out is not between that of the first and the last layer", paid)
		}
	})
}

// The buried line against its equations, integrated by Runge and Kutta along
// the line from the mudline down.
func TestBuriedTwin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Soil{Strength: spread(t, "strength", 500, 2e4), Gradient: spread(t, "gradient", 1, 3000), Bearing: rapid.Float64Range(7, 12).Draw(t, "Nc"),
			Width: spread(t, "width", 0.005, 0.1), Friction: rapid.Float64Range(0, 0.6).Draw(t, "mu")}
		angle, depth := rapid.Float64Range(0, 0.3).Draw(t, "angle"), spread(t, "depth", 0.1, 5)
		t0 := s.above(depth) * spread(t, "over", 3, 100)
		b, err := s.FromMudline(t0, angle, depth)
		if err != nil {
			t.Fatal(err)
		}
		// State: depth, back, angle, log of tension; by length along the line.
		y := [4]float64{0, 0, angle, math.Log(t0)}
		slope := func(y [4]float64) [4]float64 {
			q := s.Across(y[0]) / math.Exp(y[3])
			return [4]float64{math.Sin(y[2]), math.Cos(y[2]), q, -s.Friction * q}
		}
		const n = 4000
		h := b.Length / n
		for range n {
			step := func(k [4]float64, f float64) (z [4]float64) {
				for i := range z {
					z[i] = y[i] + f*h*k[i]
				}
				return z
			}
			k1 := slope(y)
			k2 := slope(step(k1, 0.5))
			k3 := slope(step(k2, 0.5))
			k4 := slope(step(k3, 1))
			for i := range y {
				y[i] += h / 6 * (k1[i] + 2*k2[i] + 2*k3[i] + k4[i])
			}
		}
		closeTo(t, "depth", y[0], depth, 1e-4*depth)
		closeTo(t, "back", b.Back, y[1], 1e-4*y[1])
		closeTo(t, "angle", b.PadeyeAngle, y[2], 1e-4)
		closeTo(t, "tension", b.Padeye, math.Exp(y[3]), 1e-5*t0)
		back, err := s.FromPadeye(b.Padeye, angle, depth)
		if err != nil {
			t.Fatal(err)
		}
		closeTo(t, "mudline from padeye", back.Mudline, t0, 1e-9*t0)
		// At small turns the closed form is the same.
		a, _, err := s.neubeckerRandolph(b.Padeye, angle, depth)
		if err != nil {
			t.Fatal(err)
		}
		if turn := b.PadeyeAngle - angle; turn < 0.05 {
			closeTo(t, "closed form", a, b.PadeyeAngle, 0.1*b.PadeyeAngle*(b.PadeyeAngle+s.Friction))
		}
	})
}

func TestBuriedWords(t *testing.T) {
	good := Soil{Strength: 2000, Gradient: 1500, Bearing: 9, Width: 0.025, Friction: 0.4}
	nan := math.NaN()
	for name, f := range map[string]func(s *Soil, tension, angle, depth *float64){
		"strength":    func(s *Soil, _, _, _ *float64) { s.Strength = -1 },
		"no strength": func(s *Soil, _, _, _ *float64) { s.Strength, s.Gradient = 0, 0 },
		"gradient":    func(s *Soil, _, _, _ *float64) { s.Gradient = nan },
		"bearing":     func(s *Soil, _, _, _ *float64) { s.Bearing = 0 },
		"width":       func(s *Soil, _, _, _ *float64) { s.Width = nan },
		"friction":    func(s *Soil, _, _, _ *float64) { s.Friction = -0.1 },
		"tension":     func(_ *Soil, t, _, _ *float64) { *t = 0 },
		"angle":       func(_ *Soil, _, a, _ *float64) { *a = 1.6 },
		"depth":       func(_ *Soil, _, _, d *float64) { *d = math.Inf(1) },
	} {
		s, tension, angle, depth := good, 8000.0, 0.0, 1.0
		f(&s, &tension, &angle, &depth)
		if _, err := s.FromMudline(tension, angle, depth); !errors.Is(err, ErrInput) {
			t.Errorf("%s: FromMudline: %v", name, err)
		}
		if _, err := s.FromPadeye(tension, angle, depth); !errors.Is(err, ErrInput) {
			t.Errorf("%s: FromPadeye: %v", name, err)
		}
		if _, _, err := s.neubeckerRandolph(tension, angle, depth); !errors.Is(err, ErrInput) {
			t.Errorf("%s: the closed form: %v", name, err)
		}
	}
	if _, err := good.FromMudline(100, 0, 5); !errors.Is(err, ErrBuried) {
		t.Errorf("100 N, 5 m down: %v", err)
	}
	b, err := good.FromMudline(8000, 0.1, 0)
	if err != nil || b.Padeye != 8000 || b.PadeyeAngle != 0.1 || b.Length != 0 {
		t.Errorf("at the mudline: %+v, %v", b, err)
	}
	// Strength from nothing, and level at the mudline: endless.
	soft := Soil{Gradient: 1500, Bearing: 12, Width: 0.012, Friction: 0.1}
	if b, err := soft.FromMudline(20000, 0, 2); err != nil || !math.IsInf(b.Length, 1) {
		t.Errorf("%+v, %v", b, err)
	}
	if b, err := soft.FromMudline(20000, 0.05, 2); err != nil || math.IsInf(b.Length, 1) || !(b.Back > 0 && b.Back < b.Length) {
		t.Errorf("%+v, %v", b, err)
	}
}

// neubeckerRandolph is the closed form for small angles: the angle at the
// padeye, rad, and the tension at the mudline, N, from the tension ta at the
// padeye, the angle at the mudline and the depth:
//
//	ta/2 (a^2 - angle^2) = integral of Q,  t0 = ta e^(mu (a - angle))
//
// It is within 5 percent of the full integral up to a turn of 0.6 rad (worked
// out here, friction ratios 0 to 0.6).
func (s Soil) neubeckerRandolph(ta, angle, depth float64) (a, t0 float64, err error) {
	if err := s.check(ta, angle, depth); err != nil {
		return 0, 0, err
	}
	a = math.Sqrt(angle*angle + 2*s.above(depth)/ta)
	return a, ta * math.Exp(s.Friction*(a-angle)), nil
}
