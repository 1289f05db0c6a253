// Package bench is `hawse bench`: it measures whole programs on this machine.
//
// A measurement makes a [report] of tables; [command] gives it its flags, prints
// the report and makes what must not be into the exit code. Most of them capture
// from a [deckRig], instruments and a relay on pseudo-terminals, with this very
// program as a process of its own ([capture], runSelf); flood, versus, idle and
// long number every line they send, and a [scorer] says what became of each.
package bench

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hawse/cmd/hawse/cli"
)

// options are the flags of a sub-command; each uses some of them.
type options struct {
	sharedFlags
	rate   int           // lines a second on each instrument's port
	lasts  time.Duration // of sending
	screen string
	size   string // of the screen, columns by rows
	rounds int
	cycles int
	times  int // kills, or pulls
	hours  float64
	scale  float64
	seed   uint64

	progress func(format string, args ...any) // for people who wait
}

// sharedFlags are the flags that all sub-commands have.
type sharedFlags struct {
	dir  string // where the temporary folder is made; "": the system's
	keep bool   // leave that folder
	json bool
}

// The screens a measured capture can have.
const (
	screenNone    = "none"
	screenRead    = "read"
	screenBlocked = "blocked"
)

// measurement measures one figure. It leaves nothing behind, whatever its error.
type measurement func(ctx context.Context, o options) (*report, error)

// Command is `hawse bench`, with a sub-command for each figure.
func Command() *cobra.Command {
	shared := &sharedFlags{}
	c := &cobra.Command{
		Use:   "bench",
		Short: "Measure on this machine the figures the README quotes",
		Long: `Measure whole programs on this machine: instruments on pseudo-terminals on one
side, this very program as a process of its own on the other. What was sent is
known line by line, so what is missing is known too.

Each figure is one command. Leave the machine alone meanwhile: the numbers are
of everything that runs on it. All data is invented. Nothing is left behind
unless --keep says so.

Exit codes: 0 measured, and nothing lost; 1 something was lost, altered,
reordered or a stop was missed, or it could not be measured; 2 wrong command
line.`,
		Example: `  hawse bench flood --rate 5000 --screen blocked
  hawse bench versus
  hawse bench stop --screen read
  hawse bench idle
  hawse bench long
  hawse bench pulls
  hawse bench records
  hawse bench results
  hawse bench report
  hawse bench kill
  hawse bench decoders
  hawse bench flood --rate 1000 --for 5s --json`,
		Args: cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return cli.Usage("no figure named %q: flood, versus, stop, idle, long, pulls, records, results, report, kill or decoders; see '%s --help'", args[0], c.CommandPath())
			}
			return c.Help()
		},
	}
	f := c.PersistentFlags()
	f.BoolVar(&shared.json, "json", false, "the figures in JSON (SI units, unit in each key)")
	f.BoolVar(&shared.keep, "keep", false, "keep the folder with trial file, log and what was sent, and say where it is")
	f.StringVar(&shared.dir, "dir", "", "make the temporary folder here, to measure another disk (default: the system's temporary folder)")
	c.AddCommand(newFlood(shared), newVersus(shared), newStop(shared), newIdle(shared), newLong(shared), newPulls(shared), newRecords(shared), newResults(shared), newReport(shared), newKill(shared), newDecoders(shared))
	return c
}

func newFlood(shared *sharedFlags) *cobra.Command {
	o := &options{}
	c := command(shared, o, measureFlood, func() error {
		return firstError(checkRate(o, 20_000), checkFor(o), checkScreen(o, screenNone, screenRead, screenBlocked))
	})
	c.Use, c.Short = "flood", "Two ports at a high rate: is a line lost, altered or out of order?"
	c.Long = `Send numbered lines on two ports at once, at a fixed rate, to a capture that is in
the middle of a pull, and compare its raw log with what was sent, byte by byte.

--screen read     the capture's screen runs in a terminal of 160x50 that is read
--screen blocked  the same, but nobody reads that terminal for 30 s in the middle
                  (half of the time, if the whole is under a minute)`
	c.Example = "  hawse bench flood\n  hawse bench flood --rate 5000 --screen read\n  hawse bench flood --rate 5000 --screen blocked"
	c.Flags().IntVar(&o.rate, "rate", 1000, "lines a second on each of the two ports")
	c.Flags().DurationVar(&o.lasts, "for", time.Minute, "how long to send")
	c.Flags().StringVar(&o.screen, "screen", screenNone, "none, read or blocked")
	return c
}

