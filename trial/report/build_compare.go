package report

import (
	"fmt"
	"math"
	"strings"

	"hawse/trial"
	"hawse/trial/compare"
)

// summary is a row a treatment: what its repeats came to.
func (b *builder) summary(groups []group, apart []compare.Difference) {
	c := b.campaign
	q := &trial.Quantities[c.By]
	_, unit := b.u.unit(q.Unit)
	b.head(2, "What came out")
	b.say(fmt.Sprintf("Held against each other by: %s at deck (%s), which was chosen before the pulls were looked at or it is no fair choice. Pulls are pooled only where pattern, mass, fluke setting, bottom and protocol are the same.", q.Name, q.What))
	t := &table{name: "summary", title: "Repeats of each treatment: " + q.Name + ", " + unit, columns: []column{{"treatment", "treatment", false}, {"pulls", "pulls", true}, {"did not set", "not_set", false},
		{"lower bounds", "lower_bounds", true}, {"median", "median_n", true}, {"its interval", "median_interval", false}, {"least to most", "range", false}, {"mean", "mean_n", true}, {"CV, 95 % interval", "cv", false}, {"lowest / median", "lowest_over_median", true}}}
	var notes, informative []string
	by, _ := b.u.unit(q.Unit)
	for i := range groups {
		g := &groups[i]
		out := g.outcomes()
		n := compare.Count(out)
		m := compare.Median(out)
		share := compare.ClopperPearson(n.NotSet, n.N, compare.Level)
		row := []cell{plain(g.short()), num(fmt.Sprint(n.N), float64(n.N)), plain(fmt.Sprintf("%d of %d (%.0f to %.0f %%)", n.NotSet, n.N, 100*share.Low, 100*share.High)), num(fmt.Sprint(n.Bounds), float64(n.Bounds))}
		medianCSV := ""
		if m.Known && !m.NotSet {
			medianCSV = raw(m.V)
			if m.Bound {
				medianCSV = "> " + medianCSV
			}
		}
		interval := dash
		if n.N >= 2 {
			interval = fmt.Sprintf("%s to %s (%.1f %%)", b.orNotSet(m.Interval.Low, by), openEnd(m.Interval.High, by), 100*m.Interval.Confidence)
		}
		row = append(row, cell{b.u.middleText(m, q.Unit), medianCSV}, plain(interval), plain(b.rangeText(out, by)))
		if s, err := compare.Mean(out); err != nil {
			row = append(row, cell{"refused", ""}, cell{"refused", ""})
			notes = append(notes, g.short()+": "+err.Error())
		} else if n.N < 2 {
			row = append(row, num(digits3(s.Mean/by), s.Mean), cell{dash, ""})
		} else {
			cv := fmt.Sprintf("%.0f %% (%.0f to %s %%)", 100*s.CV, 100*s.CVIn.Low, openEnd(100*s.CVIn.High, 1))
			row = append(row, num(digits3(s.Mean/by), s.Mean), cell{cv, raw(s.CV)})
		}
		ratio, err := compare.LowestOverMedian(out)
		if err != nil {
			row = append(row, cell{"refused", ""})
			notes = append(notes, g.short()+": "+err.Error())
		} else {
			row = append(row, num(fmt.Sprintf("%.2f", ratio), ratio))
		}
		t.rows = append(t.rows, row)
		if m.Informative {
			informative = append(informative, fmt.Sprintf("%s: %d of its %d lower bounds are pulls that a person ended while the tension rose; what they would have come to may be why they were ended, so the median leans on what nobody knows.", g.short(), n.Called, n.Bounds))
		}
		if n.Lost > 0 {
			notes = append(notes, fmt.Sprintf("%s: %s without a value, and not in the count", g.short(), count(n.Lost, "pull")))
		}
	}
	t.note = "Did not set: how many, with the exact (Clopper-Pearson) 95 % interval of the share. Median: respects lower bounds (Kaplan-Meier), \">\" where the curve never passes one half; its interval is that of order statistics, with the confidence it has. Mean and CV (n - 1) are refused where one is a lower bound or did not set; the CV's interval is for normal data and an approximation. Under 5 pulls all of it is a hint."
	b.table(t)
	b.list(append(informative, notes...))
	for _, d := range apart {
		b.say(fmt.Sprintf("Not pooled: %s and %s differ in %s.", groups[d.A].short(), groups[d.B].short(), strings.Join(d.Aspects, "; ")))
	}
}

