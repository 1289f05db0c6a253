package compare

import (
	"math"
	"slices"
)

// Pair is two treatments in one block.
type Pair struct {
	Block string
	A, B  Member
	Order Ordering // of A to B
	Diff  float64  // A less B; NaN unless both are measured
}

// Pairs is two treatments over all blocks that hold both.
type Pairs struct {
	All                     []Pair
	Over, Under, Tied, Open int // A to B; Open: undecided
	First                   int // blocks in which A was pulled before B
	NotDrawn                int // blocks of whose order nobody says that it was drawn by lot
	LeftOut                 []string
	Mean                    float64  // of the differences, A less B; NaN unless all are known
	Median                  Middle   // of the differences
	Interval                Interval // of their median, by order statistics
	Test                    Test
	Adjusted                float64 // P by [Holm] over the family; NaN not made. Set by [Family]
	Verdict                 Verdict
	Why                     string
}

// Verdict is what a comparison says.
type Verdict uint8

// The verdicts. Only the first two are claims.
const (
	AMore Verdict = iota
	BMore
	CanNotTell // enough pulls, and no difference they could show
	TooFew     // fewer than [LeastN], or no p small enough can come of them
)

// MakePairs holds two groups against each other within blocks. Where the order
// of some blocks was drawn by lot, only those are tested; where that of none is
// known to be, all are, and NotDrawn says that the test supposes it.
func MakePairs(a, b []Member, seed uint64) Pairs {
	p := Pairs{Mean: math.NaN(), Adjusted: math.NaN()}
	firsts := func(all []Member) (names []string, by map[string]Member) {
		by = map[string]Member{}
		for _, m := range all {
			switch _, again := by[m.Block]; {
			case m.Block == "":
				p.LeftOut = append(p.LeftOut, m.Pull+": in no block")
			case !m.Valid():
				p.LeftOut = append(p.LeftOut, m.Pull+": has no outcome")
			case again:
				p.LeftOut = append(p.LeftOut, m.Pull+": a second one in block "+m.Block)
			default:
				by[m.Block] = m
				names = append(names, m.Block)
			}
		}
		return names, by
	}
	names, as := firsts(a)
	others, bs := firsts(b)
	anyDrawn := slices.ContainsFunc(names, func(n string) bool { return as[n].Drawn && bs[n].Drawn && bs[n].Block != "" })
	for _, n := range others {
		if as[n].Block == "" {
			p.LeftOut = append(p.LeftOut, bs[n].Pull+": block "+n+" lacks the other")
		}
	}
	for _, n := range names {
		x, y := as[n], bs[n]
		switch {
		case y.Block == "":
			p.LeftOut = append(p.LeftOut, x.Pull+": block "+n+" lacks the other")
			continue
		case anyDrawn && !(x.Drawn && y.Drawn):
			p.LeftOut = append(p.LeftOut, x.Pull+" and "+y.Pull+": the order of block "+n+" was not drawn by lot")
			continue
		}
		one := Pair{Block: n, A: x, B: y, Order: Order(x.Outcome, y.Outcome), Diff: math.NaN()}
		if x.Kind == Measured && y.Kind == Measured {
			one.Diff = x.V - y.V
		}
		if !anyDrawn {
			p.NotDrawn++
		}
		if x.Place > 0 && y.Place > 0 && x.Place < y.Place {
			p.First++
		}
		switch one.Order {
		case Greater:
			p.Over++
		case Less:
			p.Under++
		case Same:
			p.Tied++
		default:
			p.Open++
		}
		p.All = append(p.All, one)
	}
	p.test(seed)
	return p
}

// test makes the test that the pairs allow.
func (p *Pairs) test(seed uint64) {
	var d []float64
	for _, one := range p.All {
		if !math.IsNaN(one.Diff) {
			d = append(d, one.Diff)
		}
	}
	p.Interval = Interval{math.Inf(-1), math.Inf(1), 0}
	switch {
	case len(p.All) == 0:
		p.Test = notMade("paired comparison", "no block holds both")
		return
	case len(d) == len(p.All):
		p.Mean = exactSum(d) / float64(len(d))
		out := make([]Outcome, len(d))
		for i, v := range d {
			out[i] = Outcome{Kind: Measured, V: v}
		}
		p.Median = Median(out)
		p.Interval = p.Median.Interval
		p.Test = signFlips(d, seed)
	default:
		p.Test = signTest(p.Over, p.Under)
	}
	if !p.Test.Made() && p.Test.Why == "" {
		p.Test.Why = "no block can be surely ordered"
	}
}

// decided is how many blocks say something.
func (p *Pairs) decided() int { return p.Over + p.Under + p.Tied }

// Family corrects the tests of a family of comparisons by [Holm] and gives each
// its verdict.
func Family(all []*Pairs) {
	ps := make([]float64, len(all))
	for i, p := range all {
		ps[i] = p.Test.P
	}
	for i, adjusted := range Holm(ps) {
		all[i].Adjusted = adjusted
		was := ps[i]
		ps[i] = all[i].Test.SmallestP
		all[i].judge(Holm(ps)[i])
		ps[i] = was
	}
}

// judge gives the verdict. best is the least that the corrected p could have been.
func (p *Pairs) judge(best float64) {
	switch n := p.decided(); {
	case n < LeastN:
		p.Verdict = TooFew
		p.Why = count(n, "block") + " that can be surely ordered: nothing is claimed under " + number(LeastN)
	case !p.Test.Made():
		p.Verdict, p.Why = CanNotTell, p.Test.Why
	case !p.Test.Reaches():
		p.Verdict = TooFew
		p.Why = "the smallest p that so few blocks can give is above 0.05"
	case best > 1-Level:
		p.Verdict = TooFew
		p.Why = "corrected for the number of comparisons, the smallest p that so few blocks can give is above 0.05"
	case p.Adjusted > 1-Level:
		p.Verdict, p.Why = CanNotTell, "a difference as great comes by chance too often"
	case p.Over > p.Under || p.Over == p.Under && p.Mean > 0:
		p.Verdict, p.Why = AMore, "by the test, corrected for the number of comparisons"
	default:
		p.Verdict, p.Why = BMore, "by the test, corrected for the number of comparisons"
	}
	// The mean has the word on the side where it was the statistic.
	if claim := p.Verdict == AMore || p.Verdict == BMore; claim && !math.IsNaN(p.Mean) {
		p.Verdict = AMore
		if p.Mean < 0 {
			p.Verdict = BMore
		}
	}
}
