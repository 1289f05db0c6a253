package compare_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"hawse/trial/compare"
)

// Coverage with known truth: how often an interval that claims 95 % holds the
// true value. The figures are written down in COVERAGE.md.

// TestCoverageClopperPearson needs no lot: the chance of each count is known.
func TestCoverageClopperPearson(t *testing.T) {
	for _, n := range []int{3, 5, 8, 12, 20} {
		worst, at := 1.0, 0.0
		for i := 1; i < 400; i++ {
			p := float64(i) / 400
			sum := 0.0
			for k := range n + 1 {
				if in := compare.ClopperPearson(k, n, 0.95); in.Low <= p && p <= in.High {
					a, _ := math.Lgamma(float64(n + 1))
					b, _ := math.Lgamma(float64(k + 1))
					c, _ := math.Lgamma(float64(n - k + 1))
					sum += math.Exp(a - b - c + float64(k)*math.Log(p) + float64(n-k)*math.Log1p(-p))
				}
			}
			if sum < worst {
				worst, at = sum, p
			}
		}
		covers("share of failed sets, at the true share where it covers least", n, "0.95", worst)
		if worst < 0.95 {
			t.Errorf("n %d: covers %.4f at a true share of %.3f, less than claimed", n, worst, at)
		}
	}
}

// shapes are distributions of invented holding, kN, with the true median.
var shapes = []struct {
	name   string
	median float64
	draw   func(*rand.Rand) float64
}{
	{"normal, CV 0.2", 3, func(r *rand.Rand) float64 { return 3 + 0.6*r.NormFloat64() }},
	{"log-normal, CV 0.5", 3, func(r *rand.Rand) float64 { return 3 * math.Exp(0.47*r.NormFloat64()) }},
	{"two ways to set", 2, func(r *rand.Rand) float64 { // half hold 1 to 2, half 2 to 6
		if r.IntN(2) == 0 {
			return 1 + r.Float64()
		}
		return 2 + 4*r.Float64()
	}},
}

// allow is the claim less what so many trials may fall short of it by chance (four
// standard errors).
func allow(claim float64, trials int) float64 {
	return claim - 4*math.Sqrt(claim*(1-claim)/float64(trials))
}

// TestCoverageMedian draws groups, some cut off at a limit.
func TestCoverageMedian(t *testing.T) {
	const trials = 20_000
	r := rand.New(rand.NewPCG(11, 1))
	for _, s := range shapes {
		for _, limit := range []float64{math.Inf(1), 1.2 * s.median, 0.9 * s.median} {
			for _, n := range []int{5, 8, 12} {
				hit, claim := 0, 0.0
				for range trials {
					m := compare.Median(draw(r, n, limit, s.draw))
					claim = m.Interval.Confidence
					if m.Interval.Low <= s.median && s.median <= m.Interval.High {
						hit++
					}
				}
				share := float64(hit) / trials
				what := "median, " + s.name
				if !math.IsInf(limit, 0) {
					what += fmt.Sprintf(", bounded at %.1f of the median", limit/s.median)
				}
				covers(what, n, fmt.Sprintf("%.4f", claim), share)
				if share < allow(claim, trials) {
					t.Errorf("%s, limit %v, n %d: covers %.4f of %.4f claimed", s.name, limit, n, share, claim)
				}
			}
		}
	}
}

func draw(r *rand.Rand, n int, limit float64, from func(*rand.Rand) float64) (out []compare.Outcome) {
	for range n {
		o := compare.Outcome{Kind: compare.Measured, V: from(r)}
		if o.V > limit {
			o = compare.Outcome{Kind: compare.AtLeast, V: limit}
		}
		out = append(out, o)
	}
	return out
}

// TestCoverageSpread: standard deviation exactly, coefficient of variation nearly,
// both for normal data; other data shows what that is worth.
func TestCoverageSpread(t *testing.T) {
	const trials = 20_000
	r := rand.New(rand.NewPCG(11, 2))
	for _, n := range []int{5, 8, 12} {
		for _, cv := range []float64{0.1, 0.2, 0.33} {
			sd, v := 0, 0
			for range trials {
				s, err := compare.Mean(draw(r, n, math.Inf(1), func(r *rand.Rand) float64 { return 3 + 3*cv*r.NormFloat64() }))
				if err != nil {
					t.Fatal(err)
				}
				if s.SDIn.Low <= 3*cv && 3*cv <= s.SDIn.High {
					sd++
				}
				if s.CVIn.Low <= cv && cv <= s.CVIn.High {
					v++
				}
			}
			a, b := float64(sd)/trials, float64(v)/trials
			covers(fmt.Sprintf("standard deviation, normal, CV %.2f", cv), n, "0.95", a)
			covers(fmt.Sprintf("CV (an approximation), normal, CV %.2f", cv), n, "0.95", b)
			if a < allow(0.95, trials) || b < 0.94 {
				t.Errorf("CV %.2f, n %d: deviation covers %.4f, CV %.4f", cv, n, a, b)
			}
		}
		hit := 0
		for range trials {
			s, _ := compare.Mean(draw(r, n, math.Inf(1), shapes[1].draw))
			if truth := math.Sqrt(math.Expm1(0.47 * 0.47)); s.CVIn.Low <= truth && truth <= s.CVIn.High {
				hit++
			}
		}
		covers("CV, log-normal, CV 0.50: not normal", n, "nothing", float64(hit)/trials)
	}
}

// TestErrorRate: where there is no difference, no more than 5 % of families find
// one, with bounds and failed sets among them.
func TestErrorRate(t *testing.T) {
	const trials = 2_000
	r := rand.New(rand.NewPCG(11, 3))
	for _, n := range []int{5, 7, 10} {
		for _, limit := range []float64{math.Inf(1), 3.3} {
			pairs, family, blocks := 0, 0, 0
			for range trials {
				rows := make([][]compare.Outcome, n)
				groups := make([][]compare.Member, 3)
				for i := range rows {
					ground := 0.7 + 0.6*r.Float64() // a block's own, the same for all
					rows[i] = draw(r, 3, limit, func(r *rand.Rand) float64 { return ground * shapes[1].draw(r) })
					for j := range groups {
						groups[j] = append(groups[j], compare.Member{Block: string(rune('a' + i)), Outcome: rows[i][j], Drawn: true})
					}
				}
				all := []*compare.Pairs{}
				for _, k := range [][2]int{{0, 1}, {0, 2}, {1, 2}} {
					p := compare.MakePairs(groups[k[0]], groups[k[1]], 1)
					all = append(all, &p)
				}
				compare.Family(all)
				if all[0].Test.P <= 0.05 {
					pairs++
				}
				for _, p := range all {
					if p.Verdict == compare.AMore || p.Verdict == compare.BMore {
						family++
						break
					}
				}
				if f := compare.Friedman(rows, 1); f.Test.P <= 0.05 {
					blocks++
				}
			}
			one, all, f := float64(pairs)/trials, float64(family)/trials, float64(blocks)/trials
			what := "no difference, yet found"
			if !math.IsInf(limit, 0) {
				what += ", with lower bounds among the pulls"
			}
			covers(what+": one pair", n, "at most 0.05", one)
			covers(what+": any of three pairs, corrected", n, "at most 0.05", all)
			covers(what+": Friedman's test", n, "at most 0.05", f)
			for _, share := range []float64{one, all, f} {
				if over := 0.05 + 4*math.Sqrt(0.05*0.95/trials); share > over {
					t.Errorf("%d blocks, limit %v: a difference that is not there is found in %.4f", n, limit, share)
				}
			}
		}
	}
}
