package trial

import (
	"errors"
	"math"
)

// Scope errors. They are fixed values, so asking for a scope at every sample
// costs no allocation.
var (
	// ErrScopeUnknown: rode out, depth or fairlead height is missing, not a
	// number, or not positive. An unknown scope is no permission to haul.
	ErrScopeUnknown = errors.New("scope unknown: say the depth, the rode out and the fairlead height")
	// ErrRodeShort: the rode out does not reach from fairlead to seabed, so
	// either the anchor is off the bottom or depth or line count is wrong.
	ErrRodeShort = errors.New("rode out is shorter than the height of the fairlead over the seabed: check depth and line count")
)

// Scope is rode out over the height of the fairlead above the seabed,
// L / (depth + fairlead height): a ratio without dimension, at least 1. This
// is the boat's definition; label it "incl. roller height" where it is shown.
// All three lengths are in metres; fairlead may be 0, the others may not.
//
// It returns [ErrScopeUnknown] or [ErrRodeShort]. A guard must take either as
// "scope not known", never as "no limit".
//
// Source of the definition: common practice, no source.
func Scope(rodeOut, depth, fairlead Length) (float64, error) {
	if !(fairlead >= 0) || math.IsInf(float64(fairlead), 0) {
		return 0, ErrScopeUnknown
	}
	if !(depth > 0) {
		return 0, ErrScopeUnknown
	}
	return ratio(rodeOut, depth+fairlead)
}

// ScopeByDepth is rode out over depth alone, the definition of class rules
// for anchor tests; it is greater than [Scope] for the same rode. Errors as
// for Scope.
//
// Source of the definition: class rule for high-holding-power anchor tests,
// cable length over depth of water; read in a restatement of the rule.
func ScopeByDepth(rodeOut, depth Length) (float64, error) {
	return ratio(rodeOut, depth)
}

func ratio(rodeOut, height Length) (float64, error) {
	// Written so that NaN is refused too.
	if !(height > 0) || !(rodeOut > 0) || math.IsInf(float64(height), 0) || math.IsInf(float64(rodeOut), 0) {
		return 0, ErrScopeUnknown
	}
	if rodeOut < height {
		return 0, ErrRodeShort
	}
	return float64(rodeOut / height), nil
}
