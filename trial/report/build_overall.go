package report

import (
	"fmt"
	"slices"
	"strings"

	"hawse/trial/compare"
)

// overall is the test over all treatments of a bottom at once, where there are
// three or more alike.
func (b *builder) overall(groups []group) {
	for _, bottom := range bottomsOf(groups) {
		var alike []*group
		for i := range groups {
			g := &groups[i]
			if g.Bottom != bottom {
				continue
			}
			if len(alike) > 0 {
				if ok, _ := like(alike[0], g); !ok {
					if len(alike) == 1 { // the first stood alone: begin with this one
						alike[0] = g
					}
					continue
				}
			}
			alike = append(alike, g)
		}
		if len(alike) < 3 {
			continue
		}
		var names []string
		var rows [][]compare.Outcome
		var drawn []bool // by lot, each block's order
		index := map[string]int{}
		for j, g := range alike {
			names = append(names, g.Pattern)
			for _, m := range g.Members {
				i, some := index[m.Block]
				if !some {
					i = len(rows)
					index[m.Block] = i
					rows, drawn = append(rows, make([]compare.Outcome, len(alike))), append(drawn, true)
				}
				drawn[i] = drawn[i] && m.Drawn
				if !rows[i][j].Valid() { // the first counts, as in the pairs
					rows[i][j] = m.Outcome
				}
			}
		}
		anyDrawn, notDrawn := slices.Contains(drawn, true), 0
		var complete [][]compare.Outcome
		for i, r := range rows {
			if anyDrawn && !drawn[i] {
				notDrawn++
				continue
			}
			ok := true
			for _, o := range r {
				ok = ok && o.Valid()
			}
			if ok {
				complete = append(complete, r)
			}
		}
		f := compare.Friedman(complete, b.campaign.Seed)
		text := fmt.Sprintf("All at once on %s (%s): ", bottom, strings.Join(names, ", "))
		if notDrawn > 0 {
			text += count(notDrawn, "block") + " left out, whose order was not drawn by lot; "
		}
		if !f.Test.Made() {
			b.say(text + "not tested; " + f.Test.Why + ".")
			continue
		}
		var ranks []string
		for j, r := range f.Ranks {
			ranks = append(ranks, fmt.Sprintf("%s %.2f", names[j], r))
		}
		claim := "they can not be told apart"
		switch {
		case f.Used < compare.LeastN:
			claim = fmt.Sprintf("under %d blocks nothing is claimed", compare.LeastN)
		case f.Test.P <= 1-compare.Level:
			claim = "not all hold the same"
		}
		b.say(text + fmt.Sprintf("Friedman's test over %s (%d left out for an undecided pair): mean ranks %s, 1 the lowest; statistic %s, p %s, smallest possible %s: %s.", count(f.Used, "complete block"), f.LeftOut, strings.Join(ranks, ", "), digits3(f.Statistic), pText(f.Test.P), pText(f.Test.SmallestP), claim))
	}
}

// sizes fits a power law to each pattern that was pulled in several sizes.
func (b *builder) sizes(groups []group) {
	type key struct {
		bottom, pattern, protocol string
		fluke                     float64
	}
	var order []key
	by := map[key][]compare.Sized{}
	for i := range groups {
		g := &groups[i]
		k := key{g.Bottom, g.Pattern, g.Protocol, g.Fluke}
		if by[k] == nil {
			order = append(order, k)
		}
		by[k] = append(by[k], compare.Sized{Mass: g.Mass, Outcomes: g.outcomes()})
	}
	for _, k := range order {
		if len(by[k]) < 2 {
			continue
		}
		l, err := compare.PowerLaw(by[k])
		head := fmt.Sprintf("Sizes of pattern %s on %s: ", k.pattern, k.bottom)
		if err != nil {
			b.say(head + err.Error() + ".")
			continue
		}
		text := head + fmt.Sprintf("holding goes as mass to the power %.2f (95 %% interval %.2f to %.2f, for normal scatter of the logarithms), from %s of %s; they lie about it within a factor of %.2f.", l.B, l.BIn.Low, l.BIn.High, count(l.N, "pull"), count(l.Sizes, "size"), l.Scatter)
		if l.BIn.Low < 1 && l.BIn.High > 1 {
			text += " An exponent of one lies in the interval: that holding over weight falls with size is not shown here."
		}
		b.say(text)
	}
}
