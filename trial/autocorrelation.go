package trial

import "math"

// series is values at equal steps, in runs: the last of one and the first of the
// next are no neighbours.
type series struct {
	v    []float64
	runs []int // where each begins
}

func (s *series) begin() {
	if n := len(s.runs); n == 0 || s.runs[n-1] != len(s.v) {
		s.runs = append(s.runs, len(s.v))
	}
}

func (s *series) add(v float64) {
	if len(s.runs) == 0 {
		s.begin()
	}
	s.v = append(s.v, v)
}

// lag1 is the lag-1 autocorrelation about the mean of all, the products of
// neighbours over the squares of all, as NIST certifies it for its univariate
// sets; NaN of fewer than two values, or of values that are all the same.
func (s *series) lag1() float64 {
	var m moments
	for _, v := range s.v {
		m.add(v, 1)
	}
	products, squares := 0.0, 0.0
	run := 0
	for i, v := range s.v {
		squares += square(v - m.mean)
		for run < len(s.runs) && s.runs[run] < i {
			run++
		}
		if i > 0 && (run == len(s.runs) || s.runs[run] != i) {
			products += (v - m.mean) * (s.v[i-1] - m.mean)
		}
	}
	if len(s.v) < 2 || squares == 0 {
		return math.NaN()
	}
	return products / squares
}

const (
	// Of a series shorter than this nothing is told of how its values hang together.
	seriesLeast = 10
	// With fewer independent values no scatter is known; a stretch that is called
	// plateau or saw-tooth has them. Common practice, no source.
	leastIndependent = 3
)

// meanKnown is the standard uncertainty of the mean as the level about which the
// values scatter, by how many of them are independent: n (1-r)/(1+r) of n that hang
// together as a first-order autoregression does with r (Bayley and Hammersley,
// Supplement to the Journal of the Royal Statistical Society 8, 1946, 184-197), r
// being the lag-1 autocorrelation freed of its bias in a short series (Kendall,
// Biometrika 41, 1954, 403-404; both from memory). Values that alternate are not
// taken for more than they are. NaN of fewer than ten.
func (s *series) meanKnown() (u, r, independent float64) {
	n := float64(len(s.v))
	if len(s.v) < seriesLeast {
		return math.NaN(), math.NaN(), math.NaN()
	}
	var m moments
	for _, v := range s.v {
		m.add(v, 1)
	}
	if m.m2 == 0 {
		return 0, 0, n
	}
	r = min(max((n*s.lag1()+1)/(n-4), 0), 1)
	independent = max(n*(1-r)/(1+r), leastIndependent)
	// About their own mean few independent values scatter less than they do.
	return math.Sqrt(m.m2 / n / (independent - 1)), r, independent
}

// seriesOver is the mean tensions at the deck of the cells that lie in stretches of
// line hauled, half of each measured at least.
func (p *profile) seriesOver(parts [][2]float64) (s series) {
	for _, part := range parts {
		s.begin()
		for i := range p.n {
			lo := float64(p.from+i) * p.cell
			switch c := &p.cells[i]; {
			case lo < part[0]-1e-9 || lo+p.cell > part[1]+1e-9:
			case c.deck.w < p.cell/2:
				s.begin()
			default:
				s.add(c.deck.mean)
			}
		}
	}
	return s
}
