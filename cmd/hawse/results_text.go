package main

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strings"

	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/safety"
	"hawse/trial"
)

// resultsText prints a table with a row a pull, then each pull by itself.
func resultsText(out io.Writer, all []*session.Result, over []trial.Stretch, budget bool) error {
	p := &resultsPage{}
	p.table(all)
	for _, r := range all {
		p.pull(r)
		if r.Ready {
			p.quantities(r, over)
			if budget {
				p.budget(r)
			}
		}
	}
	if n := besides(all); n > 0 {
		p.WriteString("\n")
		p.line(2, "  drift was looked for in what is listed here alone; logs of other pulls beside it: %d. Give their folder.", n)
	}
	_, err := io.WriteString(out, p.String())
	return err
}

func besides(all []*session.Result) int {
	n := map[string]int{}
	for _, r := range all {
		n[filepath.Dir(r.Parts[0].Path)] = r.Beside
	}
	sum := 0
	for _, v := range n {
		sum += v
	}
	return sum
}

type resultsPage struct{ limitsPage }

const tableRow = "%-3s %-8s %-16s %11s %9s %6s %10s %10s"

func (p *resultsPage) row8(mark, run, started, greatest, at, scope, after, hauled string) {
	line := fmt.Sprintf(tableRow, mark, run, started, greatest, at, scope, after, hauled)
	p.WriteString(strings.TrimRight(line, " ") + "\n")
}

func (p *resultsPage) table(all []*session.Result) {
	p.row8("", "run", "started, UTC", "greatest", "at", "scope", "after", "hauled")
	for _, r := range all {
		mark := ""
		if !r.Holds() {
			mark = "!"
		}
		if len(r.Doubts) > 0 {
			mark += "?"
		}
		if invented(r) {
			mark += "*"
		}
		p.figures(mark, clipped(printable(r.Head.Run.ID), 8), utc(r.Started, "2006-01-02 15:04"), &r.Figures, r.Head.Trial)
		if r.Corrected != nil {
			p.figures("", "", "corrected", r.Corrected, r.Head.Trial)
		}
	}
	var legend []string
	for _, l := range []struct {
		has  func(*session.Result) bool
		text string
	}{
		{func(r *session.Result) bool { return !r.Holds() }, "! the record is not whole"},
		{func(r *session.Result) bool { return len(r.Doubts) > 0 }, "? doubtful"},
		{invented, "* invented data"},
		{func(r *session.Result) bool { return r.Figures.Pull.Bound != "" }, "> a lower bound"},
	} {
		for _, r := range all {
			if l.has(r) {
				legend = append(legend, l.text)
				break
			}
		}
	}
	legend = append(legend, "– not known, see below")
	p.line(4, "    %s", strings.Join(legend, "; "))
}

func (p *resultsPage) figures(mark, run, started string, f *trial.Figures, t *trial.Trial) {
	show := showOf(t)
	scope := dash
	if f.Pull.Known && !math.IsNaN(f.Pull.Scope) {
		scope = fmt.Sprintf("%.2f", f.Pull.Scope)
	}
	at := dash
	if f.Pull.Known {
		at = lengthIn(show, f.Pull.X)
	}
	hauled := dash
	if len(f.Hauls) > 0 {
		hauled = lengthIn(show, f.Hauled)
	}
	p.row8(mark, run, started, greatestIn(show, f.Pull), at, scope, greatestIn(show, f.After), hauled)
}

