package main

import (
	"fmt"
	"io/fs"
	"math"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"sync"
	"time"

	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/safety"
	"hawse/trial"
	"hawse/trial/report"
)

// reportSet is what a report is made of, and what could not be read of it.
type reportSet struct {
	campaign report.Campaign
	all      []*session.Result
	faults   []error
}

// readReport reads all pulls of a folder, or one log.
func readReport(arg string, told func(done, of int)) *reportSet {
	set := &reportSet{}
	set.campaign.Tool = "hawse " + cli.Version + " (build " + cli.Build() + ")"
	var named, found []string
	if isDir(arg) {
		paths, unread := logsIn([]string{arg})
		for _, err := range unread {
			set.faults = append(set.faults, err)
			set.leave("", err.Error())
		}
		found = paths
		for _, path := range linksIn(arg) {
			set.leave(path, "a link or a pipe, no file of its own: not followed")
		}
	} else {
		named = []string{arg}
	}
	pulls, errs := session.FindPulls(named, found)
	set.faults = append(set.faults, errs...)
	for _, err := range errs {
		set.leave("", err.Error())
	}
	all := make([]*session.Result, len(pulls))
	traces := map[*session.Result][]report.Col{}
	var mu sync.Mutex
	onAllCores(told)(len(pulls), func(i int) {
		t := traced{width: traceWidth}
		r := session.WatchResult(pulls[i], t.sample)
		mu.Lock()
		defer mu.Unlock()
		if all[i] = r; r.Ready {
			traces[r] = t.columns(r.Head.Trial.Vessel.Fairlead)
		}
	})
	all, copies := session.DropCopies(all)
	for _, r := range copies {
		set.leave(base(r), r.CopyOf)
	}
	session.MarkDrift(all)
	set.all = all
	for _, r := range all {
		set.take(r, traces[r])
	}
	set.one()
	sort.SliceStable(set.campaign.LeftOut, func(i, j int) bool { return set.campaign.LeftOut[i].Name < set.campaign.LeftOut[j].Name })
	return set
}

// linksIn are what is called as a log in a folder and is neither file nor folder.
func linksIn(dir string) (paths []string) {
	_ = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && !d.Type().IsRegular() && filepath.Ext(strings.TrimSuffix(path, ".zst")) == ".log" {
			paths = append(paths, path)
		}
		return nil // a folder that cannot be read is told already
	})
	return paths
}

func base(r *session.Result) string { return shownPath(filepath.Base(r.Parts[0].Path)) }

// leave notes a file that is not used. An error of a log names its path itself.
func (s *reportSet) leave(name, why string) {
	if name == "" {
		path, rest, ok := strings.Cut(why, ": ")
		name = filepath.Base(path)
		if why = rest; !ok {
			name, why = "", path
		}
	}
	for _, l := range strings.Split(why, "\n") {
		s.campaign.LeftOut = append(s.campaign.LeftOut, report.LeftOut{Name: shownPath(name), Why: printable(l)})
	}
}

