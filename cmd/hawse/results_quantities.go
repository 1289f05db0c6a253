package main

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"hawse/acquire/session"
	"hawse/logfmt"
	"hawse/trial"
)

// quantityText is a value with its expanded uncertainty and unit.
func quantityText(show trial.Show, unit string, v trial.Value, bound trial.Bound) string {
	if !v.Known {
		return dash
	}
	text, u := show.Quantity(unit, v, bound)
	if u != "" {
		text += " ± " + u
	}
	if _, word := show.InUnit(unit); word != "" {
		text += " " + word
	}
	return text
}

// quantities tells the quantities that are known, under their headings.
func (p *resultsPage) quantities(r *session.Result, over []trial.Stretch) {
	show := showOf(r.Head.Trial)
	group, unknown := "", 0
	for q := range r.Figures.Quantities {
		i, f := &trial.Quantities[q], &r.Figures.Quantities[q]
		if !f.Read[0].Known {
			unknown++
			continue
		}
		if i.Group != group {
			group = i.Group
			p.line(2, " %s", strings.ToUpper(group))
		}
		p.row([]int{2, 28}, "", i.Name, told(show, i, f))
		if c := r.Corrected; c != nil {
			if again := &c.Quantities[q]; again.Read[0].Known && told(show, i, again) != told(show, i, f) {
				p.row([]int{2, 28}, "", "  corrected", told(show, i, again))
			}
		}
	}
	for i, x := range over {
		info, f := stretchInfo(x), &r.Stretches[i]
		text := told(show, info, f)
		if !f.Read[0].Known {
			text = dash + "; " + f.Read[0].Why
		}
		p.row([]int{2, 28}, "", stretchName(show, x), text)
		if len(r.CorrectedOver) > 0 && r.CorrectedOver[i].Read[0].Known {
			p.row([]int{2, 28}, "", "  corrected", told(show, info, &r.CorrectedOver[i]))
		}
	}
	p.phases(&r.Figures, show)
	if unknown > 0 {
		p.about("not known", "%d quantities of %d; --table says why", unknown, len(trial.Quantities))
	}
}

// told is a quantity in one line: its readings, then what must be known to read it.
func told(show trial.Show, i *trial.QuantityInfo, f *trial.Figure) string {
	if f.Word != "" {
		return f.Word
	}
	text := quantityText(show, i.Unit, f.Read[0], f.Bound)
	if i.Loads {
		var more []string
		for j := 1; j < len(trial.Readings); j++ {
			if v := f.Read[j]; v.Known {
				more = append(more, trial.Readings[j].Name+" "+quantityText(show, i.Unit, v, f.Bound))
			}
		}
		if len(more) > 0 {
			text += "; " + strings.Join(more, "; ")
		}
	}
	if f.Note != "" {
		text += " (" + f.Note + ")"
	}
	return text
}

func (p *resultsPage) phases(f *trial.Figures, show trial.Show) {
	var out []string
	for ph, t := range f.Phases {
		if t.N > 0 && t.Time > 0 {
			out = append(out, fmt.Sprintf("%s %s and %s", trial.Phase(ph), clock(t.Time), lengthIn(show, max(t.Length, 0))))
		}
	}
	if len(out) > 0 {
		p.about("phases", "in pull and recovery: %s", strings.Join(out, ", "))
	}
}

// resultsTable prints every quantity of each pull, a row each.
func resultsTable(out io.Writer, all []*session.Result, over []trial.Stretch, budget bool) error {
	p := &resultsPage{}
	for n, r := range all {
		if n > 0 {
			p.WriteString("\n")
		}
		if !r.Ready {
			p.line(4, "%s: %s", visible(r.Parts[0].Path), "no part of the pull has a whole head, so nothing in it can be understood")
			continue
		}
		run := r.Head.Run
		p.line(4, "%s", printable(run.ID+", "+runText(run)))
		if invented(r) {
			p.line(4, "  %s: invented data", strings.ToUpper(visible(r.Head.Mode)))
		}
		if !r.Holds() {
			p.line(4, "  the record is not whole")
		}
		for _, d := range r.Doubts {
			p.line(4, "  doubtful: %s", visible(d.Text))
		}
		p.anew(&r.Figures, showOf(r.Head.Trial))
		p.quantityRows(r, over)
		if budget {
			p.budget(r)
		}
	}
	_, err := io.WriteString(out, p.String())
	return err
}

const quantityRow = "%-28s %-16s %-16s %s"

