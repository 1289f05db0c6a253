package trial

import "math"

// PowerLaw is the holding of an anchor of that mass by the naval facilities' law
// HM = HR (WA/WR)^b: hr is that of an anchor that weighs 10,000 lbf in air, N, and
// b the power, both by anchor and ground. NaN for a mass or hr not above zero.
//
// Efficiency falls with size by it, as b is under 1: two sizes are not ranked by
// efficiency alone.
//
// Source: UFC 4-159-03, Design: Moorings, 3 October 2005, section 5-2, equation
// 26; read.
func PowerLaw(hr Force, b float64, mass Mass) Force {
	if !(mass > 0) || !(hr > 0) {
		return Force(math.NaN())
	}
	const reference = 10_000 * 0.45359237 // kg, whose weight is 10,000 lbf
	return hr * Force(math.Pow(float64(mass)/reference, b))
}

// HoldingRatio is what an anchor holds over what an ordinary one of the same mass
// does in the same ground. From 2 the class societies call one of high, from 4
// one of super-high holding power, after three pulls on each of several grounds.
// NaN where ordinary is not above zero.
//
// Source: the rule of the IACS UR A1/A2 family, as a training page restates it;
// read there.
func HoldingRatio(holds, ordinary Force) float64 {
	if !(ordinary > 0) {
		return math.NaN()
	}
	return float64(holds / ordinary)
}
