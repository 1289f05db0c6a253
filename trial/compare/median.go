package compare

import (
	"math"
	"slices"
	"sort"
)

// Middle is a median that respects lower bounds and failed sets.
type Middle struct {
	Known  bool
	NotSet bool    // the middle one did not set
	V      float64 // the median, or what it is above
	Bound  bool    // it is greater than V, and nobody knows by how much
	// Informative: it leans on a pull that a person ended on a rising trace. Such a
	// stop may have come because of what it would have measured.
	Informative bool
	// Interval of the true median by order statistics, with the confidence that it
	// has: under six pulls no such interval has 95 %. High is infinite where a
	// lower bound leaves it open; Low is -Inf where what did not set is below.
	Interval Interval
}

// Median of a group. The curve of Kaplan and Meier is followed to where it passes
// one half (at one half exactly the middle between there and the next value, as
// for a plain median). Where it does not, the median is above the middle one of
// all values, bounds taken at their limits: that much is sure. What did not set
// counts as lowest. A median that rests on fewer pulls than [atRiskShare] of the
// group, because most were cut off below it, is not given either. Source: Kaplan, E. and Meier, P., J. Am. Stat. Assoc. 53
// (1958) 457 (from memory; check values in testdata/compare).
func Median(all []Outcome) (m Middle) {
	sorted := make([]Outcome, 0, len(all))
	for _, o := range all {
		if o.Valid() {
			sorted = append(sorted, o)
			m.Informative = m.Informative || o.Kind == AtLeast && o.Called
		}
	}
	if len(sorted) == 0 {
		return Middle{V: math.NaN(), Interval: Interval{math.Inf(-1), math.Inf(1), 0}}
	}
	// At one value a measured one comes before a bound, which is above it.
	sort.SliceStable(sorted, func(i, j int) bool {
		a, b := sorted[i].value(), sorted[j].value()
		if a != b {
			return a < b
		}
		return sorted[i].Kind != AtLeast && sorted[j].Kind == AtLeast
	})
	m.Known = true
	m.Interval = medianInterval(sorted, Level)
	if v, ok := kaplanMeier(sorted); ok {
		if m.V = v; math.IsInf(v, -1) {
			m.V, m.NotSet = math.NaN(), true
		}
		return m
	}
	m.V, m.Bound = middle(sorted), true
	if math.IsInf(m.V, -1) {
		m.V, m.NotSet, m.Bound = math.NaN(), true, false
	}
	return m
}

// atRiskShare is the share of a group that must not have been cut off below its
// median: where nothing is cut off it is half. Common practice, no source.
const atRiskShare = 0.25

// kaplanMeier is where the curve passes one half; not ok where it does not.
func kaplanMeier(sorted []Outcome) (float64, bool) {
	// The curve is kept as a fraction of whole numbers where it can be: at one
	// half exactly the rounding of a product would decide.
	const near = 1e-12
	s, n := 1.0, len(sorted)
	for i := 0; i < n; {
		v := sorted[i].value()
		events, j := 0, i
		for ; j < n && sorted[j].value() == v && sorted[j].Kind != AtLeast; j++ {
			events++
		}
		if events == 0 {
			i++
			continue
		}
		s *= 1 - float64(events)/float64(n-i)
		if s <= 0.5+near && float64(n-i) < atRiskShare*float64(n) {
			return 0, false
		}
		switch {
		case s < 0.5-near:
			return v, true
		case s <= 0.5+near:
			for ; j < n; j++ {
				if sorted[j].Kind != AtLeast {
					if math.IsInf(v, -1) {
						return math.Inf(-1), true // half did not set: the lower of the two middle ones
					}
					return (v + sorted[j].value()) / 2, true
				}
			}
			return 0, false
		}
		i = j
	}
	return 0, false
}

// middle is the median of the values, bounds taken at their limits.
func middle(sorted []Outcome) float64 {
	n := len(sorted)
	a, b := sorted[(n-1)/2].value(), sorted[n/2].value()
	if math.IsInf(a, -1) {
		return a
	}
	return (a + b) / 2
}

// medianInterval is that between the order statistics that are far enough out:
// it holds the true median, whatever the distribution, with the confidence it
// has. A lower bound counts at its limit below, and as endless above.
func medianInterval(sorted []Outcome, confidence float64) Interval {
	n := len(sorted)
	low := make([]float64, n)
	high := make([]float64, n)
	for i, o := range sorted {
		low[i], high[i] = o.value(), o.value()
		if o.Kind == AtLeast {
			high[i] = math.Inf(1)
		}
	}
	slices.Sort(low)
	slices.Sort(high)
	k := 0 // how many may be left out at each end
	for k < (n-1)/2 && 1-2*binomialTail(k+1, n) >= confidence {
		k++
	}
	return Interval{low[k], high[n-1-k], 1 - 2*binomialTail(k, n)}
}

// LowestOverMedian is how far the worst pull is under the middle one: what an
// owner lives with. 0 where one did not set. Refused where it cannot be known.
func LowestOverMedian(all []Outcome) (ratio float64, err error) {
	m, c := Median(all), Count(all)
	if c.N == 0 {
		return math.NaN(), refuse("no lowest over median: no pull has this quantity")
	}
	if c.NotSet > 0 {
		return 0, nil
	}
	if m.Bound {
		return math.NaN(), refuse("no lowest over median: the median is a lower bound")
	}
	lowest, bound := math.Inf(1), false
	for _, o := range all {
		if o.Valid() && (o.V < lowest || o.V == lowest && o.Kind == Measured) {
			lowest, bound = o.V, o.Kind == AtLeast
		}
	}
	if bound {
		return math.NaN(), refuse("no lowest over median: the lowest is a lower bound")
	}
	if !(m.V > 0) {
		return math.NaN(), refuse("no lowest over median: the median is not above 0")
	}
	return lowest / m.V, nil
}
