// Hawse captures, live, the pull of a drag anchor across the seabed, guards the
// stop limits, and leaves a raw record that anyone can reanalyse.
package main

import (
	"context"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"hawse/cmd/hawse/bench"
	"hawse/cmd/hawse/cli"
)

// Cautions stand in the help of every command that works on a live pull.
const cautions = `CAUTION. Hawse is an aid to watching a pull. It is not a safety function and
does not make the pull safe. The winch's own limiter and emergency stop come
first, work without this program, and are tested before each day. A stopped
winch is not a slack rode. Unknown tension is treated as loaded. Limits are the
crew's, from the certificates of the gear in use. Local law, the vessel's rules
and the licensed person in charge govern.`

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "hawse",
		Short: "Capture and guard the pull of a drag anchor, and keep the raw record",
		Long: `Hawse captures, live, the pull of a drag anchor across the seabed: tension from
a load cell and line hauled from an encoder, on serial ports. It guards the stop
limits and leaves a raw log that anyone can reanalyse.

Start with a pull on the simulated deck:   hawse demo
Make a trial folder of your own:           hawse new my-trial

` + cautions + "\n\n" + cli.ExitHelp,
		Version:       cli.Version + " (build " + cli.Build() + ")",
		SilenceUsage:  true,
		SilenceErrors: true,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return cli.Usage("unknown command %q; 'hawse --help' lists them", args[0])
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { firstSteps(c.OutOrStdout(), "."); return nil },
	}
	root.SetVersionTemplate("hawse {{.Version}}\n")
	root.AddCommand(newDemo(), newPull(), newDeck(), newReplay(), newResults(), newReport(), newVerify(), newSalvage(), newExport(), newCat(), newLimits(), newRode(), newPorts(), newCall(), newWatch(), newNew(), newAddendum(), newSign(), newPlan(), newCalibrate(), newListen(), newCheck(), bench.Command())
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return cli.Usage("%w; see '%s --help'", err, c.CommandPath())
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
		return cli.ExitDone
	}
	if msg := err.Error(); msg != "" {
		lines := strings.Split(msg, "\n")
		for i := range lines { // names of files and texts of logs are in it
			lines[i] = printable(lines[i])
		}
		tell(errOut, "hawse: "+strings.Join(lines, "\n")+"\n")
	}
	return cli.Code(err)
}
