package main

import (
	"errors"
	"fmt"
	"math"

	"github.com/spf13/cobra"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/trial"
)

func newResults() *cobra.Command {
	var asJSON, asCSV bool
	c := &cobra.Command{
		Use:   "results LOG|FOLDER...",
		Short: "What each pull came to: tension, line, stops, checks, addenda, doubts",
		Long: `Fold each pull again and tell what it came to: greatest tension and where it was,
line hauled, time in each stage, the stops and their causes, the checks of the
load cell, and what was said in addenda. What is not known is left empty, with
the reason.

A pull that broke off and went on in other logs is one, whichever of them is
named. A folder stands for all pulls in it and in folders below it, in the order
in which they were started. Addenda and salvaged logs are no pulls of their own;
a salvaged log is one where the log it was taken from is not beside it.

Tension is that of one valid sample ("instant"). ">" marks a lower bound: the
tension had not fallen by 10 % when hauling ended, or the cell was over range.

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
		Example: "  hawse results logs\n  hawse results logs/A1-20260412T090211Z.log --json\n  hawse results logs --csv > results.csv",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usageError{fmt.Errorf("say which log, or which folder of logs")}
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			if asJSON && asCSV {
				return usageError{errors.New("--json or --csv, not both")}
			}
			all, faults := readResults(args)
			all, copies := session.DropCopies(all)
			for _, r := range copies {
				fmt.Fprintf(c.ErrOrStderr(), "hawse: %s is the same log as another one that is told: left out\n", acquire.Visible([]byte(r.Parts[0].Path)))
			}
			session.MarkDrift(all)
			var err error
			switch {
			case asJSON:
				err = resultsJSON(c.OutOrStdout(), all)
			case asCSV && len(all) > 0:
				err = resultsCSV(c.OutOrStdout(), all)
			case !asCSV && len(all) > 0:
				err = resultsText(c.OutOrStdout(), all)
			}
			if err != nil {
				return err
			}
			return resultsCode(all, faults)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "one line of JSON a pull: SI, the unit in each key")
	c.Flags().BoolVar(&asCSV, "csv", false, "a row a pull, for a spreadsheet: SI, the unit in the header")
	return c
}

// readResults reads all pulls that the arguments stand for.
func readResults(args []string) (all []*session.Result, faults []error) {
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
	for _, p := range pulls {
		all = append(all, session.ReadResult(p))
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
		return exitWith(exitFailed, "%w; and of %d of %d pulls the record is not whole", errors.Join(faults...), bad, len(all))
	case len(faults) > 0:
		return errors.Join(faults...)
	case bad > 0:
		return exitWith(exitRecord, "of %d of %d pulls the record is not whole; what there is was told", bad, len(all))
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
	return out
}
