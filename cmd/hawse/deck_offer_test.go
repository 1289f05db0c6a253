package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"hawse/acquire/deck"
	"hawse/acquire/dryrun"
	"hawse/cmd/hawse/cli"
	"hawse/trial"
)

// TestDeckScore: the score says what it was taken on, every event, what is wanted
// and whether it is met, the map and the worst seeds; as JSON, too.
func TestDeckScore(t *testing.T) {
	code, out, errOut := hawse("deck", "--score", "4", "--seed", "15")
	if code != 0 {
		t.Fatalf("exit code %d: %s", code, errOut)
	}
	want := []string{"4 made-up pulls of run 15 (seeds from 15000000)", "Machine: ", "invented", "wanted", "met", "under 10 Hz", "pulls a second", "Confusion", "mud", "stones", "all chain", "swell 30 mm", "What the figures forgive"}
	for _, kind := range dryrun.EventKinds {
		want = append(want, kind+": precision", kind+": recall", kind+": said later, p95", kind+": precision, strict", kind+": recall, strict", kind+": forgiven as missed, as false")
	}
	for _, row := range dryrun.Map {
		want = append(want, row.Name, row.When)
	}
	for _, w := range want {
		if !strings.Contains(out, w) {
			t.Errorf("the score does not say %q", w)
		}
	}
	if code, _, errOut := hawse("deck", "--score", "1", "--seed", "1000000000001"); code != cli.ExitUsage || !strings.Contains(errOut, "number of a run") {
		t.Errorf("a run past the last: exit code %d, %s", code, errOut)
	}
	code, out, errOut = hawse("deck", "--score", "2", "--json")
	var got struct {
		Bench    string
		Settings map[string]float64
		Figures  map[string]map[string]map[string]any
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != 0 {
		t.Fatalf("%v, exit code %d: %s", err, code, errOut)
	}
	if got.Bench != "deck score" || got.Settings["pulls"] != 2 || got.Figures["score"]["all"]["pulls"] != 2.0 || got.Figures["by_soil"] == nil {
		t.Errorf("%+v", got)
	}
}

// TestDeckShow: the script that is shown is the one that is played, and its trial
// file can be pulled with.
func TestDeckShow(t *testing.T) {
	code, script, errOut := hawse("deck", "--model", "--seed", "7", "--show", "script")
	if code != 0 || !strings.Contains(script, "[model]") || !strings.Contains(script, "Invented") {
		t.Fatalf("exit code %d: %s%s", code, errOut, script)
	}
	s, err := deck.ParseScenario("shown.txt", []byte(script))
	if err != nil {
		t.Fatal(err)
	}
	_, file, _ := hawse("deck", "--model", "--seed", "7", "--show", "trial")
	tr, err := trial.ParseTrial("trial.toml", []byte(file))
	if err != nil {
		t.Fatal(err)
	}
	if float64(tr.Load.Rate) != s.LoadHz {
		t.Errorf("the trial file has a load cell of %v, the script one of %v Hz", tr.Load.Rate, s.LoadHz)
	}
}

// TestDeckBadInput: a clear line and the exit code of a wrong command line.
func TestDeckBadInput(t *testing.T) {
	for _, tt := range []struct {
		args []string
		want string
	}{
		{[]string{"deck", "--score", "0"}, "from 1 to"},
		{[]string{"deck", "--score", "3", "textbook"}, "no scenario with"},
		{[]string{"deck", "--score", "3", "--dir", "x"}, "leave out"},
		{[]string{"deck", "textbook", "--boxes", "tin"}, "write one of lines"},
		{[]string{"deck", "textbook", "--fault", "unplug"}, "no time"},
		{[]string{"deck", "textbook", "--fault", "refuse@9s"}, "boxes modbus"},
		{[]string{"deck", "--score", "3", "--boxes", "modbus"}, "leave out"},
		{[]string{"demo", "--fault", "explode@9s"}, "--list"},
		{[]string{"deck", "--model", "textbook"}, "no scenario with"},
		{[]string{"deck", "textbook", "--json"}, "--score"},
		{[]string{"deck", "textbook", "--show", "\x1b[31mall"}, "say script or trial"},
		{[]string{"deck"}, "one scenario"},
	} {
		code, out, errOut := hawse(tt.args...)
		if code != cli.ExitUsage || !strings.Contains(errOut, tt.want) || strings.Contains(out+errOut, "\x1b") {
			t.Errorf("hawse %q: exit code %d, %q; want %d and %q", tt.args, code, errOut, cli.ExitUsage, tt.want)
		}
	}
}

// TestDeckOffers: the list names every scenario, kind of box and fault; the trial
// file goes where it is told to, once more over its own, never over another's.
func TestDeckOffers(t *testing.T) {
	code, out, errOut := hawse("deck", "--list")
	if code != 0 {
		t.Fatalf("exit code %d: %s", code, errOut)
	}
	for _, n := range deck.Names() {
		if !strings.Contains(out, n) {
			t.Errorf("the list does not name scenario %s", n)
		}
	}
	for _, k := range deck.BoxKinds {
		if !strings.Contains(out, k.Name+" ") || !strings.Contains(out, k.Does) {
			t.Errorf("the list does not name boxes %s", k.Name)
		}
	}
	for _, f := range deck.FaultKinds {
		if !strings.Contains(out, "  "+f.Name+" ") || !strings.Contains(out, f.Does) {
			t.Errorf("the list does not name fault %s", f.Name)
		}
	}
	sc, err := deck.Load("cobble-neck")
	if err == nil {
		sc, err = sc.With("modbus,nmea", []string{"rename@9s"})
	}
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "a.toml")
	o := deckOffer{dir: filepath.Join(dir, "ports"), trial: file}
	for range 2 {
		if path, err := o.writeTrial(sc); err != nil || path != file {
			t.Fatal(path, err)
		}
	}
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	tr, err := trial.ParseTrial(file, text)
	if err != nil || tr.Load.Port.Names[0] != "./ports/load" || tr.Sounder == nil {
		t.Errorf("%v, %+v", err, tr)
	}
	if err := os.WriteFile(file, []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := o.writeTrial(sc); err == nil || !strings.Contains(err.Error(), "--trial FILE") {
		t.Errorf("a file of somebody else's: %v", err)
	}
	if text, _ := os.ReadFile(file); string(text) != "mine" {
		t.Errorf("it was overwritten: %.40q", text)
	}
	o.trial = ""
	if path, err := o.writeTrial(sc); path != "" || err != nil {
		t.Errorf("with --dir alone: %q, %v", path, err)
	}
}
