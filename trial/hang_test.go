package trial

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"hawse/trial/rode"
)

func templateTrial(t testing.TB) *Trial {
	t.Helper()
	tr, err := ParseTrial("t.toml", []byte(Template()))
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// Hauling 20 m in at 3 kN brings less rode in than was counted: 20/(1+T/EA).
func TestHangTakesTheStretchOut(t *testing.T) {
	h := NewHang(templateTrial(t))
	for x := Length(0); x <= 20; x += 0.01 {
		h.Follow(3000, x, 60-x, 7.5)
	}
	h.Follow(3000, 20, 40, 7.5)
	want := 60 - 20/(1+3000.0/400e3)
	if got := float64(h.Out()); math.Abs(got-want) > 1e-9 {
		t.Errorf("unstretched rode out %v m; want %v", got, want)
	}
	// Said anew it is taken at its word.
	h.Follow(3000, 20, 39, 7.5)
	if h.Out() != 39 {
		t.Errorf("rode out said anew as 39 m: %v", h.Out())
	}
	// Paid out and hauled in again at the same tensions it is where it was.
	for _, x := range []Length{19, 18, 19, 20} {
		h.Follow(1500, x, 59-x, 7.5)
	}
	h.Follow(3000, 20, 39, 7.5)
	if math.Abs(float64(h.Out())-39) > 0.01 {
		t.Errorf("out and in again: %v m, want about 39", h.Out())
	}
}

// Whatever it is told, the state is the one of the tension, length and depth it
// was last solved at, and those are never farther off than the rule says.
func TestHangKeepsToItsRule(t *testing.T) {
	tr := templateTrial(t)
	rapid.Check(t, func(t *rapid.T) {
		h := NewHang(tr)
		x, tension, height := Length(0), Force(500), Length(7.5)
		for range rapid.IntRange(1, 60).Draw(t, "points") {
			x += Length(rapid.Float64Range(-0.1, 0.2).Draw(t, "dx"))
			tension = max(tension+Force(rapid.Float64Range(-200, 220).Draw(t, "dT")), 40)
			height += Length(rapid.Float64Range(-0.02, 0.02).Draw(t, "dh"))
			changed := h.Follow(tension, x, 60-x, height)
			s, ok := h.State()
			if !ok {
				if err := h.Why(); !errors.Is(err, rode.ErrCannotHang) {
					t.Fatalf("unknown at %v N, %v m: %v", tension, x, err)
				}
				continue
			}
			if math.Abs(s.T-float64(tension)) > hangTension*s.T*1.001 || math.Abs(s.Out-float64(h.Out())) > hangHaul || math.Abs(s.Height-float64(height)) > hangHeight {
				t.Fatalf("state of %v N, %v m, %v m at %v N, %v m, %v m", s.T, s.Out, s.Height, tension, h.Out(), height)
			}
			if changed && math.Abs(s.T-float64(tension)) > 1e-9*s.T {
				t.Fatalf("changed, but solved at %v N and not %v N", s.T, tension)
			}
		}
	})
}

func TestHangSaysWhyItDoesNotKnow(t *testing.T) {
	nan := Length(math.NaN())
	tr := templateTrial(t)
	for _, c := range []struct {
		name             string
		tension          Force
		x, rodeOut, tall Length
		want             error
	}{
		{"rode out", 1000, nan, nan, 7.5, ErrNoLength},
		{"rode out of nothing", 1000, 60, 0, 7.5, ErrNoLength},
		{"depth", 1000, 0, 60, nan, ErrNoHeight},
		{"too little tension", 1, 0, 60, 7.5, rode.ErrCannotHang},
		{"more out than there is", 1000, 0, 81, 7.5, rode.ErrInput},
	} {
		h := NewHang(tr)
		h.Follow(2000, 0, 60, 7.5)
		if _, ok := h.State(); !ok {
			t.Fatal("not known to begin with")
		}
		if !h.Follow(c.tension, c.x, c.rodeOut, c.tall) {
			t.Errorf("%s: not told that it changed", c.name)
		}
		if _, ok := h.State(); ok || !errors.Is(h.Why(), c.want) {
			t.Errorf("%s: known %v, why %v; want %v", c.name, ok, h.Why(), c.want)
		}
		if h.Follow(2000, 0, 60, 7.5); h.Why() != nil {
			t.Errorf("%s: not known again: %v", c.name, h.Why())
		}
	}
	tr.Rode[1].Weight = -1
	h := NewHang(tr)
	h.Follow(2000, 0, 60, 7.5)
	if h.Gap(ErrNoTension); !errors.Is(h.Why(), rode.ErrFloats) || !strings.Contains(h.Why().Error(), "piece 2") {
		t.Errorf("a rode that floats: %v", h.Why())
	}
}

func TestHangAllocatesNothing(t *testing.T) {
	h := NewHang(templateTrial(t))
	x := Length(0)
	if n := testing.AllocsPerRun(1000, func() {
		x += 0.02
		h.Follow(3000+Force(100*math.Sin(float64(x))), x, 60-x, 7.5)
	}); n != 0 {
		t.Errorf("%v allocations a point", n)
	}
}

func BenchmarkHangFollow(b *testing.B) {
	h := NewHang(templateTrial(b))
	i := 0
	for b.Loop() {
		x := Length(i%5000) * 0.004
		h.Follow(3000+Force(i%7), x, 60-x, 7.5)
		i++
	}
}