// pull tells one pull line by line.
func (p *resultsPage) pull(r *session.Result) {
	run, show := r.Head.Run, showOf(r.Head.Trial)
	p.WriteString("\n")
	if !r.Ready {
		p.line(4, "%s", visible(r.Parts[0].Path))
	} else {
		p.line(4, "%s", printable(run.ID+", "+runText(run)))
		p.line(4, "  %s", printable(r.Head.Trial.Name))
		if invented(r) {
			p.line(4, "  %s: %s", strings.ToUpper(visible(r.Head.Mode)), visible(cmp.Or(r.Head.Caption, "invented data")))
		}
		lost := ""
		if r.Figures.Lost > 0 {
			lost = ", " + clock(r.Figures.Lost) + " of it not recorded"
		}
		p.about("started", "%s, lasted %s%s", utc(r.Started, "2006-01-02 15:04:05 UTC"), clock(r.Length), lost)
	}
	p.record(r)
	for _, d := range r.Doubts {
		p.about("doubtful", "%s", visible(d.Text))
	}
	if r.Ready {
		p.cells(r, show)
		p.tensions(r, show)
		p.stages(r)
		for _, d := range r.Drops {
			p.about("drop", "%s  %s", clock(d.T), visible(d.Text))
		}
		for i := range r.Stops {
			p.stop(&r.Stops[i])
		}
		for i := range r.Checks {
			p.about("check", "%s", checkText(&r.Checks[i], show))
		}
		p.cameUp(r, show)
		if r.More > 0 {
			p.about("", "and %d more stops, checks and forms, which are not listed", r.More)
		}
	}
	for _, c := range r.Addenda {
		text := visible(filepath.Base(c.Path)) + ": " + addendumText(c.Addendum)
		switch {
		case !c.Applied:
			text += "; NOT applied: " + visible(c.Why)
		case c.Kind == session.AddendumCorrect:
			text += "; applied" + partText(r, c.Part)
		}
		p.about("addendum", "%s", text)
	}
	for _, f := range r.Faults {
		p.about("addendum", "NOT read: %s", visible(f))
	}
}

// about writes one line under a word.
func (p *resultsPage) about(word, format string, args ...any) {
	p.row([]int{0, 9}, "", word, fmt.Sprintf(format, args...))
}

func (p *resultsPage) record(r *session.Result) {
	for i := range r.Parts {
		part := &r.Parts[i]
		text := fmt.Sprintf("%s: %s", visible(part.Path), strings.ToUpper(part.State()))
		if part.Whole() {
			text = fmt.Sprintf("%s: whole", visible(part.Path))
		}
		text += ", " + cli.Grouped(part.Records) + " records"
		if part.Seal.Fault != "" {
			text += "; " + part.Seal.Fault
		}
		if part.Broken != "" {
			text += "; " + visible(part.Broken)
		}
		if i > 0 && part.Read {
			text += fmt.Sprintf("; goes on at %s, nothing recorded for %s", clock(part.Join.To), clock(part.Join.To-part.Join.From))
			if part.Join.Note != "" {
				text += ": " + part.Join.Note
			}
		}
		p.about("record", "%s", text)
		for j, d := range part.Damage {
			if j == mostDamage {
				p.about("", "and %d more damages; 'hawse verify' names them", len(part.Damage)-j)
				break
			}
			p.about("", "%s", d)
		}
		if part.Fault != "" {
			p.about("", "the chain is broken here: %s", visible(part.Fault))
		}
	}
}

func (p *resultsPage) tensions(r *session.Result, show trial.Show) {
	why := map[string]string{}
	for _, m := range missingOf(r, &r.Figures) {
		why[m.key] = m.why
	}
	f := &r.Figures
	p.greatest("pull", "pull_greatest", why, f.Pull, show, "")
	if c := r.Corrected; c != nil {
		p.greatest("", "", nil, c.Pull, show, "corrected: ")
	}
	if len(f.Hauls) > 1 {
		for i, h := range f.Hauls {
			p.greatest("", "", nil, h.Greatest, show, fmt.Sprintf("stay %d in pull, %s to %s: ", i+1, clock(h.Begin), clock(h.End)))
		}
		if f.More > 0 {
			p.about("", "and %d more stays in pull", f.More)
		}
	}
	after := f.After
	after.Still = false // nobody hauls to break a record there
	p.greatest("after", "after_greatest", why, after, show, "")
	if c := r.Corrected; c != nil && c.After.Known {
		c := c.After
		c.Still = false
		p.greatest("", "", nil, c, show, "corrected: ")
	}
	if w := why["hauled"]; w != "" {
		p.about("hauled", "%s; %s", dash, w)
		return
	}
	p.about("hauled", "%s since the rode out was said, %s of it in pull", lengthIn(show, f.Hauled), lengthIn(show, f.InPull))
	p.anew(f, show)
}

