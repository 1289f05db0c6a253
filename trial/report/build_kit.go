package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"hawse/trial"
)

func (b *builder) method() {
	c := b.campaign
	t := c.Trial
	b.head(2, "Method, gear and limits")
	method := t.Method
	if method == "" {
		method = "not said in the trial file"
	}
	b.say("How it was pulled: " + method + ". Vessel: " + t.Vessel.Name + ", fairlead " + b.u.m(float64(t.Vessel.Fairlead)) + " " + b.lengthName() + " above the water. Scope is rode out over depth and fairlead height together, unless it says otherwise.")
	for _, m := range c.Mixed {
		b.warn("The logs are not of one trial file: " + m)
	}
	levels := "Reference levels: none said; what needs them is not known."
	if l := t.Levels; l.Known {
		levels = fmt.Sprintf("Reference levels: bare rode %s, dead weight %s (%s kg), %s.", b.u.nWith(float64(l.BareRode)), b.u.nWith(float64(l.DeadWeight)), kg(float64(l.DeadMass)), l.Source)
	}
	if !slices.ContainsFunc(c.Pulls, func(p Pull) bool { return p.Run.Kind == trial.KindBareRode }) && len(c.Pulls) > 1 {
		levels += " No bare-rode run is among these logs: how much of a low tension is chain alone is not measured."
	}
	if !slices.ContainsFunc(c.Pulls, func(p Pull) bool { return p.Run.Kind == trial.KindDeadWeight }) && len(c.Pulls) > 1 {
		levels += " No dead-weight run is among them."
	}
	b.say(levels)

	_, fName := b.u.force()
	_, lName := b.u.length()
	rode := &table{name: "rode", title: "The rode, from the anchor", columns: []column{{"piece", "piece", false}, {"length, " + lName, "length_m", true}, {"in water, N/m", "weight_n_per_m", true}, {"EA, " + fName, "ea_n", true}, {"WLL, " + fName, "wll_n", true}, {"source", "source", false}}}
	for _, k := range t.Rode {
		rode.rows = append(rode.rows, []cell{plain(k.Name), num(b.u.m(float64(k.Length)), float64(k.Length)), num(digits3(float64(k.Weight)), float64(k.Weight)), num(b.u.n(float64(k.EA)), float64(k.EA)), rated(b.u, k.WLL), plain(k.Source)})
	}
	b.table(rode)
	gear := &table{name: "gear", title: "What else carries the load", columns: []column{{"piece", "piece", false}, {"WLL, " + fName, "wll_n", true}, {"source", "source", false}}}
	for _, k := range t.Gear {
		gear.rows = append(gear.rows, []cell{plain(k.Name), rated(b.u, k.WLL), plain(k.Source)})
	}
	b.table(gear)
	limits := &table{name: "limits", title: "Limits in force, by stage", columns: []column{{"stage", "stage", false}, {"warn, " + fName, "tension_warn_n", true}, {"stop, " + fName, "tension_stop_n", true}, {"share of the weakest WLL", "wll_stop_ratio", true}, {"line hauled, " + lName, "haul_m", true}, {"least scope", "scope_min_ratio", true}, {"time, min", "duration_s", true}}}
	for s := range trial.NumStages {
		l := &t.Limits[s]
		if s != trial.Preset && s != trial.Pull && s != trial.Hold && s != trial.Recover {
			continue
		}
		limits.rows = append(limits.rows, []cell{plain(s.String()), rated(b.u, l.TensionWarn), rated(b.u, l.TensionStop), orDash(l.WLLStop, 1), orDash(float64(l.Haul), b.lengthBy()), orDash(l.ScopeMin, 1), {orDash(l.Duration.Minutes(), 1).text, orDash(l.Duration.Seconds(), 1).csv}})
	}
	b.table(limits)
}

func (b *builder) lengthName() string { _, n := b.u.length(); return n }
func (b *builder) lengthBy() float64  { by, _ := b.u.length(); return by }

func rated(u units, f trial.Force) cell {
	if !(f > 0) {
		return cell{dash, ""}
	}
	return num(u.n(float64(f)), float64(f))
}

// orDash is a number of which 0 means that none was said.
func orDash(v, by float64) cell {
	if !(v > 0) {
		return cell{dash, ""}
	}
	return num(digits3(v/by), v)
}

func (b *builder) instruments() {
	c, t := b.campaign, b.campaign.Trial
	b.head(2, "Instruments and checks")
	said := orNotSaid
	cal := "none in the trial file: the box's numbers are taken as they are"
	if len(t.Load.Cal) > 0 {
		var k []string
		for _, v := range t.Load.Cal {
			k = append(k, digits6(v))
		}
		cal = "polynomial " + strings.Join(k, ", ") + " in " + t.Load.CalUnit.Name + " (" + said(t.Load.CalSource) + ")"
	}
	b.list([]string{
		fmt.Sprintf("Load cell: serial %s, place %s, range %s, step %s, sends %s, filter of the box: %s, set to %s a second. Calibration: %s.", said(t.Load.Serial), said(t.Load.Place),
			b.u.nWith(float64(t.Load.Range)), b.u.nWith(nanIfZero(float64(t.Load.Step))), said(t.Load.Unit), said(t.Load.Filter), digits3(float64(t.Load.Rate)), cal),
		fmt.Sprintf("Line: %s counts a metre, %s lines a second.", digits6(t.Line.PerMetre), digits3(float64(t.Line.Rate))),
	})
	rows := &table{name: "checks", title: "Checks of the load cell, before and after", columns: []column{{"at, UTC", "at_utc", false}, {"run", "run", false}, {"check", "check", false}, {"what came of it", "text", false}, {"", "zero_n", true}, {"", "shown_n", true}, {"", "want_n", true}}}
	without := map[string][]string{}
	for i := range c.Pulls {
		p := &c.Pulls[i]
		for _, k := range p.Checks {
			what := "zero"
			switch {
			case k.Weight:
				what = "known weight"
			case k.Cells:
				what = "a missing load cell"
			}
			if k.Waived {
				without[what] = append(without[what], p.ID)
				continue
			}
			rows.rows = append(rows.rows, []cell{plain(utc(k.At)), plain(p.ID), plain(what), plain(k.Text), num("", k.Zero), num("", k.Shown), num("", k.Want)})
		}
	}
	b.figure(b.u.driftFigure(c))
	for _, what := range []string{"zero", "known weight", "a missing load cell"} {
		if runs := without[what]; len(runs) > 0 {
			b.say(upper(what) + ": gone without before " + count(len(runs), "run") + " (" + strings.Join(runs, ", ") + ").")
		}
	}
	if len(rows.rows) == 0 {
		b.say("No check of the load cell stands in these logs: how far its zero and its scale can be believed is not known.")
	}
	b.table(rows)
}

