package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"time"

	"github.com/mattn/go-isatty"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/cmd/hawse/system"
	"hawse/safety"
	"hawse/tui"
)

// live runs a capture to its end: with a screen, or headless. Losing the screen
// does not end it.
type live struct {
	cap      *session.Capture
	headless bool
	unkept   bool         // the log is in a temporary folder
	stay     bool         // the screen stays after the end
	goes     bool         // it ends when its screen is lost: a demo nobody can see guards nothing
	view     session.View // what the screen works from
	name     string       // who acts at this screen
	look     screenLook
	log      string // beside which watching screens are served; "" none are
	keys     bool   // they may use the director's keys
	earlier  func() *session.EarlierPulls
	out, err io.Writer
}

// run returns when the log is sealed and, with a screen, the person has left
// it. The error carries the exit code.
func (l *live) run(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	screenCtx, closeScreen := context.WithCancel(ctx)
	defer closeScreen()
	signals := make(chan os.Signal, 8)
	signal.Notify(signals, syscall.SIGTERM, syscall.SIGINT, syscall.SIGHUP)
	defer signal.Stop(signals)
	system.IgnorePipeAndStops()
	go func() {
		for {
			select {
			case s := <-signals:
				if s == syscall.SIGHUP {
					// A screen's terminal went away; without a screen a hang-up
					// means nothing to a capture.
					closeScreen()
					continue
				}
				l.cap.Do(session.Act{Who: safety.Program, Name: s.String(), What: session.ActTerminate, Value: "ended by the system (" + s.String() + ")"})
				go func() { // if that ended it, nobody is asked to leave the screen
					select {
					case <-l.cap.Done():
						closeScreen()
					case <-ctx.Done():
					}
				}()
			case <-ctx.Done():
				return
			}
		}
	}()
	watched := make(chan struct{})
	go func() {
		defer close(watched)
		if l.log == "" {
			return
		}
		if err := session.ServeWatch(ctx, l.view, l.log, l.keys); err != nil {
			l.cap.Do(session.Act{Who: safety.Program, Name: "hawse", What: session.ActNote, Value: "no screen can watch: " + err.Error()})
		}
	}()
	defer func() { cancel(); <-watched }()
	if !l.headless {
		l.headless = !l.screen(ctx, screenCtx)
		if l.headless && l.goes {
			l.endWithScreen()
		}
	}
	if l.headless {
		headless(l.cap, l.out, l.cap.Done())
	}
	<-l.cap.Done()
	return l.verdict()
}

// screen shows the screen until a person leaves it after the end, and returns
// true; or until it is lost, which is told to the guard at once, and returns
// false: the capture goes on without.
func (l *live) screen(ctx, screenCtx context.Context) (ended bool) {
	lost := make(chan string, 2)
	gone := func(reason string) {
		l.cap.ScreenState(false, reason)
		lost <- reason
	}
	l.cap.ScreenState(true, "")
	err := tui.Run(screenCtx, l.view, l.look.onto(tui.Options{In: os.Stdin, Out: os.Stdout, Seat: safety.Director, Name: l.name,
		Stay: l.stay, Lost: gone, Earlier: l.earlier}, l.cap.Snapshot().Trial))
	select {
	case <-l.cap.Done():
		return true
	default:
	}
	if len(lost) == 0 {
		switch {
		case screenCtx.Err() != nil && ctx.Err() == nil:
			gone("the terminal hung up")
		case err != nil:
			gone(err.Error())
		default:
			gone("the screen was left")
		}
	}
	rest := "capture and guard go on without it, 'hawse call' speaks to them"
	if l.goes {
		rest = "the demo ends"
	}
	tell(l.err, fmt.Sprintf("hawse: screen lost (%s): a stop if it was armed; %s\n", <-lost, rest))
	return false
}

// endWithScreen ends a demo whose terminal is gone, once that stands in its
// record. Under load the first order to end is a stop, the second ends.
func (l *live) endWithScreen() {
	told := func() bool {
		return slices.ContainsFunc(l.cap.Snapshot().News, func(n session.News) bool { return strings.HasPrefix(n.Text, session.SrcScreen+" "+acquire.StateLost) })
	}
	for range 200 {
		if told() {
			break
		}
		time.Sleep(10 * time.Millisecond)
	}
	for range 2 {
		l.cap.Do(session.Act{Who: safety.Program, Name: "hawse", What: session.ActTerminate, Value: "the demo's terminal is gone"})
	}
}

// verdict turns how the capture ended into the program's error.
func (l *live) verdict() error {
	s := l.cap.Snapshot()
	if k := s.Log.Copy; k.Path != "" {
		switch {
		case k.Sealed && k.Lost == 0 && k.Fault == "":
			tell(l.err, fmt.Sprintf("hawse: second log %s: whole\n", k.Path))
		default:
			tell(l.err, fmt.Sprintf("hawse: second log %s: NOT whole: %d lost, %s\n", k.Path, k.Lost, k.Fault))
		}
	}
	if err := l.cap.Err(); err != nil {
		if !s.Log.Sealed {
			return cli.Exit(cli.ExitRecord, "the record is not whole: %w", err)
		}
		return err
	}
	kept := "log " + s.Log.Path
	if l.unkept {
		kept = "log not kept (--log keeps it)"
	}
	tell(l.err, fmt.Sprintf("hawse: %s: %d records, %s\n", kept, s.N, s.EndReason))
	switch {
	case !s.Log.Sealed || s.Log.Lost > 0 || s.Log.Fault != "":
		return cli.Exit(cli.ExitRecord, "the record is not whole: %d lost, %s", s.Log.Lost, s.Log.Fault)
	case !l.unkept:
		tell(l.err, fmt.Sprintf("hawse: next: hawse verify %s; likewise results, replay\n", s.Log.Path))
	}
	if s.Guard.Stop.Kind == safety.Trip {
		return cli.Exit(cli.ExitTripped, "ended with a trip in force: %s", s.Guard.Stop.Cause.Title())
	}
	return nil
}

// hasScreen says whether a screen can be drawn on standard output; if not, why.
func hasScreen() (bool, string) {
	if !isatty.IsTerminal(os.Stdout.Fd()) {
		return false, "standard output is not a terminal"
	}
	if t := os.Getenv("TERM"); t == "dumb" || t == "" && runtime.GOOS != "windows" {
		return false, fmt.Sprintf("the terminal (TERM=%s) cannot place text", t)
	}
	if !isatty.IsTerminal(os.Stdin.Fd()) {
		return false, "standard input is not a terminal"
	}
	return true, ""
}

// decideHeadless goes headless by itself where no screen can be drawn, and says
// so.
func decideHeadless(asked bool, errOut io.Writer) bool {
	if asked {
		return true
	}
	ok, why := hasScreen()
	if !ok {
		fmt.Fprintf(errOut, "hawse: no screen: %s; running headless\n", why)
	}
	return !ok
}