func (b *builder) orNotSet(v, by float64) string {
	if math.IsInf(v, -1) {
		return "not set"
	}
	return digits3(v / by)
}

func openEnd(v, by float64) string {
	switch {
	case math.IsInf(v, 1):
		return "open"
	case math.IsInf(v, -1):
		return "not set"
	case by == 1 && v >= 10:
		return fmt.Sprintf("%.0f", v)
	}
	return digits3(v / by)
}

func (b *builder) rangeText(out []compare.Outcome, by float64) string {
	low, high := "", ""
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, o := range out {
		if !o.Valid() {
			continue
		}
		v, text := o.V, ""
		switch o.Kind {
		case compare.NotSet:
			v, text = math.Inf(-1), "not set"
		case compare.AtLeast:
			text = "> " + digits3(v/by)
		default:
			text = digits3(v / by)
		}
		if v < lo || low == "" {
			lo, low = v, text
		}
		if v > hi || high == "" {
			hi, high = v, text
		}
	}
	if low == "" {
		return dash
	}
	return low + " to " + high
}

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

// compared holds the treatments of each bottom against each other.
func (b *builder) compared(groups []group, _ []compare.Difference) {
	c := b.campaign
	q := &trial.Quantities[c.By]
	by, unit := b.u.unit(q.Unit)
	b.head(2, "Held against each other")
	b.say("Within blocks: a block is every treatment once at one station, as planned, or else in the order in which they were pulled: a new one begins where a treatment comes again. Only patterns of the same mass (within 5 %), on the same bottom, by the same protocol. Sizes are not ranked, nor bottoms.")
	t := &table{name: "pairs", title: "Pairs within blocks: " + q.Name, columns: []column{{"A", "a", false}, {"B", "b", false}, {"blocks", "blocks", true}, {"A over / under / tied / undecided", "orderings", false}, {"mean difference, " + unit, "mean_difference_n", true},
		{"median difference and interval, " + unit, "median_difference", false}, {"p", "p", true}, {"p, corrected", "p_holm", true}, {"smallest p possible", "p_smallest", true}, {"result", "verdict", false}}}
	var all []*compare.Pairs
	var who [][2]int
	for i := range groups {
		for j := i + 1; j < len(groups); j++ {
			if ok, why := like(&groups[i], &groups[j]); !ok {
				if why != "" {
					b.say(fmt.Sprintf("Not compared: %s and %s: %s.", groups[i].short(), groups[j].short(), why))
				}
				continue
			}
			p := compare.MakePairs(groups[i].Members, groups[j].Members, c.Seed)
			all = append(all, &p)
			who = append(who, [2]int{i, j})
		}
	}
	// Each bottom is a question of its own, and a family of tests of its own.
	family := map[string][]*compare.Pairs{}
	for k, p := range all {
		bottom := groups[who[k][0]].Bottom
		family[bottom] = append(family[bottom], p)
	}
	for _, f := range family {
		compare.Family(f)
	}
	var said, left []string
	notDrawn, first := 0, 0
	for k, p := range all {
		x, y := &groups[who[k][0]], &groups[who[k][1]]
		mean, median := dash, dash
		if !math.IsNaN(p.Mean) {
			mean = digits3(p.Mean / by)
			median = fmt.Sprintf("%s (%s to %s, %.0f %%)", digits3(p.Median.V/by), openEnd(p.Interval.Low, by), openEnd(p.Interval.High, by), 100*p.Interval.Confidence)
		}
		verdict := b.verdict(p, x, y)
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
		first += p.First
		left = append(left, p.LeftOut...)
	}
	var sizes []string
	for _, bottom := range bottomsOf(groups) {
		if n := len(family[bottom]); n > 0 {
			sizes = append(sizes, fmt.Sprintf("%d on %s", n, bottom))
		}
	}
	t.note = fmt.Sprintf("Two-sided tests. Corrected for the number of comparisons on each bottom (%s) by Holm's method: with %d %% confidence none of the differences claimed on a bottom is a chance one.", strings.Join(sizes, ", "), int(math.Round(100*compare.Level)))
	if notDrawn > 0 {
		t.note += " No plan that was kept to says that the order within the blocks was drawn by lot; the tests suppose it."
	}
	b.table(t)
	if len(all) == 0 {
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

func (b *builder) verdict(p *compare.Pairs, x, y *group) string {
	name := func(g *group) string {
		if x.Pattern == y.Pattern {
			return g.short()
		}
		return g.Pattern
	}
	switch p.Verdict {
	case compare.AMore:
		return name(x) + " held more"
	case compare.BMore:
		return name(y) + " held more"
	case compare.TooFew:
		return "too few: nothing is claimed"
	}
	return "can not be told apart"
}

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
		index := map[string]int{}
		for j, g := range alike {
			names = append(names, g.Pattern)
			for _, m := range g.Members {
				i, some := index[m.Block]
				if !some {
					i = len(rows)
					index[m.Block] = i
					rows = append(rows, make([]compare.Outcome, len(alike)))
				}
				rows[i][j] = m.Outcome
			}
		}
		complete := rows[:0]
		for _, r := range rows {
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

// class is the class societies' rule, where a reference anchor is named.
func (b *builder) class(groups []group) {
	c := b.campaign
	if c.Reference == "" {
		return
	}
	b.head(3, "By the class societies' rule")
	b.say("High holding power is at least 2 times, super high at least 4 times that of an ordinary stockless anchor of the same mass, on each of several bottoms, three pulls each. This is the rule's arithmetic, and no approval: that is the society's to give.")
	var lines []string
	for _, bottom := range bottomsOf(groups) {
		var ref *group
		for i := range groups {
			if g := &groups[i]; g.Bottom == bottom && c.Pulls[g.pulls[0]].Anchor.ID == c.Reference {
				ref = g
			}
		}
		if ref == nil {
			lines = append(lines, bottom+": the reference anchor was not pulled here")
			continue
		}
		for i := range groups {
			g := &groups[i]
			if g.Bottom != bottom || g == ref {
				continue
			}
			k := compare.ClassRule(g.outcomes(), ref.outcomes(), g.Mass, ref.Mass, b.leastScope(g))
			factor := dash
			if !math.IsNaN(k.Factor) {
				factor = digits3(k.Factor)
				if k.AtLeast {
					factor = "> " + factor
				}
			}
			word := map[compare.Word]string{compare.Open: "can not be told", compare.Yes: "reached", compare.No: "not reached"}
			text := fmt.Sprintf("%s: %s times the reference; 2 times %s, 4 times %s", g.short(), factor, word[k.High], word[k.Super])
			if len(k.Short) > 0 {
				text += "; the rule wants besides: " + strings.Join(k.Short, "; ")
			}
			lines = append(lines, text)
		}
	}
	b.list(lines)
}

// leastScope is the least scope by depth alone in the pulls of a group.
func (b *builder) leastScope(g *group) float64 {
	least := math.Inf(1)
	for _, i := range g.pulls {
		p := &b.campaign.Pulls[i]
		for _, k := range p.Trace.Cols {
			if inPull(&k) && k.Depth > 0 && k.Scope > 0 {
				least = min(least, k.Scope*(k.Depth+float64(p.Trial.Vessel.Fairlead))/k.Depth)
			}
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}
