package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"hawse/cmd/hawse/cli"
	"hawse/trial"
)

func newNew() *cobra.Command {
	return &cobra.Command{
		Use:   "new DIR",
		Short: "Write a commented trial file that runs on the simulated deck as it stands",
		Long: `Write DIR/trial.toml: a commented trial file of an invented campaign. It runs on
the simulated deck as it stands; change it to your vessel, gear and limits.
Nothing that exists is overwritten.`,
		Example: `  hawse new my-trial
  hawse deck textbook --dir my-trial/deck        # in one terminal
  hawse pull my-trial/trial.toml --run A1        # in another`,
		Args: cli.Exactly(1, "one folder"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := os.MkdirAll(args[0], 0o755); err != nil {
				return cli.Exit(cli.ExitStart, "cannot make the folder: %w", err)
			}
			path := filepath.Join(args[0], "trial.toml")
			f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
			if errors.Is(err, fs.ErrExist) {
				return cli.Exit(cli.ExitStart, "%s exists and is left as it is; choose another folder", path)
			}
			if err != nil {
				return cli.Exit(cli.ExitStart, "%w", err)
			}
			_, err = f.WriteString(trial.Template())
			if err := errors.Join(err, f.Close()); err != nil {
				return err
			}
			fmt.Fprintf(c.OutOrStdout(), "%s written\n", path)
			return nil
		},
	}
}

// readTrial reads a trial file and the run asked for. All that is wrong with
// the file is said at once.
func readTrial(path, runID string) (*trial.Trial, trial.Run, error) {
	t, err := openTrial(path)
	if err != nil {
		return nil, trial.Run{}, err
	}
	if runID == "" {
		return nil, trial.Run{}, cli.Usage("say which run with --run: %s has %s", path, runIDs(t))
	}
	run, ok := t.Run(runID)
	if !ok {
		return nil, trial.Run{}, cli.Exit(cli.ExitTrial, "%s has no run %q: it has %s", path, runID, runIDs(t))
	}
	return t, run, nil
}

func runIDs(t *trial.Trial) string {
	s := ""
	for i, r := range t.Runs {
		if i > 0 {
			s += ", "
		}
		s += r.ID
	}
	return s
}
