package safety

import (
	"math"
	"testing"
	"time"

	"hawse/trial"
)

// normal is scatter of deviation 1, the same in every run.
func normal(n int) float64 {
	var sum float64
	for k := range 12 {
		sum += scatter(12*n + k)
	}
	return sum
}

// What of the numbers of a load cell is called noisy. Its range is 20 kN, so that
// nothing under 100 N is; before arming it scatters by 4 N.
func TestLoadNoisy(t *testing.T) {
	const quiet = 0.004
	pulls := func(s float64) float64 { return 1 + 0.05*s }
	tests := []struct {
		name string
		hz   float64
		step float64 // kN
		load func(s float64, n float64) float64
		from float64 // s at which it is called so; -1: never
		to   float64
	}{
		{"a quiet cell", 10, 0, func(s, n float64) float64 { return pulls(s) + quiet*n }, -1, 0},
		{"a wet plug, 20 N worse each second", 10, 0, func(s, n float64) float64 { return pulls(s) + (quiet+0.02*s)*n }, 6, 12},
		{"the same, 5 numbers a second", 5, 0, func(s, n float64) float64 { return pulls(s) + (quiet+0.02*s)*n }, 10, 20},
		{"20", 20, 0, func(s, n float64) float64 { return pulls(s) + (quiet+0.02*s)*n }, 5, 10},
		{"100", 100, 0, func(s, n float64) float64 { return pulls(s) + (quiet+0.02*s)*n }, 5, 10},
		{"a screen that comes off: 200 N at once", 10, 0, func(s, n float64) float64 { return pulls(s) + 0.2*n }, 5, 7},
		{"half of what is told", 10, 0, func(s, n float64) float64 { return pulls(s) + 0.05*n }, -1, 0},
		{"in a saw-tooth", 10, 0, func(s, n float64) float64 { return 2 + 0.4*math.Mod(s, 3) + (quiet+0.02*s)*n }, 5, 13},

		{"a swell of 0.4 kN in 4 s", 10, 0, func(s, n float64) float64 { return 2 + 0.4*math.Sin(s*math.Pi/2) + quiet*n }, -1, 0},
		{"the same, 5 numbers a second", 5, 0, func(s, n float64) float64 { return 2 + 0.4*math.Sin(s*math.Pi/2) + quiet*n }, -1, 0},
		{"shaken at 2 Hz by 0.5 kN", 10, 0, func(s, n float64) float64 { return 2 + 0.5*math.Sin(4*math.Pi*s+1) + quiet*n }, -1, 0},
		{"the same, 20 numbers a second", 20, 0, func(s, n float64) float64 { return 2 + 0.5*math.Sin(4*math.Pi*s+1) + quiet*n }, -1, 0},
		{"the same, 5 numbers a second", 5, 0, func(s, n float64) float64 { return 2 + 0.5*math.Sin(4*math.Pi*s+1) + quiet*n }, -1, 0},
		{"shaken at 2 Hz in a swell", 10, 0, func(s, n float64) float64 {
			return 2 + 0.3*math.Sin(4*math.Pi*s) + 0.3*math.Sin(s) + quiet*n
		}, -1, 0},
		{"a saw-tooth of 1.2 kN each 3 s", 10, 0, func(s, n float64) float64 { return 2 + 0.4*math.Mod(s, 3) + quiet*n }, -1, 0},
		{"teeth each 1.3 s", 10, 0, func(s, n float64) float64 { return 2 + 0.6*math.Mod(s, 1.3) + quiet*n }, -1, 0},
		{"winch knocks: one number of 20 is off by 1 kN", 10, 0, func(s, n float64) float64 {
			return pulls(s) + quiet*n + map[bool]float64{true: 1}[int(math.Round(10*s))%20 == 0]
		}, -1, 0},
		{"jerks of 3 kN in 0.6 s, each 5 s", 10, 0, func(s, n float64) float64 {
			return 2 + 3*math.Sin(math.Pi*min(math.Mod(s, 5)/0.6, 1)) + quiet*n
		}, -1, 0},
		{"breakouts each 6 s", 10, 0, func(s, n float64) float64 { return 4 - 2.4*max(0, min(math.Mod(s, 6)-3, 0.6))/0.6 + quiet*n }, -1, 0},
		{"a display of 25 N steps", 10, 0.025, func(s, n float64) float64 { return 1 + 0.01*s + 0.01*n }, -1, 0},
		{"and of 100 N, 1 % of its range", 10, 0.1, func(s, n float64) float64 { return 1.05 + 0.03*n }, -1, 0},
		{"a number that stands still", 10, 0, func(s, n float64) float64 { return 2 }, -1, 0},
		{"2 numbers a second: not judged", 2, 0, func(s, n float64) float64 { return 2 + 0.4*n }, -1, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := testConfig()
			c.LoadHz = 0
			c.Step = trial.Force(tt.step * 1000)
			if tt.step == 0.1 {
				c.Range = 10e3
			}
			g := New(c)
			now, n := int64(0), 0
			feed := func(kN float64) {
				now += int64(1e9 / tt.hz)
				n++
				if tt.step > 0 {
					kN = tt.step * math.Round(kN/tt.step)
				}
				g.Sample(now, trial.Force(1000*kN), false, nil)
			}
			g.Advance(0, nil)
			for now < 25*sec {
				feed(0.1 + quiet*normal(n))
			}
			g.s.Armed, g.s.EverArmed = true, true
			start, at := now, -1.0
			for now < start+40*sec && at < 0 {
				feed(tt.load(seconds(now+int64(1e9/tt.hz)-start), normal(n)))
				if g.s.present[LoadNoisy] > absent {
					at = seconds(now - start)
				}
			}
			if tt.from < 0 && at >= 0 || tt.from >= 0 && !(at >= tt.from && at <= tt.to) {
				t.Errorf("noisy at %.1f s, want from %v to %v; deviation %.1f N, %.1f before", at, tt.from, tt.to, g.s.noise.deviation(), g.s.noise.was)
			}
		})
	}
}

