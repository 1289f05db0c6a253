package safety

import "math"

// trend is the slope of a quantity by least squares in which a sample's weight
// fades with its age, so that it speaks for about the last two seconds at any
// rate of samples. It holds sums only. Times are kept relative to the newest
// sample, values as they are.
type trend struct {
	at             int64
	n, t, tt, v, x float64 // weighted sums of 1, time, time², value, time x value
}

const (
	trendFade  = 0.7 // s: nineteen parts in twenty of the weight lie in the last two seconds
	trendGap   = int64(2e9)
	trendLeast = 0.01 // s², variance of the samples' times: less says nothing of a slope
	trendRange = 1e12 // values beyond it are cut, so that no sum ever overflows
)

func (r *trend) reset() { *r = trend{} }

// add takes a finite value.
func (r *trend) add(t int64, v float64) {
	v = max(-trendRange, min(v, trendRange))
	if r.n > 0 && t-r.at > trendGap {
		r.reset()
	}
	if r.n > 0 {
		dt := float64(t-r.at) / 1e9
		// The samples move dt into the past...
		r.tt += dt * (dt*r.n - 2*r.t)
		r.x -= dt * r.v
		r.t -= dt * r.n
		// ...and fade: close to exp(-dt/trendFade), from four operations that are the same
		// everywhere.
		f := 1 / (1 + dt/trendFade)
		r.n, r.t, r.tt, r.v, r.x = r.n*f, r.t*f, r.tt*f, r.v*f, r.x*f
	}
	r.at = t
	r.n++
	r.v += v
}

// slope per second as of t; NaN while unknown.
func (r *trend) slope(t int64) float64 {
	if r.n == 0 || t-r.at > trendGap {
		return math.NaN()
	}
	spread := r.n*r.tt - r.t*r.t
	if !(spread >= trendLeast*r.n*r.n) {
		return math.NaN()
	}
	return (r.n*r.x - r.t*r.v) / spread
}
