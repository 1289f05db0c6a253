package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/logfmt"
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
	length, weight, folder, runID string
	relay, asJSON                 bool
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

Nothing is sent to the stop output, unless --relay says so: then, after all else,
the relay is closed for a second and opened again. CLOSED IT PERMITS HAULING. Say
--relay only with the winch stopped and attended, and nobody near the line.

` + cautions + "\n\n" + exitHelp + " check: 1 where a line says cannot pull.",
		Example: `  hawse check my-trial/trial.toml
  hawse check my-trial/trial.toml --weight "25.0 kg"
  hawse check my-trial/trial.toml --relay --json`,
		Args: exactly(1, "one trial file"),
		RunE: func(c *cobra.Command, args []string) error {
			ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt)
			defer stop()
			return f.run(ctx, c, args[0])
		},
	}
	s := c.Flags()
	s.StringVar(&f.length, "for", "6s", "how long to listen, 2s to 10m")
	s.StringVar(&f.weight, "weight", "", `the known weight that hangs on the load cell, "25.0 kg" or a force`)
	s.StringVar(&f.folder, "folder", "", "where the record goes (default: checks beside the trial file)")
	s.StringVar(&f.runID, "run", "", "run of the trial file to check for (default: its first)")
	s.BoolVar(&f.relay, "relay", false, "close the stop relay for a second and open it: it permits hauling meanwhile")
	s.BoolVar(&f.asJSON, "json", false, "one object in JSON")
	return c
}

func (f *checkFlags) run(ctx context.Context, c *cobra.Command, path string) error {
	long, err := time.ParseDuration(f.length)
	if err != nil || long < 2*time.Second || long > 10*time.Minute {
		return usageError{fmt.Errorf("--for %q: give a time from 2s to 10m, such as 10s", visible(f.length))}
	}
	var weight trial.Force
	if f.weight != "" {
		if weight, _, err = trial.ParseLoadForce(f.weight); err != nil || weight <= 0 {
			return usageError{fmt.Errorf("--weight: %w", cmpErr(err, errors.New("give a weight above 0")))}
		}
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
		return exitWith(exitStart, "cannot make the folder for the record: %w", err)
	}
	now := time.Now()
	base := filepath.Join(dir, "check-"+now.UTC().Format("20060102T150405Z"))
	seen, err := listenToAll(ctx, t, run, filepath.Base(path), filepath.Dir(path), base+".log", long)
	if err != nil {
		return err
	}
	k := &checks{t: t, seen: seen, weight: weight}
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
		err = encode(c.OutOrStdout(), struct {
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
		return exitWith(exitFailed, "%d of %d say cannot pull", n, len(k.items))
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
	return trial.Run{}, exitWith(exitTrial, "no run %q in the trial file; it has %s", visible(id), strings.Join(ids, ", "))
}

// heardAll is what a while of listening showed.
type heardAll struct {
	last   *session.Snapshot
	loads  []trial.Force // as indicated, one for each valid reading
	counts []string      // different lines of the counter, newest last
	long   time.Duration
	bytes  int64         // of the log
	onDisk time.Duration // the longest a record waited for the disk
	stepOf time.Duration // of the wall clock against the monotonic one
}

// listenToAll runs a capture for a while, as for a pull, and seals its log.
func listenToAll(ctx context.Context, t *trial.Trial, run trial.Run, file, dir, log string, long time.Duration) (*heardAll, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	capture, err := session.Start(ctx, session.Config{
		Head:    session.Head{Tool: "hawse/" + version, Build: build(), Started: time.Now(), Mode: "live", Caption: "a check before the pull: nothing is pulled", Scale: 1, Trial: t, File: file, Run: run},
		LogPath: log, Clock: acquire.NewClock(), Dial: acquire.OpenSerial, Dir: dir, Log: logfmt.Options{}, Free: freeSpace, Slept: session.Slept})
	if err != nil {
		return nil, exitWith(exitStart, "check not started: %w", err)
	}
	h := &heardAll{}
	start := time.Now()
	wall := start.Round(0)
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	at := int64(-1)
	for ctx.Err() == nil && time.Since(start) < long {
		select {
		case <-ctx.Done():
		case <-tick.C:
		}
		s := capture.Snapshot()
		h.last = s
		if s.Load.Good > 0 && s.Tension.At > at && s.Tension.Known {
			at = s.Tension.At
			h.loads = append(h.loads, s.Tension.Indicated)
		}
		if text := s.Line.LastText; text != "" && (len(h.counts) == 0 || h.counts[len(h.counts)-1] != text) && len(h.counts) < 1000 {
			h.counts = append(h.counts, text)
		}
		h.onDisk = max(h.onDisk, time.Duration(s.Log.OldestAge))
	}
	h.long = time.Since(start)
	h.stepOf = time.Now().Round(0).Sub(wall) - h.long
	// It is refused where the tension is not known, for that is loaded: then the
	// log ends with its context, and says so.
	out, err := capture.DoWait(context.WithoutCancel(ctx), session.Act{Who: safety.Director, Name: "check", What: session.ActEnd, Value: "check done"})
	if err != nil || out.Refused != "" {
		cancel()
	}
	<-capture.Done()
	if err := capture.Err(); err != nil {
		return nil, exitWith(exitRecord, "the record of the check: %w", err)
	}
	if info, err := os.Stat(log); err == nil {
		h.bytes = info.Size()
	}
	return h, nil
}

// checks collects the lines.
type checks struct {
	t      *trial.Trial
	seen   *heardAll
	weight trial.Force
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
	k.stream("line", &s.Line, k.t.Line.Rate, false)
	k.counter()
	k.stop(s)
	if s.Horn.Src != "" {
		k.add("horn port", either(s.Horn.State == acquire.StateOpen, checkLook), portText(&s.Horn), "plug it in, or correct port= in [horn]; sound it from the screen")
	}
	for _, ins := range k.t.Instruments()[2:] {
		k.add(ins.Table, checkLook, "not looked at here", "see its age on the screen before arming")
	}
	k.machine(dir, out)
}

func portText(s *session.Stream) string {
	if s.Reason != "" && s.State != acquire.StateOpen {
		return fmt.Sprintf("%s: %s, %s", s.Port, s.State, s.Reason)
	}
	return fmt.Sprintf("%s: %s", s.Port, s.State)
}

// stream is port, frames and rate of a box.
func (k *checks) stream(name string, s *session.Stream, declared trial.Rate, slowRefused bool) {
	open := s.State == acquire.StateOpen
	k.add(name+" port", either(open, checkCannot), portText(s), "plug it in, end what else uses it, or correct port= in ["+name+"]; hawse ports lists them")
	all := s.Good + s.Bad
	share := 0.0
	if all > 0 {
		share = float64(s.Bad) / float64(all)
	}
	switch {
	case s.Good == 0 && all == 0:
		k.add(name+" frames", checkCannot, "not a line", "is the box on, is baud= right? hawse listen "+s.Port)
		return
	case s.Good == 0:
		k.add(name+" frames", checkCannot, "none of "+fmt.Sprint(all)+" fits; the last "+s.LastText, "correct line= and unit=: hawse listen "+s.Port)
		return
	}
	k.add(name+" frames", either(share <= 0.01, checkLook), fmt.Sprintf("%d fit, %.1f %% bad, the last %s", s.Good, 100*share, s.LastText), "check the cable, baud= and line=")
	rate := float64(s.Good) / k.seen.long.Seconds()
	want := float64(declared)
	result, do := checkSeen, ""
	if math.Abs(rate/want-1) > 0.2 {
		result, do = checkLook, "set the box, or correct rate="
	}
	if slowRefused && rate < 3 {
		result, do = checkCannot, "a load cell under 3 lines a second cannot guard: set the box faster, or slow_cell = true"
	}
	k.add(name+" rate", result, fmt.Sprintf("%.1f a second, %.3g said", rate, want), do)
}

// cell is value, flicker, zero and known weight of the load cell.
func (k *checks) cell() {
	v := k.seen.loads
	say := func(f trial.Force) string { return finely(k.t.Show, f) }
	s := k.seen.last
	if s.Tension.Over {
		k.add("load value", checkCannot, "over range", "take the load off; a cell that stays there is broken")
		return
	}
	if len(v) == 0 {
		return
	}
	mean, different := trial.Force(0), map[trial.Force]bool{}
	for _, f := range v {
		mean += f / trial.Force(len(v))
		different[f] = true
	}
	k.add("load value", either(math.Abs(float64(mean)) < 0.9*float64(k.t.Load.Range), checkLook), fmt.Sprintf("%s, as indicated, lowest %s, greatest %s", say(mean), say(slices.Min(v)), say(slices.Max(v))), "near the end of its range with nothing being pulled: wrong unit?")
	k.add("load flickers", either(len(different) > 1, checkLook), fmt.Sprintf("%d different of %d", len(different), len(v)), "a real cell flickers in its last digit: is it held, or the box frozen?")
	if k.weight == 0 {
		k.add("load zero", either(math.Abs(float64(mean)) <= 0.005*float64(k.t.Load.Range), checkLook), fmt.Sprintf("%s, %s of the range", say(mean), percent(float64(mean/k.t.Load.Range))), "with nothing on the cell: zero it in the run; if it moved since last time, have the cell looked at")
		k.add("known weight", checkLook, "not tried", `hang one on and say --weight "25.0 kg"`)
		return
	}
	off := float64(mean/k.weight) - 1
	k.add("known weight", either(math.Abs(off) <= 0.01, checkLook), fmt.Sprintf("%s shown, %s hangs on it: %s, zero not taken off", say(mean), say(k.weight), percent(off)), suspectUnit(float64(mean/k.weight)))
}

// suspectUnit names what a known weight that does not fit points at: ratio is
// what is shown over what hangs there.
func suspectUnit(ratio float64) string {
	const near = 0.03
	if ratio < 0 {
		return "the sign is reversed: change the cell's wires, or correct the sign in the run"
	}
	for _, u := range []struct {
		ratio float64
		text  string
	}{{9.80665, "N, read as kgf"}, {1 / 9.80665, "kgf, read as N"}, {4.4482216152605, "N, read as lbf"}, {1 / 4.4482216152605, "lbf, read as N"},
		{1 / 0.45359237, "lb, read as kg"}, {0.45359237, "kg, read as lb"}, {1000, "thousandths, read as whole ones"}, {0.001, "thousands, read as single ones"}} {
		if math.Abs(ratio/u.ratio-1) < near {
			return fmt.Sprintf("%.4g times: the box seems to send %s; correct unit= or the box", ratio, u.text)
		}
	}
	return "zero first, then again; then the calibration"
}

// counter is what can be seen of a line counter at rest.
func (k *checks) counter() {
	c := k.seen.counts
	if k.seen.last.Line.Good == 0 || len(c) == 0 {
		return
	}
	k.add("line at rest", either(len(c) <= 1, checkLook), fmt.Sprintf("%d different lines, the last %s", len(c), c[len(c)-1]), "counts change though nobody hauls: does the drum turn?")
	scale := fmt.Sprintf("%.6g counts a metre", k.t.Line.PerMetre)
	if k.t.Line.Drum != nil {
		scale = fmt.Sprintf("drum, %s on its first layer", scale)
	}
	k.add("counts a metre, way", checkLook, scale+", not tried", "pull a mark past the roller both ways: hawse calibrate MARKS.csv, or x in the run")
}

// stop is what the relay says of itself without being spoken to.
func (k *checks) stop(s *session.Snapshot) {
	k.add("stop port", either(s.Stop.State == acquire.StateOpen, checkCannot), portText(&s.Stop), "plug it in, or correct port= in [stop]: without it haul cannot be permitted")
	switch {
	case k.t.Stop.Kind == trial.StopPulse:
		k.add("relay stands open", checkLook, "it cannot tell", "see at the winch that haul is not permitted")
	case !s.Relay.Heard:
		k.add("relay stands open", checkLook, "it has said nothing", "is it on? text relays speak once a second, Modbus ones when asked")
	case s.Relay.Closed:
		k.add("relay stands open", checkCannot, "it says CLOSED with nothing armed", "is it welded, or held by another program? do not haul")
	default:
		k.add("relay stands open", checkSeen, "open, "+s.Relay.Reason, "")
	}
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
