package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/safety"
	"hawse/tui"
)

func newReplay() *cobra.Command {
	var speed float64
	var bare, check, alone bool
	var who, name string
	var look screenLook
	c := &cobra.Command{
		Use:   "replay LOG...",
		Short: "Play a raw log in the same screen a live pull has",
		Long: `Fold a raw log again and show what the screen showed: the same states, alarms and
orders. What is judged now is held against what was said then; with the same
build any difference is a fault and is told.

A pull that broke off and went on in another log is taken as one: name its parts
in order, or any one of them, and those beside it are found by the chain in their
heads. Time, trace, peak and line hauled then go on from part to part, and the
trace shows the gap between. --part takes only the log that is named.

EARLIER PULLS. Those that lie in the log's folder and were started before it are
read meanwhile: w draws beneath the trace the last pull of the same anchor, then
the others of the same block, then none, by line hauled, in thin dots with anchor,
lane and peak beside them. What is damaged, foreign or has no end is said and left
out. c lays the pull beside the earlier one.

TWO PULLS. Two logs that do not go on from each other, 'hawse replay A B', are laid
side by side on the same scales, one under the other where the screen is narrower
than 120 columns, and played together along line hauled, time or the travel of the
anchor (t). Both must be finished and whole; of one that is not 'hawse results A B'
tells what there is.

REMARKS. r says something of the moment that is shown: a remark, a doubt, a known
weight, a correction. It is an addendum beside the log, as 'hawse addendum' writes
it, with record, time and line hauled, by --who and --name; the log itself is never
changed. What cannot be written is kept on the screen and printed at the end.

With --check nothing is played: the log is folded as fast as it can be read.`,
		Example: `  hawse replay logs/A1-20260412T090211Z.log
  hawse replay --speed 20 logs/A1-20260412T090211Z.log
  hawse replay logs/A1-20260412T090211Z.log logs/A2-20260412T133000Z.log
  hawse replay --check logs/A1-20260412T090211Z.log`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return cli.Usage("%s wants a log, or the parts of one pull; see '%s --help'", c.CommandPath(), c.CommandPath())
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			if !(speed >= 0.1 && speed <= 10000) {
				return cli.Usage("--speed %v: from 0.1 to 10000 times real time", speed)
			}
			if !slices.Contains(addendumSeats, who) {
				return cli.Usage("--who %s: no seat; say %s", strconv.QuoteToASCII(who), strings.Join(addendumSeats, ", "))
			}
			if name == "" {
				name = loginName()
			}
			if len(args) == 2 && !check && !bare && !alone {
				if a, b, two := twoPulls(args); two {
					return sideBySide(c, a, b, speed, look)
				}
			}
			parts, err := partsOf(args, alone)
			if err != nil {
				return err
			}
			if check {
				return checkParts(c, parts)
			}
			as := session.Author{Who: who, Name: name, Tool: cli.Tool, Build: cli.Build(), Refuse: beingWritten}
			return play(c, parts, speed, decideHeadless(bare, c.ErrOrStderr()), as, look)
		},
	}
	c.Flags().Float64Var(&speed, "speed", 1, "times real time")
	c.Flags().BoolVar(&bare, "headless", false, "no screen: status lines on standard output")
	c.Flags().BoolVar(&check, "check", false, "do not play: fold the whole log and compare what was said")
	c.Flags().BoolVar(&alone, "part", false, "only the log that is named, not the pull it is a part of")
	c.Flags().StringVar(&who, "who", safety.Logger.String(), "the seat that says what is said afterwards")
	c.Flags().StringVar(&name, "name", "", "the person who says it (default: the login)")
	look.flags(c)
	return c
}

// partsOf are the logs that make up the pull. A log whose opening cannot be
// read is left to whoever folds it to tell of.
func partsOf(args []string, alone bool) ([]session.Part, error) {
	switch {
	case len(args) > 1:
		return session.ChainOf(args)
	case alone:
		return []session.Part{{Opening: session.Opening{Path: args[0]}}}, nil
	}
	parts, err := session.Chain(args[0])
	if err != nil {
		return []session.Part{{Opening: session.Opening{Path: args[0]}}}, nil
	}
	return parts, nil
}

// checkParts folds all parts of a pull without waiting.
func checkParts(c *cobra.Command, parts []session.Part) error {
	folds, damage, err := session.RefoldParts(parts, cli.Build())
	out := c.OutOrStdout()
	for i := range folds {
		if len(parts) > 1 {
			fmt.Fprintf(out, "part %d of %d: %s\n", i+1, len(parts), visible(parts[i].Path))
		}
		sayFault(out, parts[i])
		for _, d := range damage[i] {
			fmt.Fprintf(out, "  %s\n", d)
		}
	}
	if err != nil {
		return err
	}
	return sayFold(c, folds...)
}

func sayFault(out io.Writer, p session.Part) {
	if p.Fault != "" {
		fmt.Fprintf(out, "  the chain is broken here: %s\n", visible(p.Fault))
	}
}

func play(c *cobra.Command, parts []session.Part, speed float64, bare bool, as session.Author, look screenLook) error {
	if len(parts) > 1 {
		fmt.Fprintf(c.ErrOrStderr(), "hawse: the pull has %d parts; they are played as one\n", len(parts))
		for _, p := range parts {
			sayFault(c.ErrOrStderr(), p)
		}
	}
	r, err := session.OpenReplayParts(parts, cli.Build(), speed)
	if err != nil {
		return err
	}
	ctx, cancel := cli.Interruptible(c)
	defer cancel()
	o := tui.Options{In: os.Stdin, Out: os.Stdout, Seat: safety.Watcher}
	if !bare {
		r.Linger()
		r.CommentAs(as)
		e := session.ReadEarlier(ctx, earlierOf(r.Snapshot().Trial, r.Snapshot().Run, parts))
		defer func() { cancel(); e.Wait() }()
		o.Earlier = e.Now
	}
	played := make(chan error, 1)
	go func() { played <- r.Run(ctx) }()
	if bare {
		headless(r, c.OutOrStdout(), r.Done())
	} else {
		err := tui.Run(ctx, r, look.onto(o, nil))
		cancel()
		if err = errors.Join(err, saidAndKept(c.ErrOrStderr(), r)); err != nil {
			<-played
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
	return sayFold(c, r.Folds()...)
}

// sayFold tells how the folds of a pull's parts compare with what was said then.
func sayFold(c *cobra.Command, folds ...*session.Fold) error {
	out := c.OutOrStdout()
	var records, says uint64
	unsaid, differ := 0, 0
	for _, f := range folds {
		records, says, unsaid = records+f.Records, says+f.Says, unsaid+f.Unsaid
		for _, d := range f.Diffs {
			if differ++; differ <= 20 {
				fmt.Fprintln(out, visible(d.String()))
			}
		}
	}
	if differ > 20 {
		fmt.Fprintf(out, "... and %d more\n", differ-20)
	}
	if unsaid > 0 {
		fmt.Fprintf(out, "%d words that the cut-short log had no time to hold\n", unsaid)
	}
	if differ > 0 {
		return cli.Exit(cli.ExitDiffers, "%d words differ between then and now", differ)
	}
	fmt.Fprintf(out, "%d records folded, %d words: all as said then\n", records, says)
	return nil
}
