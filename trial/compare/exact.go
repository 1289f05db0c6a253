package compare

import (
	"fmt"
	"math"
	"math/bits"
	"math/rand/v2"
)

// Test is what a test came to.
type Test struct {
	Name string // what was done, in words
	// P is how likely a difference as great or greater is, were the treatments the
	// same; NaN: the test was not made, and Why says why.
	P, SmallestP float64 // SmallestP: the least that so few can give
	Why          string
	Exact        bool // all arrangements were counted; else so many were drawn by lot
	Arranged     int  // arrangements counted or drawn
}

// Made says that the test was made.
func (t *Test) Made() bool { return !math.IsNaN(t.P) }

// Reaches says that it could have found a difference at all.
func (t *Test) Reaches() bool { return t.SmallestP <= 1-Level }

func notMade(name, format string, args ...any) Test {
	return Test{Name: name, P: math.NaN(), SmallestP: math.NaN(), Why: fmt.Sprintf(format, args...)}
}

// How many arrangements are counted at most, and how many drawn where there are
// more.
const (
	mostCounted = 1 << 20
	drawn       = 100_000
)

// atLeast says that a is b or more, but for rounding.
func atLeast(a, b float64) bool { return a >= b-1e-9*math.Max(1, math.Abs(b)) }

// signFlips is the randomisation test of paired differences: had the treatments
// been the same, each difference could as well have had the other sign, because
// the order within its block was drawn. The statistic is the mean difference,
// either way. Zeros say nothing and are left out. Source: Fisher, R. A., The
// Design of Experiments (1935), section 21 (from memory; check values in
// testdata/compare).
func signFlips(all []float64, seed uint64) Test {
	const name = "randomisation of paired differences"
	var d []float64
	for _, v := range all {
		if v != 0 {
			d = append(d, v)
		}
	}
	n := len(d)
	if n == 0 {
		return notMade(name, "no block has a difference")
	}
	sum := exactSum(d)
	t := Test{Name: name, SmallestP: math.Ldexp(1, 1-n)}
	if n <= bits.Len(mostCounted)-1 {
		t.Exact, t.Arranged = true, 1<<n
		// Gray code: one sign changes from one arrangement to the next.
		s, found := sum, 0
		sign := make([]float64, n)
		for i := range sign {
			sign[i] = 1
		}
		for k := 0; ; {
			if atLeast(math.Abs(s), math.Abs(sum)) {
				found++
			}
			if k++; k == t.Arranged {
				break
			}
			i := bits.TrailingZeros(uint(k))
			s -= 2 * sign[i] * d[i]
			sign[i] = -sign[i]
		}
		t.P = float64(found) / float64(t.Arranged)
		return t
	}
	r := rand.New(rand.NewPCG(seed, 0x7369676e))
	found := 1
	for range drawn {
		s := 0.0
		for _, v := range d {
			if r.Uint64()&1 == 0 {
				v = -v
			}
			s += v
		}
		if atLeast(math.Abs(s), math.Abs(sum)) {
			found++
		}
	}
	t.Arranged = drawn
	t.P = float64(found) / (drawn + 1)
	t.SmallestP = 1.0 / (drawn + 1)
	return t
}

// signTest is the exact binomial test of which was greater how often; ties are
// left out. It needs no more than sure orderings.
func signTest(wins, losses int) Test {
	const name = "sign test"
	n := wins + losses
	if n == 0 {
		return notMade(name, "no block can be surely ordered")
	}
	return Test{Name: name, Exact: true, Arranged: 1 << min(n, 62),
		P: min(1, 2*binomialTail(min(wins, losses), n)), SmallestP: min(1, math.Ldexp(1, 1-n))}
}

// TwoGroups is the exact rank test of two groups that stand in no blocks: how
// often a is over b, less how often under, over all pairs that can be surely
// ordered, held against all ways to deal the pulls to the two groups. With no
// bounds it is the Mann-Whitney test. Source for the scores of bounds: Gehan, E.,
// Biometrika 52 (1965) 203 (from memory; check values in testdata/compare). It
// supposes that the pulls were dealt to the ground by lot.
func TwoGroups(a, b []Outcome, seed uint64) Test {
	const name = "rank test of two groups"
	var all []Outcome
	n := 0
	for i, o := range append(append([]Outcome{}, a...), b...) {
		if !o.Valid() {
			continue
		}
		if i < len(a) {
			n++
		}
		all = append(all, o)
	}
	m := len(all) - n
	if n == 0 || m == 0 {
		return notMade(name, "a group has no outcome")
	}
	score := make([]float64, len(all)) // how many it is over, less how many under: of all
	for i := range all {
		for j := range all {
			if o := Order(all[i], all[j]); i != j && o != Undecided {
				score[i] += float64(o)
			}
		}
	}
	seen := math.Abs(exactSum(score[:n]))
	ways := math.Exp(logChoose(n+m, n))
	t := Test{Name: name, SmallestP: min(1, 2/ways)}
	if ways <= mostCounted/4 {
		t.Exact = true
		found := 0
		var deal func(from, left int, sum float64)
		deal = func(from, left int, sum float64) {
			if left == 0 {
				t.Arranged++
				if atLeast(math.Abs(sum), seen) {
					found++
				}
				return
			}
			for i := from; i <= len(score)-left; i++ {
				deal(i+1, left-1, sum+score[i])
			}
		}
		deal(0, n, 0)
		t.P = float64(found) / float64(t.Arranged)
		return t
	}
	r := rand.New(rand.NewPCG(seed, 0x72616e6b))
	found := 1
	for range drawn {
		r.Shuffle(len(score), func(i, j int) { score[i], score[j] = score[j], score[i] })
		if atLeast(math.Abs(exactSum(score[:n])), seen) {
			found++
		}
	}
	t.Arranged, t.P = drawn, float64(found)/(drawn+1)
	t.SmallestP = max(t.SmallestP, 1.0/(drawn+1))
	return t
}
