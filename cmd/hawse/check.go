package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/safety"
	"hawse/trial"
)

// What comes of looking at one thing.
const (
	checkSeen   = "seen"
	checkLook   = "look"
	checkCannot = "cannot pull"
)

// checkItem is one line: what was looked at, what came of it, the value, and
// what to do where that is anything.
type checkItem struct {
	What   string `json:"what"`
	Result string `json:"result"`
	Value  string `json:"value"`
	Do     string `json:"do,omitempty"`
}

// checkFlags is what the command line of `hawse check` said.
type checkFlags struct {
	length, weight, depth, marks, folder, runID string
	relay, asJSON                               bool
}

func newCheck() *cobra.Command {
	var f checkFlags
	c := &cobra.Command{
		Use:   "check TRIAL",
		Short: "Before the pull: ports, rates, frames, zero, disk, clock, relay: seen, look, or cannot pull",
		Long: `Open every port of a trial file, listen for a while, and say of each thing, in one
line: seen, look, or cannot pull; with the value, and what to do. What arrives is
kept as a sealed log beside a page of the result, in the folder checks beside the
trial file: they are no pulls, and spend no lane.

Nothing hangs on the load cell, or, with --weight, the known weight. Nobody hauls.
With --depth the sounder is held against a depth taken by hand. Further load cells
have their own lines; of a pin in the roller it is said what angle it takes the line
to have with the run's rode out, and what it makes of the pull's stop limit there.

With --marks the line is then paid out from one mark on the rode to the next, by
hand or brake, and Enter pressed with each mark at the roller: that tries which way
the counts go and how many make a metre. s and Enter leaves a mark out. Let nothing
hang on a line that runs, and keep clear of it.

Nothing is sent to the stop output, unless --relay says so: then, after all else,
the relay is closed for a second and opened again. CLOSED IT PERMITS HAULING. Say
--relay only with the winch stopped and attended, and nobody near the line.

` + cautions + "\n\n" + cli.ExitHelp + " check: 1 where a line says cannot pull.",
		Example: `  hawse check my-trial/trial.toml
  hawse check my-trial/trial.toml --weight "25.0 kg" --depth "6.2 m"
  hawse check my-trial/trial.toml --marks "10 m, 20 m"
  hawse check my-trial/trial.toml --relay --json`,
		Args: cli.Exactly(1, "one trial file"),
		RunE: func(c *cobra.Command, args []string) error {
			ctx, stop := cli.Interruptible(c)
			defer stop()
			return f.run(ctx, c, args[0])
		},
	}
	s := c.Flags()
	s.StringVar(&f.length, "for", "6s", "how long to listen, 2s to 10m")
	s.StringVar(&f.weight, "weight", "", `the known weight that hangs on the load cell, "25.0 kg" or a force`)
	s.StringVar(&f.depth, "depth", "", `the depth as taken by hand, "6.2 m", to hold the sounder against`)
	s.StringVar(&f.marks, "marks", "", `marks on the rode to pay out to, two or more: "10 m, 20 m"`)
	s.StringVar(&f.folder, "folder", "", "where the record goes (default: checks beside the trial file)")
	s.StringVar(&f.runID, "run", "", "run of the trial file to check for (default: its first)")
	s.BoolVar(&f.relay, "relay", false, "close the stop relay for a second and open it: it permits hauling meanwhile")
	s.BoolVar(&f.asJSON, "json", false, "one object in JSON")
	return c
}

func (f *checkFlags) run(ctx context.Context, c *cobra.Command, path string) error {
	long, err := time.ParseDuration(f.length)
	if err != nil || long < 2*time.Second || long > 10*time.Minute {
		return cli.Usage("--for %q: give a time from 2s to 10m, such as 10s", visible(f.length))
	}
	var weight trial.Force
	if f.weight != "" {
		if weight, _, err = trial.ParseLoadForce(f.weight); err != nil || weight <= 0 {
			return cli.Usage("--weight: %w", cmpErr(err, errors.New("give a weight above 0")))
		}
	}
	var hand trial.Length
	if f.depth != "" {
		if hand, err = trial.ParseLength(f.depth); err != nil || hand <= 0 {
			return cli.Usage("--depth: %w", cmpErr(err, errors.New("give a depth above 0")))
		}
	}
	marks, err := parseMarks(f.marks)
	if err != nil {
		return err
	}
	t, err := openTrial(path)
	if err != nil {
		return err
	}
	run := t.Runs[0]
	if f.runID != "" {
		if run, err = findRun(t, f.runID); err != nil {
			return err
		}
	}
	dir := f.folder
	if dir == "" {
		dir = filepath.Join(filepath.Dir(path), "checks")
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return cli.Exit(cli.ExitStart, "cannot make the folder for the record: %w", err)
	}
	now := time.Now()
	base := filepath.Join(dir, "check-"+now.UTC().Format("20060102T150405Z"))
	tried := &markTry{marks: marks, in: c.InOrStdin(), out: c.ErrOrStderr(), show: t.Show}
	seen, err := listenToAll(ctx, t, run, filepath.Base(path), filepath.Dir(path), base+".log", long, func(ctx context.Context, capture *session.Capture) error {
		if hand > 0 {
			if _, err := capture.DoWait(ctx, session.Act{Who: safety.Logger, Name: "check", What: session.ActDepth, Value: f.depth}); err != nil {
				return cli.Exit(cli.ExitRecord, "the record of the check: %w", err)
			}
		}
		return tried.run(ctx, capture)
	})
	if err != nil {
		return err
	}
	k := &checks{t: t, run: run, seen: seen, weight: weight, hand: hand, marks: tried}
	k.all(dir, c.OutOrStdout())
	if f.relay {
		k.relay(ctx, filepath.Dir(path))
	} else {
		k.add("relay closes, opens", checkLook, "not tried", "say --relay, with the winch stopped and attended")
	}
	page := k.page(path, now, base+".log")
	if err := newFile(base+".txt", page); err != nil {
		return err
	}
	if f.asJSON {
		err = cli.WriteJSON(c.OutOrStdout(), struct {
			File  string      `json:"file"`
			At    string      `json:"at"`
			Log   string      `json:"log"`
			Items []checkItem `json:"items"`
		}{path, now.UTC().Format(time.RFC3339), base + ".log", k.items})
	} else {
		_, err = io.WriteString(c.OutOrStdout(), page)
	}
	if err != nil {
		return err
	}
	if n := k.count(checkCannot); n > 0 {
		return cli.Exit(cli.ExitFailed, "%d of %d say cannot pull", n, len(k.items))
	}
	return nil
}