func newVersus(shared *sharedFlags) *cobra.Command {
	o := &options{}
	c := command(shared, o, measureVersus, func() error {
		if o.rounds < 1 || o.rounds > 100 {
			return fmt.Errorf("--rounds %d: from 1 to 100", o.rounds)
		}
		return firstError(checkRate(o, 20_000), checkFor(o))
	})
	c.Use, c.Short = "versus", "Against a bare `cat PORT | ts >> FILE` a port: CPU, and time from sent to in the log"
	c.Long = `Send the same numbered lines to a headless capture and to a bare pair of
    cat PORT | ts '%.s' >> FILE
in turn, in one run. For both, this program looks into the growing file every
half millisecond and notes when each number is there to be read: a figure is
therefore up to 0.5 ms too long, the same for both. CPU is that of the whole
processes from start to end.

ts comes with the package moreutils.`
	c.Example = "  hawse bench versus\n  hawse bench versus --rate 100 --for 20s --rounds 5"
	c.Flags().IntVar(&o.rate, "rate", 1000, "lines a second on each of the two ports")
	c.Flags().DurationVar(&o.lasts, "for", time.Minute, "how long to send in a round")
	c.Flags().IntVar(&o.rounds, "rounds", 3, "rounds; who begins changes with each")
	return c
}

func newStop(shared *sharedFlags) *cobra.Command {
	o := &options{}
	c := command(shared, o, measureStop, func() error {
		if o.cycles < 1 || o.cycles > 20_000 {
			return fmt.Errorf("--cycles %d: from 1 to 20000", o.cycles)
		}
		return firstError(checkRate(o, 5000), checkScreen(o, screenNone, screenRead))
	})
	c.Use, c.Short = "stop", "From an over-range line to the stop output, many times over"
	c.Long = `A capture is in a pull with haul permitted; the load cell says over range in
place of one of its lines; the time is taken until OPEN stands on the stop
output. Then the load is good again, the stop is acknowledged and re-armed, and
so on. Each time is taken twice: seen from outside, from the write of the line
to the read of OPEN; and from the capture's own log, from the Read that brought
the line to the end of the Write of OPEN.`
	c.Example = "  hawse bench stop\n  hawse bench stop --screen read --cycles 1000"
	c.Flags().IntVar(&o.rate, "rate", 100, "lines a second on each of the two instruments' ports")
	c.Flags().IntVar(&o.cycles, "cycles", 300, "how many stops")
	c.Flags().StringVar(&o.screen, "screen", screenNone, "none or read")
	return c
}

func newIdle(shared *sharedFlags) *cobra.Command {
	o := &options{}
	c := command(shared, o, measureIdle, func() error {
		if _, err := readScreenSize(o.size); err != nil {
			return err
		}
		return firstError(checkRate(o, 5000), checkFor(o))
	})
	c.Use, c.Short = "idle", "An ordinary pull with its screen: CPU, memory, bytes to the terminal"
	c.Long = `A capture in a pull, its screen in a terminal that is read. CPU is that of the
whole process from start to end.`
	c.Example = "  hawse bench idle --for 10m\n  hawse bench idle --rate 100 --size 250x70"
	c.Flags().IntVar(&o.rate, "rate", 10, "lines a second from each instrument")
	c.Flags().StringVar(&o.size, "size", "160x50", "columns and rows of the screen")
	c.Flags().DurationVar(&o.lasts, "for", time.Minute, "how long")
	return c
}

func newKill(shared *sharedFlags) *cobra.Command {
	o := &options{}
	c := command(shared, o, measureKill, func() error {
		if o.times < 1 || o.times > 100_000 {
			return fmt.Errorf("--times %d: from 1 to 100000", o.times)
		}
		return checkRate(o, 5000)
	})
	c.Use, c.Short = "kill", "SIGKILL at random moments: is a byte lost that had been read?"
	c.Long = `A capture is started, and killed at a random moment while both instruments send.
What was sent is known byte by byte, with its time; what is still in the terminal
was not read; the rest must be in the log, or in the memory that is kept beside it
and goes into the head of the log that goes on.`
	c.Example = "  hawse bench kill\n  hawse bench kill --times 20 --rate 1000"
	c.Flags().IntVar(&o.times, "times", 1000, "how many kills")
	c.Flags().IntVar(&o.rate, "rate", 100, "lines a second on each of the two ports")
	c.Flags().Uint64Var(&o.seed, "seed", 1, "of the moments")
	return c
}

func newDecoders(shared *sharedFlags) *cobra.Command {
	o := &options{}
	c := command(shared, o, measureDecoders, func() error {
		switch {
		case o.lasts < 2*time.Second || o.lasts > time.Hour:
			return fmt.Errorf("--for %v: from 2s to 1h", o.lasts)
		case o.cycles < 2 || o.cycles > 10_000:
			return fmt.Errorf("--cycles %d: from 2 to 10000", o.cycles)
		}
		return nil
	})
	c.Use, c.Short = "decoders", "Every kind of box at its rates: frames lost, CPU; and the time to open a port that is back"
	c.Long = `A simulated deck with each kind of box in turn, at 10, 50 and 100 frames a second of
each instrument where the wire can carry them, and this very program capturing from
it as a process of its own. What was sent is held against the raw log message by
message, and the log is decoded. CPU is that of the whole process from start to end.

Then the load cell's port is unplugged and comes back again and again, under its own
name and under another: the time is from the port being there to its first line
handed to a capture that has it open, by the deck's clock.`
	c.Example = "  hawse bench decoders\n  hawse bench decoders --for 2s --cycles 10"
	c.Flags().DurationVar(&o.lasts, "for", 10*time.Second, "how long for each kind and rate")
	c.Flags().IntVar(&o.cycles, "cycles", 100, "how often the plug is pulled, under each name")
	return c
}

