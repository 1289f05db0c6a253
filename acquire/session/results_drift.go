package session

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hawse/safety"
	"hawse/trial"
)

// Doubt is why the tension of a pull may not be what it seems.
type Doubt struct {
	Kind DoubtKind
	Text string
}

// DoubtKind says what raised a doubt.
type DoubtKind string

// What raises one.
const (
	DoubtWeight DoubtKind = "weight" // a known weight read wrong
	DoubtZero   DoubtKind = "zero"   // the zero had moved
	DoubtSaid   DoubtKind = "said"   // a person, in an addendum
)

// cellKey tells load cells apart as heads name them: by the serial number, or,
// where the trial file says none, by all that it says of the cell.
type cellKey string

func cellOf(t *trial.Trial) cellKey {
	c := &t.Load
	if c.Serial != "" && c.Serial != "unknown" {
		return cellKey("serial " + c.Serial)
	}
	return cellKey(fmt.Sprintf("%q", []any{c.Port.Names, c.Line, c.Unit, float64(c.Range), c.Cal, c.CalUnit, c.Place}))
}

// checkAt is one check of a load cell in the row of all of them.
type checkAt struct {
	at     time.Time
	weight bool // a known weight; else a zero
	bad    bool
	text   string // what a weight showed
	basis  string // of a zero, which is comparable with others of the same alone
	zero   trial.Force
	full   trial.Force // the cell's range
}

// MarkDrift marks the pulls whose tension is in doubt because a later check, or
// one before, found the load cell wrong. Results are all pulls that are known,
// in any order; the cells are told apart by their heads.
//
// A known weight outside its tolerance puts in doubt all that the cell measured
// since the last known weight that fitted, and until the next one that does. A
// zero that moved puts in doubt what was measured since the zero before it; from
// there on the new one holds. Neither clears the other's doubt: a zero says
// nothing of the scale. A check inside a log splits it at its time.
func MarkDrift(results []*Result) {
	cells := map[cellKey][]checkAt{}
	for _, r := range results {
		if r.Started.IsZero() {
			continue // nobody knows when
		}
		for i := range r.Checks {
			r.checkAt(cells, &r.Checks[i])
		}
		for i := range r.Addenda {
			r.hungAfterwards(cells, &r.Addenda[i])
		}
	}
	for _, checks := range cells {
		slices.SortStableFunc(checks, func(a, b checkAt) int { return a.at.Compare(b.at) })
		zerosApart(checks)
	}
	for _, r := range results {
		for i := range r.Parts {
			p := &r.Parts[i]
			for j, m := range p.measured {
				if !m.some || r.Started.IsZero() {
					continue
				}
				from, to := r.Moment(m.from), r.Moment(m.to)
				doubts := append(weightDoubts(cells[p.cell], from, to), zeroDoubts(cells[p.cell], r.Head.Trial.Show, from, to)...)
				for _, d := range doubts {
					if j == spanAfter && !slices.Contains(r.Doubts, d) {
						d.Text = "after the pull: " + d.Text
					}
					r.doubt(d)
				}
			}
		}
	}
}

// doubt adds a doubt once.
func (r *Result) doubt(d Doubt) {
	if d.Text != "" && !slices.Contains(r.Doubts, d) {
		r.Doubts = append(r.Doubts, d)
	}
}

// checkAt puts a check of a log into the row of its cell.
func (r *Result) checkAt(cells map[cellKey][]checkAt, c *CheckTold) {
	cell := r.Parts[c.Part].cell
	one := checkAt{at: r.Moment(c.T), weight: c.Check == safety.CheckWeight, bad: c.State == safety.CheckFailed, basis: c.basis, zero: c.Zero, full: r.Head.Trial.Load.Range}
	switch {
	case c.State == safety.CheckWaived:
		return
	case one.weight && !math.IsNaN(c.Off()):
		one.text = fmt.Sprintf("the known weight read %+.1f %%", 100*c.Off())
	case one.weight:
		one.text = "the known weight did not fit"
	case one.bad || math.IsNaN(float64(c.Zero)):
		return // no zero was taken
	}
	cells[cell] = append(cells[cell], one)
}

