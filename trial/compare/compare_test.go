package compare_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"hawse/trial/compare"
)

func TestOrder(t *testing.T) {
	m := func(v float64) compare.Outcome { return compare.Outcome{Kind: compare.Measured, V: v} }
	over := func(v float64) compare.Outcome { return compare.Outcome{Kind: compare.AtLeast, V: v} }
	not := compare.Outcome{Kind: compare.NotSet}
	for _, tt := range []struct {
		name string
		a, b compare.Outcome
		want compare.Ordering
	}{
		{"values", m(3), m(2), compare.Greater},
		{"equal values", m(3), m(3), compare.Same},
		{"a bound above", over(8), m(3), compare.Greater},
		{"a bound below", over(2), m(3), compare.Undecided},
		{"a bound at the value", over(3), m(3), compare.Undecided},
		{"two bounds", over(8), over(3), compare.Undecided},
		{"not set under all", not, m(0.1), compare.Less},
		{"not set under a bound", not, over(0.1), compare.Less},
		{"two not set", not, not, compare.Same},
		{"lost", compare.Outcome{}, m(1), compare.Undecided},
		{"not a number", m(math.NaN()), m(1), compare.Undecided},
	} {
		if got := compare.Order(tt.a, tt.b); got != tt.want {
			t.Errorf("%s: Order(%v, %v) = %v; want %v", tt.name, tt.a, tt.b, got, tt.want)
		}
	}
}

func TestMedian(t *testing.T) {
	for _, tt := range []struct {
		in     string
		v      float64
		bound  bool
		notSet bool
	}{
		{"1 2 3", 2, false, false},
		{"1 2 8+", 2, false, false},
		{"1 8+ 8+", 8, true, false},
		{"3 5 8+ 8+", 6.5, true, false}, // at one half, and never past it
		{"x 2 3", 2, false, false},
		{"x x 3", 0, false, true},
		{"x 8+ 8+", 8, true, false},
		{"x x 8+ 8+", 0, false, true},
		{"1.75+ 2+ 2+ 2.5+ 2.5+ 2.75", 2.25, true, false}, // one pull alone would carry it
		{"5", 5, false, false},
		{"5+", 5, true, false},
	} {
		m := compare.Median(outcomes(t, tt.in))
		if !m.Known || m.Bound != tt.bound || m.NotSet != tt.notSet || !tt.notSet && m.V != tt.v {
			t.Errorf("Median(%s) = %+v; want %v, bound %v, not set %v", tt.in, m, tt.v, tt.bound, tt.notSet)
		}
	}
	if m := compare.Median(nil); m.Known {
		t.Errorf("Median of nothing = %+v; want unknown", m)
	}
	called := outcomes(t, "1 2 8+")
	called[2].Called = true
	if !compare.Median(called).Informative {
		t.Error("a stop that a person called on a rising trace is not told")
	}
}

func TestRefusals(t *testing.T) {
	for _, tt := range []struct{ in, want string }{
		{"1 2 8+", "1 of 3 are lower bounds"},
		{"x 2 3", "1 of 3 did not set"},
		{"", "no pull"},
	} {
		var r *compare.Refusal
		if _, err := compare.Mean(outcomes(t, tt.in)); !errors.As(err, &r) || !strings.Contains(r.Why, tt.want) {
			t.Errorf("Mean(%s): %v; want a refusal with %q", tt.in, err, tt.want)
		}
		if _, err := compare.PowerLaw([]compare.Sized{{10, outcomes(t, tt.in)}, {20, outcomes(t, "3 4 5")}}); tt.in != "" && (!errors.As(err, &r) || !strings.Contains(r.Why, tt.want)) {
			t.Errorf("PowerLaw with %s: %v; want a refusal with %q", tt.in, err, tt.want)
		}
	}
	if _, err := compare.LowestOverMedian(outcomes(t, "3+ 4 5 6")); err == nil {
		t.Error("a lowest that is a lower bound has a ratio to the median")
	}
	if v, err := compare.LowestOverMedian(outcomes(t, "2 4 8+")); err != nil || v != 0.5 {
		t.Errorf("LowestOverMedian(2 4 8+) = %v, %v; want 0.5: the median is known", v, err)
	}
	if v, err := compare.LowestOverMedian(outcomes(t, "x 4 5")); err != nil || v != 0 {
		t.Errorf("LowestOverMedian(x 4 5) = %v, %v; want 0", v, err)
	}
}

func TestNoClaimUnderFive(t *testing.T) {
	p := paired([]float64{5, 6, 7, 8}) // as clear as can be
	compare.Family([]*compare.Pairs{&p})
	if p.Verdict != compare.TooFew || p.Test.SmallestP != 0.125 {
		t.Errorf("four blocks: verdict %v, smallest p %v; want TooFew, 0.125", p.Verdict, p.Test.SmallestP)
	}
	p = paired([]float64{5, 6, 7, 8, 9}) // and still too few: 1/16
	compare.Family([]*compare.Pairs{&p})
	if p.Verdict != compare.TooFew || p.Test.P != 0.0625 {
		t.Errorf("five blocks: verdict %v, p %v; want TooFew, 0.0625", p.Verdict, p.Test.P)
	}
	p = paired([]float64{5, 6, 7, 8, 9, 10})
	compare.Family([]*compare.Pairs{&p})
	if p.Verdict != compare.AMore || p.Test.P != 0.03125 {
		t.Errorf("six blocks: verdict %v, p %v; want AMore, 0.03125", p.Verdict, p.Test.P)
	}
	p = paired([]float64{5, -6, 7, -8, 9, -10, 3, -4})
	compare.Family([]*compare.Pairs{&p})
	if p.Verdict != compare.CanNotTell {
		t.Errorf("differences either way: verdict %v, p %v; want CanNotTell", p.Verdict, p.Test.P)
	}
}

