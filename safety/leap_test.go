package safety

import (
	"math"
	"strings"
	"testing"
	"time"

	"hawse/trial"
)

const (
	kgf = newtonsKgf / 1000 // kN
	lbf = newtonsLbf / 1000
)

// What of the numbers of a box is taken for a changed unit, ten of them in a second,
// 2 s after the beginning. The cell's range is 20 kN, the step of the display 1 N
// unless it says otherwise.
func TestUnitChanged(t *testing.T) {
	after := func(by float64, load func(s float64) float64) func(s float64) float64 {
		return func(s float64) float64 {
			if s > 2.05 {
				return by * load(s)
			}
			return load(s)
		}
	}
	level := func(kN float64) func(s float64) float64 {
		return func(s float64) float64 { return kN + 0.003*scatter(int(math.Round(10*s))) }
	}
	falls := func(from, to, in float64) func(s float64) float64 {
		return func(s float64) float64 { return level(from + (to-from)*max(0, min((s-2)/in, 1)))(s) }
	}
	steps := func(step float64, load func(s float64) float64) func(s float64) float64 {
		return func(s float64) float64 { return step * math.Round(load(s)/step) }
	}
	tests := []struct {
		name string
		step trial.Force
		load func(s float64) float64 // kN
		want string
	}{
		{"kg to lb", 0, after(kgf/lbf, level(1.5)), "rose to 2.205 times: lb are taken for kg?"},
		{"lb to kg", 0, after(lbf/kgf, level(2.9)), "fell to 1/2.205: kg are taken for lb?"},
		{"kN to 1000 lbf", 0, after(1/newtonsLbf, level(4)), "fell to 1/4.448: lbf are taken for newtons?"},
		{"kN to t", 0, after(1/newtonsKgf, level(4)), "fell to 1/9.807: kgf are taken for newtons?"},
		{"kgf to kN, hardly anything left of it", 0, after(kgf, level(3)), "fell to 1/102: kN are taken for kgf?"},
		{"while it rises by 0.5 kN/s", 0, after(lbf/kgf, func(s float64) float64 { return level(2 + 0.5*s)(s) }), "fell to 1/2.205: kg are taken for lb?"},
		{"in a swell of 0.3 kN in 4 s", 0, after(1/newtonsLbf, func(s float64) float64 { return level(3 + 0.3*math.Sin(s*math.Pi/2))(s) }), "fell to 1/4.448: lbf are taken for newtons?"},
		{"on a display of 25 N steps", 25, steps(0.025, after(kgf/lbf, level(2))), "rose to 2.205 times: lb are taken for kg?"},
		{"too coarse a display for what is left of it", 25, steps(0.025, after(kgf, level(3))), ""},
		{"below 5 % of the range", 0, after(lbf/kgf, level(0.99)), ""},

		{"a breakout in one sample, to a half", 0, falls(4, 2, 0.05), ""},
		{"a breakout in one sample, to 1/2.28", 0, falls(4, 4/2.28, 0.05), ""},
		{"a breakout in 0.2 s to what lb would be", 0, falls(4, 4*lbf/kgf, 0.2), ""},
		{"one that goes on to fall", 0, func(s float64) float64 {
			return level(4 * map[bool]float64{true: lbf / kgf * math.Exp(2.1-s), false: 1}[s > 2.05])(s)
		}, ""},
		{"the rode parts", 0, falls(6, 0.03, 0.05), ""},
		{"a slack rode is left", 0, falls(6, 0.08, 0.05), ""},
		{"a jerk to 2.2 times", 0, func(s float64) float64 {
			return level(2 + 2.4*math.Sin(math.Pi*max(0, min((s-2)/0.8, 1))))(s)
		}, ""},
		{"one wild sample", 0, func(s float64) float64 {
			return level(2 * map[bool]float64{true: kgf / lbf, false: 1}[s > 2.05 && s < 2.15])(s)
		}, ""},
		{"two", 0, func(s float64) float64 {
			return level(2 * map[bool]float64{true: kgf / lbf, false: 1}[s > 2.05 && s < 2.25])(s)
		}, ""},
		{"a sign that turns round", 0, after(-1, level(2)), ""},
		{"a number that was stuck comes free", 0, func(s float64) float64 {
			if s <= 4.2 {
				return 2
			}
			return level(2 * kgf / lbf)(s)
		}, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := testConfig()
			c.Step = max(tt.step, 1)
			for i := range c.Limits {
				c.Limits[i].TensionWarn, c.Limits[i].TensionStop, c.Limits[i].WLLWarn, c.Limits[i].WLLStop = 18e3, 19e3, 1, 1
			}
			c.WLL = 19.5e3
			r := armedWith(t, c, trial.Pull)
			r.drift = haulsOn
			r.kN = tt.load(0)
			r.run(2 * time.Second)
			r.said, r.drift = nil, 0
			start := r.play(6*time.Second, func(s float64) (float64, float64) { return tt.load(s), r.x + haulsOn })
			got := ""
			for _, e := range r.said {
				if e.What == AlarmUp && e.Cause == LoadUnit {
					got = strings.TrimPrefix(e.Text(c.Show), "ALARM: UNIT CHANGED ")
					if at := seconds(e.T - start); !near(at, 2.3, 0.11) {
						t.Errorf("said at %.2f s, want the third sample after the leap", at)
					}
				}
			}
			if got != tt.want {
				t.Errorf("said %q, want %q\n%s", got, tt.want, story(r.said, start))
			}
		})
	}
}

