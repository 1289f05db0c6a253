package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"github.com/spf13/cobra"

	"hawse/cmd/hawse/cli"
	"hawse/logfmt"
)

func newVerify() *cobra.Command {
	var asJSON bool
	var jobs int
	c := &cobra.Command{
		Use:   "verify LOG|FOLDER...",
		Short: "Say whether raw logs are whole, or name the damage",
		Long: `Read each log, prove every line by its own checksum, the order by the chain of
checksums, and the whole by its seal. A damaged line costs that line alone; each
damage is named with its line, its byte and what it costs. No log is changed.

A folder stands for all its logs, *.log and *.log.zst, with those in folders
below it. One that cannot be read is named, and the others are read. Several logs are read at once, one on each core; they are told in the
order of the command line, in a folder in that of their names.

Beside a log LOG the file LOG.sha256 is compared, the signature LOG.sig, and the
other log that its head names: the one it goes on from, comments on, or was
salvaged from. Whose key a signature is of, only ssh-keygen -Y verify tells.

Exit code 0: every log is whole and nothing beside one says otherwise. 6: one is
damaged, has no seal, or differs from what stands beside it. 1: a log or a
folder could not be read.`,
		Example: "  hawse verify logs/A1-20260412T090211Z.log\n  hawse verify logs\n  hawse verify --json logs archive/B2.log.zst",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return cli.Usage("say which log to verify")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			if jobs < 1 || jobs > 1024 {
				return cli.Usage("--jobs %d: from 1 to 1024 logs at once", jobs)
			}
			paths, unread := logsIn(args)
			return sayVerified(c.OutOrStdout(), paths, unread, jobs, asJSON)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "one line of JSON a log")
	c.Flags().IntVar(&jobs, "jobs", runtime.NumCPU(), "how many logs to read at once")
	return c
}

// A folderError says what of a folder could not be read, or that it has no log.
type folderError struct {
	path string
	err  error
}

func (e *folderError) Error() string {
	return fmt.Sprintf("folder %s %v", visible(e.path), e.err)
}
func (e *folderError) Unwrap() error { return e.err }

// logsIn puts the logs of a folder in the folder's place. What of a folder cannot
// be read costs only itself.
func logsIn(args []string) (paths []string, unread []*folderError) {
	for _, arg := range args {
		// What is no folder is told when it is opened.
		if info, err := os.Stat(arg); err != nil || !info.IsDir() {
			paths = append(paths, arg)
			continue
		}
		found := len(paths) + len(unread)
		// With the separator a link to a folder is that folder. The walk goes on after
		// whatever error, so it returns none.
		_ = filepath.WalkDir(strings.TrimSuffix(arg, string(filepath.Separator))+string(filepath.Separator), func(path string, d fs.DirEntry, err error) error {
			name := strings.TrimSuffix(filepath.Base(path), ".zst")
			switch {
			case err != nil:
				if at, ok := errors.AsType[*fs.PathError](err); ok {
					err = at.Err // it names the path once more
				}
				unread = append(unread, &folderError{filepath.Clean(path), fmt.Errorf("cannot be read: %w; its logs are left out", err)})
			case d.Type().IsRegular() && filepath.Ext(name) == ".log":
				paths = append(paths, path)
			}
			return nil
		})
		if len(paths)+len(unread) == found {
			unread = append(unread, &folderError{arg, errors.New("has no log in it: no file *.log or *.log.zst")})
		}
	}
	return paths, unread
}

// verified is one log's report, or why there is none.
type verified struct {
	path string
	rep  logfmt.Report
	err  error
}

