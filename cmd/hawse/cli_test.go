package main

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/trial"
)

// hawse runs a command line and returns what it printed.
func hawse(args ...string) (code int, stdout, stderr string) {
	var out, errOut bytes.Buffer
	code = run(args, &out, &errOut)
	return code, out.String(), errOut.String()
}

func write(t *testing.T, path, text string) string {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestBadInput: each mistake gives one clear line that says what, where and
// what to do, and the exit code the help promises.
func TestBadInput(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "trial.toml"), trial.Template())
	noUnit := write(t, filepath.Join(dir, "nounit.toml"), strings.Replace(trial.Template(), `"1.5 m"`, `1.5`, 1))
	unknownKey := write(t, filepath.Join(dir, "key.toml"), strings.Replace(trial.Template(), "baud = 9600", "bawd = 9600", 1))
	exists := write(t, filepath.Join(dir, "exists.log"), "somebody's record\n")
	binary := write(t, filepath.Join(dir, "binary.log"), "\x00\x01\xff\x1b[31m\n\x00")
	notADir := filepath.Join(exists, "sub", "x.log")

	tests := []struct {
		name string
		args []string
		code int
		want []string // in what is printed on stderr
	}{
		{"no such trial", []string{"pull", filepath.Join(dir, "none.toml"), "--run", "A1"}, cli.ExitTrial, []string{"none.toml", "no such file"}},
		{"no run said", []string{"pull", good}, cli.ExitUsage, []string{"--run", "A1"}},
		{"unknown run", []string{"pull", good, "--run", "Z9"}, cli.ExitTrial, []string{`no run "Z9"`, "A1"}},
		{"number without unit", []string{"pull", noUnit, "--run", "A1"}, cli.ExitTrial, []string{"nounit.toml:", "fairlead", "unit"}},
		{"unknown key", []string{"pull", unknownKey, "--run", "A1"}, cli.ExitTrial, []string{"key.toml:", "bawd"}},
		{"log exists", []string{"pull", good, "--run", "A1", "--headless", "--log", exists}, cli.ExitStart, []string{exists, "exists"}},
		{"log folder is a file", []string{"pull", good, "--run", "A1", "--headless", "--log", notADir}, cli.ExitStart, []string{"folder for the log"}},
		{"log on a full device", []string{"pull", good, "--run", "A1", "--headless", "--log", "/dev/full"}, cli.ExitStart, []string{"/dev/full"}},
		{"depth without unit", []string{"pull", good, "--run", "A1", "--depth", "6"}, cli.ExitUsage, []string{"--depth", "unit"}},
		{"unknown flag", []string{"pull", good, "--rnu", "A1"}, cli.ExitUsage, []string{"--rnu", "--help"}},
		{"two trials", []string{"pull", good, good, "--run", "A1"}, cli.ExitUsage, []string{"one trial file"}},
		{"unknown command", []string{"haul"}, cli.ExitUsage, []string{"haul"}},
		{"unknown scenario", []string{"demo", "--scenario", "kraken"}, cli.ExitUsage, []string{"kraken", "textbook"}},
		{"speed of nothing", []string{"demo", "--speed", "0"}, cli.ExitUsage, []string{"--speed", "1 to 60"}},
		{"deck with boxes nobody knows", []string{"deck", "textbook", "--boxes", "tin"}, cli.ExitUsage, []string{"lines", "modbus"}},
		{"call with no capture", []string{"call", "stop", "--log", filepath.Join(dir, "no.log")}, cli.ExitFailed, []string{"no running capture", "no.log"}},
		{"call of nothing", []string{"call"}, cli.ExitUsage, []string{"call"}},
		{"call a weight of nothing", []string{"call", "weight", "--log", exists}, cli.ExitUsage, []string{"weight what?", "25.0 kg"}},
		{"call a waiver of nothing", []string{"call", "waive", "--log", exists}, cli.ExitUsage, []string{"waive what?", "REASON"}},
		{"call a lower limit without one", []string{"call", "lower", "--log", exists}, cli.ExitUsage, []string{"lower what?", "tension_stop"}},
		{"call a mark that passes, without its length", []string{"call", "pass", "--log", exists}, cli.ExitUsage, []string{"pass what?", "50 m"}},
		{"call nothing cleared", []string{"call", "clear", "--log", exists}, cli.ExitUsage, []string{"clear what?", "NAME"}},
		{"ready with no capture", []string{"call", "ready", "line clear", "--who", "winch", "--log", filepath.Join(dir, "no.log")}, cli.ExitFailed, []string{"no running capture", "no.log"}},
		{"call without a stage", []string{"call", "stage", "--log", exists}, cli.ExitUsage, []string{"which stage"}},
		{"verify nothing", []string{"verify"}, cli.ExitUsage, []string{"which log"}},
		{"verify a missing log", []string{"verify", filepath.Join(dir, "no.log")}, cli.ExitFailed, []string{"no.log"}},
		{"verify a foreign file", []string{"verify", binary}, cli.ExitRecord, []string{"not whole"}},
		{"replay a foreign file", []string{"replay", binary}, cli.ExitFailed, []string{"binary.log", "no whole head"}},
		{"replay too slowly", []string{"replay", binary, "--speed", "0.01"}, cli.ExitUsage, []string{"--speed"}},
		{"results of nothing", []string{"results"}, cli.ExitUsage, []string{"which log"}},
		{"results twice over", []string{"results", "--json", "--csv", binary}, cli.ExitUsage, []string{"--json or --csv"}},
		{"results of a missing log", []string{"results", filepath.Join(dir, "no.log")}, cli.ExitFailed, []string{"no.log", "no such file"}},
		{"results of a foreign file", []string{"results", binary}, cli.ExitFailed, []string{"binary.log", "no log of this program"}},
		{"new over a trial", []string{"new", dir}, cli.ExitStart, []string{"trial.toml", "left as it is"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			code, out, errOut := hawse(tt.args...)
			if code != tt.code {
				t.Errorf("hawse %q: exit code %d, want %d\n%s", tt.args, code, tt.code, errOut)
			}
			for _, w := range tt.want {
				if !strings.Contains(errOut, w) {
					t.Errorf("hawse %q says\n%swant it to say %q", tt.args, errOut, w)
				}
			}
			if strings.ContainsAny(out+errOut, "\x00\x1b") {
				t.Errorf("hawse %q prints raw control characters: %q", tt.args, out+errOut)
			}
		})
	}
	if b, err := os.ReadFile(exists); err != nil || string(b) != "somebody's record\n" {
		t.Errorf("the log that existed is now %q, %v; want it untouched", b, err)
	}
}

