package deck

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"hawse/trial"
)

// least is a script with nothing in it but what must be.
const least = `[facts]
title Least
caption Invented data
depth 6 m
fairlead 1.5 m
payout 60 m
speed 2.4 m/min
stiffness 400 kN
[tension]
x 0 m 0.1 kN
`

func TestScriptErrors(t *testing.T) {
	files, err := filepath.Glob("testdata/bad/*.txt")
	if err != nil || len(files) == 0 {
		t.Fatalf("no bad scripts: %v", err)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			_, err = ParseScenario(filepath.Base(file), text)
			if err == nil {
				t.Fatal("taken without complaint")
			}
			got := err.Error() + "\n"
			golden := strings.TrimSuffix(file, ".txt") + ".want"
			if *update {
				if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(string(want), got); d != "" {
				t.Errorf("complaints (-want +got):\n%s", d)
			}
		})
	}
}

func TestScriptErrorHasItsLine(t *testing.T) {
	_, err := ParseScenario("x.txt", []byte(least+"[winch]\n\nhual\n"))
	se, ok := errors.AsType[*ScriptError](err)
	if !ok || se.File != "x.txt" || se.Line != 13 {
		t.Errorf("error %#v, want a ScriptError at x.txt:13", err)
	}
}

func TestSteps(t *testing.T) {
	script := least + `[recovery]
rode out 9 m 1 kN
[winch]
until relay closed
step pull                 # a place to name
haul
until x 29 m
until rode out 8 m
until tension below 300 N
haul at 6m/min
wait 1.5 s
ahead
done
cell hook 25 kg
cell free
[crew]
wait 500 ms
until order stop
until x 10 ft
until rode out 8 m
until tension above 0.3 kN
until haul stopped
until load live
until log on disk
act depth 6 m
act payout 60 m
act arm
act stage pull
act stage stand by
act ack
act rearm Recover
act mark "anchor on bottom # not a comment"
act end "pull complete"   # a comment
say "caption"
act zero
act weight 55.1 lbf
act waive zero "no time"
act correct unit lb
act accept "slow cell"
act ready winch "line clear"
act not-ready logger "a call"
act pass 50 m
act clear "swivel"
act lower tension_stop "7.0 kN"
refused act rearm pay out
act cell-off
`
	s, err := ParseScenario("dir/x.txt", []byte(script))
	if err != nil {
		t.Fatal(err)
	}
	if s.Name != "x" {
		t.Errorf("name %q, want x", s.Name)
	}
	wantWinch := []Step{
		{14, "until", []string{"relay", "closed"}, 0},
		{15, "step", []string{"pull"}, 0},
		{16, "haul", nil, 0},
		{17, "until", []string{"x", "29 m"}, 29},
		{18, "until", []string{"rode out", "8 m"}, 8},
		{19, "until", []string{"tension", "below", "300 N"}, 300},
		{20, "haul", []string{"at", "6m/min"}, 0.1},
		{21, "wait", []string{"1.5 s"}, 1.5},
		{22, "ahead", nil, 0},
		{23, "done", nil, 0},
		{24, "cell", []string{"hook", "25 kg"}, 25 * 9.80665},
		{25, "cell", []string{"free"}, 0},
	}
	if d := cmp.Diff(wantWinch, s.Winch); d != "" {
		t.Errorf("winch (-want +got):\n%s", d)
	}
	wantCrew := []Step{
		{27, "wait", []string{"500 ms"}, 0.5},
		{28, "until", []string{"order", "stop"}, 0},
		{29, "until", []string{"x", "10 ft"}, 3.048},
		{30, "until", []string{"rode out", "8 m"}, 8},
		{31, "until", []string{"tension", "above", "0.3 kN"}, 300},
		{32, "until", []string{"haul", "stopped"}, 0},
		{33, "until", []string{"load", "live"}, 0},
		{34, "until", []string{"log", "on disk"}, 0},
		{35, "act", []string{"depth", "6 m"}, 6},
		{36, "act", []string{"payout", "60 m"}, 60},
		{37, "act", []string{"arm"}, 0},
		{38, "act", []string{"stage", "pull"}, 0},
		{39, "act", []string{"stage", trial.StandBy.Key()}, 0},
		{40, "act", []string{"ack"}, 0},
		{41, "act", []string{"rearm", "recover"}, 0},
		{42, "act", []string{"mark", "anchor on bottom # not a comment"}, 0},
		{43, "act", []string{"end", "pull complete"}, 0},
		{44, "say", []string{"caption"}, 0},
		{45, "act", []string{"zero"}, 0},
		{46, "act", []string{"weight", "55.1 lbf"}, 55.1 * 4.4482216152605},
		{47, "act", []string{"waive", "zero", "no time"}, 0},
		{48, "act", []string{"correct", "unit", "lb"}, 0},
		{49, "act", []string{"accept", "slow cell"}, 0},
		{50, "act", []string{"ready", "winch", "line clear"}, 0},
		{51, "act", []string{"not-ready", "logger", "a call"}, 0},
		{52, "act", []string{"pass", "50 m"}, 50},
		{53, "act", []string{"clear", "swivel"}, 0},
		{54, "act", []string{"lower", "tension_stop", "7.0 kN"}, 0},
		{55, "refused", []string{"rearm", "pay_out"}, 0},
		{56, "act", []string{"cell-off"}, 0},
	}
	if d := cmp.Diff(wantCrew, s.Crew); d != "" {
		t.Errorf("crew (-want +got):\n%s", d)
	}
	if got, want := s.Crew[len(s.Crew)-2].String(), "refused act rearm pay_out"; got != want {
		t.Errorf("a refused act reads %q, want %q", got, want)
	}
}

