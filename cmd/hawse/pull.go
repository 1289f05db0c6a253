package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/cmd/hawse/system"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

func newPull() *cobra.Command {
	var runID, log, depth, payout, also string
	var bare, anew, keys bool
	var look screenLook
	c := &cobra.Command{
		Use:   "pull TRIAL.toml --run ID",
		Short: "Capture and guard one pull from the ports of a trial file",
		Long: `Open the load cell, line encoder and stop output that the trial file names,
capture every byte, guard the limits, and keep the raw log. Hauling is not
permitted until the director arms. The log is sealed when a person ends it (q
then y on the screen, or 'hawse call end'). A log is never overwritten.

If the newest log of the run has no end, because the program or the computer
died, what is whole of it is said and the pull goes on in a new log that names
it. Stage, depth, rode out, zero, corrections, what was taken in and limits made
stricter are taken over as proposals: each is confirmed ('hawse call carry all',
or one by one) or left behind ('hawse call drop ITEM') before arming. A stop that
was latched is latched again. Time, peak, figures and trace go on from the logs
before; where one of those cannot be read they are marked "since resume". --new
starts afresh.

--also-to DIR writes a second, equal log into another folder from the start, best
on another disk. What fails there is told and holds up nothing. Without room on
the disk records wait in memory, up to 64 MB; past that they are lost, which is
told.

With --headless, or when standard output is not a terminal, there is no screen:
a status line a second, alarms at once, and 'hawse call' to act. SIGTERM or ctrl-c
seals the log and ends. While the line is loaded, or its tension is unknown, the
first one stops hauling and the capture goes on; a second one ends it. A service
manager that sends one alone, and kills after it, leaves a log without an end.

` + cautions + "\n\n" + cli.ExitHelp,
		Example: `  hawse pull my-trial/trial.toml --run A1
  hawse pull my-trial/trial.toml --run A1 --depth "6.2 m" --payout "60 m"
  hawse pull my-trial/trial.toml --run A1 --also-to /media/stick
  hawse pull my-trial/trial.toml --run A1 --headless --log /srv/pulls/A1.log`,
		Args: cli.Exactly(1, "one trial file"),
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
					return cli.Usage("--%s: %w", v.what, err)
				}
				said = append(said, session.Act{Who: safety.Director, Name: "command line", What: v.what, Value: v.value})
			}
			if c.Flags().Changed("watch-keys") && keys && !t.WatchKeys() {
				return cli.Usage("--watch-keys: %s does not allow it; write watch_keys = true under [screens], or leave the flag out", filepath.Base(args[0]))
			}
			dir := filepath.Dir(args[0])
			if log == "" {
				log = filepath.Join(dir, "logs", logName(run, time.Now()))
			}
			p := pullOf{
				Head: session.Head{Mode: "live", Scale: 1, Trial: t, File: filepath.Base(args[0]), Run: run},
				Log:  log, Dir: dir, Clock: acquire.NewClock(), Headless: bare, Said: said, Look: look, Keys: keys && t.WatchKeys(),
			}
			if also != "" {
				if p.Copy, err = copyPath(also, log); err != nil {
					return cli.Exit(cli.ExitStart, "--also-to: %w", err)
				}
			}
			if !anew {
				u, err := goOn(c.ErrOrStderr(), t, run, foldersOf(log, filepath.Join(dir, "logs"), p.Copy)...)
				if err != nil {
					return cli.Exit(cli.ExitStart, "%w", err)
				}
				if u != nil {
					p.Head.After, p.before, p.unfinished = &u.Handover, u.Before, u.Path
				}
			}
			return p.run(c)
		},
	}
	f := c.Flags()
	f.StringVar(&runID, "run", "", "run of the trial file to capture")
	f.StringVar(&log, "log", "", "where the raw log goes (default: logs/RUN-TIME.log beside the trial file)")
	f.StringVar(&depth, "depth", "", `water depth now, with its unit ("6.0 m"); can also be said on the screen`)
	f.StringVar(&payout, "payout", "", `rode out now, with its unit ("60 m"): the zero of line hauled`)
	f.StringVar(&also, "also-to", "", "write a second, equal log into this folder too")
	f.BoolVar(&anew, "new", false, "begin the run anew, whatever unfinished log of it there is")
	f.BoolVar(&bare, "headless", false, "no screen: status lines on standard output")
	f.BoolVar(&keys, "watch-keys", true, "where the trial file has watch_keys = true: screens that watch ('hawse watch') may use the director's keys, not only STOP; =false takes it away")
	look.flags(c)
	return c
}

