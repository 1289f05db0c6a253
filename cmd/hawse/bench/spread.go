package bench

import (
	"math"
	"slices"
	"time"
)

// spread is how a set of times is spread. Without any, all is zero.
type spread struct {
	n             int
	p50, p99, max time.Duration
}

// spreadOf takes times in nanoseconds, in any order; they are left as they are.
func spreadOf(ns []int64) spread {
	if len(ns) == 0 {
		return spread{}
	}
	sorted := slices.Sorted(slices.Values(ns))
	return spread{n: len(sorted), p50: time.Duration(nearestRank(sorted, 0.50)), p99: time.Duration(nearestRank(sorted, 0.99)),
		max: time.Duration(sorted[len(sorted)-1])}
}

// nearestRank is the least value that at least the share p of all values does
// not exceed: always one that was measured.
func nearestRank(sorted []int64, p float64) int64 {
	// The small step back keeps 0.99 x 100 at 99 although 0.99 is not exact.
	i := int(math.Ceil(p*float64(len(sorted))-1e-9)) - 1
	return sorted[min(max(i, 0), len(sorted)-1)]
}

// rows adds the three figures of several spreads, a column each.
func (t *table) spreads(key, label string, s ...spread) {
	pick := func(of func(spread) time.Duration) (cells []cell) {
		for _, v := range s {
			if v.n == 0 {
				cells = append(cells, cell{nil, "-"})
				continue
			}
			cells = append(cells, cellTime(of(v)))
		}
		return cells
	}
	t.add(key+"_p50_s", label+", p50, ms", pick(func(s spread) time.Duration { return s.p50 })...)
	t.add(key+"_p99_s", label+", p99, ms", pick(func(s spread) time.Duration { return s.p99 })...)
	t.add(key+"_max_s", label+", max, ms", pick(func(s spread) time.Duration { return s.max })...)
}
