package compare

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
)

// Blocks is the test over all treatments at once.
type Blocks struct {
	Used, LeftOut int       // blocks; left out are those with a gap or an undecided pair
	Ranks         []float64 // mean rank of each treatment over the used ones, 1 the lowest
	Statistic     float64   // Friedman's, corrected for ties
	Test          Test
}

// Friedman tests whether any of several treatments differs, over complete blocks
// without an undecided pair: a row a block, a column a treatment. The p-value is
// exact where the arrangements can be counted, else drawn by lot. Source:
// Friedman, M., J. Am. Stat. Assoc. 32 (1937) 675; tie correction as in general
// use (from memory; check values in testdata/compare).
func Friedman(rows [][]Outcome, seed uint64) Blocks {
	const name = "Friedman's test over blocks"
	b := Blocks{Statistic: math.NaN()}
	var ranks [][]float64
	k := 0
	for _, row := range rows {
		k = max(k, len(row))
	}
	for _, row := range rows {
		if r, ok := surely(row); ok && len(row) == k {
			ranks = append(ranks, r)
		}
	}
	b.Used, b.LeftOut = len(ranks), len(rows)-len(ranks)
	if k < 3 {
		b.Test = notMade(name, "it is for three treatments or more")
		return b
	}
	if b.Used < 2 {
		b.Test = notMade(name, "%s complete and without an undecided pair", count(b.Used, "block"))
		return b
	}
	n := float64(b.Used)
	sums := make([]float64, k)
	squares := 0.0
	for _, r := range ranks {
		for j, v := range r {
			sums[j] += v
			squares += v * v
		}
	}
	b.Ranks = make([]float64, k)
	for j := range sums {
		b.Ranks[j] = sums[j] / n
	}
	all := float64(k) * (float64(k) + 1) * (float64(k) + 1) / 4
	spread := squares - n*all
	if spread <= 0 {
		b.Test = notMade(name, "in every block all are tied")
		return b
	}
	b.Statistic = (float64(k) - 1) * apart(sums, n) / spread
	b.Test = friedmanP(name, ranks, apart(sums, n), seed)
	return b
}

// surely are the ranks in a row, ties at their mean; not ok if a pair is
// undecided.
func surely(row []Outcome) ([]float64, bool) {
	out := make([]float64, len(row))
	for i, r := range Ranks(row) {
		if !(r.Low == r.High) {
			return nil, false
		}
		out[i] = r.Low
	}
	return out, true
}

// apart is how far the sums of ranks are from being all the same.
func apart(sums []float64, n float64) (s float64) {
	mean := n * float64(len(sums)+1) / 2
	for _, v := range sums {
		s += (v - mean) * (v - mean)
	}
	return s
}

const mostStates = 200_000 // sums of ranks that are told apart at once

// friedmanP counts the arrangements block by block: sums of ranks that are the
// same but for the names of the treatments go on together, which leaves few.
func friedmanP(name string, ranks [][]float64, seen float64, seed uint64) Test {
	k, n := len(ranks[0]), float64(len(ranks))
	if k <= 6 {
		type state struct {
			sums []float64
			p    float64
		}
		states := map[string]state{"": {make([]float64, k), 1}}
		for _, r := range ranks {
			next := map[string]state{}
			orders := permutations(r)
			for _, s := range states {
				for _, o := range orders {
					sums := make([]float64, k)
					for j := range sums {
						sums[j] = s.sums[j] + o[j]
					}
					slices.Sort(sums)
					key := keyOf(sums)
					was := next[key]
					next[key] = state{sums, was.p + s.p/float64(len(orders))}
				}
			}
			states = next
			if len(states) > mostStates/len(orders) {
				states = nil
				break
			}
		}
		if states != nil {
			t := Test{Name: name, Exact: true}
			most := 0.0
			for _, s := range states {
				most = max(most, apart(s.sums, n))
			}
			var ps []float64
			var top []float64
			for _, s := range states {
				a := apart(s.sums, n)
				if atLeast(a, seen) {
					ps = append(ps, s.p)
				}
				if atLeast(a, most) {
					top = append(top, s.p)
				}
			}
			slices.Sort(ps)
			slices.Sort(top)
			t.P, t.SmallestP = min(1, exactSum(ps)), min(1, exactSum(top))
			t.Arranged = int(math.Min(math.Pow(float64(len(permutations(ranks[0]))), n), math.MaxInt32))
			return t
		}
	}
	r := rand.New(rand.NewPCG(seed, 0x667269))
	found := 1
	sums := make([]float64, k)
	for range drawn {
		clear(sums)
		for _, row := range ranks {
			for j, i := range r.Perm(k) {
				sums[j] += row[i]
			}
		}
		if atLeast(apart(sums, n), seen) {
			found++
		}
	}
	return Test{Name: name, Arranged: drawn, P: float64(found) / (drawn + 1), SmallestP: 1.0 / (drawn + 1)}
}

func keyOf(sums []float64) string {
	var b strings.Builder
	for _, v := range sums {
		b.WriteString(strconv.Itoa(int(math.Round(2 * v))))
		b.WriteByte(' ')
	}
	return b.String()
}

// permutations of a row, all of them.
func permutations(row []float64) (out [][]float64) {
	cur := slices.Clone(row)
	var from func(i int)
	from = func(i int) {
		if i == len(cur) {
			out = append(out, slices.Clone(cur))
			return
		}
		for j := i; j < len(cur); j++ {
			cur[i], cur[j] = cur[j], cur[i]
			from(i + 1)
			cur[i], cur[j] = cur[j], cur[i]
		}
	}
	from(0)
	return out
}