// pullOf is one capture as a command starts it: live or on the simulated deck.
type pullOf struct {
	Head     session.Head
	Log      string
	Copy     string // of the second log; "" none
	Dir      string
	Clock    acquire.Clock
	Headless bool
	Said     []session.Act
	// With, if not nil, runs beside the capture until its context ends: the
	// demo's crew. View, if not nil, is what the screen gets instead of the
	// capture itself.
	With       func(ctx context.Context, cap *session.Capture)
	View       func(cap *session.Capture) session.View
	before     *session.Before
	unfinished string // the log this one goes on from; "" none
	Unkept     bool   // the log goes with the demo's temporary folder
	Stay       bool   // the screen stays after the end, until a person leaves it
	Goes       bool   // it ends when its screen is lost
	Look       screenLook
	Keys       bool // watching screens may use the director's keys
}

func (p pullOf) run(c *cobra.Command) error {
	p.Head.Tool, p.Head.Build, p.Head.Started = cli.Tool, cli.Build(), time.Now()
	if err := os.MkdirAll(filepath.Dir(p.Log), 0o755); err != nil {
		return cli.Exit(cli.ExitStart, "cannot make the folder for the log: %w", err)
	}
	p.Headless = decideHeadless(p.Headless, c.ErrOrStderr())
	roomForBlockedCalls()
	ctx, cancel := context.WithCancel(c.Context())
	defer cancel()
	capture, err := session.Start(ctx, session.Config{Head: p.Head, LogPath: p.Log, Clock: p.Clock,
		Dial: acquire.OpenSerial, Dir: p.Dir, Log: logfmt.Options{}, CopyPath: p.Copy, Before: p.before, KeepDir: system.KeepDir(), Free: system.FreeSpace, Slept: session.Slept})
	if err != nil {
		return cli.Exit(cli.ExitStart, "capture not started: %w", err)
	}
	defer system.Lock(p.Log)()
	if p.unfinished != "" {
		session.ForgetKept(system.KeepDir(), p.unfinished)
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
	l := live{cap: capture, view: capture, headless: p.Headless, unkept: p.Unkept, stay: p.Stay, goes: p.Goes, name: loginName(), look: p.Look, log: p.Log, keys: p.Keys, out: c.OutOrStdout(), err: c.ErrOrStderr()}
	if p.View != nil {
		l.view = p.View(capture)
	}
	if !p.Headless && !p.Unkept {
		e := session.ReadEarlier(ctx, earlierLive(p.Head, p.Log, filepath.Join(p.Dir, "logs")))
		defer func() { cancel(); e.Wait() }()
		l.earlier = e.Now
	}
	return l.run(ctx)
}

// copyPath is where the second log goes. Its folder must be there: one that is
// made because a stick is not in would be on the first disk.
func copyPath(dir, log string) (string, error) {
	info, err := os.Stat(dir)
	switch {
	case err != nil:
		return "", fmt.Errorf("%w; put the disk in, or make the folder", err)
	case !info.IsDir():
		return "", fmt.Errorf("%s is no folder", dir)
	}
	first, err := os.Stat(filepath.Dir(log))
	if err == nil && os.SameFile(info, first) {
		return "", fmt.Errorf("%s is the folder of the log itself; name one on another disk", dir)
	}
	return filepath.Join(dir, filepath.Base(log)), nil
}

// foldersOf are where a log of the run may lie that was not ended: where the new
// one will be, beside the trial file, and where its copy goes.
func foldersOf(log, beside, copied string) []string {
	dirs := []string{filepath.Dir(log), beside}
	if copied != "" {
		dirs = append(dirs, filepath.Dir(copied))
	}
	return dirs
}

// goOn looks for an unfinished log of the run, says what is left of it, and
// returns that; nil if there is none.
func goOn(errOut io.Writer, t *trial.Trial, run trial.Run, dirs ...string) (*session.Unfinished, error) {
	path, err := session.FindUnfinished(dirs, run.ID, owned)
	if err != nil {
		return nil, fmt.Errorf("looking for an unfinished log of the run: %w; --new begins anew without", err)
	}
	if path == "" {
		return nil, nil
	}
	u, err := session.ReadUnfinished(path, t, system.KeepDir())
	if err != nil {
		return nil, fmt.Errorf("the unfinished log cannot be gone on from: %w; --new begins anew without", err)
	}
	text := "hawse: " + u.Text() + "\nhawse: going on from it in a new log (--new begins anew)\n"
	if len(u.Carries) > 0 {
		text += "hawse: taken over, to be confirmed before arming: " + strings.Join(itemsOf(u.Carries), ", ") + "\n"
	}
	tell(errOut, text)
	return u, nil
}

func itemsOf(carries []session.Carry) (items []string) {
	for _, k := range carries {
		items = append(items, visible(k.Item))
	}
	return items
}

// owned says whether a program still has a log: it answers calls, or holds the
// lock. The lock alone goes with a program that died.
func owned(log string) bool {
	conn, err := net.DialTimeout("unix", session.SocketPath(log), time.Second)
	if err == nil {
		conn.Close()
		return true
	}
	return errors.Is(err, fs.ErrPermission) || system.Locked(log)
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