func TestPool(t *testing.T) {
	a := compare.Treatment{Bottom: "mud", Pattern: "A", Mass: 16, Fluke: 0.785, Protocol: "60 m out; 2.4 m/min; soak 0"}
	b := a
	b.Mass, b.Protocol = 11, "60 m out; 2.4 m/min; soak 10 min"
	sand := a
	sand.Bottom = "sand"
	groups, apart := compare.Pool([]compare.Member{{Treatment: a}, {Treatment: b}, {Treatment: sand}, {Treatment: a}})
	if len(groups) != 3 || len(groups[0].Members) != 2 || groups[2].Bottom != "sand" {
		t.Fatalf("groups %+v; want a twice, b, sand", groups)
	}
	if len(apart) != 1 || strings.Join(apart[0].Aspects, ", ") != "mass 16 and 11 kg, soak 0 and soak 10 min" {
		t.Errorf("apart %+v; want mass and soak named, and nothing over bottoms", apart)
	}
}

func TestOrderNotDrawnIsLeftOut(t *testing.T) {
	var a, b []compare.Member
	for i, drawn := range []bool{true, true, false, true} {
		block := string(rune('a' + i))
		a = append(a, compare.Member{Block: block, Drawn: drawn, Place: 1, Outcome: compare.Outcome{Pull: "A", Kind: compare.Measured, V: 4}})
		b = append(b, compare.Member{Block: block, Drawn: drawn, Place: 2, Outcome: compare.Outcome{Pull: "B", Kind: compare.Measured, V: 3}})
	}
	p := compare.MakePairs(a, b, 1)
	if len(p.All) != 3 || len(p.LeftOut) != 1 || !strings.Contains(p.LeftOut[0], "block c was not drawn") || p.First != 3 {
		t.Errorf("%d pairs, A first in %d, left out %q; want 3, 3 and block c", len(p.All), p.First, p.LeftOut)
	}
	for i := range a {
		a[i].Drawn, b[i].Drawn = false, false
	}
	if p = compare.MakePairs(a, b, 1); len(p.All) != 4 || p.NotDrawn != 4 {
		t.Errorf("nobody drew: %d pairs, %d not drawn; want all four used, and told", len(p.All), p.NotDrawn)
	}
}

func TestMonteCarloAgreesWithCounting(t *testing.T) {
	d := make([]float64, 30) // over what is counted
	for i := range d {
		d[i] = float64(i%7) - 2
	}
	p := paired(d)
	if q := paired(d); p.Test.Exact || q.Test.P != p.Test.P {
		t.Errorf("30 blocks: %+v, then %+v; want a lot by the same seed twice", p.Test, q.Test)
	}
	// The exact p by convolution of whole numbers.
	ways := map[int]float64{0: 1}
	sum := 0
	for _, v := range d {
		sum += int(v)
		next := map[int]float64{}
		for s, w := range ways {
			next[s+int(v)] += w / 2
			next[s-int(v)] += w / 2
		}
		ways = next
	}
	want := 0.0
	for s, w := range ways {
		if s >= sum || -s >= sum {
			want += w
		}
	}
	if math.Abs(p.Test.P-want) > 4*math.Sqrt(want*(1-want)/100_000) {
		t.Errorf("drawn p %.5f, exact %.5f", p.Test.P, want)
	}
}

func TestClassRule(t *testing.T) {
	c := compare.ClassRule(outcomes(t, "6 8+ 7"), outcomes(t, "3 3.2 2.8"), 16, 16, 7)
	if c.High != compare.Yes || c.Super != compare.Open || len(c.Short) != 0 {
		t.Errorf("factor above 2.33: %+v; want high yes, super open", c)
	}
	if c = compare.ClassRule(outcomes(t, "6 8 7"), outcomes(t, "3+ 3.2 2.8"), 16, 16, 7); c.High != compare.Open {
		t.Errorf("a reference that is a bound: %+v; want open", c)
	}
	if c = compare.ClassRule(outcomes(t, "3 x"), outcomes(t, "3 3"), 16, 20, 4); len(c.Short) != 4 {
		t.Errorf("short of four things: %q", c.Short)
	}
}

// TestNeverMoreSure: to cut a value off at a limit makes no claim of another side,
// and no median greater than it was.
func TestNeverMoreSure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.SliceOfN(rapid.Float64Range(0.1, 10), 1, 12).Draw(t, "values")
		limit := rapid.Float64Range(0.1, 10).Draw(t, "limit")
		var whole, cut []compare.Outcome
		for _, x := range v {
			o := compare.Outcome{Kind: compare.Measured, V: x}
			whole = append(whole, o)
			if x > limit {
				o = compare.Outcome{Kind: compare.AtLeast, V: limit}
			}
			cut = append(cut, o)
		}
		m, c := compare.Median(whole), compare.Median(cut)
		if c.V > m.V+1e-12 || !c.Bound && math.Abs(c.V-m.V) > 1e-12 {
			t.Errorf("median %v cut off at %v is %+v; want the same, or a bound under it", m.V, limit, c)
		}
		for i := range v {
			for j := range v {
				a, b := compare.Order(whole[i], whole[j]), compare.Order(cut[i], cut[j])
				if b != compare.Undecided && a != b {
					t.Errorf("%v and %v cut off at %v: %v; it was %v", v[i], v[j], limit, b, a)
				}
			}
		}
		for i, r := range compare.Ranks(cut) {
			if w := compare.Ranks(whole)[i]; w.Low < r.Low-0.5-1e-9 || w.High > r.High+0.5+1e-9 {
				t.Errorf("rank %v is not in %v once cut off", w, r)
			}
		}
	})
}
