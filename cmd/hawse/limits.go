package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/charmbracelet/x/ansi"
	"github.com/spf13/cobra"

	"hawse/cmd/hawse/cli"
	"hawse/trial"
)

func newLimits() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "limits TRIAL",
		Short: "Print every limit, the weakest piece, and the overshoot of a snag",
		Long: `Read a trial file and print, before the day: every limit of every stage with the
key that says it; each piece of rode and gear with its rating, the weakest by
name; and how far the tension gets past each stop limit when the rode snags and
line still comes in, by hand and by the relay alone. Where the margin under the
weakest WLL does not cover that, it says by how much to lower the limit.

Nothing is opened and nothing is sent. A margin that does not cover the
overshoot is printed loud and does not change the exit code; a piece without a
rating or without its source does: 1, for no pull can be armed with it.

` + cautions + "\n\n" + cli.ExitHelp,
		Example: "  hawse limits my-trial/trial.toml\n  hawse limits my-trial/trial.toml --json",
		Args:    cli.Exactly(1, "one trial file"),
		RunE: func(c *cobra.Command, args []string) error {
			t, err := openTrial(args[0])
			if err != nil {
				return err
			}
			if asJSON {
				err = limitsJSON(c.OutOrStdout(), args[0], t)
			} else {
				p := &limitsPage{t: t}
				p.print(args[0])
				_, err = io.WriteString(c.OutOrStdout(), p.String())
			}
			if err != nil {
				return err
			}
			if n := len(t.Unrated()); n > 0 {
				return cli.Exit(cli.ExitFailed, "%d without a rating or its source: nothing can be armed", n)
			}
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "one object in JSON: SI, the unit in each key")
	return c
}

func openTrial(path string) (*trial.Trial, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, cli.Exit(cli.ExitTrial, "cannot read the trial file: %w", err)
	}
	t, err := trial.ParseTrial(path, text)
	if err != nil {
		return nil, cli.Exit(cli.ExitTrial, "%w", err)
	}
	return t, nil
}

// pageWide is the narrowest terminal the page is made for.
const pageWide = 80

// limitsPage is the page for people, written line by line.
type limitsPage struct {
	strings.Builder
	t *trial.Trial
}

// line writes words, wrapped at the page's width with the rest under indent.
func (p *limitsPage) line(indent int, format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	first := true
	for rest := range strings.SplitSeq(wrapped(text, pageWide-indent), "\n") {
		if !first {
			p.WriteString(strings.Repeat(" ", indent))
			rest = strings.TrimLeft(rest, " ")
		}
		p.WriteString(strings.TrimRight(rest, " ") + "\n")
		first = false
	}
}

// wrapped breaks at blanks, not at hyphens: a flag or a path stays whole.
func wrapped(text string, wide int) string {
	const unbroken = "\u2011" // a hyphen nothing breaks at
	return strings.ReplaceAll(ansi.Wrap(strings.ReplaceAll(text, "-", unbroken), wide, ""), unbroken, "-")
}

// row writes columns: each text padded to its width, the last one wrapped.
func (p *limitsPage) row(widths []int, texts ...string) {
	var b strings.Builder
	for i, w := range widths {
		text := ansi.Truncate(texts[i], w, "~")
		b.WriteString(text + strings.Repeat(" ", w-ansi.StringWidth(text)+1))
	}
	indent := ansi.StringWidth(b.String())
	last := strings.Split(wrapped(texts[len(widths)], pageWide-indent), "\n")
	for i, l := range last {
		if i > 0 {
			b.WriteString("\n" + strings.Repeat(" ", indent))
		}
		b.WriteString(strings.Trim(l, " "))
	}
	p.WriteString(b.String() + "\n")
}

func (p *limitsPage) print(path string) {
	p.line(2, "%s", p.t.Name)
	p.line(2, "%s", visible(path))
	p.line(2, "An aid to watching a pull. It does not make the pull safe.")
	p.gear()
	p.limits()
	p.overshoot()
	for i, n := range p.t.Notes {
		if i == 0 {
			p.WriteString("\nNOTES\n")
		}
		p.line(4, "  %s", n)
	}
}

