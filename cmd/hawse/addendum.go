package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

func newAddendum() *cobra.Command {
	var remark, doubt, weight, shows, factor, offset, cameUp, who, name string
	var asJSON bool
	c := &cobra.Command{
		Use:   "addendum LOG",
		Short: "Say afterwards what was learnt of a log, beside it and sealed; or list what was said",
		Long: `A log is never changed. What is learnt later is a small log of its own beside it,
sealed alike, that names the run and the SHA-256 of the log it comments on:

  --remark "TEXT"   what a reader should know
  --doubt "TEXT"    why the pull, or a part of it, may not be what it seems
  --weight "25.0 kg" --shows "24.8 kg"
                    a known weight hung on the cell afterwards, and what it showed
                    less its zero
  --factor 1.008 --offset "0 N" --remark "TEXT"
                    a correction: tension is factor times the recorded plus offset
  --came-up "FORM"  what the anchor came up with, or another word on it; the form is
                    that of 'hawse call came-up'; the later answer holds

Without any of them, all addenda to the log are listed.`,
		Example: `  hawse addendum logs/A1-20260412T090211Z.log --remark "weed on the anchor"
  hawse addendum logs/A1-20260412T090211Z.log --weight "25.0 kg" --shows "24.8 kg" --who logger
  hawse addendum logs/A1-20260412T090211Z.log --came-up "flukes=clean damage=none fit=yes angle=32 deg"
  hawse addendum logs/A1-20260412T090211Z.log`,
		Args: cli.Exactly(1, "one log"),
		RunE: func(c *cobra.Command, args []string) error {
			a := session.Addendum{Written: time.Now(), Who: who, Name: name, Tool: cli.Tool, Build: cli.Build(), Text: remark}
			if a.Name == "" {
				a.Name = loginName()
			}
			for _, flag := range []string{"remark", "doubt", "weight", "shows", "factor", "offset", "came-up", "who", "name"} {
				if f := c.Flags().Lookup(flag); f.Changed && strings.TrimSpace(f.Value.String()) == "" {
					return cli.Usage("--%s is empty: say it, or leave the flag out", flag)
				}
			}
			if !slices.Contains(addendumSeats, who) {
				return cli.Usage("--who %s: no seat; say %s", strconv.QuoteToASCII(who), strings.Join(addendumSeats, ", "))
			}
			given := 0
			for _, s := range []string{doubt, weight, factor + offset, cameUp} {
				if s != "" {
					given++
				}
			}
			var err error
			switch {
			case given > 1 || doubt+cameUp != "" && remark != "":
				return cli.Usage("one addendum says one thing: --remark, --doubt, --weight, --factor or --came-up")
			case shows != "" && weight == "":
				return cli.Usage("--shows goes with --weight")
			case doubt != "":
				a.Kind, a.Text = session.AddendumDoubt, doubt
			case weight != "":
				a.Kind = session.AddendumWeight
				if a.Weight, err = hung("--weight", weight); err == nil {
					a.Shown, err = hung("--shows", shows)
				}
			case factor+offset != "":
				a.Kind = session.AddendumCorrect
				if a.Factor, a.Offset, err = correctionOf(factor, offset); err == nil && remark == "" {
					err = errors.New("a correction says why: add --remark")
				}
			case cameUp != "":
				a.Kind = session.AddendumCameUp
				if a.CameUp, err = trial.ParseCameUp(cameUp); err != nil {
					err = fmt.Errorf("--came-up: %w", err)
				}
			case remark != "":
				a.Kind = session.AddendumRemark
			default:
				return listAddenda(c.OutOrStdout(), args[0], asJSON)
			}
			if err != nil {
				return cli.Usage("%w", err)
			}
			if owned(args[0]) {
				return fmt.Errorf("%s is being written; end the capture first", args[0])
			}
			if a, err = session.WriteAddendum(args[0], a, logfmt.Options{}); err != nil {
				return err
			}
			if asJSON {
				return json.NewEncoder(c.OutOrStdout()).Encode(addendumJSON(a))
			}
			fmt.Fprintf(c.OutOrStdout(), "%s: %s\n", visible(a.Path), addendumText(a))
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&remark, "remark", "", "what a reader should know; with the others, their words")
	f.StringVar(&doubt, "doubt", "", "why the pull may not be what it seems")
	f.StringVar(&weight, "weight", "", `a known weight that hung on the cell afterwards, "25.0 kg" or "245 N"`)
	f.StringVar(&shows, "shows", "", "what the cell showed for it, less its zero")
	f.StringVar(&factor, "factor", "", "correction: tension is this times the recorded")
	f.StringVar(&offset, "offset", "", `correction: and this more, "12 N"`)
	f.StringVar(&cameUp, "came-up", "", "what the anchor came up with: "+trial.CameUpForm)
	f.StringVar(&who, "who", "logger", "the seat that says it")
	f.StringVar(&name, "name", "", "the person who says it (default: the login)")
	f.BoolVar(&asJSON, "json", false, "one line of JSON an addendum (SI units, unit in each key)")
	return c
}

// addendumSeats may say something of a log afterwards.
var addendumSeats = []string{safety.Logger.String(), safety.Director.String(), safety.WinchOperator.String()}

// hung reads a mass that hangs, or a force.
func hung(flag, s string) (trial.Force, error) {
	if s == "" {
		return 0, fmt.Errorf("%s is missing; say both the weight and what the cell showed", flag)
	}
	v, err := session.ParseWeight(s)
	if err != nil {
		return 0, fmt.Errorf("%s: %w", flag, err)
	}
	return v, nil
}

func correctionOf(factor, offset string) (k float64, add trial.Force, err error) {
	if k, err = session.ParseFactor(factor); err != nil {
		return 0, 0, fmt.Errorf("--factor %w", err)
	}
	if add, err = session.ParseOffset(offset); err != nil {
		return 0, 0, fmt.Errorf("--offset: %w", err)
	}
	return k, add, nil
}

func listAddenda(out io.Writer, log string, asJSON bool) error {
	all, err := session.Addenda(log)
	for _, a := range all {
		if asJSON {
			if err := json.NewEncoder(out).Encode(addendumJSON(a)); err != nil {
				return err
			}
			continue
		}
		fmt.Fprintf(out, "%s: %s\n", visible(a.Path), addendumText(a))
	}
	if len(all) == 0 && err == nil && !asJSON {
		fmt.Fprintf(out, "%s: no addendum beside it\n", visible(log))
	}
	bad := err != nil
	for _, a := range all {
		bad = bad || !a.Whole || !a.Matches
	}
	switch {
	case err != nil:
		return cli.Exit(cli.ExitRecord, "%w", err)
	case bad:
		return cli.Exit(cli.ExitRecord, "not every addendum is whole and of this very file")
	}
	return nil
}

func addendumText(a session.Addendum) string {
	text := fmt.Sprintf("%s by %s (%s), %s%s: ", a.Kind, visible(a.Name), visible(a.Who), a.Written.Format(time.RFC3339), placeText(a.About))
	switch a.Kind {
	case session.AddendumWeight:
		text += fmt.Sprintf("the cell showed %.5g N for %.5g N, %+.2f %%", float64(a.Shown), float64(a.Weight), 100*a.Off())
	case session.AddendumCorrect:
		text += fmt.Sprintf("tension is %.6g times the recorded %+.5g N", a.Factor, float64(a.Offset))
	case session.AddendumCameUp:
		text += visible(a.CameUp.Text(trial.Show{}))
	}
	if a.Text != "" {
		text += " " + visible(a.Text)
	}
	if !a.Whole {
		text += "; NOT whole"
	}
	if !a.Matches {
		text += "; NOT of the file that is there now"
	}
	return text
}

// placeText is the moment of the pull that an addendum is about.
func placeText(p session.Place) string {
	if p.N == 0 {
		return ""
	}
	text := fmt.Sprintf(", of record %d at %.1f s", p.N, float64(p.T)/1e9)
	if p.HasX {
		text += fmt.Sprintf(", %.2f m hauled", float64(p.X))
	}
	return text
}

func addendumJSON(a session.Addendum) any {
	some := func(v float64, is bool) *float64 {
		if !is || math.IsNaN(v) {
			return nil
		}
		return &v
	}
	var record *uint64
	if a.About.N > 0 {
		record = &a.About.N
	}
	var cameUp any
	if a.Kind == session.AddendumCameUp {
		cameUp = cameUpDoc(&a.CameUp)
	}
	weight, correct := a.Kind == session.AddendumWeight, a.Kind == session.AddendumCorrect
	return struct {
		File    string   `json:"file"`
		Of      string   `json:"of"`
		SHA256  string   `json:"sha256"`
		Run     string   `json:"run"`
		Kind    string   `json:"kind"`
		Written string   `json:"written"`
		Who     string   `json:"who"`
		Name    string   `json:"name"`
		Text    string   `json:"text,omitempty"`
		Record  *uint64  `json:"about_record,omitempty"`
		AboutS  *float64 `json:"about_s,omitempty"`
		AboutM  *float64 `json:"about_hauled_m,omitempty"`
		WeightN *float64 `json:"weight_n,omitempty"`
		ShownN  *float64 `json:"shown_n,omitempty"`
		Factor  *float64 `json:"factor,omitempty"`
		OffsetN *float64 `json:"offset_n,omitempty"`
		CameUp  any      `json:"came_up,omitempty"`
		Whole   bool     `json:"whole"`
		Matches bool     `json:"matches_log"`
	}{a.Path, a.Of, a.SHA256, a.Run, string(a.Kind), a.Written.Format(time.RFC3339Nano), a.Who, a.Name, a.Text,
		record, some(float64(a.About.T)/1e9, record != nil), some(float64(a.About.X), a.About.HasX),
		some(float64(a.Weight), weight), some(float64(a.Shown), weight), some(a.Factor, correct), some(float64(a.Offset), correct), cameUp, a.Whole, a.Matches}
}
