//go:build unix

package main

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"hawse/acquire"
	"hawse/acquire/deck"
	"hawse/cmd/hawse/cli"
)

// deckFor runs a simulated deck beside a trial file that goes with it.
func deckFor(t *testing.T, script string) (trialFile string) {
	t.Helper()
	dir := t.TempDir()
	sc, err := deck.ParseScenario("check.txt", []byte(script))
	if err != nil {
		t.Fatal(err)
	}
	d, err := deck.Open(sc, deck.Options{Dir: filepath.Join(dir, "deck"), Clock: acquire.NewClock(), Seed: 1})
	if err != nil {
		t.Skip("no pseudo-terminals here: ", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); _ = d.Run(ctx) }()
	t.Cleanup(func() { cancel(); <-done; d.Close() })
	return write(t, filepath.Join(dir, "trial.toml"), sc.TrialFile())
}

const quietDeck = `[facts]
title a deck at rest
caption invented data, made for a test
depth 6 m
fairlead 1.5 m
payout 60 m
speed 2.4 m/min
stiffness 400 kN
noise 3 N
[tension]
x 0 m 0.01 kN
[faults]
FAULT
[winch]
wait 100 s
done
`

// checked runs the command and gives its lines by name.
func checked(t *testing.T, args ...string) (code int, items map[string]checkItem, errOut string) {
	t.Helper()
	code, out, errOut := hawse(append([]string{"check", "--json", "--for", "2s"}, args...)...)
	var d struct {
		Log   string
		Items []checkItem
	}
	if err := json.Unmarshal([]byte(out), &d); err != nil {
		t.Fatalf("%v in %q, %s", err, out, errOut)
	}
	items = map[string]checkItem{}
	for _, i := range d.Items {
		if i.Result != checkSeen && i.Result != checkLook && i.Result != checkCannot || i.Value == "" || i.Result != checkSeen && i.Do == "" || i.Result == checkSeen && i.Do != "" {
			t.Errorf("%+v: wants a result, a value, and what to do where there is anything", i)
		}
		items[i.What] = i
	}
	if code, _, _ := hawse("verify", d.Log); code != cli.ExitDone {
		t.Errorf("the record of the check is not whole: %d", code)
	}
	page, err := os.ReadFile(strings.TrimSuffix(d.Log, ".log") + ".txt")
	if err != nil || !strings.Contains(string(page), "does not make the pull safe") {
		t.Errorf("the page of the check: %v\n%s", err, page)
	}
	narrow(t, string(page))
	return code, items, errOut
}

func TestCheckADeckAtRest(t *testing.T) {
	file := deckFor(t, strings.Replace(quietDeck, "FAULT\n", "", 1))
	code, items, errOut := checked(t, file, "--relay")
	for _, what := range []string{"gear", "load port", "load frames", "load value", "load flickers", "load zero", "line port", "line frames", "line at rest", "stop port", "relay stands open", "disk space", "relay closes, opens"} {
		if items[what].Result != checkSeen {
			t.Errorf("%s: %+v, want it seen", what, items[what])
		}
	}
	for _, what := range []string{"known weight", "counts a metre", "count direction", "clock is right", "terminal"} {
		if items[what].Result != checkLook {
			t.Errorf("%s: %+v, want a look", what, items[what])
		}
	}
	// How soon it falls open depends on this machine; that it does, not.
	if i := items["relay opens unasked"]; !strings.Contains(i.Value, "closed true, open true") {
		t.Errorf("%+v", i)
	}
	if code != cli.ExitDone && items["relay opens unasked"].Result == checkSeen {
		t.Errorf("code %d, %s", code, errOut)
	}
}

func TestCheckFindsFaults(t *testing.T) {
	file := deckFor(t, strings.Replace(quietDeck, "FAULT", "at 0.1 s: stuck load 60 s\nat 0.2 s: weld relay\nat 0.1 s: garbage line 60 s", 1))
	code, items, errOut := checked(t, file, "--weight", "25.0 kg")
	if code != cli.ExitFailed || !strings.Contains(errOut, "cannot pull") {
		t.Errorf("code %d, %s", code, errOut)
	}
	for what, want := range map[string]string{"load flickers": checkLook, "known weight": checkLook, "line frames": checkCannot} {
		if items[what].Result != want {
			t.Errorf("%s: %+v, want %s", what, items[what], want)
		}
	}
}

