package main

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/charmbracelet/x/ansi"

	"hawse/cmd/hawse/cli"
	"hawse/trial"
)

// Every quantity of a pull is in the table, with a value or the reason, in 80
// columns; the budget names every part.
func TestResultsTable(t *testing.T) {
	dir := filepath.Dir(campaignOfLogs(t))
	_, page, _ := resultsIn(t, dir, "--table", "--budget", filepath.Join("logs", "A1-20260412T090211Z.log"), filepath.Join("logs", "A3.log"))
	golden(t, "results.table.txt", plain(page))
	for line := range strings.Lines(page) {
		if n := ansi.StringWidth(strings.TrimSuffix(line, "\n")); n > 80 {
			t.Errorf("a line is %d wide: %q", n, line)
		}
	}
	for q := range trial.Quantities {
		if name := trial.Quantities[q].Name; strings.Count(page, "\n"+name) < 2 {
			t.Errorf("%s does not stand in the table of each pull", name)
		}
	}
	for _, part := range []string{"calibration", "zero drift", "resolution", "friction at the roller", "bare-rode level", "mass", "line count"} {
		if !strings.Contains(page, "     "+part) {
			t.Errorf("the budget has no %s", part)
		}
	}
}

// What the three forms say of a quantity is the same number under the same key.
func TestResultsKeysAreTheTables(t *testing.T) {
	dir := campaignOfLogs(t)
	log := filepath.Join(dir, "A2.log")
	_, doc, _ := hawse("results", "--json", "--budget", log)
	_, sheet, _ := hawse("results", "--csv", log)
	rows, err := csv.NewReader(strings.NewReader(sheet)).ReadAll()
	if err != nil || len(rows) != 2 {
		t.Fatalf("%v, %d rows", err, len(rows))
	}
	cell := map[string]string{}
	for i, name := range rows[0] {
		if _, twice := cell[name]; twice {
			t.Errorf("column %s stands there twice", name)
		}
		cell[name] = rows[1][i]
	}
	var pull struct {
		Missing map[string]string `json:"missing"`
		Figures struct {
			Quantities map[string]map[string]any `json:"quantities"`
		} `json:"figures"`
	}
	if err := json.Unmarshal([]byte(doc), &pull); err != nil {
		t.Fatal(err)
	}
	for q := range trial.Quantities {
		i := &trial.Quantities[q]
		got, some := pull.Figures.Quantities[i.Key]
		if !some {
			t.Errorf("%s is not in the JSON", i.Key)
			continue
		}
		key := trial.WithUnit("value", i.Unit)
		if i.Loads {
			key = trial.WithUnit(trial.Readings[0].Key, i.Unit)
		}
		column := i.ReadingKey(0)
		if i.Unit == "word" {
			key = "value"
		}
		v, some := got[key]
		if !some {
			t.Errorf("%s has no %s: %v", i.Key, key, got)
		}
		if _, there := cell[column]; !there {
			t.Errorf("no column %s", column)
		}
		if (v == nil) != (cell[column] == "") || (v == nil) != (pull.Missing[i.Key] != "") {
			t.Errorf("%s: %v in JSON, %q in CSV, missing %q", i.Key, v, cell[column], pull.Missing[i.Key])
		}
	}
	if pull.Figures.Quantities["peak_instant"]["budget"] == nil {
		t.Error("no budget in the JSON")
	}
}

func TestResultsForms(t *testing.T) {
	code, out, _ := hawse("results", "--quantities")
	if code != cli.ExitDone || out != trial.QuantitiesDoc() {
		t.Errorf("--quantities: code %d\n%s", code, out)
	}
	for _, args := range [][]string{{"--table", "--csv"}, {"--table", "--json"}, {"--budget", "--csv"}} {
		if code, _, errOut := hawse(append([]string{"results", "x.log"}, args...)...); code != cli.ExitUsage {
			t.Errorf("%q: code %d, %s", args, code, errOut)
		}
	}
}

// A mean over a stretch that is asked for stands in every form, or says why not.
func TestResultsMeans(t *testing.T) {
	log := filepath.Join(campaignOfLogs(t), "A2.log") // hauls 0.4 m to 200 kgf, then 0.2 m down to 150
	for _, form := range [][]string{{"--table"}, {}, {"--json"}, {"--csv"}} {
		args := append([]string{"results", "--mean", "0.1 m..0.3 m", "--mean", "2 m .. 8.5 m", log}, form...)
		code, out, errOut := hawse(args...)
		if code != cli.ExitDone {
			t.Fatalf("%q: code %d, %s", args, code, errOut)
		}
		wants := map[string][]string{"--json": {`"from_m":0.1,`, "0 of its 6.5 m were hauled"}, "--csv": {"mean_over_0p1_0p3m_deck_n", "corrected_mean_over_2_8p5m_anchor_n_u"}}[strings.Join(form, "")]
		if wants == nil {
			wants = []string{"mean, 0.10 to 0.30 m         0.99 ± 0.06 kN", "0 of its 6.5 m were hauled"}
		}
		flat := strings.Join(strings.Fields(out), " ")
		for _, want := range wants {
			if !strings.Contains(flat, strings.Join(strings.Fields(want), " ")) {
				t.Errorf("%q: no %q in\n%s", args, want, out)
			}
		}
	}
	for _, bad := range []string{"", "5 m", "5 m..", "5..9", "9 m..5 m", "5 m..5 m", "nan m..5 m", "1 m..inf m"} {
		if code, _, errOut := hawse("results", "--mean", bad, log); code != cli.ExitUsage {
			t.Errorf("--mean %q: code %d, %s", bad, code, errOut)
		}
	}
}

// A log cut off anywhere, or with nothing in it, is told as far as it goes.
func TestResultsOfATornLog(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(campaignOfLogs(t), "A2.log"))
	if err != nil {
		t.Fatal(err)
	}
	for _, keep := range []int{0, 1, len(text) / 20, len(text) / 3, len(text) / 2, len(text) - 30} {
		torn := write(t, filepath.Join(t.TempDir(), "torn.log"), string(text[:keep]))
		for _, form := range []string{"--table", "--json", "--csv"} {
			code, out, errOut := hawse("results", form, torn)
			if code != cli.ExitRecord && code != cli.ExitFailed {
				t.Errorf("%d bytes, %s: code %d, %s", keep, form, code, errOut)
			}
			if code == cli.ExitRecord && out == "" {
				t.Errorf("%d bytes, %s: nothing is told; %s", keep, form, errOut)
			}
			if strings.Contains(out, "NaN") || strings.Contains(out, "Inf") {
				t.Errorf("%d bytes, %s: no number is shown as one:\n%s", keep, form, out)
			}
		}
	}
}