// The stop by a changed unit stands until the unit is the old one again: by a leap
// back, over however many steps of the button, or a known weight, or the director's
// word that there was no such thing. Acknowledging is not enough.
func TestUnitChangedStands(t *testing.T) {
	leapt := func(t *testing.T) *rig {
		r := armed(t, trial.Pull)
		r.kN = 3
		r.run(2 * time.Second)
		r.kN /= newtonsLbf
		r.run(300 * time.Millisecond)
		if s := r.g.State(); s.Stop.Cause != LoadUnit || s.TensionKnown() || s.Permit {
			t.Fatalf("stop %+v, tension known %v: want UNIT CHANGED, and an unknown tension", s.Stop, s.TensionKnown())
		}
		r.must(Ack, 0)
		r.run(20 * time.Second)
		if refused := r.do(Rearm, trial.Pull, Director); !strings.Contains(refused, "UNIT CHANGED") {
			t.Fatalf("re-armed with the unit changed: %q", refused)
		}
		return r
	}
	for name, ends := range map[string]func(r *rig){
		"pressed back": func(r *rig) { r.kN *= newtonsLbf },
		"pressed on, too low to be seen, and back": func(r *rig) {
			r.kN *= newtonsLbf / newtonsKgf // from 0.67 to 0.31 kN
			r.run(time.Second)
			r.kN *= newtonsKgf
		},
		"a known weight":      func(r *rig) { r.check(CheckWeight, CheckPassed, Director) },
		"the director's word": func(r *rig) { r.check(CheckWeight, CheckWaived, Director) },
	} {
		t.Run(name, func(t *testing.T) {
			r := leapt(t)
			ends(r)
			r.run(time.Second)
			want := !strings.HasPrefix(name, "pressed on")
			if s := r.g.State(); s.present[LoadUnit] == absent != want || s.TensionKnown() != want {
				t.Fatalf("%d, by %v: want gone %v", s.present[LoadUnit], s.leap.by, want)
			}
			if want {
				r.must(Rearm, trial.Pull)
			}
		})
	}
	t.Run("a failed weight", func(t *testing.T) {
		r := leapt(t)
		r.check(CheckWeight, CheckFailed, Director)
		if s := r.g.State(); s.present[LoadUnit] != atLimit {
			t.Errorf("%d: want it to stand", s.present[LoadUnit])
		}
	})
	t.Run("kg, lb, newtons, kg", func(t *testing.T) {
		r := armed(t, trial.Pull)
		r.kN = 1.1
		var before level
		for _, by := range []float64{newtonsKgf / newtonsLbf, newtonsLbf, 1 / newtonsKgf} {
			r.run(time.Second)
			before = r.g.State().present[LoadUnit]
			r.kN *= by
		}
		r.run(time.Second)
		if s := r.g.State(); before != atLimit || s.present[LoadUnit] != absent {
			t.Errorf("%d in newtons, %d in kg again: want told, and gone", before, s.present[LoadUnit])
		}
	})
}