// hungAfterwards does so for a known weight that an addendum tells of.
func (r *Result) hungAfterwards(cells map[cellKey][]checkAt, c *Comment) {
	cell := r.Parts[c.Part].cell
	if !c.Applied || c.Kind != AddendumWeight || cell == "" || c.Written.IsZero() {
		return
	}
	fits, some := c.Fits(&r.Head)
	if !some {
		return
	}
	cells[cell] = append(cells[cell], checkAt{at: c.Written, weight: true, bad: !fits,
		text: fmt.Sprintf("the known weight read %+.1f %%", 100*c.Off())})
}

// Fits says whether the known weight of an addendum was shown within the
// tolerance of the check before arming. some is false if the weight is too light
// for the cell to say anything.
func (a *Addendum) Fits(h *Head) (fits, some bool) {
	const many = 1000 // samples: what is too few is not known of it
	cfg := safety.Config{Range: h.Trial.Load.Range, Show: h.Trial.Show}
	fault, tooLittle := safety.JudgeWeight(safety.Reading{N: many, Mean: a.Shown, Low: a.Shown, High: a.Shown}, 0, a.Weight, &cfg)
	return fault == "", !tooLittle
}

// zerosApart holds each zero against the one before it.
func zerosApart(checks []checkAt) {
	last := -1
	for i := range checks {
		c := &checks[i]
		if c.weight {
			continue
		}
		if last >= 0 && checks[last].basis == c.basis {
			c.bad = movedZero(c.zero-checks[last].zero, c.full)
		}
		last = i
	}
}

// Moment as people read it; logs come from all over the day, so in UTC.
const moment = "2006-01-02 15:04 UTC"

func momentText(t time.Time) string { return t.UTC().Format(moment) }

// weightDoubts are those by known weights of what was measured between two
// times.
func weightDoubts(checks []checkAt, from, to time.Time) (out []Doubt) {
	var good *checkAt
	var bad []*checkAt // since the last good one
	judge := func(next *checkAt) {
		if len(bad) == 0 || good != nil && !to.After(good.at) || next != nil && !from.Before(next.at) {
			return
		}
		b := bad[len(bad)-1]
		text := "no good one since"
		if i := slices.IndexFunc(bad, func(c *checkAt) bool { return c.at.After(from) }); i >= 0 {
			b, text = bad[i], "no good one before it is known"
			if good != nil {
				text = "the last good one was at " + momentText(good.at)
			}
		}
		out = append(out, Doubt{DoubtWeight, b.text + " at " + momentText(b.at) + "; " + text})
	}
	for i := range checks {
		switch c := &checks[i]; {
		case !c.weight:
		case c.bad:
			bad = append(bad, c)
		default:
			judge(c)
			good, bad = c, nil
		}
	}
	judge(nil)
	return out
}

// zeroDoubts are those by zeros that moved.
func zeroDoubts(checks []checkAt, show trial.Show, from, to time.Time) (out []Doubt) {
	var last *checkAt
	for i := range checks {
		c := &checks[i]
		if c.weight {
			continue
		}
		if c.bad && from.Before(c.at) && to.After(last.at) {
			out = append(out, Doubt{DoubtZero, fmt.Sprintf("the zero had moved from %s to %s at %s; the one before it was taken at %s",
				forceText(last.zero, show), forceText(c.zero, show), momentText(c.at), momentText(last.at))})
		}
		last = c
	}
	return out
}

// forceText is a force to three digits, in the crew's unit.
func forceText(f trial.Force, show trial.Show) string {
	u := show.Tension
	if !(u.N > 0) {
		u = trial.ForceUnit{Name: "N", N: 1}
	}
	return fmt.Sprintf("%.3g %s", u.In(f), u.Name)
}