// take makes a pull of a result.
func (s *reportSet) take(r *session.Result, trace []report.Col) {
	for _, f := range r.Faults {
		s.leave(base(r), "an addendum: "+f)
	}
	if r.Beside > 0 && len(s.all) == 1 {
		s.leave("", fmt.Sprintf("%d logs of other pulls beside it: this is the report of one", r.Beside))
	}
	if !r.Ready {
		for i := range r.Parts {
			s.leave(r.Parts[i].Path, recordText(&r.Parts[i]))
		}
		return
	}
	run := r.Head.Run
	p := report.Pull{ID: printable(run.ID), Run: run, Trial: r.Head.Trial, Started: r.Started, Length: time.Duration(r.Length), NotSeen: time.Duration(r.Figures.Lost),
		Mode: r.Head.Mode, Caption: printable(r.Head.Caption), Holds: r.Holds(), Figures: &r.Figures, Corrected: r.Corrected}
	if a, ok := r.Head.Trial.Anchor(run.Anchor); ok {
		p.Anchor = &a
	}
	for i := range r.Parts {
		part := &r.Parts[i]
		f := report.File{Name: shownPath(filepath.Base(part.Path)), State: part.State(), SHA256: part.SHA256, Records: part.Records}
		for _, why := range []string{part.Seal.Fault, part.Broken, part.Fault, part.Join.Note} {
			if why != "" {
				f.Notes = append(f.Notes, printable(why))
			}
		}
		for j, d := range part.Damage {
			if j == mostDamage {
				f.Notes = append(f.Notes, fmt.Sprintf("and %d more damages", len(part.Damage)-j))
				break
			}
			f.Notes = append(f.Notes, d.String())
		}
		if !part.Read {
			s.leave(part.Path, recordText(part))
		}
		p.Files = append(p.Files, f)
	}
	for i := range r.Stops {
		k := &r.Stops[i]
		text := printable(k.Text)
		if k.Name != "" {
			text += " (" + printable(k.Name) + ")"
		}
		one := report.Stop{T: time.Duration(k.T), Kind: k.Kind, Text: text, Person: k.Cause == safety.PersonStop.String()}
		if k.Lifted >= 0 {
			one.Lifted = "lifted at " + clock(k.Lifted) + " by the " + printable(k.By)
		}
		if stage, err := trial.ParseStage(k.Stage); err == nil && len(p.Stops) == 0 {
			p.CalledStop = one.Person && (stage == trial.Pull || stage == trial.Hold)
		}
		p.Stops = append(p.Stops, one)
	}
	for _, d := range r.Drops {
		p.Drops = append(p.Drops, clock(d.T)+" "+printable(d.Text))
	}
	show := r.Head.Trial.Show
	for i := range r.Checks {
		k := &r.Checks[i]
		p.Checks = append(p.Checks, report.Check{At: r.Moment(k.T), Weight: k.Check == safety.CheckWeight, Cells: k.Check == safety.CheckCells, Done: k.State == safety.CheckPassed, Waived: k.State == safety.CheckWaived,
			Text: checkText(k, show), Zero: float64(k.Zero), Shown: float64(k.Shown), Want: float64(k.Want), Moved: k.Moved})
	}
	for _, d := range r.Doubts {
		p.Doubts = append(p.Doubts, printable(d.Text))
	}
	for i := range r.Addenda {
		a := &r.Addenda[i]
		text := addendumText(a.Addendum)
		if !a.Applied {
			text += "; NOT applied: " + printable(a.Why)
			s.leave(a.Path, "an addendum: "+a.Why)
		}
		p.Addenda = append(p.Addenda, text)
		if a.Applied && a.Kind == session.AddendumWeight {
			p.Checks = append(p.Checks, report.Check{At: a.Written, Weight: true, Done: true, Text: text, Zero: math.NaN(), Shown: float64(a.Shown), Want: float64(a.Weight)})
		}
	}
	if c := r.LastCameUp(); c != nil {
		p.CameUp = &report.CameUp{CameUp: printableCameUp(c.CameUp), Said: printable(strings.TrimSpace(c.Name + " (" + c.Who + ")"))}
		if c.Addendum != "" {
			p.CameUp.Said += ", in an addendum"
		}
	}
	for _, m := range r.Marks {
		p.Marks = append(p.Marks, report.Mark{T: time.Duration(m.T), Who: printable(m.Who), Text: printable(m.Text)})
	}
	if r.More > 0 {
		s.leave(base(r), fmt.Sprintf("%d more stops, checks and marks than are listed of one pull", r.More))
	}
	p.Trace = report.Trace{Cols: trace}
	s.campaign.Pulls = append(s.campaign.Pulls, p)
}

// recordText is what is wrong with a log.
func recordText(p *session.ResultPart) string {
	text := p.State()
	for _, why := range []string{p.Seal.Fault, p.Broken, p.Fault} {
		if why != "" {
			text += ": " + why
		}
	}
	return text
}

// one makes one trial of the pulls: the one that most of them are of. Those of
// another are shown, and held against none.
func (s *reportSet) one() {
	c := &s.campaign
	names, texts := map[string]int{}, map[string]int{}
	live := false
	for i := range c.Pulls {
		p := &c.Pulls[i]
		names[p.Trial.Name]++
		texts[sumOf(p.Trial)]++
		live = live || !p.Invented()
	}
	for i := range c.Pulls {
		if p := &c.Pulls[i]; c.Trial == nil || names[p.Trial.Name] > names[c.Trial.Name] ||
			names[p.Trial.Name] == names[c.Trial.Name] && texts[sumOf(p.Trial)] > texts[sumOf(c.Trial)] {
			c.Trial = p.Trial
		}
	}
	if c.Trial == nil {
		return
	}
	c.Planned = plannedRuns(c.Trial)
	main := sumOf(c.Trial)
	if len(texts) == 1 {
		c.Text = "SHA-256 " + main
	}
	other := map[string][]string{}
	for i := range c.Pulls {
		p := &c.Pulls[i]
		switch {
		case p.Trial.Name != c.Trial.Name:
			p.Excluded = "of another trial, " + printable(p.Trial.Name)
			other[p.Excluded] = append(other[p.Excluded], p.ID)
		case live && p.Invented():
			p.Excluded = "invented data among real pulls"
		case sumOf(p.Trial) != main:
			other["another state of the trial file, SHA-256 "+sumOf(p.Trial)[:12]] = append(other["another state of the trial file, SHA-256 "+sumOf(p.Trial)[:12]], p.ID)
		}
	}
	for what, ids := range other {
		c.Mixed = append(c.Mixed, what+": runs "+strings.Join(ids, ", "))
	}
	slices.Sort(c.Mixed)
}

func sumOf(t *trial.Trial) string { return sha256Hex(t.Text) }