func cmpErr(errs ...error) error {
	for _, e := range errs {
		if e != nil {
			return e
		}
	}
	return nil
}

func findRun(t *trial.Trial, id string) (trial.Run, error) {
	if run, ok := t.Run(id); ok {
		return run, nil
	}
	ids := make([]string, len(t.Runs))
	for i, r := range t.Runs {
		ids[i] = r.ID
	}
	return trial.Run{}, cli.Exit(cli.ExitTrial, "no run %q in the trial file; it has %s", visible(id), strings.Join(ids, ", "))
}

// checks collects the lines.
type checks struct {
	t      *trial.Trial
	run    trial.Run
	seen   *heardAll
	weight trial.Force  // 0 none
	hand   trial.Length // depth by hand; 0 not said
	marks  *markTry
	items  []checkItem
}

func (k *checks) add(what, result, value, do string) {
	if result == checkSeen {
		do = ""
	}
	k.items = append(k.items, checkItem{what, result, value, do})
}

func (k *checks) count(result string) (n int) {
	for _, i := range k.items {
		if i.Result == result {
			n++
		}
	}
	return n
}

// either is the result of a question with two answers.
func either(good bool, bad string) string {
	if good {
		return checkSeen
	}
	return bad
}

func (k *checks) all(dir string, out io.Writer) {
	k.add("trial file", either(len(k.t.Notes) == 0, checkLook), fmt.Sprintf("%s, %d notes", k.t.Name, len(k.t.Notes)), "hawse limits prints them")
	unrated := k.t.Unrated()
	_, wll := k.t.Weakest()
	k.add("gear", either(len(unrated) == 0, checkCannot), "weakest WLL "+k.t.Show.ForceText(wll), "write rating and source of "+strings.Join(unrated, "; "))
	s := k.seen.last
	k.stream("load", &s.Load, k.t.Load.Rate, !k.t.Load.SlowCell)
	k.cell()
	k.pin("load", k.t.Load)
	k.cells()
	k.stream("line", &s.Line, k.t.Line.Rate, false)
	k.counter()
	k.byMarks()
	k.stop(s)
	if s.Horn.Src != "" {
		k.add("horn port", either(s.Horn.State == acquire.StateOpen, checkLook), portText(&s.Horn), "plug it in, or correct port= in [horn]; sound it from the screen")
	}
	k.aids()
	k.machine(dir, out)
}

func portText(s *session.Stream) string {
	if s.Reason != "" && s.State != acquire.StateOpen {
		reason, _, _ := strings.Cut(s.Reason, ";") // what to do is said beside it
		return strings.TrimPrefix(fmt.Sprintf("%s: %s, %s", s.Port, s.State, reason), ": ")
	}
	return fmt.Sprintf("%s: %s", s.Port, s.State)
}

func (k *checks) page(path string, at time.Time, log string) string {
	p := &limitsPage{t: k.t}
	p.line(2, "%s", k.t.Name)
	p.line(2, "%s, %s", visible(path), at.UTC().Format("2006-01-02 15:04:05Z"))
	p.line(2, "An aid to watching a pull. It does not make the pull safe.")
	p.WriteString("\n")
	for _, i := range k.items {
		text := visible(i.Value)
		if i.Do != "" {
			text += "; " + visible(i.Do)
		}
		p.row([]int{11, 20}, i.Result, i.What, text)
	}
	p.WriteString("\n")
	p.line(2, "%d seen, %d to look at, %d cannot pull; the record is %s", k.count(checkSeen), k.count(checkLook), k.count(checkCannot), visible(log))
	return p.String()
}