func (p *limitsPage) gear() {
	p.WriteString("\nGEAR, the weakest rules\n")
	weakest, wll := p.t.Weakest()
	unrated := p.t.Unrated()
	mark := func(name string) string {
		switch {
		case slices.Contains(unrated, name):
			return "!"
		case name == weakest && wll > 0:
			return ">"
		}
		return ""
	}
	widths := []int{1, 34}
	for _, g := range p.t.Rode {
		p.row(widths, mark(g.Name), g.Name, g.Rating(p.t.Show))
	}
	for _, g := range p.t.Gear {
		p.row(widths, mark(g.Name), g.Name, g.Rating(p.t.Show))
	}
	if wll > 0 {
		word := "weakest"
		if len(unrated) > 0 {
			word = "weakest of those rated"
		}
		p.line(2, "%s: %s, %s", word, weakest, p.rating(weakest))
	} else {
		p.line(2, "weakest: unknown, no piece has a WLL")
	}
	if len(unrated) > 0 {
		p.line(4, "!!! NOTHING CAN BE ARMED until these have a rating and its source: %s", strings.Join(unrated, "; "))
	}
	var names []string
	for _, j := range p.t.NoPass() {
		names = append(names, fmt.Sprintf("%s at %s", j.Name, p.t.Show.LengthText(j.At)))
	}
	p.line(2, "may not pass the roller: %s; hauling ends %s before, in every stage in which the winch may haul", strings.Join(names, ", "), p.t.Show.LengthText(p.t.Vessel.KeepOut))
}

func (p *limitsPage) rating(name string) string {
	for _, g := range p.t.Rode {
		if g.Name == name {
			return g.Rating(p.t.Show)
		}
	}
	i := slices.IndexFunc(p.t.Gear, func(g trial.Gear) bool { return g.Name == name })
	return p.t.Gear[i].Rating(p.t.Show)
}

// limits prints stages whose limits are word for word the same together.
func (p *limitsPage) limits() {
	p.WriteString("\nLIMITS, and the key of the file that says each\n")
	texts, order := map[string][]string{}, []string(nil)
	for s := range trial.NumStages {
		var b limitsPage
		b.t = p.t
		b.stage(s)
		if len(texts[b.String()]) == 0 {
			order = append(order, b.String())
		}
		texts[b.String()] = append(texts[b.String()], s.String())
	}
	for _, text := range order {
		p.line(2, "%s:", strings.Join(texts[text], ", "))
		p.WriteString(text)
	}
}

func (p *limitsPage) stage(s trial.Stage) {
	weakest, wll := p.t.Weakest()
	for _, l := range p.t.LimitsSaid(s) {
		value := l.Text(p.t.Show)
		if strings.HasPrefix(l.Key, "wll_") {
			if value += " of the weakest WLL"; wll > 0 {
				value = l.Text(p.t.Show) + " = " + p.t.Show.ForceText(trial.Force(l.Value)*wll)
			}
		}
		p.row([]int{1, 17, 18}, "", l.Key, value, l.Where())
	}
	if stop, by := p.t.TensionStop(s); stop > 0 {
		share := ""
		if wll > 0 {
			share = fmt.Sprintf(", %s of the WLL of %s", three(float64(stop/wll)), weakest)
		}
		p.line(4, "  stops by tension at %s%s (%s)", p.t.Show.ForceText(stop), share, by.Key)
	} else {
		p.line(4, "  no stop by tension")
	}
}

func (p *limitsPage) overshoot() {
	times, show := p.t.StopTimes(), p.t.Show
	p.WriteString("\nOVERSHOOT ON A SNAG\n")
	p.line(2, "by hand %s: two samples %s, reaction %s, run-on %s", secs(times.ByHand()), secs(times.Confirm), secs(times.Reaction), secs(times.RunOn))
	p.line(2, "relay alone %s: two samples %s, window %s, run-on %s", secs(times.ByRelay()), secs(times.Confirm), secs(times.Window), secs(times.RunOn))
	if p.t.Winch.Assumed {
		p.line(4, "!!! reaction and run-on are ASSUMED: time them and write [winch] into the file")
	}
	all := p.t.Overshoots()
	if len(all) == 0 {
		p.line(2, "no stage that hauls has a stop by tension")
		return
	}
	var runs []string
	for _, o := range all {
		if !slices.Equal(runs, o.Runs) {
			runs = o.Runs
			p.WriteString("\n")
			p.line(2, "run %s, hauling at %s", strings.Join(runs, " "), show.SpeedText(o.Speed))
			p.columns("", "rode out", "stiffness", "slope", "by hand", "relay alone")
			p.columns("", show.Length.Name, show.Tension.Name+"/"+show.Length.Name, show.Tension.Name+"/s", "over     to", "over     to")
		}
		p.snag(o, o.Stage.String(), o.Payout, o.Payout == o.Governs())
		p.snag(o, "", o.Least, o.Payout != o.Governs())
		p.verdict(o)
	}
	p.WriteString("\n")
	p.line(0, "The stiffness is EA/L of all pieces in series, the rode taut and straight on something that does not give: the most it can be. Sag and soft ground make it less. Swell and the vessel's own movement are not in it and come on top. Preset is reckoned from the planned payout: with less rode out it is stiffer.")
	p.line(0, "* the moment that governs")
}