// sayVerified prints the reports and makes them into an exit code.
func sayVerified(out io.Writer, paths []string, folders []*folderError, jobs int, asJSON bool) error {
	bad, notRead, records, bytes := 0, 0, uint64(0), int64(0)
	var unread []error
	var failed error
	logfmt.VerifyFiles(paths, jobs, func(path string, rep logfmt.Report, err error) {
		v := verified{path, rep, err}
		switch {
		case v.err != nil:
			unread = append(unread, v.err)
			notRead++
		case !v.rep.Holds():
			bad++
		}
		records += v.rep.Records
		bytes += v.rep.Bytes
		switch {
		case asJSON:
			failed = errors.Join(failed, v.writeJSON(out))
		case v.err == nil:
			v.writeText(out)
		}
	})
	for _, f := range folders {
		unread = append(unread, f)
		if asJSON {
			failed = errors.Join(failed, (&verified{path: f.path, err: f}).writeJSON(out))
		}
	}
	if failed != nil {
		return failed
	}
	if len(paths) > 1 && !asJSON {
		more := ""
		if len(folders) > 0 {
			more = fmt.Sprintf("; folders not read: %d", len(folders))
		}
		fmt.Fprintf(out, "%d logs, %s records, %.1f MB: %d whole, %d not, %d not read%s\n",
			len(paths), cli.Grouped(records), float64(bytes)/1e6, len(paths)-bad-notRead, bad, notRead, more)
	}
	switch {
	case len(unread) > 0 && bad > 0:
		return cli.Exit(cli.ExitFailed, "%w; %d of %d logs not whole", errors.Join(unread...), bad, len(paths))
	case len(unread) > 0:
		return errors.Join(unread...)
	case bad > 0:
		return cli.Exit(cli.ExitRecord, "%d of %d logs not whole", bad, len(paths))
	}
	return nil
}

func (v *verified) writeText(out io.Writer) {
	rep := &v.rep
	fmt.Fprintf(out, "%s: %s\n", visible(v.path), rep.Verdict())
	for _, d := range rep.Damages {
		fmt.Fprintf(out, "  %s\n", d)
	}
	if rep.Beside == logfmt.BesideDiffers && !rep.Whole || rep.Beside == logfmt.BesideUnread {
		fmt.Fprintf(out, "  the checksum file beside it: %s\n", rep.BesideText)
	}
	if text := rep.Signature.Text(); text != "" && (rep.Signature.Good || !rep.Whole) {
		fmt.Fprintf(out, "  %s\n", text)
	}
	says := map[string]string{"chain": "goes on from", "addendum": "comments on", "salvage": "salvaged from"}
	for _, l := range rep.Links {
		fmt.Fprintf(out, "  %s: %s\n", says[l.Part], l.Text)
	}
}

// verifiedJSON is a report as programs read it. Times are in seconds.
type verifiedJSON struct {
	File       string          `json:"file"`
	Holds      bool            `json:"holds"` // whole, and nothing beside it says otherwise
	Whole      bool            `json:"whole"`
	Sealed     bool            `json:"sealed"`
	SealGood   bool            `json:"seal_good"`
	SealFault  string          `json:"seal_fault,omitempty"`
	Reason     string          `json:"reason"`
	Verdict    string          `json:"verdict"`
	Packed     bool            `json:"packed"`
	Bytes      int64           `json:"bytes"`
	Records    uint64          `json:"records"`
	Lost       uint64          `json:"records_lost"`
	LengthS    float64         `json:"length_s"`
	SHA256     string          `json:"sha256"`
	Beside     string          `json:"checksum_file"` // "" if there is none
	BesideText string          `json:"checksum_file_fault,omitempty"`
	Signature  string          `json:"signature"` // "" none, "good", "bad"
	SignedBy   string          `json:"signature_key,omitempty"`
	SigFault   string          `json:"signature_fault,omitempty"`
	Links      []logfmt.Link   `json:"links"`
	Damage     []logfmt.Damage `json:"damage"`
	Error      string          `json:"error,omitempty"` // it could not be read, or not to its end
}

func (v *verified) writeJSON(out io.Writer) error {
	rep := &v.rep
	j := verifiedJSON{File: v.path, Holds: v.err == nil && rep.Holds(), Whole: rep.Whole, Sealed: rep.Sealed, SealGood: rep.SealGood, SealFault: rep.SealFault,
		Reason: rep.Reason, Verdict: rep.Verdict(), Packed: rep.Packed, Bytes: rep.Bytes, Records: rep.Records, Lost: rep.Lost,
		LengthS: float64(rep.LastT-rep.FirstT) / 1e9, SHA256: rep.SHA256, Beside: string(rep.Beside), BesideText: rep.BesideText,
		Signature: rep.Signature.Word(), SignedBy: rep.Signature.Fingerprint, SigFault: rep.Signature.Fault,
		// Empty lists, not null.
		Links: append([]logfmt.Link{}, rep.Links...), Damage: append([]logfmt.Damage{}, rep.Damages...)}
	if v.err != nil {
		j.Error, j.Verdict = v.err.Error(), "not read"
	}
	return json.NewEncoder(out).Encode(j)
}
