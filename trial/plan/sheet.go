package plan

import (
	"fmt"
	"math"
	"strings"
	"time"

	"hawse/trial"
)

// Caution stands on every sheet.
const Caution = "Hawse is an aid to watching a pull. It is not a safety function and does not make the pull safe. The winch's own limiter and emergency stop come first. Stopped is not slack. Tension unknown: treat the line as loaded. Limits are the crew's, from the certificates of the gear in use."

// row is one line of a sheet: what, and its value.
type row struct{ what, value string }

// sheet is what the deck needs of one run: facts, warnings, the steps to tick
// and what to write down.
type sheet struct {
	title    string
	facts    []row
	warnings []string
	steps    []string
	notes    []string // blanks to be filled in
}

// What is what is pulled, in words.
func (r *Run) What() string {
	switch r.Kind {
	case trial.KindPull:
		text := "anchor " + r.Anchor
		if r.Treatment != "" && r.Treatment != r.Anchor {
			text += ", " + r.Treatment
		}
		if r.Role != "" {
			text += " (" + r.Role + ")"
		}
		return text
	}
	return r.Kind
}

// Lay is the bearing from the roller to the drop point, whole tenths of a degree.
func (r *Run) Lay() string {
	return fmt.Sprintf("%05.1f deg true", math.Mod(math.Round(r.Bearing/degree*10)/10, 360))
}

func (p *Plan) sheetOf(st *Station, r *Run) sheet {
	t := p.Trial
	length := func(l trial.Length) string {
		return fmt.Sprintf("%.1f %s", t.Show.Length.In(l), t.Show.Length.Name)
	}
	force := func(f trial.Force) string { return t.Show.ForceText(threeDigits(f)) }
	s := sheet{title: fmt.Sprintf("Run %s: %s", r.ID, r.What())}
	fact := func(what, format string, a ...any) { s.facts = append(s.facts, row{what, fmt.Sprintf(format, a...)}) }
	place := fmt.Sprintf("%s, %s, lane %d of %d", st.Name, st.Bottom, r.Lane, st.Lanes.Count)
	if r.Block > 0 {
		place += fmt.Sprintf(", block %d", r.Block)
	}
	fact("station", "%s", place)
	if !r.At.IsZero() {
		fact("planned for", "%s", r.At.Format(trial.PlanClock))
	}
	if a, ok := t.Anchor(r.Anchor); ok {
		fact("anchor", "%s: pattern %s, %s, flukes at %.4g deg", a.ID, a.Pattern, a.Mass, float64(a.Fluke)/degree)
	}
	fact("drop point", "%s from the roller, %s", r.Lay(), length(r.Distance))
	if r.HasDrop {
		fact("", "%s WGS-84", r.Drop)
	}
	fact("depth", "%s, %s; read it again at pay-out", length(r.Depth), r.DepthFrom)
	if r.PresetOut > 0 {
		fact("preset", "scope %.3g: %s out, %s from the anchor", r.PresetScope, length(r.PresetOut), length(r.PresetDistance))
	}
	fact("rode out", "%s: scope %.3g incl. roller height; taut it is %s from the anchor", length(r.Payout), r.Scope, length(r.Distance))
	fact("largest haul", "%s, to %s out (%s), %s from the anchor", length(r.Haul), length(r.LeastOut), r.EndBy, length(r.Near))
	if r.Soak > 0 {
		fact("soak", "%s", Lasts(r.Soak))
	}
	if r.Speed > 0 {
		fact("haul at", "%s, without stop", t.Show.SpeedText(r.Speed))
	}
	l := t.Limits[trial.Pull]
	var limits []string
	if l.TensionWarn > 0 {
		limits = append(limits, "warn "+force(l.TensionWarn))
	}
	if stop, _ := t.TensionStop(trial.Pull); stop > 0 {
		limits = append(limits, "stop "+force(stop))
	}
	if stop, _ := t.TensionStop(trial.Recover); stop > 0 {
		limits = append(limits, "stop of recover "+force(stop))
	}
	fact("limits", "%s", strings.Join(limits, ", "))
	if r.Expected > 0 {
		by := "the levels of the trial file, " + t.Levels.Source
		if r.Law.HR > 0 {
			by = "power law, " + r.Law.Source
		}
		fact("expected", "%s (%s)", force(r.Expected), by)
	}
	s.warnings = r.Warnings
	s.steps = []string{
		"Load cell hanging free: zero. Known weight. Clock, disk, ports seen.",
		"Limits read aloud. Winch ready, line clear. Logger ready, all live. Director ready.",
		"Lower, do not throw, at the drop point. Go astern paying out, line straight.",
	}
	if r.PresetOut > 0 {
		s.steps = append(s.steps, fmt.Sprintf("Preset at %s out, slowly. Then go astern from %s to %s paying out to %s.", length(r.PresetOut), length(r.PresetDistance), length(r.Distance), length(r.Payout)))
	} else {
		s.steps = append(s.steps, fmt.Sprintf("Pay out to %s. The vessel is %s from the anchor: more line than that lies in a heap.", length(r.Payout), length(r.Distance)))
	}
	s.steps = append(s.steps, "Depth read and entered. Rode out entered. Hold the vessel.")
	if r.Soak > 0 {
		s.steps = append(s.steps, fmt.Sprintf("Soak %s; note its real length.", Lasts(r.Soak)))
	}
	s.steps = append(s.steps, "Main pull, one speed, no stop and go, to the first planned end or stop.",
		"Ease to slack. Zero again. Known weight after the last run of the day.",
		"Recover under the limits of recover. Photograph the flukes; note what came up.")
	s.notes = []string{"begun / ended", "depth, rode out, tide", "preset, soak as it was", "peak, at line hauled", "ended by", "on the flukes, photo number", "wind, current, swell, thrusters", "doubts"}
	return s
}

