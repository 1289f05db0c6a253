package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"hawse/trial"
)

// firstSteps tells a person who has typed the bare command what to do next: from
// what lies in the folder, and from whether a capture is running.
func firstSteps(out io.Writer, dir string) {
	var b strings.Builder
	b.WriteString("Hawse captures and guards the pull of a drag anchor, and keeps the raw record.\n\nWhat to do next:\n\n")
	step := func(what, command string) { fmt.Fprintf(&b, "  %s\n      %s\n", what, command) }
	if log, err := theOneRunning(); err == nil {
		step("A capture is running. Show it here, too; space calls STOP:", "hawse watch --view operator   (or director, logger, figures, all)")
		fmt.Fprintf(&b, "      its log is %s\n", visible(log))
	}
	files, _ := filepath.Glob(filepath.Join(dir, "*.toml")) // the pattern is whole
	found := false
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			continue
		}
		t, err := trial.ParseTrial(filepath.Base(f), data)
		name := visible(filepath.Base(f))
		switch {
		case err == nil && len(t.Runs) > 0:
			ids := make([]string, 0, len(t.Runs))
			for _, r := range t.Runs {
				ids = append(ids, visible(r.ID))
			}
			step("Capture a pull of "+name+" in this folder. Its runs: "+strings.Join(ids, ", "), "hawse pull "+name+" --run "+ids[0])
		case filepath.Base(f) == "trial.toml":
			step("The trial file in this folder is not ready yet. See what it lacks:", "hawse limits "+name)
		default:
			continue
		}
		found = true
	}
	step("See a whole pull on the simulated deck, with invented data:", "hawse demo")
	if !found {
		step("Make a folder for a trial of your own, with a trial file to fill in:", "hawse new my-trial")
		step("See which serial ports this computer has:", "hawse ports")
	}
	if logs, _ := filepath.Glob(filepath.Join(dir, "logs", "*.log")); len(logs) > 0 {
		newest := logs[len(logs)-1]
		step(fmt.Sprintf("Look at a pull again; there are %d logs here:", len(logs)), "hawse replay "+visible(filepath.Join("logs", filepath.Base(newest))))
	}
	b.WriteString("\nAll commands: hawse --help. In any screen: ? explains the keys, space calls STOP.\n\n" + cautions + "\n")
	fmt.Fprint(out, b.String())
}
