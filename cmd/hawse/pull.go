package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

func newPull() *cobra.Command {
	var runID, log, depth, payout string
	var bare bool
	c := &cobra.Command{
		Use:   "pull TRIAL.toml --run ID",
		Short: "Capture and guard one pull from the ports of a trial file",
		Long: `Open the load cell, line encoder and stop output that the trial file names,
capture every byte, guard the limits, and keep the raw log. Hauling is not
permitted until the director arms. The log is sealed when a person ends it (q
then y on the screen, or 'hawse call end'). A log is never overwritten.

With --headless, or when standard output is not a terminal, there is no screen:
a status line a second, alarms at once, and 'hawse call' to act.

` + cautions + "\n\n" + exitHelp,
		Example: `  hawse pull my-trial/trial.toml --run A1
  hawse pull my-trial/trial.toml --run A1 --depth "6.2 m" --payout "60 m"
  hawse pull my-trial/trial.toml --run A1 --headless --log /srv/pulls/A1.log`,
		Args: exactly(1, "one trial file"),
		RunE: func(c *cobra.Command, args []string) error {
			t, run, err := readTrial(args[0], runID)
			if err != nil {
				return err
			}
			var said []session.Act
			for _, v := range []struct{ what, value string }{{session.ActDepth, depth}, {session.ActPayout, payout}} {
				if v.value == "" {
					continue
				}
				if _, err := trial.ParseLength(v.value); err != nil {
					return usageError{fmt.Errorf("--%s: %w", v.what, err)}
				}
				said = append(said, session.Act{Who: safety.Director, Name: "command line", What: v.what, Value: v.value})
			}
			dir := filepath.Dir(args[0])
			if log == "" {
				log = filepath.Join(dir, "logs", logName(run, time.Now()))
			}
			p := pullOf{
				Head: session.Head{Mode: "live", Scale: 1, Trial: t, File: filepath.Base(args[0]), Run: run},
				Log:  log, Dir: dir, Clock: acquire.NewClock(), Headless: bare, Said: said,
			}
			return p.run(c)
		},
	}
	f := c.Flags()
	f.StringVar(&runID, "run", "", "run of the trial file to capture")
	f.StringVar(&log, "log", "", "where the raw log goes (default: logs/RUN-TIME.log beside the trial file)")
	f.StringVar(&depth, "depth", "", `water depth now, with its unit ("6.0 m"); can also be said on the screen`)
	f.StringVar(&payout, "payout", "", `rode out now, with its unit ("60 m"): the zero of line hauled`)
	f.BoolVar(&bare, "headless", false, "no screen: status lines on standard output")
	return c
}

// pullOf is one capture as a command starts it: live or on the simulated deck.
type pullOf struct {
	Head     session.Head
	Log      string
	Dir      string
	Clock    acquire.Clock
	Headless bool
	Said     []session.Act
	// With, if not nil, runs beside the capture until its context ends: the
	// demo's crew. View, if not nil, is what the screen gets instead of the
	// capture itself.
	With   func(ctx context.Context, cap *session.Capture)
	View   func(cap *session.Capture) session.View
	Unkept bool // the log goes with the demo's temporary folder
	Stay   bool // the screen stays after the end, until a person leaves it
}

func (p pullOf) run(c *cobra.Command) error {
	p.Head.Tool, p.Head.Build, p.Head.Started = "hawse/"+version, build(), time.Now()
	if err := os.MkdirAll(filepath.Dir(p.Log), 0o755); err != nil {
		return exitWith(exitStart, "cannot make the folder for the log: %w", err)
	}
	p.Headless = decideHeadless(p.Headless, c.ErrOrStderr())
	roomForBlockedCalls()
	ctx, cancel := context.WithCancel(c.Context())
	defer cancel()
	capture, err := session.Start(ctx, session.Config{Head: p.Head, LogPath: p.Log, Clock: p.Clock,
		Dial: acquire.OpenSerial, Dir: p.Dir, Log: logfmt.Options{}})
	if err != nil {
		return exitWith(exitStart, "capture not started: %w", err)
	}
	forget := func() {}
	served := make(chan struct{})
	go func() {
		defer close(served)
		if err := session.ServeCalls(ctx, capture, p.Log, func() { forget = announce(p.Log) }); err != nil {
			capture.Do(session.Act{Who: safety.Program, Name: "hawse", What: session.ActNote, Value: "no calls can come in: " + err.Error()})
		}
	}()
	defer func() { cancel(); <-served; forget() }()
	go sayWhenLive(ctx, capture, p.Said)
	if p.With != nil {
		go p.With(ctx, capture)
	}
	l := live{cap: capture, view: capture, headless: p.Headless, unkept: p.Unkept, stay: p.Stay, name: loginName(), out: c.OutOrStdout(), err: c.ErrOrStderr()}
	if p.View != nil {
		l.view = p.View(capture)
	}
	return l.run(ctx)
}

// payoutWithin is how long a rode out said on the command line stays true: by
// then the line may have moved.
const payoutWithin = 5 * time.Second

// sayWhenLive hands over what was said on the command line: the depth at once,
// the rode out as soon as the encoder counts, which it is tied to.
func sayWhenLive(ctx context.Context, capture *session.Capture, said []session.Act) {
	tick := time.NewTicker(50 * time.Millisecond)
	defer tick.Stop()
	over := time.After(payoutWithin)
	for _, a := range said {
		for a.What == session.ActPayout && capture.Snapshot().Line.Good == 0 {
			select {
			case <-tick.C:
				continue
			case <-over:
				a.What, a.Value = session.ActNote, "rode out "+a.Value+" not taken: the line encoder sends nothing; say it again when it does"
			case <-ctx.Done():
				return
			}
		}
		capture.Do(a)
	}
}

// logName is the run and the time, in letters every file system takes.
func logName(run trial.Run, now time.Time) string {
	id := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return '_'
	}, run.ID)
	return id + "-" + now.UTC().Format("20060102T150405Z") + ".log"
}

// roomForBlockedCalls gives the program more processors to run goroutines on
// than the machine has: each port sits in a blocking read, which keeps one of
// them until the runtime takes it back, up to 10 ms later. On two cores that
// made one line in a hundred 6 ms late; with room it is 0.6 ms.
func roomForBlockedCalls() {
	const blocking = 8 // four ports reading, two writing, the log, the screen
	if os.Getenv("GOMAXPROCS") == "" {
		runtime.GOMAXPROCS(runtime.NumCPU() + blocking)
	}
}