// Lasts is a time as a crew says it.
func Lasts(d time.Duration) string {
	switch {
	case d%time.Hour == 0:
		return fmt.Sprintf("%d h", d/time.Hour)
	case d%time.Minute == 0:
		return fmt.Sprintf("%d min", d/time.Minute)
	}
	return trial.FormatDuration(d)
}

// head is what stands over all sheets.
func (p *Plan) head() (title, order string) {
	order = "Order of the trial file."
	if p.Drawn {
		order = fmt.Sprintf("Order drawn in randomised blocks, seed %d. A run done out of order is recorded, not erased.", p.Seed)
	}
	return p.Trial.Name, order
}

// Markdown is a sheet for each run that is still to be done.
func (p *Plan) Markdown() string {
	var b strings.Builder
	say := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	title, order := p.head()
	say("# %s\n\n%s\n\n> %s\n", plainMD(title), order, Caution)
	p.each(func(st *Station, r *Run) {
		s := p.sheetOf(st, r)
		say("## %s\n\n| | |\n|---|---|", plainMD(s.title))
		for _, f := range s.facts {
			say("| %s | %s |", f.what, plainMD(f.value))
		}
		say("")
		for _, w := range s.warnings {
			say("**Note: %s**\n", plainMD(w))
		}
		for _, step := range s.steps {
			say("- [ ] %s", plainMD(step))
		}
		say("\n| | written on deck |\n|---|---|")
		for _, n := range s.notes {
			say("| %s | |", n)
		}
		say("")
	})
	return b.String()
}

// plainMD keeps a text from the file from being markup.
func plainMD(s string) string {
	return strings.NewReplacer("|", `\|`, "<", `\<`, "*", `\*`, "_", `\_`, "`", "\\`", "[", `\[`, "#", `\#`, "\n", " ", "\r", " ").Replace(s)
}

// each goes over the runs still to be done.
func (p *Plan) each(do func(st *Station, r *Run)) {
	for _, st := range p.Stations {
		for _, r := range st.Runs {
			if r.Done == "" {
				do(st, r)
			}
		}
	}
}

