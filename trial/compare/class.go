package compare

import "math"

// The class societies' factors over an ordinary stockless anchor of the same
// mass, and the pulls they want on each bottom. Source: the rule for anchors of
// high and super high holding power (IACS UR A1/A2 family), read restated in a
// training page and in ABS rules for materials (2008), part 2-2-1.
const (
	HighHolding      = 2.0
	SuperHighHolding = 4.0
	ClassPulls       = 3
	classScope       = 6.0  // the least accepted; 10 is normal
	sameMass         = 0.05 // share by which "the same mass" may differ: common practice, no source
)

// Class is what the rule says of one bottom.
type Class struct {
	N, NRef int
	Factor  float64 // mean over the reference's mean; NaN not known
	AtLeast bool    // it is a lower bound
	High    Word
	Super   Word
	Short   []string // what the rule wants and the pulls have not
}

// Word is yes, no, or that nobody can tell.
type Word uint8

// The words.
const (
	Open Word = iota
	Yes
	No
)

// ClassRule holds an anchor against a reference anchor on one bottom. It is a
// comparison by the rule's arithmetic, not an approval: that is the society's.
// scope is the least of the pulls, rode out over depth alone; 0 unknown.
func ClassRule(test, reference []Outcome, mass, referenceMass, scope float64) Class {
	c := Class{Factor: math.NaN()}
	a, b := Count(test), Count(reference)
	c.N, c.NRef = a.N, b.N
	short := func(is bool, what string) {
		if is {
			c.Short = append(c.Short, what)
		}
	}
	short(a.N < ClassPulls || b.N < ClassPulls, "three pulls of each on a bottom")
	short(math.Abs(mass-referenceMass) > sameMass*referenceMass, "a reference of the same mass")
	short(!(scope >= classScope), "a scope of 6 or more, rode out over depth, all the way")
	short(a.NotSet+b.NotSet > 0, "pulls that set")
	if a.N == 0 || b.N == 0 || a.NotSet+b.NotSet > 0 {
		return c
	}
	mean := func(all []Outcome, n int) (sum float64) {
		for _, o := range all {
			if o.Valid() {
				sum += o.V
			}
		}
		return sum / float64(n)
	}
	ref := mean(reference, b.N)
	if !(ref > 0) {
		return c
	}
	c.Factor, c.AtLeast = mean(test, a.N)/ref, a.Bounds > 0
	if b.Bounds > 0 { // the reference may be stronger: nothing is known below
		c.Short = append(c.Short, "a reference that is no lower bound")
		c.Factor = math.NaN()
		return c
	}
	word := func(factor float64) Word {
		switch {
		case c.Factor >= factor:
			return Yes
		case c.AtLeast:
			return Open
		}
		return No
	}
	c.High, c.Super = word(HighHolding), word(SuperHighHolding)
	return c
}
