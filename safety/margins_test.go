package safety

import (
	"math"
	"slices"
	"testing"
	"time"

	"hawse/trial"
)

func near(got, want, tolerance float64) bool {
	return got == want || math.IsNaN(got) && math.IsNaN(want) || math.Abs(got-want) <= tolerance
}

func (r *rig) margin(c Cause) (m Margin, place int) {
	r.t.Helper()
	for i, m := range r.g.Margins(nil) {
		if m.Cause == c {
			return m, i
		}
	}
	r.t.Fatalf("no margin for %v among %+v", c, r.g.Margins(nil))
	return m, -1
}

func TestMargins(t *testing.T) {
	r := armed(t, trial.Pull)
	// 0.25 kN/s and 0.04 m/s (2.4 m/min), for 20 s.
	for range 200 {
		r.kN += 0.025
		r.x += 0.004
		r.run(100 * time.Millisecond)
	}
	nan := math.NaN()
	tests := []struct {
		cause                             Cause
		now, warn, limit, left, share, in float64
	}{
		{TensionLimit, 6000, 6400, 8000, 2000, 0.75, 8},
		{WLLShare, 0.6, 0.7, 0.9, 0.3, 0.6 / 0.9, 12},
		{LineHauled, 0.8, nan, 32, 31.2, 0.025, 780},
		{MinimumScope, 59.2 / 7.5, nan, 4, 59.2/7.5 - 4, 30 / 59.2, 29.2 / 0.04},
		{LoadSilent, 0, 1, 2, 2, 0, nan},
		{LineSilent, 0, 2, 5, 5, 0, nan},
		{StageDuration, 20, nan, 1200, 1180, 20.0 / 1200, 1180},
	}
	all := r.g.Margins(nil)
	if len(all) != len(tests) {
		t.Errorf("%d margins, want %d: %+v", len(all), len(tests), all)
	}
	for _, tt := range tests {
		m, _ := r.margin(tt.cause)
		ok := near(m.Now, tt.now, 1e-6) && near(m.Warn, tt.warn, 1e-9) && near(m.Limit, tt.limit, 1e-9) &&
			near(m.Left, tt.left, 1e-6) && near(m.Share, tt.share, 1e-9) && near(m.In, tt.in, 1e-3*tt.in)
		if !ok {
			t.Errorf("%v: %+v, want %+v", tt.cause, m, tt)
		}
	}
	for i := 1; i < len(all); i++ {
		if all[i].Share > all[i-1].Share {
			t.Errorf("not nearest first: %v %v before %v %v", all[i-1].Cause, all[i-1].Share, all[i].Cause, all[i].Share)
		}
	}
	if all[0].Cause != TensionLimit {
		t.Errorf("nearest is %v, want TENSION LIMIT", all[0].Cause)
	}
}

func TestMarginsUnknown(t *testing.T) {
	r := armed(t, trial.Pull)
	r.noLoad = true
	r.run(1500 * time.Millisecond)
	all := r.g.Margins(nil)
	if m, place := r.margin(TensionLimit); !math.IsNaN(m.Now) || !math.IsNaN(m.Share) || !math.IsNaN(m.In) || place != 0 {
		t.Errorf("load silent: %+v at place %d, want unknown and first", m, place)
	}
	if m, place := r.margin(LoadSilent); !near(m.Share, 0.75, 1e-9) || !near(m.In, 0.5, 1e-9) || place != 2 {
		t.Errorf("silent for 1.5 s of 2: %+v at place %d; want share 0.75, 0.5 s left, after the two unknown\n%+v", m, place, all)
	}
	r.g.Sample(r.now, 0, true, &r.ev)
	if m, _ := r.margin(TensionLimit); m.Share != 1 || m.Left != 0 || !math.IsNaN(m.Now) {
		t.Errorf("over range: %+v, want share 1, nothing left, no number", m)
	}
	r = newRig(t, testConfig())
	r.must(NextStage, trial.Pull)
	for _, c := range []Cause{TensionLimit, WLLShare, LineHauled, MinimumScope} {
		if m, _ := r.margin(c); !math.IsNaN(m.Now) || !math.IsNaN(m.Share) || !math.IsNaN(m.Left) {
			t.Errorf("nothing heard yet: %+v, want unknown", m)
		}
	}
}

// Past a limit nothing is left, and below zero is far from it.
func TestMarginsBeyond(t *testing.T) {
	r := armed(t, trial.Pull)
	r.kN = 8.8
	r.run(time.Second)
	if m, _ := r.margin(TensionLimit); m.Left != 0 || m.Share != 1 || m.In != 0 {
		t.Errorf("at 8.8 of 8 kN: %+v, want nothing left, share 1", m)
	}
	r.kN = -0.3
	r.run(time.Second)
	if m, _ := r.margin(TensionLimit); m.Share != 0 || m.Left != 8300 || !math.IsNaN(m.In) {
		t.Errorf("at -0.3 kN, falling: %+v, want share 0, 8.3 kN left, not approached", m)
	}
}

func TestTrend(t *testing.T) {
	for _, hz := range []int64{2, 10, 100, 5000} {
		var r trend
		for i := range 5 * hz {
			r.add(i*sec/hz, 100+7*seconds(i*sec/hz))
		}
		if got := r.slope(5 * sec); !near(got, 7, 1e-6) {
			t.Errorf("%d samples a second rising by 7/s: slope %v", hz, got)
		}
		// Two seconds after it turned, most of the old slope is forgotten.
		for i := range 2 * hz {
			r.add(5*sec+i*sec/hz, 135)
		}
		if got := r.slope(7 * sec); got > 3.5 {
			t.Errorf("%d samples a second, level for 2 s: slope %v, want about half of 7 or less", hz, got)
		}
	}
	var r trend
	if got := r.slope(0); !math.IsNaN(got) {
		t.Errorf("no samples: slope %v, want unknown", got)
	}
	r.add(0, 1)
	r.add(0, 2) // a burst: two at one time
	if got := r.slope(0); !math.IsNaN(got) {
		t.Errorf("two samples at one time: slope %v, want unknown", got)
	}
	r.add(sec, math.MaxFloat64)
	r.add(2*sec, -math.MaxFloat64)
	if got := r.slope(2 * sec); math.IsNaN(got) || math.IsInf(got, 0) {
		t.Errorf("huge values: slope %v, want a number", got)
	}
	if got := r.slope(5 * sec); !math.IsNaN(got) {
		t.Errorf("3 s after the last sample: slope %v, want unknown", got)
	}
}

// Of the ends by line the one that hauling comes to first stands first, whatever
// the shares say.
func TestNearestEndByLine(t *testing.T) {
	c := testConfig()
	c.Things, c.KeepOut = []trial.Joint{{Name: "swivel", At: 30}, {Name: "anchor"}}, 1
	r := armedWith(t, c, trial.Pull)
	r.x = 27 // 33 m out: 2 m to the swivel; scope 4.40, 3 m to 4.0; 5 m of the lane left
	r.run(300 * time.Millisecond)
	var order []Cause
	for _, m := range r.g.Margins(nil) {
		switch m.Cause {
		case AtFairlead, MinimumScope, LineHauled:
			order = append(order, m.Cause)
		}
	}
	if want := []Cause{AtFairlead, MinimumScope, LineHauled}; !slices.Equal(order, want) {
		t.Errorf("nearest first: %v, want %v", order, want)
	}
}
