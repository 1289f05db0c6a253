package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/charmbracelet/x/ansi"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"hawse/cmd/hawse/cli"
	"hawse/trial"
)

var updateLimits = flag.Bool("update-limits", false, "write testdata/limits.* anew; read the difference before committing it")

// golden compares with a file of testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *updateLimits {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var a, b any = string(want), got
	if filepath.Ext(name) == ".json" {
		// Another processor may round the last digit otherwise.
		if err := errors.Join(json.Unmarshal(want, &a), json.Unmarshal([]byte(got), &b)); err != nil {
			t.Fatal(err)
		}
	}
	if diff := cmp.Diff(a, b, cmpopts.EquateApprox(1e-12, 0)); diff != "" {
		t.Errorf("%s (-want +got); -update-limits writes it anew:\n%s", path, diff)
	}
}

// changed is the template with texts replaced, each of which must be there.
func changed(t *testing.T, pairs ...string) string {
	t.Helper()
	text := trial.Template()
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(text, pairs[i]) {
			t.Fatalf("%q does not stand in the template", pairs[i])
		}
		text = strings.ReplaceAll(text, pairs[i], pairs[i+1])
	}
	return text
}

// narrow says that the page fits a terminal of 80 columns.
func narrow(t *testing.T, page string) {
	t.Helper()
	for i, l := range strings.Split(page, "\n") {
		if w := ansi.StringWidth(l); w > 80 || strings.TrimRight(l, " ") != l {
			t.Errorf("line %d is %d wide, or ends in a space: %q", i+1, w, l)
		}
	}
}

// limitsOf runs the command on a text, from the file's own folder: its path is
// on the page and decides where lines break.
func limitsOf(t *testing.T, text string, flags ...string) (code int, out, errOut string) {
	t.Helper()
	home, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	defer t.Chdir(home)
	write(t, "trial.toml", text)
	return hawse(append([]string{"limits", "trial.toml"}, flags...)...)
}

// Wrong in every way a file may be and still read: a piece without a rating,
// one without a source, no [winch], a haul too fast, and a joint that may not
// pass. In the units of another crew.
func badTrial(t *testing.T) string {
	t.Helper()
	text := changed(t, "wll = \"15 kN\"              # working load limit, from its certificate\n", "",
		"wll = \"10 kN\"              # the weakest here\nsource = \"invented\"\n", "wll = \"10 kN\"\n",
		"passes = true ", "passes = false ", `tension = "kN" `, `tension = "lbf" `, `length = "m" `, `length = "ft" `, `speed = "m/min" `, `speed = "ft/min" `,
		`speed = "2.4 m/min"`, `speed = "6 m/min"`)
	before, rest, ok := strings.Cut(text, "\n[winch]\n")
	if !ok {
		t.Fatal("no [winch] in the template")
	}
	return before + rest[strings.Index(rest, "\n["):]
}

// TestLimitsGolden: the page and the document, as a crew reads them.
func TestLimitsGolden(t *testing.T) {
	for _, tt := range []struct {
		name, text string
		code       int
	}{
		{"template", trial.Template(), cli.ExitDone},
		{"bad", badTrial(t), cli.ExitFailed},
	} {
		code, page, errOut := limitsOf(t, tt.text)
		if code != tt.code {
			t.Errorf("%s: exit code %d, want %d; %s", tt.name, code, tt.code, errOut)
		}
		narrow(t, page)
		golden(t, "limits."+tt.name+".txt", page)
		code, doc, _ := limitsOf(t, tt.text, "--json")
		if code != tt.code {
			t.Errorf("%s --json: exit code %d, want %d", tt.name, code, tt.code)
		}
		golden(t, "limits."+tt.name+".json", doc)
	}
}

// TestLimitsSayEverything: all ten stages, on the page and in the document, and
// the same figures in both.
func TestLimitsSayEverything(t *testing.T) {
	_, page, _ := limitsOf(t, trial.Template())
	_, text, _ := limitsOf(t, trial.Template(), "--json")
	var doc limitsDoc
	dec := json.NewDecoder(bytes.NewReader([]byte(text)))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&doc); err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	if len(doc.Stages) != int(trial.NumStages) {
		t.Fatalf("%d stages in the document, want %d", len(doc.Stages), trial.NumStages)
	}
	for s := range trial.NumStages {
		if !strings.Contains(page, s.String()) || doc.Stages[s].Stage != s.Key() || len(doc.Stages[s].Limits) == 0 {
			t.Errorf("%v is not told: %+v", s, doc.Stages[s])
		}
		for _, l := range doc.Stages[s].Limits {
			if (l.From == "") != l.Default {
				t.Errorf("%v: %+v: a limit comes from a key, or is a default", s, l)
			}
		}
	}
	for _, must := range []string{"the most it can be", "does not make the pull safe", "> swivel"} {
		if !strings.Contains(page, must) {
			t.Errorf("the page does not say %q", must)
		}
	}
	for _, never := range []string{"OK", "SAFE", "is safe"} {
		if strings.Contains(page, never) {
			t.Errorf("the page says %q of a load", never)
		}
	}
}

