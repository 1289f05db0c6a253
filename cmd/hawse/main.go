// Hawse captures, live, the pull of a drag anchor across the seabed, guards the
// stop limits, and leaves a raw record that anyone can reanalyse.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"
)

// version is the program's version as the log's head and --version say it.
const version = "0.1.0"

// Exit codes. They are part of what scripts rely on.
const (
	exitDone    = 0 // ended as asked, the log sealed; for verify: the log is whole
	exitFailed  = 1 // something failed; the message says what
	exitUsage   = 2 // the command line is wrong
	exitTrial   = 3 // the trial file was refused
	exitStart   = 4 // the capture could not start: log exists, folder not writable
	exitTripped = 5 // the log ended with a trip still in force
	exitRecord  = 6 // the record is not whole: damaged, cut short, or records were lost
	exitDiffers = 7 // a replay judges otherwise than was said then
)

// exitError carries an exit code with its message.
type exitError struct {
	code int
	err  error
}

func (e *exitError) Error() string { return e.err.Error() }
func (e *exitError) Unwrap() error { return e.err }

func exitWith(code int, format string, args ...any) error {
	return &exitError{code, fmt.Errorf(format, args...)}
}

// Cautions stand in the help of every command that works on a live pull.
const cautions = `CAUTION. Hawse is an aid to watching a pull. It is not a safety function and
does not make the pull safe. The winch's own limiter and emergency stop come
first, work without this program, and are tested before each day. A stopped
winch is not a slack rode. Unknown tension is treated as loaded. Limits are the
crew's, from the certificates of the gear in use. Local law, the vessel's rules
and the licensed person in charge govern.`

const exitHelp = `Exit codes: 0 done, 1 failed, 2 wrong command line, 3 trial file refused,
4 could not start, 5 ended with a trip in force, 6 record not whole,
7 replay judges otherwise than was said then.`

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "hawse",
		Short: "Capture and guard the pull of a drag anchor, and keep the raw record",
		Long: `Hawse captures, live, the pull of a drag anchor across the seabed: tension from
a load cell and line hauled from an encoder, on serial ports. It guards the stop
limits and leaves a raw log that anyone can reanalyse.

Start with a pull on the simulated deck:   hawse demo
Make a trial folder of your own:           hawse new my-trial

` + cautions + "\n\n" + exitHelp,
		Version:       version + " (build " + build() + ")",
		SilenceUsage:  true,
		SilenceErrors: true,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usageError{fmt.Errorf("unknown command %q; 'hawse --help' lists them", args[0])}
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { firstSteps(c.OutOrStdout(), "."); return nil },
	}
	root.SetVersionTemplate("hawse {{.Version}}\n")
	root.AddCommand(newDemo(), newPull(), newDeck(), newReplay(), newResults(), newReport(), newVerify(), newSalvage(), newExport(), newCat(), newLimits(), newRode(), newPorts(), newCall(), newWatch(), newNew(), newAddendum(), newSign(), newPlan(), newCalibrate(), newListen(), newCheck(), newBench())
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return exitWith(exitUsage, "%w; see '%s --help'", err, c.CommandPath())
	})
	return root
}

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

// run is main without the exit, for tests.
func run(args []string, out, errOut io.Writer) int {
	root := newRoot()
	root.SetArgs(args)
	root.SetOut(out)
	root.SetErr(errOut)
	err := root.ExecuteContext(context.Background())
	if err == nil {
		return exitDone
	}
	var coded *exitError
	code := exitFailed
	if errors.As(err, &coded) {
		code = coded.code
	} else if isUsage(err) {
		code = exitUsage
	}
	if msg := err.Error(); msg != "" {
		lines := strings.Split(msg, "\n")
		for i := range lines { // names of files and texts of logs are in it
			lines[i] = printable(lines[i])
		}
		tell(errOut, "hawse: "+strings.Join(lines, "\n")+"\n")
	}
	return code
}

// usageError marks an error of the command line found after the flags.
type usageError struct{ error }

func isUsage(err error) bool {
	var u usageError
	return errors.As(err, &u)
}

// exactly is cobra.ExactArgs with our exit code and a plain sentence.
func exactly(n int, what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) != n {
			return usageError{fmt.Errorf("%s wants %s; see '%s --help'", c.CommandPath(), what, c.CommandPath())}
		}
		return nil
	}
}
