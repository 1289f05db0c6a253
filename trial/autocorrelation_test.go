package trial

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Certified lag-1 autocorrelation of the NIST univariate sets. The tolerances are
// what the decimal data of a set let a float64 have, as for the moments.
func TestLag1OfReferenceSets(t *testing.T) {
	within := map[string]float64{"lottery": 1e-13, "mavro": 1e-10, "numacc1": 1e-14, "numacc2": 1e-13, "numacc4": 1e-7}
	for _, row := range statistics(t, "nist-univariate.certified") {
		name, want := row[0], numberIn(t, row[4])
		var s series
		for _, r := range statistics(t, "nist-"+name) {
			s.add(numberIn(t, r[0]))
		}
		if got := s.lag1(); !(math.Abs(got-want) <= within[name]*math.Abs(want)) {
			t.Errorf("%s: lag-1 autocorrelation %.17g, want %.17g within %g", name, got, want, within[name])
		}
	}
	for _, v := range [][]float64{nil, {1}, {2, 2, 2}} {
		if got := (&series{v: v}).lag1(); !math.IsNaN(got) {
			t.Errorf("of %v: %v, want none", v, got)
		}
	}
	// Runs: what stands on both sides of a hole are no neighbours. By hand: mean 0,
	// products 1·1 and (-1)·(-1) of squares 4.
	two := series{v: []float64{1, 1, -1, -1}, runs: []int{0, 2}}
	if got := two.lag1(); got != 0.5 {
		t.Errorf("two runs: %v, want 0.5", got)
	}
}

// The told uncertainty of a mean against what means of many such series scatter by:
// first-order autoregressions, plain noise, and a wave as of a saw-tooth, for which
// it may only be too great. Seeded.
func TestMeanKnownAgainstMonteCarlo(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, tt := range []struct {
		name        string
		n           int
		r, wave     float64 // steps
		least, most float64 // told over true
	}{
		{"noise", 60, 0, 0, 0.9, 1.15},
		{"r 0.5", 60, 0.5, 0, 0.9, 1.15},
		{"r 0.8", 60, 0.8, 0, 0.85, 1.35},
		{"r 0.8, long", 400, 0.8, 0, 0.92, 1.1},
		{"r 0.95, long", 400, 0.95, 0, 0.85, 1.25},
		{"a saw-tooth", 60, 0, 10.3, 1, 30},
	} {
		const rounds = 3000
		var means, told moments
		for range rounds {
			var s series
			v := rng.NormFloat64() // of variance 1, and stays so
			phase := rng.Float64()
			for i := range tt.n {
				if v = tt.r*v + math.Sqrt(1-tt.r*tt.r)*rng.NormFloat64(); tt.wave > 0 {
					_, v = math.Modf(float64(i)/tt.wave + phase)
				}
				s.add(v)
			}
			sum := 0.0
			for _, v := range s.v {
				sum += v
			}
			means.add(sum/float64(tt.n), 1)
			u, _, _ := s.meanKnown()
			told.add(u*u, 1)
		}
		if got := math.Sqrt(told.mean) / means.sample(); !(got >= tt.least && got <= tt.most) {
			t.Errorf("%s: the told uncertainty is %.3f of the true one, want %v to %v", tt.name, got, tt.least, tt.most)
		} else {
			t.Logf("%s: told over true %.3f", tt.name, got)
		}
	}
	for _, v := range [][]float64{nil, {1, 2, 3}} {
		if u, _, _ := (&series{v: v}).meanKnown(); !math.IsNaN(u) {
			t.Errorf("of %v: %v, want none", v, u)
		}
	}
}
