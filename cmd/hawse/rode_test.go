package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"hawse/cmd/hawse/cli"
	"hawse/trial"
)

func rodeRun(t *testing.T, args ...string) (code int, out, errOut string) {
	t.Helper()
	var o, e bytes.Buffer
	code = run(append([]string{"rode"}, args...), &o, &e)
	return code, o.String(), e.String()
}

func rodeAnswer(t *testing.T, args ...string) rodeDoc {
	t.Helper()
	code, out, errOut := rodeRun(t, append(args, "--json")...)
	if code != cli.ExitDone {
		t.Fatalf("%q: exit %d, %s", args, code, errOut)
	}
	var doc rodeDoc
	if err := json.Unmarshal([]byte(out), &doc); err != nil {
		t.Fatalf("%q: %v in %s", args, err, out)
	}
	return doc
}

// The published rows of elastic catenaries, asked for as a person would, by
// span and by tension. Source of the rows: testdata/statics/SOURCES.md.
func TestRodeAnswersPublishedRows(t *testing.T) {
	f, err := os.Open(filepath.Join("..", "..", "testdata", "statics", "catenary-elastic-published.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	tried := 0
	for _, row := range rows[1:] {
		get := func(col string) string {
			for i, name := range rows[0] {
				if name == col {
					return row[i]
				}
			}
			t.Fatalf("no column %s", col)
			return ""
		}
		if get("usable") != "yes" {
			continue
		}
		tried++
		num := func(col string) float64 {
			v, err := strconv.ParseFloat(get(col), 64)
			if err != nil {
				t.Fatalf("%s: %v", col, err)
			}
			return v
		}
		piece := "length=" + get("L_m") + " m, weight=" + get("w_N_per_m") + " N/m, ea=" + get("EA_N") + " N"
		if get("CB") != "" {
			piece += ", friction=" + get("CB")
		}
		near := func(what string, got, want float64) {
			t.Helper()
			if math.Abs(got-want) > 1e-6*math.Abs(want)+1e-6 {
				t.Errorf("%s: %s %v; want %v", get("id"), what, got, want)
			}
		}
		doc := rodeAnswer(t, "--height", get("z_m")+" m", "--piece", piece, "--span", get("x_m")+" m")
		near("horizontal", doc.Horizontal, num("HF_exact_N"))
		near("vertical", doc.Vertical, num("VF_exact_N"))
		near("horizontal at the anchor", doc.AnchorH, num("HA_exact_N"))
		near("vertical at the anchor", doc.AnchorV, num("VA_exact_N"))
		near("on the bottom", doc.OnBottom, num("LB_exact_m"))
		back := rodeAnswer(t, "--height", get("z_m")+" m", "--piece", piece, "--tension", strconv.FormatFloat(doc.Tension, 'g', -1, 64)+" N")
		near("span from the tension", back.Span, num("x_m"))
	}
	if tried < 4 {
		t.Errorf("%d rows tried", tried)
	}
}

func TestRodeOfATrial(t *testing.T) {
	path := filepath.Join(t.TempDir(), "trial.toml")
	if err := os.WriteFile(path, []byte(trial.Template()), 0o644); err != nil {
		t.Fatal(err)
	}
	doc := rodeAnswer(t, path, "--run", "A1", "--tension", "3.1 kN")
	if doc.RodeOut != 60 || doc.Height != 7.5 || doc.Scope != 8 {
		t.Errorf("run A1: %v m out over %v m, scope %v; want 60, 7.5, 8", doc.RodeOut, doc.Height, doc.Scope)
	}
	code, out, errOut := rodeRun(t, path, "--tension", "3.1 kN")
	if code != cli.ExitDone {
		t.Fatalf("exit %d, %s", code, errOut)
	}
	for i, line := range strings.Split(out, "\n") {
		if len(line) > pageWide && i > 2 {
			t.Errorf("line %d is %d wide: %s", i+1, len(line), line)
		}
	}
	for _, want := range []string{"at fairlead", "lifted", "scope 8 incl. roller height, 10 by depth", "lifts        the anchor end from 0.9", "A anchor, F fairlead"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
	// The table says of each payout the tension that lifts; asked at that
	// tension the line is level at the anchor, and a little above it is not.
	code, out, errOut = rodeRun(t, path, "--table", "payout", "--json")
	if code != cli.ExitDone {
		t.Fatalf("exit %d, %s", code, errOut)
	}
	var rows []struct {
		Out   float64  `json:"rode_out_m"`
		Lifts *float64 `json:"lifts_from_n"`
	}
	if err := json.Unmarshal([]byte(out), &rows); err != nil {
		t.Fatal(err)
	}
	if len(rows) < 8 || rows[0].Out != 60 {
		t.Errorf("rows %+v; want from 60 m down", rows)
	}
	for _, r := range rows {
		if r.Lifts == nil {
			t.Errorf("%v m out: nothing lifts", r.Out)
			continue
		}
		at := func(share float64) rodeDoc {
			return rodeAnswer(t, path, "--out", strconv.FormatFloat(r.Out, 'g', -1, 64)+" m", "--tension", strconv.FormatFloat(*r.Lifts*share, 'g', -1, 64)+" N")
		}
		if under, over := at(0.999), at(1.001); under.AnchorV > 0 || over.AnchorV <= 0 {
			t.Errorf("%v m out, lifts from %v N: a little under it %v N upwards, a little over %v N", r.Out, *r.Lifts, under.AnchorV, over.AnchorV)
		}
	}
	if code, out, errOut = rodeRun(t, path, "--table", "tension", "--step", "500 N"); code != cli.ExitDone || strings.Count(out, "\n") < 18 {
		t.Errorf("table over tension: exit %d, %s\n%s", code, errOut, out)
	}
}

func TestRodeRefuses(t *testing.T) {
	path := filepath.Join(t.TempDir(), "trial.toml")
	if err := os.WriteFile(path, []byte(trial.Template()), 0o644); err != nil {
		t.Fatal(err)
	}
	floating := filepath.Join(t.TempDir(), "floats.toml")
	if err := os.WriteFile(floating, []byte(strings.Replace(trial.Template(), `weight = "0.3 N/m"`, `weight = "-0.3 N/m"`, 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	const good = "length=50 m, weight=3 N/m"
	for _, c := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"--tension", "1 kN"}, cli.ExitUsage, "no pieces"},
		{[]string{"--piece", good, "--tension", "1 kN"}, cli.ExitUsage, "--height is missing"},
		{[]string{path, "--piece", good, "--tension", "1 kN"}, cli.ExitUsage, "give one of them"},
		{[]string{path, "--height", "7 m", "--tension", "1 kN"}, cli.ExitUsage, "--depth"},
		{[]string{"--height", "7 m", "--piece", good, "--depth", "5 m", "--tension", "1 kN"}, cli.ExitUsage, "with --piece say --height"},
		{[]string{"--height", "7", "--piece", good, "--tension", "1 kN"}, cli.ExitUsage, `"7" has no unit`},
		{[]string{"--height", "0 m", "--piece", good, "--tension", "1 kN"}, cli.ExitUsage, "height"},
		{[]string{"--height", "70 m", "--piece", good, "--tension", "1 kN"}, cli.ExitFailed, "does not reach the fairlead"},
		{[]string{"--height", "7 m", "--piece", "length=50 m", "--tension", "1 kN"}, cli.ExitUsage, "weight is missing"},
		{[]string{"--height", "7 m", "--piece", good + ", colour=3", "--tension", "1 kN"}, cli.ExitUsage, "the keys are"},
		{[]string{"--height", "7 m", "--piece", good + ", weight=3 N/m", "--tension", "1 kN"}, cli.ExitUsage, "weight is given twice"},
		{[]string{"--height", "7 m", "--piece", good + ",", "--tension", "1 kN"}, cli.ExitUsage, "no key=value"},
		{[]string{"--height", "7 m", "--piece", "length=50 m, weight=-3 N/m", "--tension", "1 kN"}, cli.ExitUsage, "floats"},
		{[]string{"--height", "7 m", "--piece", good + ", friction=nan", "--tension", "1 kN"}, cli.ExitUsage, "friction"},
		{[]string{"--height", "7 m", "--piece", good + ", mbl=0 kN", "--tension", "1 kN"}, cli.ExitUsage, "breaking load"},
		{[]string{"--height", "7 m", "--piece", "length=1e9 m, weight=3 N/m", "--tension", "1 kN"}, cli.ExitUsage, "length"},
		{[]string{"--height", "7 m", "--piece", good, "--tension", "20 N"}, cli.ExitFailed, "less than the hanging weight"},
		{[]string{"--height", "7 m", "--piece", good, "--tension", "0 N"}, cli.ExitUsage, "above 0"},
		{[]string{"--height", "7 m", "--piece", good, "--span", "60 m"}, cli.ExitFailed, "out of reach"},
		{[]string{"--height", "7 m", "--piece", good, "--span", "40 m", "--tension", "1 kN"}, cli.ExitUsage, "give one of them"},
		{[]string{"--height", "7 m", "--piece", good + ", mbl=30 kN", "--tension", "31 kN"}, cli.ExitFailed, "breaking load of piece 1"},
		{[]string{"--height", "7 m", "--piece", good + ", ea=100 kN, mbl=30 kN", "--span", "80 m"}, cli.ExitFailed, "breaking load of piece 1"},
		{[]string{path, "--tension", "80 kN"}, cli.ExitFailed, "breaking load of low-stretch fibre line"},
		{[]string{path, "--out", "90 m", "--tension", "1 kN"}, cli.ExitUsage, "more than the 80 m"},
		{[]string{path, "--depth", "62 m", "--tension", "1 kN"}, cli.ExitFailed, "does not reach"},
		{[]string{path, "--run", "Z9", "--tension", "1 kN"}, cli.ExitUsage, "no such run"},
		{[]string{path}, cli.ExitUsage, "nothing asked"},
		{[]string{path, "--table", "scope"}, cli.ExitUsage, "over payout or tension"},
		{[]string{path, "--table", "payout", "--from", "70 m"}, cli.ExitUsage, "--from and --to"},
		{[]string{path, "--table", "payout", "--from", "5 m"}, cli.ExitUsage, "shorter than the fairlead is high"},
		{[]string{path, "--table", "tension", "--step", "0.01 N"}, cli.ExitUsage, "more than 500 rows"},
		{[]string{floating, "--tension", "1 kN"}, cli.ExitFailed, "piece 2 from the anchor weighs -0.3"},
		{[]string{filepath.Join(t.TempDir(), "none.toml"), "--tension", "1 kN"}, cli.ExitTrial, "cannot read"},
	} {
		code, out, errOut := rodeRun(t, c.args...)
		if code != c.code || !strings.Contains(errOut, c.want) || out != "" || strings.Count(strings.TrimSpace(errOut), "\n") > 0 {
			t.Errorf("%q: exit %d, %q, out %q; want exit %d and one line with %q", c.args, code, errOut, out, c.code, c.want)
		}
	}
}
