package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"

	"github.com/spf13/cobra"

	"hawse/cmd/hawse/cli"
	"hawse/logfmt"
)

func newSalvage() *cobra.Command {
	var to string
	var asJSON bool
	c := &cobra.Command{
		Use:   "salvage LOG [-o NEW]",
		Short: "Make a new log of all whole records of a damaged one, and list what is missing",
		Long: `Read a damaged log, write all its whole records to a new log, and list what is
missing. Records keep their number and time and come in the order of their
numbers, each once. The new log begins with a record that names the old one and
its SHA-256. The old log is only read; nothing is ever overwritten.

Keep the old log: it is the evidence, the new one is what programs can read.

Exit code 0: the new log has every record up to the end. 6: it is written, but
records are missing or the old log has no end; or there was not one whole
record, and nothing is written. 4: NEW cannot be made or exists.`,
		Example: "  hawse salvage logs/A1-20260412T090211Z.log\n  hawse salvage --json broken.log.zst -o whole.log",
		Args:    cli.Exactly(1, "one log"),
		RunE: func(c *cobra.Command, args []string) error {
			if to == "" {
				to = salvagedName(args[0])
			}
			return salvage(c.OutOrStdout(), args[0], to, asJSON)
		},
	}
	c.Flags().StringVarP(&to, "out", "o", "", "the new log (default: beside the old one, its name ending in .salvaged.log)")
	c.Flags().BoolVar(&asJSON, "json", false, "one line of JSON")
	return c
}

// salvagedName is where a salvaged log goes if nothing else is said.
func salvagedName(path string) string {
	return strings.TrimSuffix(strings.TrimSuffix(path, ".zst"), ".log") + ".salvaged.log"
}

func salvage(out io.Writer, path, to string, asJSON bool) error {
	s, sum, err := logfmt.SalvageFile(path, to, nil)
	if s == nil || err != nil && !errors.Is(err, logfmt.ErrNothingWhole) {
		if fault, ok := errors.AsType[*logfmt.Fault](err); ok && (fault.Op == "create" || errors.Is(err, fs.ErrExist)) {
			return cli.Exit(cli.ExitStart, "%w", err)
		}
		return err
	}
	if err != nil {
		to = "" // there is no new log
	}
	if asJSON {
		if err := writeSalvageJSON(out, s, path, to, sum); err != nil {
			return err
		}
	} else {
		writeSalvageText(out, s, path, to, sum)
	}
	switch {
	case err != nil:
		return cli.Exit(cli.ExitRecord, "%w; nothing was written", err)
	case s.Missing > 0:
		return cli.Exit(cli.ExitRecord, "%s written, but %d records are missing", visible(to), s.Missing)
	case !s.Report.Sealed:
		return cli.Exit(cli.ExitRecord, "%s written, but the old log has no end: what came after is not known", visible(to))
	}
	return nil
}

func writeSalvageText(out io.Writer, s *logfmt.Salvage, path, to, sum string) {
	fmt.Fprintf(out, "%s: %s\n", visible(path), s.Report.Verdict())
	for _, d := range s.Report.Damages {
		fmt.Fprintf(out, "  %s\n", d)
	}
	if to == "" {
		return
	}
	fmt.Fprintf(out, "%s: %s whole records, SHA-256 %s\n", visible(to), cli.Grouped(s.Whole), sum)
	fmt.Fprintf(out, "missing: %s records\n", cli.Grouped(s.Missing))
	for _, g := range s.Gaps {
		fmt.Fprintf(out, "  %s\n", g)
	}
	if listed := listedIn(s.Gaps); listed < s.Missing {
		fmt.Fprintf(out, "  and %s more in gaps that are not listed\n", cli.Grouped(s.Missing-listed))
	}
	if !s.Report.Sealed {
		fmt.Fprintf(out, "not known: what came after t=%s s, as the log has no end\n", logfmt.FormatNs(s.Report.LastT))
	}
}

func listedIn(gaps []logfmt.Gap) (n uint64) {
	for _, g := range gaps {
		n += g.Records()
	}
	return n
}

// A gapJSON is a gap as programs read it: a time that is not known is null.
type gapJSON struct {
	From    uint64   `json:"from"`
	To      uint64   `json:"to"`
	Records uint64   `json:"records"`
	AfterS  *float64 `json:"after_s"`
	BeforeS float64  `json:"before_s"`
}

func writeSalvageJSON(out io.Writer, s *logfmt.Salvage, path, to, sum string) error {
	gaps := []gapJSON{}
	for _, g := range s.Gaps {
		j := gapJSON{From: g.From, To: g.To, Records: g.Records(), BeforeS: float64(g.BeforeT) / 1e9}
		if !g.NothingBefore {
			after := float64(g.AfterT) / 1e9
			j.AfterS = &after
		}
		gaps = append(gaps, j)
	}
	return json.NewEncoder(out).Encode(struct {
		File    string          `json:"file"`
		SHA256  string          `json:"sha256"`
		Sealed  bool            `json:"sealed"`
		Verdict string          `json:"verdict"`
		Damage  []logfmt.Damage `json:"damage"`
		New     string          `json:"new"` // "" if nothing was written
		NewSum  string          `json:"new_sha256"`
		Whole   uint64          `json:"whole"`
		Missing uint64          `json:"missing"`
		Gaps    []gapJSON       `json:"gaps"`
	}{path, s.Report.SHA256, s.Report.Sealed, s.Report.Verdict(), append([]logfmt.Damage{}, s.Report.Damages...), to, sum, s.Whole, s.Missing, gaps})
}