// TestLimitsRemedyIsEnough: written into the file, the limit the page names is
// low enough.
func TestLimitsRemedyIsEnough(t *testing.T) {
	fast := changed(t, `speed = "2.4 m/min"`, `speed = "3.5 m/min"`)
	_, page, _ := limitsOf(t, fast)
	page = strings.Join(strings.Fields(page), " ")
	if !strings.Contains(page, `tension_stop = "2.96 kN" under [limits.recover]`) || !strings.Contains(page, "!!! RECOVER: STOP LIMIT TOO HIGH") {
		t.Fatalf("no remedy for recover in\n%s", page)
	}
	mended := strings.Replace(fast, "tension_warn = \"4.0 kN\"\ntension_stop = \"5.0 kN\"", "tension_warn = \"2.0 kN\"\ntension_stop = \"2.96 kN\"", 1)
	code, page, errOut := limitsOf(t, mended)
	if code != cli.ExitDone || strings.Contains(page, "RECOVER: STOP LIMIT TOO HIGH") {
		t.Errorf("with the remedy: code %d, %s\n%s", code, errOut, page)
	}
}

// TestLimitsNarrowWithLongNames: names as long as a file may have, wide letters
// among them, leave the page 80 columns wide.
func TestLimitsNarrowWithLongNames(t *testing.T) {
	long := strings.Repeat("very long name ", 5) + "x"
	wide := strings.Repeat("錨", 26)
	_, page, errOut := limitsOf(t, changed(t, `"swivel"`, `"`+long+`"`, `"anchor shackle"`, `"`+wide+`"`, "passes = true ", "passes = false ",
		`id = "R1" `, `id = "`+strings.Repeat("R", 32)+`" `, `name = "Three grounds, three patterns (invented)"`, `name = "`+strings.Repeat("n", 80)+`"`))
	if page == "" {
		t.Fatal(errOut)
	}
	narrow(t, page)
	for _, unit := range []string{"N", "tf", "lbf", "kgf"} {
		_, page, _ := limitsOf(t, changed(t, `tension = "kN" `, `tension = "`+unit+`" `, `length = "m" `, `length = "mm" `))
		if strings.Contains(page, "e+") {
			t.Errorf("in %s a number is written with an exponent:\n%s", unit, page)
		}
		narrow(t, page)
	}
}

func TestLimitsBadInput(t *testing.T) {
	dir := t.TempDir()
	unread := write(t, filepath.Join(dir, "bad.toml"), strings.Replace(trial.Template(), `"1.5 m"`, "1.5", 1))
	for _, tt := range []struct {
		name string
		args []string
		code int
		want string
	}{
		{"no file said", []string{"limits"}, cli.ExitUsage, "one trial file"},
		{"two files", []string{"limits", unread, unread}, cli.ExitUsage, "one trial file"},
		{"no such file", []string{"limits", filepath.Join(dir, "none.toml")}, cli.ExitTrial, "no such file"},
		{"a file with a fault", []string{"limits", unread}, cli.ExitTrial, "vessel.fairlead"},
		{"an unknown flag", []string{"limits", unread, "--jsn"}, cli.ExitUsage, "--jsn"},
	} {
		code, out, errOut := hawse(tt.args...)
		if code != tt.code || !strings.Contains(errOut, tt.want) || out != "" {
			t.Errorf("%s: code %d, want %d; printed %q and %q, want %q", tt.name, code, tt.code, out, errOut, tt.want)
		}
	}
	code, out, _ := hawse("limits", "--help")
	if code != cli.ExitDone || !strings.Contains(out, "not a safety function") || !strings.Contains(out, "hawse limits my-trial/trial.toml --json") {
		t.Errorf("help: code %d, want the cautions and an example in\n%s", code, out)
	}
}

func TestThreeDigits(t *testing.T) {
	for v, want := range map[float64]string{0: "0", 0.5867: "0.587", 12345: "12300", 1.005e7: "10100000", 0.0001234: "0.000123", -1.239: "-1.24", 999.9: "1000", 7.27272: "7.27"} {
		if got := three(v); got != want {
			t.Errorf("three(%v) = %q, want %q", v, got, want)
		}
	}
	for v, want := range map[float64]float64{0: 0, 4.5876: 4.58, 0.4588: 0.458, 9999: 9990, 12349: 12300} {
		if got := down(v); got != want {
			t.Errorf("down(%v) = %v, want %v", v, got, want)
		}
	}
}
