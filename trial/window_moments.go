package trial

import "math"

// moments is mean and scatter of weighted values as they come, by the update of
// West (Communications of the ACM 22, 1979, 532-535; from memory): no difference
// of large sums is taken, so scatter that is small against the mean stays right.
// The zero value has none.
type moments struct{ w, mean, m2 float64 }

// add takes a value with its weight, above zero.
func (m *moments) add(v, w float64) {
	m.w += w
	d := v - m.mean
	m.mean += d * w / m.w
	m.m2 += w * d * (v - m.mean)
}

// merge takes all of another, with its weight times share (Chan, Golub and
// LeVeque, The American Statistician 37, 1983, 242-247; from memory).
func (m *moments) merge(o moments, share float64) {
	w := o.w * share
	if !(w > 0) {
		return
	}
	d, sum := o.mean-m.mean, m.w+w
	m.mean += d * w / sum
	m.m2 += o.m2*share + d*d*m.w*w/sum
	m.w = sum
}

// weighed is the same values with another sum of weights.
func (m moments) weighed(w float64) moments {
	if m.w > 0 {
		m.m2 *= w / m.w
		m.w = w
	}
	return m
}

// scatter is the standard deviation over the weights; NaN without one.
func (m *moments) scatter() float64 { return math.Sqrt(m.m2 / m.w) }

// sample is the standard deviation of values of weight 1 as a sample of more
// (n - 1); NaN with fewer than two.
func (m *moments) sample() float64 {
	if m.w < 2 {
		return math.NaN()
	}
	return math.Sqrt(m.m2 / (m.w - 1))
}
