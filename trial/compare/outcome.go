package compare

import (
	"fmt"
	"math"
)

// Kind is what is known of an outcome.
type Kind uint8

// The kinds.
const (
	Lost     Kind = iota // there is no value, and nobody can tell what it would have been
	NotSet               // the anchor did not set: the lowest rank, and no force
	AtLeast              // a lower bound: the pull ended before the figure was left
	Measured             // a value
)

// Outcome is what one pull came to, in one quantity.
type Outcome struct {
	Pull string // its run
	Kind Kind
	V    float64 // of Measured the value, of AtLeast the bound
	// Called: a person ended the pull while the tension still rose. Such a stop is
	// informative: it comes the sooner, the more the pull frightened.
	Called bool
}

// Valid says that the outcome is one, and not a number gone wrong.
func (o Outcome) Valid() bool {
	switch o.Kind {
	case NotSet:
		return true
	case AtLeast, Measured:
		return !math.IsNaN(o.V) && !math.IsInf(o.V, 0)
	}
	return false
}

// value is where the outcome stands at the least.
func (o Outcome) value() float64 {
	if o.Kind == NotSet {
		return math.Inf(-1)
	}
	return o.V
}

// Ordering is how two outcomes stand to each other.
type Ordering int8

// The orderings.
const (
	Less      Ordering = -1
	Same      Ordering = 0
	Greater   Ordering = 1
	Undecided Ordering = 2
)

// Order says which of two outcomes is the greater, where that is sure. A lower
// bound is greater than a value under it, and nothing else is sure of it. What
// did not set is under all that did, and like all that did not.
func Order(a, b Outcome) Ordering {
	switch {
	case !a.Valid() || !b.Valid():
		return Undecided
	case a.Kind == AtLeast && b.Kind == AtLeast:
		return Undecided
	case a.Kind == AtLeast:
		if a.V > b.value() {
			return Greater
		}
		return Undecided
	case b.Kind == AtLeast:
		if b.V > a.value() {
			return Less
		}
		return Undecided
	case a.value() < b.value():
		return Less
	case a.value() > b.value():
		return Greater
	}
	return Same
}

// RankRange is the least and the greatest rank that an outcome may have, from 1,
// the lowest; equal ones share the mean of theirs.
type RankRange struct{ Low, High float64 }

// Ranks of outcomes among each other. One that is lost has none: NaN, and the
// others are ranked without it.
func Ranks(all []Outcome) []RankRange {
	out := make([]RankRange, len(all))
	for i, o := range all {
		if !o.Valid() {
			out[i] = RankRange{math.NaN(), math.NaN()}
			continue
		}
		under, same, open := 0.0, 0.0, 0.0
		for j, p := range all {
			if j == i || !p.Valid() {
				continue
			}
			switch Order(o, p) {
			case Greater:
				under++
			case Same:
				same++
			case Undecided:
				open++
			}
		}
		out[i] = RankRange{1 + under + same/2, 1 + under + same/2 + open}
	}
	return out
}

// Counts says what a group is made of.
type Counts struct {
	N        int // with an outcome
	NotSet   int
	Bounds   int // lower bounds
	Called   int // of these, ended by a person on a rising trace
	Measured int
	Lost     int // without one: not in N
}

// Count counts.
func Count(all []Outcome) (c Counts) {
	for _, o := range all {
		if !o.Valid() {
			c.Lost++
			continue
		}
		c.N++
		switch o.Kind {
		case NotSet:
			c.NotSet++
		case AtLeast:
			c.Bounds++
			if o.Called {
				c.Called++
			}
		default:
			c.Measured++
		}
	}
	return c
}

// Refusal is why a figure is not given.
type Refusal struct{ Why string }

func (r *Refusal) Error() string { return r.Why }

func refuse(format string, args ...any) error { return &Refusal{fmt.Sprintf(format, args...)} }

// values are the measured ones of a group that holds nothing else; the error
// says why it does.
func values(what string, all []Outcome) ([]float64, error) {
	c := Count(all)
	switch {
	case c.Bounds > 0:
		return nil, refuse("no %s: %d of %d are lower bounds, whose true values nobody knows", what, c.Bounds, c.N)
	case c.NotSet > 0:
		return nil, refuse("no %s: %d of %d did not set, which is no force to average", what, c.NotSet, c.N)
	case c.N == 0:
		return nil, refuse("no %s: no pull has this quantity", what)
	}
	out := make([]float64, 0, c.N)
	for _, o := range all {
		if o.Valid() {
			out = append(out, o.V)
		}
	}
	return out, nil
}
