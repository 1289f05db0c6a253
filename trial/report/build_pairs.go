package report

import (
	"fmt"
	"math"
	"strings"

	"hawse/trial"
	"hawse/trial/compare"
)

// like says that two groups may be held against each other: what is compared is
// the pattern or its setting, all else being equal.
func like(a, b *group) (bool, string) {
	switch {
	case a.Bottom != b.Bottom:
		return false, ""
	case math.Abs(a.Mass-b.Mass) > 0.05*math.Max(a.Mass, b.Mass):
		return false, ""
	case a.Protocol != b.Protocol:
		return false, "they were pulled otherwise"
	}
	return true, ""
}

// held is what treatments that are alike but for the pattern came to against each
// other.
type held struct {
	pairs []pair
	not   []string // what is not compared, and why
}

type pair struct {
	*compare.Pairs
	a, b *group
}

// holdAgainst makes the pairs. Each bottom is a question of its own, and a family
// of tests of its own.
func (b *builder) holdAgainst(groups []group) *held {
	h := &held{}
	for i := range groups {
		for j := i + 1; j < len(groups); j++ {
			x, y := &groups[i], &groups[j]
			if ok, why := like(x, y); !ok {
				if why != "" {
					h.not = append(h.not, fmt.Sprintf("%s and %s: %s", x.short(), y.short(), why))
				}
				continue
			}
			p := compare.MakePairs(x.Members, y.Members, b.campaign.Seed)
			h.pairs = append(h.pairs, pair{&p, x, y})
		}
	}
	for _, bottom := range bottomsOf(groups) {
		var family []*compare.Pairs
		for _, p := range h.pairs {
			if p.a.Bottom == bottom {
				family = append(family, p.Pairs)
			}
		}
		compare.Family(family)
	}
	return h
}

// on is how many pairs are of a bottom.
func (h *held) on(bottom string) (n int) {
	for _, p := range h.pairs {
		if p.a.Bottom == bottom {
			n++
		}
	}
	return n
}

// compared holds the treatments of each bottom against each other.
func (b *builder) compared(groups []group, h *held) {
	c := b.campaign
	q := &trial.Quantities[c.By]
	by, unit := b.u.show.InUnit(q.Unit)
	b.head(2, "Held against each other")
	b.say("Within blocks: a block is every treatment once at one station, as planned, or else in the order in which they were pulled: a new one begins where a treatment comes again. Only patterns of the same mass (within 5 %), on the same bottom, by the same protocol. Sizes are not ranked, nor bottoms.")
	t := &table{name: "pairs", title: "Pairs within blocks: " + q.Name, columns: []column{{"A", "a", false}, {"B", "b", false}, {"blocks", "blocks", true}, {"A over / under / tied / undecided", "orderings", false}, {"mean difference, " + unit, "mean_difference_n", true},
		{"median difference and interval, " + unit, "median_difference", false}, {"p", "p", true}, {"p, corrected", "p_holm", true}, {"smallest p possible", "p_smallest", true}, {"result", "verdict", false}}}
	for _, why := range h.not {
		b.say("Not compared: " + why + ".")
	}
	var said, left []string
	notDrawn := 0
	for _, k := range h.pairs {
		p, x, y := k.Pairs, k.a, k.b
		mean, median := dash, dash
		if !math.IsNaN(p.Mean) {
			mean = digits3(p.Mean / by)
			median = fmt.Sprintf("%s (%s to %s, %.0f %%)", digits3(p.Median.V/by), openEnd(p.Interval.Low, by), openEnd(p.Interval.High, by), 100*p.Interval.Confidence)
		}
		verdict := b.verdict(k)
		row := []cell{plain(x.short()), plain(y.short()), num(fmt.Sprint(len(p.All)), float64(len(p.All))), plain(fmt.Sprintf("%d / %d / %d / %d", p.Over, p.Under, p.Tied, p.Open)),
			num(mean, p.Mean), plain(median), num(pText(p.Test.P), p.Test.P), num(pText(p.Adjusted), p.Adjusted), num(pText(p.Test.SmallestP), p.Test.SmallestP), plain(verdict)}
		t.rows = append(t.rows, row)
		how := p.Test.Name
		if p.Test.Made() && !p.Test.Exact {
			how += fmt.Sprintf(", %d arrangements drawn by lot, seed %d", p.Test.Arranged, c.Seed)
		} else if p.Test.Made() {
			how += fmt.Sprintf(", all %d arrangements counted", p.Test.Arranged)
		}
		said = append(said, fmt.Sprintf("%s and %s: %s (%s). %s.", x.short(), y.short(), verdict, how, upper(p.Why)))
		notDrawn += p.NotDrawn
		left = append(left, p.LeftOut...)
	}
	var sizes []string
	for _, bottom := range bottomsOf(groups) {
		if n := h.on(bottom); n > 0 {
			sizes = append(sizes, fmt.Sprintf("%d on %s", n, bottom))
		}
	}
	t.note = fmt.Sprintf("Two-sided tests. Corrected for the number of comparisons on each bottom (%s) by Holm's method: with %d %% confidence none of the differences claimed on a bottom is a chance one.", strings.Join(sizes, ", "), int(math.Round(100*compare.Level)))
	if notDrawn > 0 {
		t.note += " No plan that was kept to says that the order within the blocks was drawn by lot; the tests suppose it."
	}
	b.table(t)
	if len(h.pairs) == 0 {
		b.say("There is nothing to hold against each other: no two patterns of one mass on one bottom.")
	}
	b.list(said)
	if len(left) > 0 {
		b.say("Left out of the pairs: " + strings.Join(left, "; ") + ".")
	}
	b.overall(groups)
	b.sizes(groups)
	b.class(groups)
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// names are how the two of a pair are told apart.
func (b *builder) names(x, y *group) (string, string) {
	if x.Pattern == y.Pattern {
		return x.name(), y.name()
	}
	return x.Pattern, y.Pattern
}

func (b *builder) verdict(p pair) string {
	x, y := b.names(p.a, p.b)
	switch p.Verdict {
	case compare.AMore:
		return x + " held more"
	case compare.BMore:
		return y + " held more"
	case compare.TooFew:
		return "too few: nothing is claimed"
	}
	return "can not be told apart"
}
