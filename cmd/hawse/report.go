package main

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"

	"hawse/cmd/hawse/cli"
	"hawse/trial"
	"hawse/trial/report"
)

func newReport() *cobra.Command {
	var out, by, reference string
	var again bool
	var seed uint64
	c := &cobra.Command{
		Use:   "report FOLDER|LOG",
		Short: "After the pulls: tables, plots and a comparison, as one file to read and print",
		Long: `Make the report of a trial from its raw logs alone: one HTML file that needs no
network and no script and prints on A4 and Letter, the same as Markdown, every
table as CSV and every plot as SVG and PNG. Of one log it makes the page of that
pull.

Only equal treatments are pooled: pattern, mass, fluke setting, bottom, protocol.
Failed sets stay in the count, lower bounds stay lower bounds, and nothing is
claimed under five blocks. What cannot be used is in the appendix, with the
reason: a damaged, foreign, doubled or cut-short log keeps no report from being
made. "Can not be told apart" is a result.

By which quantity anchors are held against each other (--by) is to be chosen
before the pulls; its keys are those of 'hawse results --csv'.

Nothing is overwritten unless --again says so, and then only a report. What that
one wrote and this one does not is removed, by the list report.sha256 beside it,
which 'sha256sum -c' checks; a file of anybody else's, or changed since, stays.

Exit codes as those of 'hawse results': 6, a record is not whole; 1, a log could
not be read. The report is made all the same.`,
		Example: "  hawse report my-trial\n  hawse report my-trial/logs/A1-20260412T090211Z.log\n  hawse report my-trial --by mean_10_20m --out evening",
		Args:    cli.Exactly(1, "one folder or one log"),
		RunE: func(c *cobra.Command, args []string) error {
			q, err := quantityKeyed(by)
			if err != nil {
				return cli.Usage("%w", err)
			}
			if out == "" {
				out = reportFolder(args[0])
			}
			if err := mayWrite(out, again); err != nil {
				return cli.Exit(cli.ExitStart, "%w", err)
			}
			defer frugal()()
			bar := barTo(c.ErrOrStderr())
			set := readReport(args[0], progressOn(bar, "reading"))
			set.campaign.By, set.campaign.Seed, set.campaign.Reference = q, seed, reference
			if len(set.all) == 0 && len(set.faults) == 0 {
				return fmt.Errorf("%s: no pull in it", args[0])
			}
			if r := reference; r != "" && set.campaign.Trial != nil {
				if _, ok := set.campaign.Trial.Anchor(r); !ok {
					return cli.Usage("--reference %q: the trial file has no anchor of that id", r)
				}
			}
			w := &reportFiles{sums: map[string][sha256.Size]byte{}}
			before := reportListed(out)
			err = report.Make(&set.campaign, onAllCores(progressOn(bar, "drawing")), w.to(out))
			if bar != nil {
				fmt.Fprint(bar, "\r\x1b[K")
			}
			if err != nil {
				return err
			}
			kept, err := w.leftBehind(out, before)
			if err := errors.Join(err, w.list(out)); err != nil {
				return fmt.Errorf("the report is made, but what it wrote is not listed: %w", err)
			}
			for _, name := range kept {
				tell(c.ErrOrStderr(), fmt.Sprintf("hawse: %s was written by an earlier report and changed since: left as it is\n", shownPath(filepath.Join(out, name))))
			}
			tell(c.ErrOrStderr(), fmt.Sprintf("hawse: report of %d pulls, %d left out: %s\n", len(set.campaign.Pulls), len(set.campaign.LeftOut), filepath.Join(out, "report.html")))
			return resultsCode(set.all, set.faults)
		},
	}
	f := c.Flags()
	f.StringVar(&out, "out", "", "folder for the report (default: report in the folder, or beside the log)")
	f.BoolVar(&again, "again", false, "write over a report that is there")
	f.StringVar(&by, "by", trial.Quantities[trial.Peak1m].Key, "quantity to hold anchors against each other by")
	f.StringVar(&reference, "reference", "", "id of the reference anchor of the class societies' rule: adds that section")
	f.Uint64Var(&seed, "seed", 1, "of tests too large to be counted, which draw lots")
	return c
}

func quantityKeyed(key string) (trial.Quantity, error) {
	var keys []string
	for q := range trial.NumQuantities {
		i := &trial.Quantities[q]
		if !i.Loads {
			continue
		}
		if i.Key == key {
			return q, nil
		}
		keys = append(keys, i.Key)
	}
	return 0, fmt.Errorf("--by %q is no load; one of %s", key, strings.Join(keys, ", "))
}

// reportFolder is where a report goes if nobody says.
func reportFolder(arg string) string {
	if isDir(arg) {
		return filepath.Join(arg, "report")
	}
	return strings.TrimSuffix(strings.TrimSuffix(arg, ".zst"), ".log") + "-report"
}

// reportMark tells a report's folder from any other.
const reportMark = "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"generator\" content=\"hawse report\">"

// mayWrite says whether a report may be put there.
func mayWrite(dir string, again bool) error {
	left, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) || err == nil && len(left) == 0 {
		return nil
	}
	if err != nil {
		return fmt.Errorf("cannot write there: %w", err)
	}
	f, err := os.Open(filepath.Join(dir, "report.html"))
	is := false
	if err == nil {
		head := make([]byte, len(reportMark))
		n, _ := io.ReadFull(f, head)
		f.Close()
		is = bytes.Equal(head[:n], []byte(reportMark))
	}
	switch {
	case !is:
		return fmt.Errorf("%s is not empty, and is no report: say another folder with --out", dir)
	case !again:
		return fmt.Errorf("a report is in %s already: --again writes it anew, or say another folder with --out", dir)
	}
	return nil
}

// frugal trades a little time for memory: garbage is collected when there is half
// as much of it as of what is used. It returns how to undo that.
func frugal() (undo func()) {
	was := debug.SetGCPercent(50)
	return func() { debug.SetGCPercent(was) }
}

func shownPath(path string) string { return visible(filepath.ToSlash(path)) }