func nanIfZero(v float64) float64 {
	if v == 0 {
		return math.NaN()
	}
	return v
}

func digits6(v float64) string { return fmt.Sprintf("%.6g", v) }

func (b *builder) ground() {
	t := b.campaign.Trial
	b.head(2, "Stations, bottom and anchors")
	name := b.lengthName()
	st := &table{name: "stations", title: "Stations", columns: []column{{"station", "station", false}, {"bottom", "bottom", false}, {"depth as planned, " + name, "depth_m", true}, {"depth in the pulls, " + name, "depth_seen_m", false}}}
	for _, s := range t.Stations {
		low, high := math.Inf(1), math.Inf(-1)
		for i := range b.campaign.Pulls {
			p := &b.campaign.Pulls[i]
			if p.Run.Station != s.Name {
				continue
			}
			for _, k := range p.Trace.Cols {
				if !math.IsNaN(k.Depth) {
					low, high = min(low, k.Depth), max(high, k.Depth)
				}
			}
		}
		seen := cell{dash, ""}
		if low <= high {
			seen = cell{b.u.m(low) + " to " + b.u.m(high), raw(low) + " to " + raw(high)}
		}
		st.rows = append(st.rows, []cell{plain(s.Name), plain(s.Bottom), num(b.u.m(float64(s.Depth)), float64(s.Depth)), seen})
	}
	b.table(st)
	an := &table{name: "anchors", title: "Anchors, as measured", columns: []column{{"id", "id", false}, {"pattern", "pattern", false}, {"mass in air, kg", "mass_kg", true}, {"fluke, deg", "fluke_rad", true}, {"remark", "note", false}}}
	for _, a := range t.Anchors {
		an.rows = append(an.rows, []cell{plain(a.ID), plain(a.Pattern), num(kg(float64(a.Mass)), float64(a.Mass)), num(digits3(float64(a.Fluke)*180/math.Pi), float64(a.Fluke)), plain(a.Note)})
	}
	b.table(an)
}

// disclosure is what the trial file says of who stands behind the trial.
func (b *builder) disclosure() {
	b.head(2, "Disclosure")
	d := b.campaign.Trial.Disclosure
	b.list([]string{"Paid for by: " + orNotSaid(d.Paid), "Anchors supplied by, and in what state: " + orNotSaid(d.Supplied), "Ground chosen by: " + orNotSaid(d.Ground), "Ties of the authors to makers or sellers: " + orNotSaid(d.Ties)})
	if d != (trial.Disclosure{}) {
		b.say("In the words of the trial file, under [disclosure]. Nobody has checked them.")
	} else {
		b.say("The trial file has no [disclosure]. Whoever publishes this report says it beside.")
	}
}

func orNotSaid(s string) string {
	if s == "" {
		return "not said"
	}
	return s
}

// appendix names every file that was looked at.
func (b *builder) appendix() {
	c := b.campaign
	b.head(2, "Appendix: files, and what was left out")
	files := &table{name: "files", title: "Raw logs this report is made from", columns: []column{{"run", "run", false}, {"file", "file", false}, {"state", "state", false}, {"records", "records", true}, {"SHA-256", "sha256", false}, {"notes", "notes", false}}}
	for i := range c.Pulls {
		for _, f := range c.Pulls[i].Files {
			files.rows = append(files.rows, []cell{plain(c.Pulls[i].ID), plain(f.Name), plain(f.State), plain(fmt.Sprint(f.Records)), plain(f.SHA256), plain(strings.Join(f.Notes, "; "))})
		}
	}
	b.table(files)
	if len(c.LeftOut) == 0 {
		b.say("Nothing was left out.")
	}
	out := &table{name: "left-out", title: "What was left out, and why", columns: []column{{"file", "file", false}, {"why", "why", false}}}
	for _, l := range c.LeftOut {
		out.rows = append(out.rows, []cell{plain(l.Name), plain(l.Why)})
	}
	b.table(out)
	if c.Text != "" {
		b.say("Trial file inside the logs: " + c.Text + ".")
	}
	b.say("Made by " + c.Tool + " from the raw logs alone. 'hawse results' gives the same figures for other programs; 'hawse verify' checks the logs; the quantities are defined in trial/QUANTITIES.md; what the intervals and tests are worth where the truth is known stands in trial/compare/COVERAGE.md.")
}
