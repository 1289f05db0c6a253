package main

import (
	"encoding/json"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/logfmt"
)

func newVerify() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "verify LOG...",
		Short: "Say whether a raw log is whole, or name the damage",
		Long: `Read each log, prove every line by its own checksum, the order by the chain of
checksums, and the whole by its seal. A damaged line costs that line alone; each
damage is named with its line and byte. The log is never changed.

Exit code 0: every log is whole. 6: damage or a missing seal was found.`,
		Example: "  hawse verify logs/A1-20260412T090211Z.log\n  hawse verify --json logs/*.log",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usageError{fmt.Errorf("say which log to verify")}
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			bad := 0
			for _, path := range args {
				whole, err := verifyOne(c, path, asJSON)
				if err != nil {
					return err
				}
				if !whole {
					bad++
				}
			}
			if bad > 0 {
				return exitWith(exitRecord, "%d of %d logs not whole", bad, len(args))
			}
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "one line of JSON a log")
	return c
}

func verifyOne(c *cobra.Command, path string, asJSON bool) (whole bool, err error) {
	rep, err := logfmt.VerifyFile(path)
	if err != nil {
		return false, err
	}
	out := c.OutOrStdout()
	if asJSON {
		if rep.Damages == nil {
			rep.Damages = []logfmt.Damage{} // an empty list, not null
		}
		return rep.Whole, json.NewEncoder(out).Encode(struct {
			File    string          `json:"file"`
			Whole   bool            `json:"whole"`
			Sealed  bool            `json:"sealed"`
			Records uint64          `json:"records"`
			LengthS float64         `json:"length_s"`
			SHA256  string          `json:"sha256"`
			Damage  []logfmt.Damage `json:"damage"`
		}{path, rep.Whole, rep.Sealed, rep.Records, float64(rep.LastT-rep.FirstT) / 1e9, rep.SHA256, rep.Damages})
	}
	fmt.Fprintf(out, "%s: %s\n", acquire.Visible([]byte(path)), rep.Verdict())
	for _, d := range rep.Damages {
		fmt.Fprintf(out, "  %s\n", d)
	}
	if rep.Beside == logfmt.BesideDiffers && !rep.Whole || rep.Beside == logfmt.BesideUnread {
		fmt.Fprintf(out, "  the checksum file beside it: %s\n", rep.BesideText)
	}
	return rep.Whole, nil
}

// refoldFile folds a log without waiting and says how it compares with what was
// said then.
func refoldFile(path string) (*session.Fold, []logfmt.Damage, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	return session.Refold(f, build())
}