// anew tells where the rode out was said anew, which begins line hauled anew.
func (p *resultsPage) anew(f *trial.Figures, show trial.Show) {
	for _, a := range f.Anew {
		was := "it was not known before"
		if a.Was != 0 {
			was = "counted as " + lengthIn(show, a.Was) + " before"
		}
		p.about("", "rode out said anew at %s in %s: %s, %s; line hauled counts from there, and so do the means by distance", clock(a.T), a.Stage, lengthIn(show, a.Now), was)
	}
}

// greatest is a greatest tension with its place, or why it is not known.
func (p *resultsPage) greatest(word, key string, why map[string]string, g trial.Greatest, show trial.Show, before string) {
	if !g.Known {
		if w := why[key]; w != "" {
			p.about(word, "%s; %s", dash, w)
		}
		return
	}
	text := fmt.Sprintf("%s%s (%s) at %s, %s hauled, scope ", before, greatestIn(show, g), g.Window, clock(g.T), lengthIn(show, g.X))
	if math.IsNaN(g.Scope) {
		text += dash
	} else {
		text += fmt.Sprintf("%.2f:1", g.Scope)
	}
	if g.Stage != trial.Pull {
		text += ", in " + g.Stage.String()
	}
	if g.From > 0 {
		text += ", or up to " + clock(g.T-g.From) + " before: it came late"
	}
	if g.Bound != "" {
		text += "; a lower bound: " + string(g.Bound)
	}
	if g.Still {
		text += "; no line was being hauled then"
	}
	for _, place := range []string{"_hauled", "_scope"} {
		if w := why[key+place]; w != "" {
			text += "; " + w
		}
	}
	p.about(word, "%s", text)
}

func (p *resultsPage) stages(r *session.Result) {
	var told []string
	for s, f := range r.Figures.Stages {
		if f.Time > 0 {
			told = append(told, trial.Stage(s).String()+" "+clock(f.Time))
		}
	}
	if len(told) > 0 {
		p.about("stages", "%s", strings.Join(told, ", "))
	}
}

func (p *resultsPage) stop(s *session.StopTold) {
	text := clock(s.T) + " " + visible(s.Text)
	if s.Name != "" {
		text += " (" + visible(s.Name) + ")"
	}
	for _, also := range s.Also {
		text += "; " + visible(also)
	}
	if s.Lifted >= 0 {
		text += fmt.Sprintf("; lifted at %s by the %s", clock(s.Lifted), visible(s.By))
	} else {
		text += "; not lifted in that log"
	}
	p.about("stop", "%s", text)
}

func checkText(c *session.CheckTold, show trial.Show) string {
	text := fmt.Sprintf("%s %s: ", clock(c.T), c.Check)
	switch {
	case c.State == safety.CheckWaived:
		text += "gone without"
	case c.State == safety.CheckFailed:
		text += "FAILED"
	default:
		text += "passed"
	}
	if !math.IsNaN(float64(c.Want)) {
		text += fmt.Sprintf(", the cell showed %s for %s, %s", finely(show, c.Shown), finely(show, c.Want), percent(c.Off()))
	}
	if !math.IsNaN(float64(c.Zero)) {
		text += ", taken at " + finely(show, c.Zero)
		switch {
		case math.IsNaN(float64(c.Before)):
			text += ", the first in this log"
		case c.Moved:
			text += ", MOVED from " + finely(show, c.Before)
		default:
			text += ", it was " + finely(show, c.Before)
		}
	}
	if by := seat(c.Name, c.Who); by != "" {
		text += ", " + by
	}
	if c.Text != "" {
		text += ": " + visible(c.Text)
	}
	return text
}

func seat(name, who string) string {
	if name == "" || name == who {
		return visible(who)
	}
	return visible(name) + " (" + visible(who) + ")"
}

func partText(r *session.Result, part int) string {
	if len(r.Parts) == 1 {
		return ""
	}
	return fmt.Sprintf(" to part %d", part+1)
}

func runText(run trial.Run) string {
	what := run.Kind
	if run.Anchor != "" {
		what = "anchor " + run.Anchor
	}
	return fmt.Sprintf("%s, %s lane %d", what, run.Station, run.Lane)
}
