package report

import (
	"fmt"
	"math"
	"strings"

	"hawse/trial"
	"hawse/trial/compare"
)

// summary is a row a treatment: what its repeats came to.
func (b *builder) summary(groups []group, apart []compare.Difference, h *held) {
	c := b.campaign
	q := &trial.Quantities[c.By]
	_, unit := b.u.show.InUnit(q.Unit)
	b.head(2, "What came out")
	b.list(b.inShort(groups, h))
	b.say(fmt.Sprintf("Held against each other by: %s at deck (%s), which was chosen before the pulls were looked at or it is no fair choice. Pulls are pooled only where pattern, mass, fluke setting, bottom and protocol are the same.", q.Name, q.What))
	t := &table{name: "summary", title: "Repeats of each treatment: " + q.Name + ", " + unit, columns: []column{{"treatment", "treatment", false}, {"pulls", "pulls", true}, {"did not set", "not_set", false},
		{"lower bounds", "lower_bounds", true}, {"median", "median_n", true}, {"its interval", "median_interval", false}, {"least to most", "range", false}, {"mean", "mean_n", true}, {"CV, 95 % interval", "cv", false}, {"lowest / median", "lowest_over_median", true}}}
	var notes, informative []string
	by, _ := b.u.show.InUnit(q.Unit)
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

// inShort is what an owner asks first, a line a bottom: which anchor held more,
// which can not be told apart, which did not set.
func (b *builder) inShort(groups []group, h *held) (out []string) {
	for _, bottom := range bottomsOf(groups) {
		var more, open, few, unset []string
		for _, p := range h.pairs {
			if p.a.Bottom != bottom {
				continue
			}
			x, y := b.names(p.a, p.b)
			switch p.Verdict {
			case compare.AMore:
				more = append(more, x+" held more than "+y)
			case compare.BMore:
				more = append(more, y+" held more than "+x)
			case compare.TooFew:
				few = append(few, x+" and "+y)
			default:
				open = append(open, x+" and "+y)
			}
		}
		for i := range groups {
			g := &groups[i]
			if n := compare.Count(g.outcomes()); g.Bottom == bottom && n.NotSet > 0 {
				unset = append(unset, fmt.Sprintf("%s in %d of %s", g.name(), n.NotSet, count(n.N, "pull")))
			}
		}
		var said []string
		for _, k := range []struct {
			head string
			of   []string
		}{{"", more}, {"can not be told apart: ", open}, {"too few blocks, nothing is claimed: ", few}, {"did not set: ", unset}} {
			if len(k.of) > 0 {
				said = append(said, k.head+strings.Join(k.of, ", "))
			}
		}
		if len(said) == 0 {
			said = []string{"no two patterns of one mass to hold against each other"}
		}
		out = append(out, "In short, on "+bottom+": "+strings.Join(said, "; ")+".")
	}
	return out
}
