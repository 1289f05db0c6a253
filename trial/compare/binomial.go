package compare

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Interval is a range that holds the true value with at least the confidence it
// has. An end may be infinite: it is open there.
type Interval struct {
	Low, High  float64
	Confidence float64
}

// ClopperPearson is the exact interval for the probability of what happened k
// times in n: for no true probability is it missed more often than claimed.
// Source: Clopper, C. and Pearson, E., Biometrika 26 (1934) 404, in the form with
// quantiles of the beta distribution (from memory; check values in
// testdata/compare).
func ClopperPearson(k, n int, confidence float64) Interval {
	out := Interval{0, 1, confidence}
	if n <= 0 || k < 0 || k > n {
		return out
	}
	tail := (1 - confidence) / 2
	if k > 0 {
		out.Low = distuv.Beta{Alpha: float64(k), Beta: float64(n - k + 1)}.Quantile(tail)
	}
	if k < n {
		out.High = distuv.Beta{Alpha: float64(k + 1), Beta: float64(n - k)}.Quantile(1 - tail)
	}
	return out
}

// binomialTail is the probability of k or fewer in n at one half.
func binomialTail(k, n int) float64 {
	sum := 0.0
	for i := 0; i <= k && i <= n; i++ {
		sum += math.Exp(logChoose(n, i) - float64(n)*math.Ln2)
	}
	return min(sum, 1)
}

func logChoose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}