func newLong(shared *sharedFlags) *cobra.Command {
	o := &options{}
	c := command(shared, o, measureLong, func() error {
		switch {
		case !(o.hours >= 0.02 && o.hours <= 100):
			return fmt.Errorf("--hours %v: from 0.02 to 100", o.hours)
		case !(o.scale >= 1 && o.scale <= 1000):
			return fmt.Errorf("--scale %v: from 1 to 1000", o.scale)
		}
		return checkRate(o, 1000)
	})
	c.Use, c.Short = "long", "Many hours, accelerated: does memory or the cost of a frame grow?"
	c.Long = `A capture inside this process, on a clock that runs many times faster, with
instruments that speak by that clock and wait for a capture that falls behind.
Memory, and the cost of what a screen asks for, after one simulated minute, one
hour and at the end. The guard judges every line but is not armed: its times are
those of a real deck.

Ten hours at 100 lines a second from each instrument make a log of about 1.2 GB;
if there is no room for it, that is said before anything is written.`
	c.Example = "  hawse bench long\n  hawse bench long --hours 1\n  hawse bench long --dir /srv/big"
	c.Flags().Float64Var(&o.hours, "hours", 10, "simulated hours")
	c.Flags().IntVar(&o.rate, "rate", 100, "lines a second from each of the two instruments")
	c.Flags().Float64Var(&o.scale, "scale", 250, "times real time; a slower machine takes longer")
	return c
}

// command is what the sub-commands have in common: flags checked, signals
// heeded, the report printed, faults made into the exit code.
func command(shared *sharedFlags, o *options, measure measurement, check func() error) *cobra.Command {
	return &cobra.Command{
		Args: cli.Exactly(0, "nothing else"),
		RunE: func(c *cobra.Command, _ []string) error {
			if err := check(); err != nil {
				return cli.Usage("%w", err)
			}
			ctx, cancel := cli.Interruptible(c)
			defer cancel()
			o.sharedFlags = *shared
			o.progress = func(format string, args ...any) {
				fmt.Fprintf(c.ErrOrStderr(), "hawse bench: "+format+"\n", args...)
			}
			on := thisMachine() // before: its load counts
			r, err := measure(ctx, *o)
			if ctx.Err() != nil {
				return cli.Exit(cli.ExitFailed, "stopped before the end: no figures")
			}
			if err != nil {
				return cli.Exit(cli.ExitFailed, "bench %s: %w", c.Name(), err)
			}
			r.name, r.machine = c.Name(), on
			if o.json {
				err = r.writeJSON(c.OutOrStdout())
			} else {
				err = r.writeText(c.OutOrStdout())
			}
			if err != nil {
				return err
			}
			return r.verdict()
		},
	}
}

func firstError(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// screenSize is the columns and rows of a terminal.
type screenSize struct{ cols, rows uint16 }

// readScreenSize reads a size as a person writes it, as in 160x50.
func readScreenSize(text string) (s screenSize, err error) {
	cols, rows, ok := strings.Cut(text, "x")
	c, err1 := strconv.Atoi(cols)
	r, err2 := strconv.Atoi(rows)
	if !ok || err1 != nil || err2 != nil || c < 40 || c > 300 || r < 12 || r > 100 {
		return s, fmt.Errorf("--size %q: columns by rows, from 40x12 to 300x100, as in 160x50", text)
	}
	return screenSize{uint16(c), uint16(r)}, nil
}

func checkRate(o *options, most int) error {
	if o.rate < 1 || o.rate > most {
		return fmt.Errorf("--rate %d: from 1 to %d lines a second", o.rate, most)
	}
	return nil
}

// mostLines keeps what was sent in memory and in eight digits.
const mostLines = 20_000_000

func checkFor(o *options) error {
	if o.lasts < time.Second || o.lasts > 24*time.Hour {
		return fmt.Errorf("--for %v: from 1s to 24h", o.lasts)
	}
	if lines := float64(o.rate) * o.lasts.Seconds(); lines > mostLines {
		return fmt.Errorf("--rate %d --for %v: %.0f lines a port, at most %d; send for a shorter time", o.rate, o.lasts, lines, mostLines)
	}
	return nil
}

func checkScreen(o *options, known ...string) error {
	for _, k := range known {
		if o.screen == k {
			return nil
		}
	}
	return fmt.Errorf("--screen %q: one of %v", o.screen, known)
}