func (p *limitsPage) columns(stage, out, k, slope, hand, relay string) {
	line := fmt.Sprintf("  %-8s %9s %10s %9s  %-17s  %s", stage, out, k, slope, hand, relay)
	p.WriteString(strings.TrimRight(line, " ") + "\n")
}

func (p *limitsPage) snag(o trial.Overshoot, stage string, s trial.Snag, governs bool) {
	show, star := p.t.Show, " "
	if governs {
		star = "*"
	}
	reach := func(r trial.Reach) string {
		return fmt.Sprintf("%-8s %-8s", three(show.Tension.In(r.Over)), three(show.Tension.In(r.Top)))
	}
	fmt.Fprintf(p, "%s ", star)
	stiffness := show.Tension.In(trial.Force(s.Stiffness)) * show.Length.M
	line := fmt.Sprintf("%-8s %9s %10s %9s  %s  %s", stage, three(show.Length.In(s.Out)), three(stiffness), three(show.Tension.In(trial.Force(s.Slope))), reach(s.Hand), reach(s.Relay))
	p.WriteString(strings.TrimRight(line, " ") + "\n")
	p.line(13, "             %s", s.Why)
}

// verdict says what the worse moment leaves under the weakest WLL.
func (p *limitsPage) verdict(o trial.Overshoot) {
	show, g := p.t.Show, o.Governs()
	text := func(f trial.Force) string { return three(show.Tension.In(f)) + " " + show.Tension.Name }
	if o.WLL == 0 {
		p.line(4, "  stop %s: no WLL is known, so nobody can say whether it leaves room", show.ForceText(o.Stop))
		return
	}
	if o.Covered() {
		p.line(4, "  stop %s, WLL %s, left under it: %s by hand, %s by the relay", show.ForceText(o.Stop), show.ForceText(o.WLL), text(g.Hand.Margin), text(g.Relay.Margin))
		return
	}
	relay := "the relay alone would keep it under, by " + text(g.Relay.Margin)
	if g.Relay.Margin < 0 {
		relay = "past it by the relay alone too"
	}
	p.line(4, "!!! %s: STOP LIMIT TOO HIGH. %s and the %s over it by hand is past the WLL, %s (%s)", strings.ToUpper(o.Stage.String()), show.ForceText(o.Stop), text(g.Hand.Over), show.ForceText(o.WLL), relay)
	p.line(4, "!!! %s", p.remedy(o))
}

func (p *limitsPage) remedy(o trial.Overshoot) string {
	show := p.t.Show
	most := o.StopAtMost()
	slower := ""
	if v := o.SpeedAtMost(); v > 0 {
		slower = fmt.Sprintf("haul at %s %s or slower", three(show.Speed.In(trial.Speed(down(show.Speed.In(v))*show.Speed.MPS))), show.Speed.Name)
	}
	to := down(show.Tension.In(most))
	if !(to > 0) {
		if slower == "" {
			slower = "haul more slowly"
		}
		return "no stop limit is low enough at this speed: " + slower
	}
	key := fmt.Sprintf("tension_stop by %s %s: write tension_stop = \"%s %s\"",
		three(show.Tension.In(o.Stop)-to), show.Tension.Name, three(to), show.Tension.Name)
	if o.By.Key != "tension_stop" {
		share := down(float64(most / o.WLL))
		key = fmt.Sprintf("%s by %s: write %s = %s", o.By.Key, three(o.By.Value-share), o.By.Key, three(share))
	}
	text := fmt.Sprintf("lower %s under [limits.%s], and its warning under that", key, o.Stage.Key())
	if slower != "" {
		text += "; or " + slower
	}
	return text
}

// three writes a number to three digits, never with an exponent.
func three(v float64) string {
	return strconv.FormatFloat(grain(v, math.Round), 'f', -1, 64)
}

// down takes a number down to three digits, so that what is printed suffices.
func down(v float64) float64 { return grain(v, math.Floor) }

func grain(v float64, to func(float64) float64) float64 {
	if v == 0 || math.IsInf(v, 0) || math.IsNaN(v) {
		return v
	}
	places := 2 - int(math.Floor(math.Log10(math.Abs(v))))
	r, err := strconv.ParseFloat(strconv.FormatFloat(to(v*math.Pow10(places))/math.Pow10(places), 'f', max(0, places), 64), 64)
	if err != nil {
		return v
	}
	return r
}

func secs(d time.Duration) string { return trial.FormatDuration(d.Round(time.Millisecond)) }
