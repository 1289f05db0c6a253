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
)

const calibrations = "../../testdata/calibration/"

// TestCalibrateJSON: the certified figures come out of the command to nine
// digits.
func TestCalibrateJSON(t *testing.T) {
	for _, tt := range []struct {
		args       []string
		coef, errs []float64
		sd, r2     float64
		llf        float64
	}{
		{[]string{"nist-pontius.csv", "--degree", "2"}, []float64{0.673565789473684e-03, 0.732059160401003e-06, -0.316081871345029e-14},
			[]float64{0.107938612033077e-03, 0.157817399981659e-09, 0.486652849992036e-16}, 0.205177424076185e-03, 0.999999900178537, 0.0004924258178},
		{[]string{"nist-noint1.csv", "--through-zero"}, []float64{0, 2.07438016528926}, []float64{0, 0.165289256198347e-01}, 3.56753034006338, 0.999365492298663, 2.4 * 3.56753034006338},
	} {
		code, out, errOut := hawse(append([]string{"calibrate", "--json", calibrations + tt.args[0]}, tt.args[1:]...)...)
		var d calibrateDoc
		if err := json.Unmarshal([]byte(out), &d); err != nil || code != cli.ExitDone {
			t.Errorf("%q: code %d, %v, %s", tt.args, code, err, errOut)
			continue
		}
		near := func(name string, got, want float64) {
			if math.Abs(got-want) > 1e-9*math.Abs(want) {
				t.Errorf("%q: %s is %.15g, want %.15g", tt.args, name, got, want)
			}
		}
		if len(d.Coef) != len(tt.coef) || len(d.StdErr) != len(tt.errs) {
			t.Fatalf("%q: %v, %v", tt.args, d.Coef, d.StdErr)
		}
		for i := range tt.coef {
			near("a coefficient", d.Coef[i], tt.coef[i])
			near("a standard error", d.StdErr[i], tt.errs[i])
		}
		near("residual_sd", d.SD, tt.sd)
		near("r_squared", d.R2, tt.r2)
		near("lower_limit_factor", d.LLF, tt.llf)
	}
}

// cellCSV is an invented calibration that goes up and down twice.
const cellCSV = `x [kgf],y [kgf],run,direction
0.1,0,1,up
199.0,200,1,up
397.9,400,1,up
596.6,600,1,up
795.0,800,1,up
993.2,1000,1,up
795.6,800,1,down
597.4,600,1,down
398.8,400,1,down
199.7,200,1,down
0.3,0,1,down
0.2,0,2,up
199.1,200,2,up
397.8,400,2,up
596.7,600,2,up
795.2,800,2,up
993.1,1000,2,up
795.5,800,2,down
597.3,600,2,down
398.7,400,2,down
199.8,200,2,down
0.2,0,2,down
`

func TestCalibratePage(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	write(t, "cell.csv", cellCSV)
	write(t, "before.csv", strings.ReplaceAll(strings.ReplaceAll(cellCSV, "993.2", "990.2"), "993.1", "990.0"))
	code, page, errOut := hawse("calibrate", "cell.csv", "--degree", "2", "--source", "invented", "--before", "before.csv", "--svg", "r.svg")
	if code != cli.ExitDone {
		t.Fatal(code, errOut)
	}
	narrow(t, page)
	for _, want := range []string{"hysteresis", "drift", "RESIDUALS", "u", "d", "[load.calibration]", "LLF", "use, A", "runs", "NOTES"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q in\n%s", want, page)
		}
	}
	svg, err := os.ReadFile("r.svg")
	if err != nil || !strings.HasPrefix(string(svg), "<svg ") || strings.Count(string(svg), "<circle") != 22 {
		t.Errorf("the picture: %v\n%s", err, svg)
	}
	if code, _, errOut = hawse("calibrate", "cell.csv", "--svg", "r.svg"); code != cli.ExitStart || !strings.Contains(errOut, "left as it is") {
		t.Errorf("over a picture: %d, %s", code, errOut)
	}

	// The block fits a trial file as it stands.
	code, block, errOut := hawse("calibrate", "cell.csv", "--degree", "2", "--source", "invented", "--block")
	if code != cli.ExitDone || !strings.Contains(errOut, "note:") {
		t.Fatal(code, errOut)
	}
	text := trial.Template()
	start := strings.Index(text, "[load.calibration]")
	end := start + strings.Index(text[start:], "\n[line]")
	tr, err := trial.ParseTrial("t", []byte(text[:start]+block+text[end:]))
	if err != nil || len(tr.Load.Cal) != 3 || tr.Load.CalSource != "invented" || tr.Load.CalUnit.Name != "kgf" {
		t.Errorf("with the block: %v\n%s", err, block)
	}
}