func TestNewWritesATrialThatReads(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "mine")
	if code, _, errOut := hawse("new", dir); code != cli.ExitDone {
		t.Fatalf("hawse new: %d, %s", code, errOut)
	}
	text, err := os.ReadFile(filepath.Join(dir, "trial.toml"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := trial.ParseTrial("trial.toml", text); err != nil {
		t.Errorf("the trial file of hawse new: %v", err)
	}
}

// TestCallHelpNamesEveryAct: what may be called stands in the help.
func TestCallHelpNamesEveryAct(t *testing.T) {
	_, out, _ := hawse("call", "--help")
	for _, act := range append(slices.Clone(session.Callable), "status") {
		if !strings.Contains(out, "\n  "+act+" ") {
			t.Errorf("hawse call --help does not list %q", act)
		}
	}
}

// TestPullHelpTellsOfTheSecondSignal: who starts it as a service reads that under
// load one signal does not end it.
func TestPullHelpTellsOfTheSecondSignal(t *testing.T) {
	_, out, _ := hawse("pull", "--help")
	for _, want := range []string{"SIGTERM", "a second one ends it"} {
		if !strings.Contains(strings.Join(strings.Fields(out), " "), want) {
			t.Errorf("the help lacks %q:\n%s", want, out)
		}
	}
}

// TestLiveHelpCarriesTheCautions: whoever reads how to start a live pull reads
// what the program is not.
func TestLiveHelpCarriesTheCautions(t *testing.T) {
	for _, args := range [][]string{{"--help"}, {"pull", "--help"}, {"demo", "--help"}, {"call", "--help"}} {
		code, out, _ := hawse(args...)
		if code != cli.ExitDone || !strings.Contains(out, "not a safety function") || !strings.Contains(out, "emergency stop") {
			t.Errorf("hawse %q: code %d; want the cautions in\n%s", args, code, out)
		}
	}
}