// TestCheckHearsEveryCell: a pin and another cell, of which the second is silent or
// its zero is off: told, and no reason not to pull.
func TestCheckHearsEveryCell(t *testing.T) {
	quiet := strings.Replace(quietDeck, "[tension]", "cells pin outboard inboard\n[tension]", 1)
	code, items, errOut := checked(t, deckFor(t, strings.Replace(quiet, "FAULT", "at 0.1 s: zero load3 0.3 kN in 0.1 s\nat 0 s: silence load2 60 s", 1)))
	for _, what := range []string{"load value", "load zero", "load3 port", "load3 frames", "load3 rate", "load3 sits"} {
		if items[what].Result != checkSeen {
			t.Errorf("%s: %+v, want it seen", what, items[what])
		}
	}
	for what, want := range map[string]string{"load2 frames": "not a line", "load3 zero": "0.3", "load pin angle": "inboard 20.0 deg down, friction up to 0.2; at 8 kN with 60 m out"} {
		if i := items[what]; i.Result != checkLook || !strings.Contains(i.Value, want) {
			t.Errorf("%s: %+v, want a look with %q", what, i, want)
		}
	}
	for _, i := range items {
		if strings.HasPrefix(i.What, "load2") && i.Result == checkCannot {
			t.Errorf("%+v: another cell stops no pull", i)
		}
	}
	if code != cli.ExitDone {
		t.Errorf("code %d: %s", code, errOut)
	}
}

func TestCheckWithoutPorts(t *testing.T) {
	dir := t.TempDir()
	file := write(t, filepath.Join(dir, "trial.toml"), changed(t))
	code, items, _ := checked(t, file)
	if code != cli.ExitFailed {
		t.Errorf("code %d", code)
	}
	for _, what := range []string{"load port", "load frames", "line port", "stop port"} {
		if items[what].Result != checkCannot {
			t.Errorf("%s: %+v, want cannot pull", what, items[what])
		}
	}
}

func TestCheckBadInput(t *testing.T) {
	dir := t.TempDir()
	file := write(t, filepath.Join(dir, "trial.toml"), changed(t))
	for _, tt := range []struct {
		name string
		args []string
		code int
		want string
	}{
		{"no file said", nil, cli.ExitUsage, "one trial file"},
		{"no such file", []string{filepath.Join(dir, "none.toml")}, cli.ExitTrial, "no such file"},
		{"too short", []string{file, "--for", "1s"}, cli.ExitUsage, "2s to 10m"},
		{"a weight of nothing", []string{file, "--weight", "0 kg"}, cli.ExitUsage, "above 0"},
		{"a weight without a unit", []string{file, "--weight", "25"}, cli.ExitUsage, "unit"},
		{"a depth of nothing", []string{file, "--depth", "0 m"}, cli.ExitUsage, "--depth"},
		{"a depth without a unit", []string{file, "--depth", "6"}, cli.ExitUsage, "unit"},
		{"one mark", []string{file, "--marks", "10 m"}, cli.ExitUsage, "2 to 50 marks"},
		{"marks without a unit", []string{file, "--marks", "10,20"}, cli.ExitUsage, "unit"},
		{"marks that fall", []string{file, "--marks", "20 m, 10 m"}, cli.ExitUsage, "from the least to the greatest"},
		{"no such run", []string{file, "--run", "Z9"}, cli.ExitTrial, `no run "Z9"`},
		{"a folder that is a file", []string{file, "--folder", filepath.Join(file, "x")}, cli.ExitStart, "folder"},
	} {
		code, out, errOut := hawse(append([]string{"check"}, tt.args...)...)
		if code != tt.code || !strings.Contains(errOut, tt.want) || out != "" {
			t.Errorf("%s: code %d, want %d; %q and %q, want %q", tt.name, code, tt.code, out, errOut, tt.want)
		}
	}
	if _, out, _ := hawse("check", "--help"); !strings.Contains(out, "PERMITS HAULING") || !strings.Contains(out, "not a safety function") {
		t.Errorf("the help does not warn:\n%s", out)
	}
}

// TestSuspectUnit: a known weight that does not fit names what it points at.
func TestSuspectUnit(t *testing.T) {
	for ratio, want := range map[float64]string{-1: "sign", 9.80665: "newtons are taken for kgf", 1 / 9.80665: "kgf are taken for newtons", 2.2046: "lb are taken for kg", 0.45359: "kg are taken for lb",
		4.448: "newtons are taken for lbf", 0.001: "kN are taken for N", 1000: "N are taken for kN", 1.2: "zero first"} {
		if got := suspectUnit(ratio); !strings.Contains(got, want) {
			t.Errorf("%g: %q, want %q", ratio, got, want)
		}
	}
}

// A port beside the folder of the trial file is the same one for all that opens it.
func TestCheckPortsOutsideTheFolder(t *testing.T) {
	file := deckFor(t, strings.Replace(quietDeck, "FAULT", "", 1))
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	sub := filepath.Join(filepath.Dir(file), "trials")
	if err := os.Mkdir(sub, 0o755); err != nil {
		t.Fatal(err)
	}
	_, items, _ := checked(t, write(t, filepath.Join(sub, "trial.toml"), strings.ReplaceAll(string(text), `"./deck/`, `"../deck/`)), "--relay")
	for _, what := range []string{"load port", "line port", "stop port", "relay closes, opens"} {
		if items[what].Result != checkSeen {
			t.Errorf("%+v", items[what])
		}
	}
}
