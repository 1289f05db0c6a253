package main

import (
	"fmt"
	"os"
	"os/signal"
	"syscall"

	"github.com/spf13/cobra"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/safety"
	"hawse/tui"
)

func newReplay() *cobra.Command {
	var speed float64
	var bare, check bool
	c := &cobra.Command{
		Use:   "replay LOG",
		Short: "Play a raw log in the same screen a live pull has",
		Long: `Fold a raw log again and show what the screen showed: the same states, alarms and
orders. What is judged now is held against what was said then; with the same
build any difference is a fault and is told.

With --check nothing is played: the log is folded as fast as it can be read.`,
		Example: `  hawse replay logs/A1-20260412T090211Z.log
  hawse replay --speed 20 logs/A1-20260412T090211Z.log
  hawse replay --check logs/A1-20260412T090211Z.log`,
		Args: exactly(1, "one log"),
		RunE: func(c *cobra.Command, args []string) error {
			if !(speed >= 0.1 && speed <= 10000) {
				return usageError{fmt.Errorf("--speed %v: from 0.1 to 10000 times real time", speed)}
			}
			if check {
				fold, damage, err := refoldFile(args[0])
				if err != nil {
					return err
				}
				for _, d := range damage {
					fmt.Fprintf(c.OutOrStdout(), "  %s\n", d)
				}
				return sayFold(c, fold)
			}
			return play(c, args[0], speed, decideHeadless(bare, c.ErrOrStderr()))
		},
	}
	c.Flags().Float64Var(&speed, "speed", 1, "times real time")
	c.Flags().BoolVar(&bare, "headless", false, "no screen: status lines on standard output")
	c.Flags().BoolVar(&check, "check", false, "do not play: fold the whole log and compare what was said")
	return c
}

func play(c *cobra.Command, path string, speed float64, bare bool) error {
	r, err := session.OpenReplay(path, build(), speed)
	if err != nil {
		return err
	}
	ctx, cancel := signal.NotifyContext(c.Context(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer cancel()
	played := make(chan error, 1)
	go func() { played <- r.Run(ctx) }()
	if bare {
		headless(r, c.OutOrStdout(), r.Done())
	} else {
		err := tui.Run(ctx, r, tui.Options{In: os.Stdin, Out: os.Stdout, Seat: safety.Watcher, Plain: os.Getenv("NO_COLOR") != ""})
		cancel()
		if err != nil {
			return err
		}
	}
	stopped := ctx.Err() != nil
	if err := <-played; err != nil {
		return err
	}
	if stopped {
		return nil
	}
	return sayFold(c, r.Fold())
}

// sayFold tells how a fold compares with what was said then.
func sayFold(c *cobra.Command, f *session.Fold) error {
	out := c.OutOrStdout()
	for i, d := range f.Diffs {
		if i == 20 {
			fmt.Fprintf(out, "... and %d more\n", len(f.Diffs)-i)
			break
		}
		fmt.Fprintln(out, acquire.Visible([]byte(d.String())))
	}
	if f.Unsaid > 0 {
		fmt.Fprintf(out, "%d words that the cut-short log had no time to hold\n", f.Unsaid)
	}
	if len(f.Diffs) > 0 {
		return exitWith(exitDiffers, "%d words differ between then and now", len(f.Diffs))
	}
	fmt.Fprintf(out, "%d records folded, %d words: all as said then\n", f.Records, f.Says)
	return nil
}
