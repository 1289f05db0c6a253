package trial

import (
	"math"
	"testing"
)

// The power law, efficiency and holding-power ratio against the published law's
// rows; see testdata/statistics.
func TestPowerLaw(t *testing.T) {
	const kip, pound = 4448.2216152605, 0.45359237
	soft := map[string]float64{}
	for _, row := range statistics(t, "anchor-holding-power-law") {
		hr, b, weight := numberIn(t, row[2]), numberIn(t, row[3]), numberIn(t, row[4])
		mass := Mass(weight * pound)
		got := PowerLaw(Force(hr*kip), b, mass)
		if want := 1000 * numberIn(t, row[6]); math.Abs(float64(got)-want) > 1e-6*want {
			t.Errorf("%s, %s, %v lbf: %v N, want %v", row[0], row[1], weight, got, want)
		}
		if e, want := float64(got)/(float64(mass)*standardGravity), numberIn(t, row[7]); math.Abs(e-want) > 6e-5 {
			t.Errorf("%s, %s, %v lbf: efficiency %v, want %v", row[0], row[1], weight, e, want)
		}
		if twice := float64(PowerLaw(Force(hr*kip), b, 2*mass) / got); math.Abs(twice-math.Pow(2, b)) > 1e-12 {
			t.Errorf("b %v: twice the mass holds %v times", b, twice)
		}
		if row[1] == "soft" {
			soft[row[0]+row[4]] = numberIn(t, row[6])
		}
	}
	for _, w := range []string{"100", "1000", "10000", "20000"} {
		fixed, movable := soft["stockless, fixed fluke"+w], soft["stockless, movable fluke"+w]
		if got := HoldingRatio(Force(fixed), Force(movable)); math.Abs(got-46.0/24) > 1e-5 {
			t.Errorf("%s lbf: fixed flukes hold %v times what movable ones do, want 46/24", w, got)
		}
	}
	for _, bad := range []float64{float64(PowerLaw(0, 0.9, 10)), float64(PowerLaw(1, 0.9, 0)), float64(PowerLaw(1, 0.9, -1)), HoldingRatio(1, 0), HoldingRatio(1, Force(math.NaN()))} {
		if !math.IsNaN(bad) {
			t.Errorf("nothing to hold against gives %v", bad)
		}
	}
}