func TestFacts(t *testing.T) {
	s, err := ParseScenario("x.txt", []byte(strings.Replace(least, "[tension]", `fairlead-free is no fact`+"\n[tension]", 1)))
	if err == nil {
		t.Errorf("an unknown fact was taken: %+v", s)
	}
	s, err = ParseScenario("x.txt", []byte(strings.Replace(least, "[tension]",
		"ramp 0.5 s\nrun-on 1 s\noperator 2 s\nwindow 200 ms\nslack 80 N\nnoise 3 N\nrelax 5% in 8 s\n"+
			"load 1000 Hz\nline 5000 Hz\nstart 3 m\ncount 4200\nrun B1\nswell 0.4 kN every 6 s\n"+
			"load-line \"0.00\"\nload-unit lb\nload-step 2 lbf\nload-top 5 kN\nload-sign reversed\n"+
			"[trial]\nload.slow_cell = true # a comment\n\n# another\nformat=2\n[tension]", 1)))
	if err != nil {
		t.Fatal(err)
	}
	got := *s
	want := Scenario{
		Name: "x", Title: "Least", Caption: "Invented data",
		Depth: 6, Fairlead: 1.5, Payout: 60, Start: 3, Speed: 0.04, LoadHz: 1000, LineHz: 5000,
		Ramp: 500 * time.Millisecond, RunOn: time.Second, Answer: 2 * time.Second, Window: 200 * time.Millisecond,
		Stiffness: 400e3, Slack: 80, Noise: 3, Relax: 0.05, RelaxIn: 8 * time.Second, Count: 4200,
		Run: "B1", Swell: 400, SwellEvery: 6 * time.Second,
		Trial: []Setting{{Line: 28, Table: "load", Key: "slow_cell", Value: "true # a comment"}, {Line: 31, Key: "format", Value: "2"}},
	}
	wantBox := loadBox{unit: trial.ForceUnit{Name: "lbf", N: 4.4482216152605}, digits: 1, decimals: 2, top: 5000, step: 2 * 4.4482216152605, reversed: true}
	if got.box != wantBox {
		t.Errorf("load box %+v, want %+v", got.box, wantBox)
	}
	if !reflect.DeepEqual(got.wiring, newWiring()) {
		t.Errorf("boxes %+v, want %+v", got.wiring, newWiring())
	}
	got.Text, got.pull, got.recovery, got.box, got.wiring = nil, curve{}, curve{}, loadBox{}, wiring{}
	if d := cmp.Diff(want, got, cmp.AllowUnexported(Scenario{}, curve{}), cmpopts.EquateComparable(loadBox{}), cmpopts.IgnoreUnexported(wiring{})); d != "" {
		t.Errorf("facts (-want +got):\n%s", d)
	}
}

func TestLoad(t *testing.T) {
	want := []string{"after-stop", "bad-record", "breakout", "called-stop", "cobble-neck", "counter-wrong", "early-ack", "model", "never-falls", "never-sets", "over-range",
		"reversed-line", "rising-tide", "saw-tooth", "short", "slow-breakout", "slow-cell", "snag", "stuck", "swell", "textbook", "too-good", "two-alarms", "unplug",
		"vessel-moves", "vessel-or-anchor", "weak", "weld", "wrong-unit"}
	if d := cmp.Diff(want, Names()); d != "" {
		t.Errorf("names (-want +got):\n%s", d)
	}
	for _, name := range Names() {
		s, err := Load(name)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if s.Name != name || !strings.Contains(strings.ToLower(s.Caption), "invented") || len(s.Crew) == 0 || len(s.Winch) == 0 {
			t.Errorf("%s: name %q, caption %q, %d winch and %d crew steps; a caption must say the data is invented",
				name, s.Name, s.Caption, len(s.Winch), len(s.Crew))
		}
	}
	if _, err := Load("no-such"); err == nil || !strings.Contains(err.Error(), "textbook") {
		t.Errorf("unknown name: %v; want the known ones told", err)
	}
	if _, err := Load("./no-such"); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("missing file: %v", err)
	}
	file := filepath.Join(t.TempDir(), "mine.txt")
	if err := os.WriteFile(file, []byte(least), 0o600); err != nil {
		t.Fatal(err)
	}
	if s, err := Load(file); err != nil || s.Name != "mine" {
		t.Errorf("own file: %+v, %v", s, err)
	}
}

func FuzzParseScenario(f *testing.F) {
	for _, name := range Names() {
		s, err := Load(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(s.Text)
	}
	bad, err := filepath.Glob("testdata/bad/*.txt")
	if err != nil {
		f.Fatal(err)
	}
	for _, file := range bad {
		text, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	for seed := range uint64(8) {
		u, err := MakeUp(seed)
		if err != nil {
			f.Fatal(err)
		}
		f.Add([]byte(u.Script))
	}
	f.Add([]byte(least + "ripple 1 kN every 1 mm from x 0 m to 60 m\n[faults]\nat 0 s: wake 9 kN 1 s\n[winch]\nhaul\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := ParseScenario("fuzz.txt", text)
		if err != nil {
			if _, ok := errors.AsType[*ScriptError](err); !ok {
				t.Fatalf("error without a line: %v", err)
			}
			return
		}
		w := newWorld(s, 0, 1)
		w.hear([]byte(say("ARM 1")))
		var sent int
		for at := int64(0); at < 2e9; at += 37 * ms {
			w.advance(at)
			w.say(portLoad, func(p []byte) { sent += len(p) })
			w.say(portLine, func(p []byte) { sent += len(p) })
			if v := float64(w.tension()); math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
				t.Fatalf("tension %v at x %v", v, w.x)
			}
		}
	})
}
