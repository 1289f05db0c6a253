package compare

import (
	"math"
	"slices"
)

// Holm corrects the p-values of a family of tests: held against 1 - [Level], no
// true sameness in the family is called a difference more often than that.
// A NaN, of a test that was not made, stays one and counts for none.
// Source: Holm, S., Scand. J. Stat. 6 (1979) 65 (from memory; check values in
// testdata/compare).
func Holm(p []float64) []float64 {
	out := slices.Clone(p)
	var at []int
	for i, v := range p {
		if !math.IsNaN(v) {
			at = append(at, i)
		}
	}
	slices.SortStableFunc(at, func(a, b int) int {
		switch {
		case p[a] < p[b]:
			return -1
		case p[a] > p[b]:
			return 1
		}
		return 0
	})
	top := 0.0
	for k, i := range at {
		top = max(top, min(1, float64(len(at)-k)*p[i]))
		out[i] = top
	}
	return out
}
