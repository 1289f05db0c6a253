package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/safety"
	"hawse/trial"
	"hawse/tui"
)

// screenLook is how a screen is shown first, as the flags say. The zero value is
// everything together, in the light that the environment tells.
type screenLook struct {
	view  tui.Stand
	light tui.Light
	lit   bool // light was named
	ascii bool

	notify   string // how the terminal is asked for a notice on the desktop; "" not
	notified bool   // notify was named
}

// flags adds the flags of a screen to a command.
func (l *screenLook) flags(c *cobra.Command) {
	c.Flags().Var(viewFlag{&l.view}, "view", "what the screen shows first: all, operator, director, logger, figures")
	c.Flags().Var(lightFlag{l}, "light", "what it is read in: day, night, plain (no colour), own (the terminal's own ground)")
	c.Flags().Var(notifyFlag{l}, "notify", "a notice on the desktop when a stop or an emergency comes: osc9, osc777 or off (default: as the trial file says, else off)")
	c.Flags().BoolVar(&l.ascii, "ascii", false, "draw with the characters of ASCII alone")
}

// onto gives a screen its look; t, if not nil, says what the flags leave unsaid.
func (l screenLook) onto(o tui.Options, t *trial.Trial) tui.Options {
	o.Stand, o.Light, o.Notify = l.view, l.light, l.notify
	if !l.notified && t != nil {
		o.Notify = t.Notify()
	}
	if !l.lit {
		o.Light = tui.DefaultLight(os.Getenv)
	}
	o.Plain = os.Getenv("NO_COLOR") != ""
	o.ASCII = l.ascii || tui.NeedsASCII(os.Getenv)
	return o
}

type viewFlag struct{ v *tui.Stand }

func (f viewFlag) String() string {
	if f.v == nil {
		return tui.StandAll.String()
	}
	return f.v.String()
}

func (viewFlag) Type() string { return "view" }

func (f viewFlag) Set(s string) (err error) {
	*f.v, err = tui.ParseStand(s)
	return err
}

type lightFlag struct{ l *screenLook }

func (f lightFlag) String() string {
	if f.l == nil || !f.l.lit {
		return ""
	}
	return f.l.light.String()
}

func (lightFlag) Type() string { return "light" }

func (f lightFlag) Set(s string) (err error) {
	f.l.light, err = tui.ParseLight(s)
	f.l.lit = err == nil
	return err
}

type notifyFlag struct{ l *screenLook }

func (f notifyFlag) String() string {
	if f.l == nil || !f.l.notified {
		return ""
	}
	if f.l.notify == "" {
		return trial.NotifyOff
	}
	return f.l.notify
}

func (notifyFlag) Type() string { return "how" }

func (f notifyFlag) Set(s string) error {
	way, ok := trial.ParseNotify(strings.ToLower(s))
	if !ok {
		return fmt.Errorf("%q is no way to ask for a notice: osc9, osc777, off", s)
	}
	f.l.notify, f.l.notified = way, true
	return nil
}

func newWatch() *cobra.Command {
	var log string
	var look screenLook
	c := &cobra.Command{
		Use:   "watch",
		Short: "A second screen for a running capture: it can call STOP, and nothing else",
		Long: `Show a capture that runs in another program, in any of the views: one terminal for
the winch operator, one for the director, one for the logger. The screen reads
from a Unix socket beside the log; the file permissions of that socket decide who
may, which is the user who runs the capture.

It can always call STOP (space), and nothing else, unless the trial file has
watch_keys = true under [screens], and the capture was not started with
--watch-keys=false: then it takes the director's keys, but cannot end the log. A
screen that has heard nothing for half a second blanks the tension and says so,
with the age; when the capture ends it says that. A screen that is slow, stopped
or closed does not hold up the capture. Leaving it (q) ends nothing.

` + cautions + "\n\n" + cli.ExitHelp,
		Example: `  hawse watch --view operator
  hawse watch --view logger --light day
  hawse watch --log my-trial/logs/A1-20260412T090211Z.log`,
		Args: cli.Exactly(0, "no words beside its flags"),
		RunE: func(c *cobra.Command, args []string) error {
			if log == "" {
				found, err := theOneRunning()
				if err != nil {
					return err
				}
				log = found
			}
			return watch(c, log, look)
		},
	}
	c.Flags().StringVar(&log, "log", "", "log of the capture to watch (default: the one that is running)")
	look.flags(c)
	return c
}

func watch(c *cobra.Command, log string, look screenLook) error {
	if ok, why := hasScreen(); !ok {
		return cli.Exit(cli.ExitStart, "nothing to watch on: %s; 'hawse call status' tells how a capture stands", why)
	}
	w, err := session.Watch(log)
	if err != nil {
		return cli.Exit(cli.ExitStart, "%w", err)
	}
	ctx, cancel := cli.Interruptible(c)
	watched := make(chan struct{})
	go func() { defer close(watched); w.Run(ctx) }()
	defer func() { cancel(); <-watched }()
	seat := safety.Watcher
	if w.Keys() {
		seat = safety.Director
	}
	s := w.Snapshot()
	e := session.ReadEarlier(ctx, earlierLive(session.Head{Trial: s.Trial, Run: s.Run}, log, filepath.Dir(log)))
	defer func() { cancel(); e.Wait() }()
	err = tui.Run(ctx, w, look.onto(tui.Options{In: os.Stdin, Out: os.Stdout, Seat: seat, Name: loginName(), Watch: true, Stay: true, Earlier: e.Now}, s.Trial))
	if s := w.Snapshot(); s.Ended {
		fmt.Fprintf(c.ErrOrStderr(), "hawse: the capture has ended: %s\n", s.EndReason)
	}
	if ctx.Err() != nil {
		return nil
	}
	return err
}
