package plan

import (
	"errors"
	"math"
)

// z95 and z80 are the normal quantiles of 0.975 and of 0.8: a difference that is
// not there is seen in 1 of 20 trials, one that is in 4 of 5.
const (
	z95 = 1.959963984540054
	z80 = 0.8416212335729143
)

// MostRepeats is where counting them ends.
const MostRepeats = 10_000

// Repeats is how many pulls of each of two treatments it takes to see a
// difference in their means, as a share, where single pulls scatter by a
// coefficient of variation: n = 2 (z95 + z80)^2 (cv/share)^2 + z95^2/4, rounded
// up, at least 3. For normal scatter; the last term makes up for the scatter not
// being known beforehand (Guenther, American Statistician 35 (1981), from memory;
// the exact numbers are the same or one more).
func Repeats(cv, share float64) (int, error) {
	if !(cv > 0) || !(share > 0) || math.IsInf(cv, 0) || math.IsInf(share, 0) {
		return 0, errors.New("scatter and difference are shares above 0, such as 0.15")
	}
	n := 2*(z95+z80)*(z95+z80)*(cv/share)*(cv/share) + z95*z95/4
	if n > MostRepeats {
		return MostRepeats, nil
	}
	return max(3, int(math.Ceil(n))), nil
}

// Scatter pools the coefficient of variation of groups of like pulls; groups of
// one say nothing. n is the degrees of freedom it rests on, 0: not known.
func Scatter(groups [][]float64) (cv float64, n int) {
	sum := 0.0
	for _, g := range groups {
		mean := 0.0
		for _, v := range g {
			mean += v / float64(len(g))
		}
		if len(g) < 2 || !(mean > 0) {
			continue
		}
		for _, v := range g {
			sum += (v/mean - 1) * (v/mean - 1)
		}
		n += len(g) - 1
	}
	if n == 0 {
		return 0, 0
	}
	return math.Sqrt(sum / float64(n)), n
}