// Before the first arming the known weight tells it, and what is hung on the cell
// leaps.
func TestUnitChangedUnarmed(t *testing.T) {
	r := newRig(t, testConfig())
	r.kN = 2
	r.run(2 * time.Second)
	r.kN *= kgf / lbf
	r.run(2 * time.Second)
	if s := r.g.State(); s.present[LoadUnit] != absent {
		t.Errorf("told before arming: %s", story(r.said, 0))
	}
}

// A leap by a unit is no snag, no stop limit that comes soon, and no vessel that
// moves.
func TestUnitChangedIsNothingElse(t *testing.T) {
	c := snagConfig()
	for i := range c.Limits {
		c.Limits[i].SoonWarn = 3 * time.Second
	}
	r := armedWith(t, c, trial.Pull)
	r.kN = 2
	r.play(60*time.Second, func(s float64) (float64, float64) {
		kN := 2 + 0.003*scatter(int(math.Round(10*s)))
		if s > 50 {
			kN *= kgf / lbf
		}
		return kN, 0.04 * s
	})
	for _, e := range r.said {
		if e.What == AlarmUp && e.Cause != LoadUnit {
			t.Errorf("%.1f s: %s", seconds(e.T), e.Text(c.Show))
		}
	}
	if s := r.g.State(); s.Stop.Cause != LoadUnit {
		t.Errorf("stop %+v, want UNIT CHANGED", s.Stop)
	}
}

// The factor is that of what the box shows, whatever zero and calibration make of it.
func TestUnitChangedIsOfWhatIsShown(t *testing.T) {
	r := armed(t, trial.Pull)
	for i := range 30 {
		shown := trial.Force(3000)
		if i > 15 {
			shown /= newtonsLbf
		}
		r.now += 100 * ms
		r.g.SampleFelt(r.now, Felt{Tension: 1.1*shown - 250, Felt: 1.1*shown - 250, Shown: shown}, false, &r.ev)
		r.take()
	}
	if s := r.g.State(); s.Stop.Cause != LoadUnit {
		t.Errorf("stop %+v, want UNIT CHANGED", s.Stop)
	}
}

// Each slip of unit is another, and every two units that a box may have are one.
func TestSlips(t *testing.T) {
	for _, a := range twinUnits {
		for _, b := range twinUnits {
			if a == b {
				continue
			}
			f := slipOf(a/b*1.014, 0.015)
			if math.Abs(f/(a/b)-1) > 1e-9 || slipWhy(f) == "" {
				t.Errorf("%v N for %v N: %v, %q", a, b, f, slipWhy(f))
			}
		}
	}
	for _, ratio := range []float64{0, 1, 1.5, 2, 2.3, 3, 10.2, -2.2046, math.NaN(), math.Inf(1)} {
		if f := slipOf(ratio, 0.03); f != 0 {
			t.Errorf("%v: %v, want no unit", ratio, f)
		}
	}
	for _, unit := range []struct {
		name string
		n    float64
	}{{"kgf", newtonsKgf}, {"lbf", newtonsLbf}} {
		if u, ok := trial.ForceUnitNamed(unit.name); !ok || u.N != unit.n {
			t.Errorf("%s is %v N here, %v there", unit.name, unit.n, u.N)
		}
	}
}
