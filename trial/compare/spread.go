package compare

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Spread is mean and standard deviation of a group of measured values.
type Spread struct {
	N        int
	Mean, SD float64  // SD with n - 1; NaN for one
	SDIn     Interval // of the true one, normal data
	// CV is SD over Mean; CVIn the interval of the true one, normal data. NaN where
	// the mean is not above 0.
	CV   float64
	CVIn Interval
}

// Mean and spread of a group. It is refused for one that holds a lower bound or
// a failed set: an average over them is of nothing that was.
func Mean(all []Outcome) (Spread, error) {
	v, err := values("mean", all)
	if err != nil {
		return Spread{}, err
	}
	return SpreadOf(v), nil
}

// SpreadOf is that of plain numbers. Sums are kept to twice the digits, so that
// values that differ far behind the point lose nothing.
func SpreadOf(v []float64) Spread {
	s := Spread{N: len(v)}
	n := float64(len(v))
	s.Mean = exactSum(v) / n
	// The mean itself was rounded: what is left over comes off the squares.
	rest := make([]float64, len(v))
	squares := make([]float64, len(v))
	for i, x := range v {
		rest[i] = x - s.Mean
		squares[i] = rest[i] * rest[i]
	}
	d := exactSum(rest)
	s.Mean += d / n
	s.SD = math.Sqrt(max(0, exactSum(squares)-d*d/n) / (n - 1))
	s.SDIn = SDInterval(s.SD, len(v), Level)
	s.CV = math.NaN()
	s.CVIn = Interval{math.NaN(), math.NaN(), Level}
	if s.Mean > 0 {
		s.CV = s.SD / s.Mean
		s.CVIn = CVInterval(s.CV, len(v), Level)
	}
	return s
}

// exactSum is a sum that carries what each step rounds off.
// Source: Neumaier's variant of Kahan's summation (from memory).
func exactSum(v []float64) float64 {
	sum, lost := 0.0, 0.0
	for _, x := range v {
		t := sum + x
		if math.Abs(sum) >= math.Abs(x) {
			lost += (sum - t) + x
		} else {
			lost += (x - t) + sum
		}
		sum = t
	}
	return sum + lost
}

// SDInterval is that of the true standard deviation, for normal data, by the
// chi-square distribution of its square.
func SDInterval(sd float64, n int, confidence float64) Interval {
	if n < 2 {
		return Interval{0, math.Inf(1), confidence}
	}
	v := float64(n - 1)
	low, high := chiSquares(v, confidence)
	return Interval{sd * math.Sqrt(v/high), sd * math.Sqrt(v/low), confidence}
}

func chiSquares(v, confidence float64) (low, high float64) {
	tail := (1 - confidence) / 2
	d := distuv.ChiSquared{K: v}
	return d.Quantile(tail), d.Quantile(1 - tail)
}

// CVInterval is that of the true coefficient of variation, for normal data. It
// is an approximation for true values under about a third; the upper end is open
// where it reaches none. Source: Vangel, M., The American Statistician 50 (1996)
// 21, a modification of McKay's (1932) (from memory; held against the exact
// distribution in testdata/compare).
func CVInterval(cv float64, n int, confidence float64) Interval {
	if n < 2 {
		return Interval{0, math.Inf(1), confidence}
	}
	v := float64(n - 1)
	low, high := chiSquares(v, confidence)
	end := func(u float64) float64 {
		d := ((u+2)/float64(n)-1)*cv*cv + u/v
		if !(d > 0) {
			return math.Inf(1)
		}
		return cv / math.Sqrt(d)
	}
	return Interval{end(high), end(low), confidence}
}