func TestCalibrateLine(t *testing.T) {
	t.Chdir(t.TempDir())
	write(t, "marks.csv", "mark [m],counts,direction\n60,0,in\n50,10010,in\n40,20000,in\n30,29990,in\n30,30010,out\n40,20010,out\n50,9990,out\n60,10,out\n")
	code, page, errOut := hawse("calibrate", "marks.csv")
	if code != cli.ExitDone || !strings.Contains(page, "counts/m") || !strings.Contains(page, `haul = "counts rise"`) {
		t.Fatal(code, page, errOut)
	}
	narrow(t, page)
	code, out, _ := hawse("calibrate", "marks.csv", "--json")
	var d marksDoc
	if err := json.Unmarshal([]byte(out), &d); err != nil || code != cli.ExitDone || d.HaulSign != 1 || len(d.Layers) != 1 || math.Abs(d.Layers[0].PerMetre-1000) > 2 {
		t.Errorf("%d, %v, %+v", code, err, d)
	}
}

func TestCalibrateBadInput(t *testing.T) {
	dir := t.TempDir()
	file := func(name, text string) string { return write(t, filepath.Join(dir, name), text) }
	good := file("good.csv", cellCSV)
	for _, tt := range []struct {
		name string
		args []string
		code int
		want string
	}{
		{"no file said", nil, cli.ExitUsage, "one CSV file"},
		{"no such file", []string{filepath.Join(dir, "none.csv")}, cli.ExitFailed, "no such file"},
		{"a folder", []string{dir}, cli.ExitFailed, "cannot read the calibration"},
		{"degree 4", []string{good, "--degree", "4"}, cli.ExitUsage, "--degree 4: give 1, 2 or 3"},
		{"two points", []string{file("two.csv", "x,y\n1,2\n3,4\n")}, cli.ExitFailed, "no scatter can be told"},
		{"constant", []string{file("const.csv", "x,y\n1,2\n1,4\n1,5\n")}, cli.ExitFailed, "column x is constant"},
		{"missing column", []string{file("miss.csv", "x,z\n1,2\n")}, cli.ExitFailed, "has no column y"},
		{"not a unit", []string{good, "--unit", "furlong"}, cli.ExitUsage, "furlong"},
		{"another unit", []string{good, "--unit", "kN"}, cli.ExitFailed, "one unit for both"},
		{"two units", []string{file("units.csv", "x [kgf],y [kN]\n1,2\n2,3\n3,4\n")}, cli.ExitFailed, "one unit for both"},
		{"a length", []string{file("len.csv", "x [ft],y [kN]\n1,2\n2,3\n3,4\n")}, cli.ExitFailed, "no unit of force"},
		{"a block of no unit", []string{calibrations + "nist-pontius.csv", "--block"}, cli.ExitUsage, "--unit"},
		{"json and block", []string{good, "--json", "--block"}, cli.ExitUsage, "not both"},
		{"applied z", []string{good, "--applied", "z"}, cli.ExitUsage, "x or y"},
		{"nothing to compare", []string{good, "--before", filepath.Join(dir, "none.csv")}, cli.ExitFailed, "no such file"},
		{"compared with another unit", []string{good, "--before", file("kn.csv", "x [kN],y [kN]\n1,2\n2,3\n3,4.1\n")}, cli.ExitFailed, "nothing to compare"},
		{"a picture in no folder", []string{good, "--svg", filepath.Join(dir, "no", "r.svg")}, cli.ExitStart, "cannot write"},
		{"an escape", []string{file("esc.csv", "x,\x1b[31my\n1,2\n")}, cli.ExitFailed, `\x1b`},
	} {
		code, out, errOut := hawse(append([]string{"calibrate"}, tt.args...)...)
		if code != tt.code || !strings.Contains(errOut, tt.want) || out != "" || strings.ContainsAny(errOut, "\x1b\x00") {
			t.Errorf("%s: code %d, want %d; %q and %q, want %q", tt.name, code, tt.code, out, errOut, tt.want)
		}
	}
}