// A cell that was noisy before arming is told by how much worse it is, and from 2 %
// of its range on whatever it was, before arming too.
func TestNoisyFromTheBeginning(t *testing.T) {
	for _, tt := range []struct {
		name          string
		before, after float64 // N
		unarmed, told bool
	}{
		{"40 N, then 150", 40, 150, false, false},
		{"40 N, then 300", 40, 300, false, true},
		{"150 N, then 320", 150, 320, false, false},
		{"150 N, then 600", 150, 600, false, true},
		{"600 N from the beginning", 600, 600, true, true},
	} {
		c := testConfig()
		g := New(c)
		now := int64(0)
		run := func(by float64) {
			for i := range 150 {
				now += 100 * ms
				g.Sample(now, trial.Force(1000+by*normal(i)), false, nil)
			}
		}
		g.Advance(0, nil)
		run(tt.before)
		if got := g.s.present[LoadNoisy] > absent; got != tt.unarmed {
			t.Errorf("%s: before arming told %v, deviation %.0f N", tt.name, got, g.s.noise.deviation())
		}
		g.s.Armed, g.s.EverArmed = true, true
		run(tt.after)
		if got := g.s.present[LoadNoisy] > absent; got != tt.told {
			t.Errorf("%s: told %v, deviation %.0f N, %.0f before", tt.name, got, g.s.noise.deviation(), g.s.noise.was)
		}
	}
}

// What is said, and that it goes when the noise has.
func TestNoisyGoes(t *testing.T) {
	r := newRig(t, testConfig())
	noisy := func(d float64, by float64) {
		for range int(10 * d) {
			r.kN = 2 + by*normal(int(r.now/(100*ms)))
			r.run(100 * time.Millisecond)
		}
	}
	noisy(10, 0.004)
	r.checkAll()
	r.must(Arm, 0)
	r.must(NextStage, trial.Pull)
	r.drift = haulsOn
	noisy(10, 0.004)
	r.said = nil
	noisy(8, 0.2)
	var text string
	for _, e := range r.said {
		if e.What == AlarmUp && e.Cause == LoadNoisy {
			text = e.Text(r.g.cfg.Show)
		}
	}
	if s := r.g.State(); text != "WARNING: LOAD NOISY 82 times what it was (limit 32)" || s.Stop.Kind != NoStop || !s.TensionKnown() {
		t.Errorf("said %q, stop %+v, tension known %v", text, s.Stop, s.TensionKnown())
	}
	noisy(20, 0.004)
	if a := r.g.State().Alarms[LoadNoisy]; a.State != Returned {
		t.Errorf("quiet again for 20 s: %+v, want it gone", a)
	}
}

// The deviation is that of white noise, whatever lies under it.
func TestDeviation(t *testing.T) {
	var sum float64
	const sets = 200
	for k := range sets {
		var n noise
		for i := range noiseKept {
			n.v[i] = 30*normal(k*noiseKept+i) + 2000 + 12*float64(i) + 400*math.Sin(float64(i)/10)
		}
		sum += n.deviation() / 30
	}
	if mean := sum / sets; mean < 0.85 || mean > 1.1 {
		t.Errorf("on average %.2f of what it is", mean)
	}
}