func (p *resultsPage) quantityRows(r *session.Result, over []trial.Stretch) {
	show := showOf(r.Head.Trial)
	p.WriteString(strings.TrimRight(fmt.Sprintf(quantityRow, "", trial.Readings[0].Name, trial.Readings[1].Name, trial.Readings[2].Name), " ") + "\n")
	row := func(name string, i *trial.QuantityInfo, f *trial.Figure) {
		var cells [len(trial.Readings)]string
		for j := range cells {
			if j == 0 || i.Loads {
				cells[j] = quantityText(show, i.Unit, f.Read[j], f.Bound)
			}
		}
		if f.Word != "" {
			cells[0] = f.Word
		}
		p.WriteString(strings.TrimRight(fmt.Sprintf(quantityRow, clipped(name, 28), cells[0], cells[1], cells[2]), " ") + "\n")
		var said []string
		if f.Bound != "" {
			said = append(said, "a lower bound: "+string(f.Bound))
		}
		if f.Note != "" {
			said = append(said, f.Note)
		}
		for j := range f.Read {
			if v := &f.Read[j]; !v.Known && (j == 0 || i.Loads && f.Read[0].Known) {
				why := v.Why
				if j > 0 {
					why = trial.Readings[j].Name + ": " + why
				}
				said = append(said, why)
			}
		}
		for _, s := range said {
			p.line(4, "    %s", s)
		}
	}
	group := ""
	for q := range r.Figures.Quantities {
		i := &trial.Quantities[q]
		if i.Group != group {
			group = i.Group
			p.line(2, "%s", strings.ToUpper(group))
		}
		row(i.Name, i, &r.Figures.Quantities[q])
		if r.Corrected != nil && i.Loads {
			row("  corrected", i, &r.Corrected.Quantities[q])
		}
	}
	for i, x := range over {
		row(stretchName(show, x), stretchInfo(x), &r.Stretches[i])
		if len(r.CorrectedOver) > 0 {
			row("  corrected", stretchInfo(x), &r.CorrectedOver[i])
		}
	}
}

// budget prints what each uncertainty is made of, the parts of a load at the deck
// and what comes on top in its other readings.
func (p *resultsPage) budget(r *session.Result) {
	show := showOf(r.Head.Trial)
	p.line(2, " UNCERTAINTY, standard (k = 1), as JCGM 100:2008, 5.1.2, combines it")
	for q := range r.Figures.Quantities {
		i, f := &trial.Quantities[q], &r.Figures.Quantities[q]
		by, word := show.InUnit(i.Unit)
		if word != "" {
			word = " " + word
		}
		for j := range f.Read {
			v := &f.Read[j]
			if !v.Known || len(v.Budget) == 0 || j > 0 && !i.Loads {
				continue
			}
			name := i.Name
			if i.Loads {
				name += ", " + trial.Readings[j].Name
			}
			p.line(4, "  %s: %.3g ± %.2g%s", name, v.V/by, v.U/by, word)
			if j > 0 && f.Read[0].Known {
				above := f.Read[0].Budget // it holds those of the reading at the deck, too
				p.parts(slices.DeleteFunc(slices.Clone(v.Budget), func(part trial.Part) bool {
					return slices.ContainsFunc(above, func(has trial.Part) bool { return has.Name == part.Name })
				}), by, word)
				continue
			}
			p.parts(v.Budget, by, word)
		}
	}
}

func (p *resultsPage) parts(b trial.Budget, by float64, word string) {
	for _, part := range b {
		p.row([]int{4, 26, 14}, "", part.Name, fmt.Sprintf("%.2g%s", part.U/by, word), string(part.Shape)+"; "+part.Why)
	}
}

// quantityColumns are those of the table of quantities: the key with its unit,
// with _u the standard uncertainty. Of corrected figures only the loads change.
func quantityColumns(before string, of func(*session.Result) *trial.Figures) (out []resultColumn) {
	for q := range trial.Quantities {
		i := &trial.Quantities[q]
		if before != "" && !i.Loads {
			continue
		}
		add := func(name string, get func(f *trial.Figure) string) {
			out = append(out, resultColumn{before + name, func(r *session.Result) string {
				if f := of(r); f != nil && r.Ready {
					return get(&f.Quantities[q])
				}
				return ""
			}})
		}
		readings := 1
		if i.Loads {
			readings = len(trial.Readings)
		}
		for j := range readings {
			if i.Unit == "word" {
				add(i.Key, func(f *trial.Figure) string { return f.Word })
				break
			}
			add(i.ReadingKey(j), func(f *trial.Figure) string { return numberCell(f.Read[j].V) })
			if i.Unit != "count" && i.Unit != "s" && i.Unit != "1/s" {
				add(i.ReadingKey(j)+"_u", func(f *trial.Figure) string { return numberCell(f.Read[j].U) })
			}
		}
		if i.Group == "peaks" {
			add(i.Key+"_lower_bound", func(f *trial.Figure) string {
				if !f.Read[0].Known {
					return ""
				}
				return strconv.FormatBool(f.Bound != "")
			})
			add(i.Key+"_at_s", func(f *trial.Figure) string {
				if !f.Placed {
					return ""
				}
				return logfmt.FormatNs(f.T)
			})
		}
	}
	return append(out, resultColumn{before + "lower_bounds", func(r *session.Result) string {
		var keys []string
		if f := of(r); f != nil && r.Ready {
			for q := range f.Quantities {
				if f.Quantities[q].Bound != "" && f.Quantities[q].Read[0].Known {
					keys = append(keys, trial.Quantities[q].Key)
				}
			}
		}
		return strings.Join(keys, "; ")
	}})
}
