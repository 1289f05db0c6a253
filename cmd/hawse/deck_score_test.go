package main

import (
	"encoding/json"
	"strings"
	"testing"

	"hawse/acquire/deck"
	"hawse/acquire/dryrun"
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
	if code, _, errOut := hawse("deck", "--score", "1", "--seed", "1000000000001"); code != exitUsage || !strings.Contains(errOut, "number of a run") {
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
		{[]string{"deck", "--model"}, "--dir DIR"},
		{[]string{"deck", "--model", "textbook"}, "no scenario with"},
		{[]string{"deck", "textbook", "--json"}, "--score"},
		{[]string{"deck", "textbook", "--show", "\x1b[31mall"}, "say script or trial"},
		{[]string{"deck"}, "one scenario"},
	} {
		code, out, errOut := hawse(tt.args...)
		if code != exitUsage || !strings.Contains(errOut, tt.want) || strings.Contains(out+errOut, "\x1b") {
			t.Errorf("hawse %q: exit code %d, %q; want %d and %q", tt.args, code, errOut, exitUsage, tt.want)
		}
	}
}