// HTML is the plan to be printed: the view from above, then a page for each run
// still to be done. It is one file and asks for no other.
func (p *Plan) HTML() string {
	var b strings.Builder
	say := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	title, order := p.head()
	say(`<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>%s: run sheets</title>
<style>
body{font:15px/1.35 sans-serif;color:#1a1a1a;background:#fff;max-width:46rem;margin:1rem auto;padding:0 1rem}
h1{font-size:1.4rem}h2{font-size:1.25rem;margin:0 0 .4rem}
table{border-collapse:collapse;width:100%%;margin:.5rem 0}td,th{border:1px solid #888;padding:.25rem .5rem;text-align:left;vertical-align:top}
section td:first-child{width:11rem;color:#444}td.blank{height:1.8rem}
ol{padding-left:1.4rem}li{margin:.15rem 0}.box{display:inline-block;width:.85rem;height:.85rem;border:1.5px solid #1a1a1a;margin-right:.5rem;vertical-align:-.1rem}
.look{border:2px solid #1a1a1a;padding:.4rem .6rem;margin:.4rem 0;font-weight:bold}.caution{border-left:4px solid #1a1a1a;padding-left:.6rem;font-size:.9rem}
svg{max-width:100%%;height:auto}
section{break-before:page;page-break-before:always}
@media print{body{margin:0;max-width:none;font-size:11pt}}
</style></head><body>`, markup(title))
	say("<h1>%s</h1>\n<p>%s</p>\n<p class=\"caution\">%s</p>", markup(title), markup(order), markup(Caution))
	b.WriteString(p.SVG())
	say("<table><tr><th>run</th><th>what</th><th>lane</th><th>drop point</th><th>rode out</th></tr>")
	p.each(func(st *Station, r *Run) {
		say("<tr><td>%s</td><td>%s</td><td>%s %d</td><td>%s, %.1f m</td><td>%.1f m</td></tr>", markup(r.ID), markup(r.What()), markup(st.Name), r.Lane, r.Lay(), float64(r.Distance), float64(r.Payout))
	})
	say("</table>")
	p.each(func(st *Station, r *Run) {
		s := p.sheetOf(st, r)
		say("<section><h2>%s</h2>\n<table>", markup(s.title))
		for _, f := range s.facts {
			say("<tr><td>%s</td><td>%s</td></tr>", markup(f.what), markup(f.value))
		}
		say("</table>")
		for _, w := range s.warnings {
			say("<p class=\"look\">%s</p>", markup(w))
		}
		say("<ol>")
		for _, step := range s.steps {
			say("<li><span class=\"box\"></span>%s</li>", markup(step))
		}
		say("</ol>\n<table>")
		for _, n := range s.notes {
			say("<tr><td>%s</td><td class=\"blank\"></td></tr>", markup(n))
		}
		say("</table>\n<p class=\"caution\">%s</p></section>", markup(Caution))
	})
	say("</body></html>")
	return b.String()
}

// RunTables is the runs still to be done as [[run]] tables of a trial file.
func (p *Plan) RunTables() string {
	var b strings.Builder
	p.each(func(st *Station, r *Run) {
		fmt.Fprintf(&b, "[[run]]\nid = %q\nkind = %q\n", r.ID, r.Kind)
		if r.Kind == trial.KindPull {
			fmt.Fprintf(&b, "anchor = %q\n", r.Anchor)
		}
		fmt.Fprintf(&b, "station = %s\nlane = %d\npayout = \"%g m\"\nspeed = \"%g m/min\"\n\n", tomlText(st.Name), r.Lane, float64(round(r.Payout)), math.Round(float64(r.Speed)*60*1e6)/1e6)
	})
	return b.String()
}

// tomlText is a basic string of TOML; names of a trial file hold no control
// characters.
func tomlText(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(s) + `"`
}
