package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"runtime/debug"

	"github.com/spf13/cobra"

	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/trial"
)

func newResults() *cobra.Command {
	var asJSON, asCSV, asTable, withBudget, what bool
	var said []string
	c := &cobra.Command{
		Use:   "results LOG|FOLDER...",
		Short: "What each pull came to: tension, line, stops, checks, addenda, doubts",
		Long: `Fold each pull again and tell what it came to: greatest tension and where it was,
line hauled, time in each stage, the stops and their causes, the checks of the
load cell, what the anchor came up with, and what was said in addenda. Then the quantities of the pull: peaks
over one sample, 1 s, 10 s and 1 m hauled, means by distance, holding by anchor
travel, efficiency, breakouts, re-sets, holds, recovery and more, at the deck,
less the bare rode and at the anchor. --quantities says what each of them is.
What is not known is left empty, with the reason; --table lists all.

A pull that broke off and went on in other logs is one, whichever of them is
named. A folder stands for all pulls in it and in folders below it, in the order
in which they were started. Addenda and salvaged logs are no pulls of their own;
a salvaged log is one where the log it was taken from is not beside it.

A tension has its window with it; "instant" is one valid sample. ">" marks a
lower bound: it had not fallen by 10 % when hauling ended, judged for its own
window, or the cell was over range. "±" is the expanded uncertainty (k = 2, about
95 %), combined as JCGM 100:2008 has it; --budget prints what it is made of.

A correction in an addendum is put to every sample of the log it comments on,
and both values stand side by side; of several the newest holds. An addendum
that is not whole, or whose log was changed since, is listed and not applied.

DRIFT. A known weight that is out by more than 1 %, in a log or in an addendum,
puts in doubt every pull of that load cell since the last known weight that
fitted, and until the next. A zero that moved by more than 0.5 % of the range
puts in doubt the pulls since the zero before it. Only the pulls that are given
are looked at: give the folder of the whole trial.

A doubtful pull changes no exit code. 0: told. 6: told, but a log is damaged, has
no end or a seal that does not fit, or an addendum is not of its log. 1: a log
could not be read; the others are told all the same.`,
		Example: "  hawse results logs\n  hawse results logs/A1-20260412T090211Z.log --json\n  hawse results logs --csv > results.csv\n  hawse results logs/A2.log --table --budget",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 && !what {
				return cli.Usage("say which log, or which folder of logs")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			switch {
			case asJSON && asCSV:
				return cli.Usage("--json or --csv, not both")
			case asTable && (asJSON || asCSV):
				return cli.Usage("--table, --json or --csv, one of them")
			case withBudget && asCSV:
				return cli.Usage("--budget goes with --table, --json or the text, not with --csv")
			case what:
				_, err := io.WriteString(c.OutOrStdout(), trial.QuantitiesDoc())
				return err
			}
			over, err := parseStretches(said)
			if err != nil {
				return cli.Usage("%w", err)
			}
			all, faults := readResults(args, over...)
			all, copies := session.DropCopies(all)
			for _, r := range copies {
				fmt.Fprintf(c.ErrOrStderr(), "hawse: %s is %s: left out\n", visible(r.Parts[0].Path), visible(r.CopyOf))
			}
			session.MarkDrift(all)
			switch {
			case asJSON:
				err = resultsJSON(c.OutOrStdout(), all, over, withBudget)
			case asCSV && len(all) > 0:
				err = resultsCSV(c.OutOrStdout(), all, over)
			case asTable && len(all) > 0:
				err = resultsTable(c.OutOrStdout(), all, over, withBudget)
			case !asCSV && len(all) > 0:
				err = resultsText(c.OutOrStdout(), all, over, withBudget)
			}
			if err != nil {
				return err
			}
			return resultsCode(all, faults)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "one line of JSON a pull: SI, the unit in each key")
	c.Flags().BoolVar(&asCSV, "csv", false, "a row a pull, for a spreadsheet: SI, the unit in the header")
	c.Flags().BoolVar(&asTable, "table", false, "every quantity of each pull, in the crew's units, or why it is not known")
	c.Flags().BoolVar(&withBudget, "budget", false, "what each uncertainty is made of")
	c.Flags().StringArrayVar(&said, "mean", nil, `a mean by distance over a stretch of line hauled, "12 m..18 m"; may be given again`)
	c.Flags().BoolVar(&what, "quantities", false, "say what each quantity is: definition, window, unit, key")
	return c
}

// readResults reads all pulls that the arguments stand for.
func readResults(args []string, over ...trial.Stretch) (all []*session.Result, faults []error) {
	var named, found []string
	for _, arg := range args {
		if !isDir(arg) {
			named = append(named, arg)
			continue
		}
		paths, unread := logsIn([]string{arg})
		for _, err := range unread {
			faults = append(faults, err)
		}
		found = append(found, paths...)
	}
	pulls, errs := session.FindPulls(named, found)
	// What is alive is a few megabytes, and each record makes some garbage: waiting
	// for five times as much to be collected saves a quarter of the work.
	defer debug.SetGCPercent(debug.SetGCPercent(400))
	for _, p := range pulls {
		all = append(all, session.ReadResult(p, over...))
	}
	return all, append(faults, errs...)
}

// resultsCode is the exit code, with what could not be read.
func resultsCode(all []*session.Result, faults []error) error {
	bad := 0
	for _, r := range all {
		if !r.Holds() {
			bad++
		}
	}
	switch {
	case len(faults) > 0 && bad > 0:
		return cli.Exit(cli.ExitFailed, "%w; and of %d of %d pulls the record is not whole", errors.Join(faults...), bad, len(all))
	case len(faults) > 0:
		return errors.Join(faults...)
	case bad > 0:
		return cli.Exit(cli.ExitRecord, "of %d of %d pulls the record is not whole; what there is was told", bad, len(all))
	}
	return nil
}

// reason is why something of a pull is not known.
type reason struct{ key, why string }

// missingOf says of all that is not known why not.
func missingOf(r *session.Result, f *trial.Figures) (out []reason) {
	add := func(key, why string) { out = append(out, reason{key, why}) }
	if !r.Ready {
		add("figures", "no part of the pull has a whole head, so nothing in it can be understood")
		return out
	}
	never := len(f.Hauls) == 0
	why := "the stage pull was never said"
	if never && f.Stages[trial.Pull].Time > 0 {
		why = "the load cell gave no valid reading in the stage pull"
	}
	place := func(key string, g *trial.Greatest) {
		if math.IsNaN(float64(g.X)) {
			add(key+"_hauled", "line hauled was not known then: the rode out was not said, or the line encoder was lost")
		}
		if math.IsNaN(g.Scope) {
			add(key+"_scope", "scope was not known then: depth or rode out was not said, or the line encoder was lost")
		}
	}
	switch {
	case f.Pull.Known:
		place("pull_greatest", &f.Pull)
	case never:
		add("pull_greatest", why)
	default:
		add("pull_greatest", "the load cell was over range and gave no number")
	}
	switch {
	case f.After.Known:
		place("after_greatest", &f.After)
	case never:
		add("after_greatest", why)
	default:
		add("after_greatest", "no valid reading in ease, stopped or recover after the pull")
	}
	switch {
	case never:
		add("hauled", why)
	case math.IsNaN(float64(f.Hauled)):
		add("hauled", "line hauled was not known in the pull: the rode out was not said, or the line encoder was lost")
	}
	if r.Head.Run.Kind == trial.KindPull && r.LastCameUp() == nil {
		add("came_up", noCameUp)
	}
	for q := range f.Quantities {
		v, i := &f.Quantities[q], &trial.Quantities[q]
		switch {
		case !v.Read[0].Known:
			add(i.Key, v.Read[0].Why)
		case i.Loads:
			for j := 1; j < len(trial.Readings); j++ {
				if r := &v.Read[j]; !r.Known {
					add(i.Key+"_"+trial.Readings[j].Key, r.Why)
				}
			}
		}
	}
	return out
}
