package main

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"hawse/cmd/hawse/cli"
	"hawse/trial"
	"hawse/trial/plan"
)

// planned is the template with its [plan] taken into use; all of it is invented.
func planned(t *testing.T) string {
	t.Helper()
	text := trial.Template()
	at := strings.Index(text, "\n# [plan]\n") + 1
	if at == 0 {
		t.Fatal("no [plan] in the template")
	}
	lines := strings.Split(text[at:], "\n")
	for i, l := range lines {
		lines[i] = strings.TrimPrefix(l, "# ")
	}
	return text[:at] + strings.Join(lines, "\n")
}

func TestPlanPage(t *testing.T) {
	t.Chdir(t.TempDir())
	write(t, "trial.toml", planned(t))
	code, page, errOut := hawse("plan", "trial.toml", "--svg", "a.svg", "--html", "a.html", "--markdown", "a.md")
	if code != cli.ExitDone {
		t.Fatal(code, errOut)
	}
	narrow(t, page)
	for _, want := range []string{"seed 20260503", "ALDER FLAT", "roller at 50°45.0720'N", "drop points", "13 free", "reference", "1: bare rode", "preset at scope 2.5", "soak 10 min", "does not make the pull safe"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q in\n%s", want, page)
		}
	}
	for _, never := range []string{" OK", "SAFE", "is safe"} {
		if strings.Contains(page, never) {
			t.Errorf("the page says %q of a load", never)
		}
	}
	for _, name := range []string{"a.svg", "a.html", "a.md"} {
		if b, err := os.ReadFile(name); err != nil || len(b) < 1000 {
			t.Errorf("%s: %v, %d bytes", name, err, len(b))
		}
	}
	if code, _, errOut = hawse("plan", "trial.toml", "--html", "a.html"); code != cli.ExitStart || !strings.Contains(errOut, "left as it is") {
		t.Errorf("over a page: %d, %s", code, errOut)
	}

	code, out, _ := hawse("plan", "trial.toml", "--json")
	var d planDoc
	dec := json.NewDecoder(strings.NewReader(out))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&d); err != nil || code != cli.ExitDone || !d.Drawn || len(d.Stations) != 3 {
		t.Fatalf("%d, %v, %+v", code, err, d)
	}
	for _, s := range d.Stations {
		for _, r := range s.Runs {
			v := r.Depth + 1.5
			if math.Abs(r.Payout-8*v) > 1e-9 || math.Abs(r.Distance-math.Sqrt(r.Payout*r.Payout-v*v)) > 1e-9 || math.Abs(r.Haul-4*v) > 1e-9 {
				t.Errorf("%s: %+v", s.Station, r)
			}
		}
	}
}

// TestPlanOfTheTemplate: without [plan] the runs of the file; with --blocks drawn
// ones, which a trial file takes in place of its own.
func TestPlanOfTheTemplate(t *testing.T) {
	t.Chdir(t.TempDir())
	text := trial.Template()
	write(t, "trial.toml", text)
	code, page, errOut := hawse("plan", "trial.toml")
	if code != cli.ExitDone || !strings.Contains(page, "as they stand") {
		t.Fatal(code, page, errOut)
	}
	narrow(t, page)
	code, runs, _ := hawse("plan", "trial.toml", "--blocks", "2", "--seed", "5", "--runs")
	if code != cli.ExitDone || strings.Count(runs, "[[run]]") != 3*(2+2*6) {
		t.Fatalf("%d: %d runs", code, strings.Count(runs, "[[run]]"))
	}
	if _, again, _ := hawse("plan", "trial.toml", "--blocks", "2", "--seed", "5", "--runs"); again != runs {
		t.Error("the same seed, another plan")
	}
	if _, err := trial.ParseTrial("t.toml", []byte(text[:strings.Index(text, "[[run]]")]+runs)); err != nil {
		t.Error(err)
	}
}

