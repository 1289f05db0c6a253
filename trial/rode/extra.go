package rode

import "math"

// Scope is rode out over the height of the fairlead above the bottom, depth
// plus fairlead height: the boat's definition. A ratio; NaN for lengths that
// cannot be. Source: common practice, no source.
func Scope(out, depth, fairlead float64) float64 {
	if !(fairlead >= 0 && depth > 0) {
		return math.NaN()
	}
	return ScopeByDepth(out, depth+fairlead)
}

// ScopeByDepth is rode out over depth alone: the definition of class rules for
// high-holding-power anchor tests, read in a restatement of the rule.
func ScopeByDepth(out, depth float64) float64 {
	if !(out > 0 && depth > 0) || math.IsInf(out, 1) || math.IsInf(depth, 1) {
		return math.NaN()
	}
	return out / depth
}

// TautSpan is the span of a rode drawn straight without stretch, m:
// sqrt(L^2 - h^2); 0 for a rode no longer than the height.
func TautSpan(out, height float64) float64 {
	if out <= height {
		return 0
	}
	return math.Sqrt((out - height) * (out + height))
}

// PinRatio is what a pin in a roller feels of a line bent over it, over the
// tension of the outboard part: R/T. bend is the angle the line turns by, rad, and
// k the tension of the inboard part over that of the outboard one. The two pulls
// on the roller stand at pi - bend to each other, so by the law of cosines
//
//	R/T = sqrt(1 + k² - 2 k cos bend) = sqrt((1-k)² + 4 k sin²(bend/2))
//
// and R/T = 2 sin(bend/2) for a roller that turns freely, k = 1; 0 for a line that
// does not bend, of which the pin then feels nothing.
func PinRatio(bend, k float64) float64 {
	s := math.Sin(bend / 2)
	return math.Sqrt((1-k)*(1-k) + 4*k*s*s)
}

// Capstan is the tension inboard of a fairlead over that outboard of it, while line
// comes in over it: e^(mu angle), angle the bend in rad and mu the friction. With
// -mu it is that while line goes out: friction then helps the winch. At rest it is
// anywhere between the two. Source: the capstan equation (Euler, Eytelwein), from
// memory.
func Capstan(mu, angle float64) float64 { return math.Exp(mu * angle) }

// UnstretchedStep is the length without tension of counted metres of line that
// passed a counter while the tension there went evenly from t1 to t2: that times
// the mean of 1/(1 + t/EA). Add the steps up to follow a haul; both signs of
// counted are taken.
func UnstretchedStep(counted, t1, t2, ea float64) float64 {
	low := 1 + t1/ea
	u := (t2 - t1) / ea / low
	if u == 0 {
		return counted / low
	}
	return counted * math.Log1p(u) / (u * low)
}
