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

// PinLoad is the resultant on a pin whose line bends by the angle bend, rad,
// with the tension t on both sides, N: 2 t sin(bend/2). [PinTension] is its
// inverse. Friction in the sheave is not in it.
func PinLoad(t, bend float64) float64 { return 2 * t * math.Sin(bend/2) }

// PinTension is the tension for a resultant on a pin, N; +Inf for a line that
// does not bend, since the pin then feels nothing of it.
func PinTension(resultant, bend float64) float64 { return resultant / (2 * math.Sin(bend/2)) }

// InboardHauling is the tension inboard of a fairlead, N, while line comes in
// over it: outboard e^(mu angle), angle the bend in rad and mu the friction.
// Source: the capstan equation (Euler, Eytelwein), from memory.
func InboardHauling(outboard, mu, angle float64) float64 { return outboard * math.Exp(mu*angle) }

// InboardPayingOut is the same while line goes out: friction then helps the
// winch. At rest the tension inboard is anywhere between the two.
func InboardPayingOut(outboard, mu, angle float64) float64 { return outboard * math.Exp(-mu*angle) }

// OutboardHauling is the tension in the rode for a tension measured inboard
// while line comes in, N.
func OutboardHauling(inboard, mu, angle float64) float64 { return inboard * math.Exp(-mu*angle) }

// OutboardPayingOut is the same while line goes out.
func OutboardPayingOut(inboard, mu, angle float64) float64 { return inboard * math.Exp(mu*angle) }

// Unstretched is the length without tension of counted metres of line that
// passed a counter under the tension t at the counter: counted/(1 + t/EA).
func Unstretched(counted, t, ea float64) float64 { return counted / (1 + t/ea) }

// UnstretchedStep is the same for a step in which the tension at the counter
// went evenly from t1 to t2: the mean of 1/(1 + t/EA) over the step. Add the
// steps up to follow a haul; both signs of counted are taken.
func UnstretchedStep(counted, t1, t2, ea float64) float64 {
	low := 1 + t1/ea
	u := (t2 - t1) / ea / low
	if u == 0 {
		return counted / low
	}
	return counted * math.Log1p(u) / (u * low)
}

// ElasticEnergy is the energy in l metres of a straight line whose tension
// goes evenly from t1 to t2, J: l (t1^2 + t1 t2 + t2^2)/(6 EA), which is
// t^2 l/(2 EA) for an even tension.
func ElasticEnergy(t1, t2, l, ea float64) float64 {
	return l * (t1*t1 + t1*t2 + t2*t2) / (6 * ea)
}