// TestPlanReadsSpentLanes: a lane is spent by its log, however the pull ended; a
// pull in two parts spends one, an addendum none, and a log that cannot be read is
// told. The scatter comes from the same logs.
func TestPlanReadsSpentLanes(t *testing.T) {
	logs := campaignOfLogs(t)
	file := write(t, filepath.Join(filepath.Dir(logs), "trial.toml"), trial.Template())
	whole, err := os.ReadFile(filepath.Join(logs, "A2.log"))
	if err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(logs, "torn.log"), string(whole[:200]))
	code, out, errOut := hawse("plan", file, "--json", "--see", "20%")
	var d planDoc
	if err := json.Unmarshal([]byte(out), &d); err != nil || code != cli.ExitDone {
		t.Fatal(code, err, errOut)
	}
	st := d.Stations[0]
	if len(st.Spent) != 2 || st.Spent[0].Run != "A1" || st.Spent[0].Lane != 3 || st.Spent[1].Lane != 6 || st.Free != st.Lanes-2 {
		t.Errorf("spent %+v, %d free of %d; want lanes 3 and 6, each once", st.Spent, st.Free, st.Lanes)
	}
	if s := d.Stations[2].Spent; len(s) != 1 || s[0].Run != "A3" || s[0].Lane != 1 {
		t.Errorf("a pull that came to nothing spent %+v, want lane 1", s)
	}
	if len(d.Notes) != 1 || !strings.Contains(d.Notes[0], "torn.log") {
		t.Errorf("notes %q, want one of torn.log", d.Notes)
	}
	for _, r := range st.Runs {
		if (r.Done != "") != (r.Run == "A1" || r.Run == "A2") {
			t.Errorf("%s done by %q", r.Run, r.Done)
		}
	}
	// Two peaks of one anchor at one station: 310 kgf corrected, and 200.
	a, b := 310*1.02-5, 200.0
	want := math.Sqrt2 * (a - b) / (a + b)
	if d.Size == nil || d.Size.DoF != 1 || math.Abs(d.Size.Scatter-want) > 0.01 {
		t.Errorf("scatter %+v, want %.3f", d.Size, want)
	}
	code, page, _ := hawse("plan", file)
	if code != cli.ExitDone || !strings.Contains(page, "done: anchor A16") || !strings.Contains(page, "x") {
		t.Errorf("%d\n%s", code, page)
	}
	narrow(t, page)
}

func TestPlanSampleSize(t *testing.T) {
	t.Chdir(t.TempDir())
	write(t, "trial.toml", trial.Template())
	code, page, errOut := hawse("plan", "trial.toml", "--see", "20%", "--scatter", "0.15")
	if code != cli.ExitDone || !strings.Contains(strings.Join(strings.Fields(page), " "), "10 pulls of each treatment to see a difference of 20 %") {
		t.Error(code, page, errOut)
	}
}

func TestPlanBadInput(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.toml"), trial.Template())
	edit := func(name, from, to string) string {
		text := planned(t)
		if !strings.Contains(text, from) {
			t.Fatalf("%s: no %q", name, from)
		}
		return write(t, filepath.Join(dir, name+".toml"), strings.Replace(text, from, to, 1))
	}
	for _, tt := range []struct {
		name string
		args []string
		code int
		want string
	}{
		{"no file said", nil, cli.ExitUsage, "one trial file"},
		{"no such file", []string{filepath.Join(dir, "none.toml")}, cli.ExitTrial, "no such file"},
		{"a negative depth", []string{edit("depth", `depth = "6.0 m"`, `depth = "-6.0 m"`)}, cli.ExitTrial, "negative"},
		{"payout longer than the rode", []string{good, "--scope", "12"}, cli.ExitFailed, "the rode is 80 m"},
		{"scope under 1", []string{good, "--scope", "0.8"}, cli.ExitUsage, "more than 1"},
		{"scope of nothing", []string{good, "--scope", "NaN"}, cli.ExitUsage, "more than 1"},
		{"overlapping lanes", []string{edit("step", `step = "15 deg"`, `step = "5 deg"`)}, cli.ExitFailed, "lanes overlap"},
		{"no blocks", []string{good, "--blocks", "0"}, cli.ExitUsage, "1 to 50"},
		{"a seed below 0", []string{good, "--seed", "-1"}, cli.ExitUsage, "--seed"},
		{"an order of its own", []string{good, "--order", "mine"}, cli.ExitUsage, `"drawn" or "file"`},
		{"logs nowhere", []string{good, "--logs", filepath.Join(dir, "none")}, cli.ExitFailed, "cannot look for logs"},
		{"a difference of nothing", []string{good, "--see", "0"}, cli.ExitUsage, "a share"},
		{"scatter alone", []string{good, "--scatter", "10%"}, cli.ExitUsage, "--see"},
		{"no logs to take scatter from", []string{good, "--see", "10%"}, cli.ExitFailed, "say --scatter"},
		{"json and runs", []string{good, "--json", "--runs"}, cli.ExitUsage, "not both"},
		{"a page in no folder", []string{good, "--html", filepath.Join(dir, "no", "a.html")}, cli.ExitStart, "cannot write"},
	} {
		code, out, errOut := hawse(append([]string{"plan"}, tt.args...)...)
		if code != tt.code || !strings.Contains(errOut, tt.want) || out != "" {
			t.Errorf("%s: code %d, want %d; %q and %q, want %q", tt.name, code, tt.code, out, errOut, tt.want)
		}
	}
}

// TestSpentRanges: many spent lanes are told as ranges.
func TestSpentRanges(t *testing.T) {
	var spent []plan.Spent
	for _, lane := range []int{1, 2, 3, 3, 5, 8, 9} {
		spent = append(spent, plan.Spent{Lane: lane})
	}
	if got := ranges(spent); got != "1 to 3, 5, 8 to 9" {
		t.Errorf("%q", got)
	}
}
