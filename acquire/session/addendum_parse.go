package session

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"hawse/trial"
)

// A factor past these is no correction of a cell, and not of its unit either:
// kgf for kN taken wrong is about a hundred.
const factorLeast, factorMost = 1e-4, 1e4

// ParseFactor reads the factor of a correction, "" 1.
func ParseFactor(s string) (float64, error) {
	if s == "" {
		return 1, nil
	}
	k, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return 0, fmt.Errorf("%s: a number without a unit", strconv.QuoteToASCII(s))
	}
	if v := math.Abs(k); !(v >= factorLeast && v <= factorMost) {
		return 0, fmt.Errorf("%s: from %g to %g; look for a lost decimal point", strconv.QuoteToASCII(s), factorLeast, factorMost)
	}
	return k, nil
}

// ParseOffset reads the offset of a correction, a force that may be below zero;
// "" 0.
func ParseOffset(s string) (trial.Force, error) {
	if s == "" {
		return 0, nil
	}
	f, err := trial.ParseForce(strings.TrimPrefix(s, "-"))
	if strings.HasPrefix(s, "-") {
		f = -f
	}
	return f, err
}
