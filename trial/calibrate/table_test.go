package calibrate

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
)

// TestBadTables: each mistake is one line that says what, where and what to do.
func TestBadTables(t *testing.T) {
	for _, tt := range []struct {
		name, text string
		line       int
		want       []string
	}{
		{"empty", " \n", 1, []string{"is empty", "x,y"}},
		{"no header", "1,2\n3,4\n", 1, []string{"begins with a number", "x,y"}},
		{"no x", "load,y\n1,2\n", 1, []string{"has no column x", "load, y"}},
		{"no y", "x,force\n1,2\n", 1, []string{"has no column y", "x, force"}},
		{"two x", "x,y,x [kgf]\n1,2,3\n", 1, []string{"two columns x"}},
		{"no rows", "x,y\n", 1, []string{"no readings"}},
		{"an empty cell", "x,y\n1,2\n3,\n", 3, []string{"column y is empty"}},
		{"a short row", "x,y\n1,2\n3\n", 3, []string{"column y is empty"}},
		{"a comma for a point", "x;y\n1;2\n1,5;3\n", 3, []string{"comma", "decimal point"}},
		{"a comma for a point, and commas between", "x,y\n1,5,3\n", 2, []string{"3 cells under 2 columns", "decimal point"}},
		{"a unit in a cell", "x,y\n1,2 kgf\n", 2, []string{`"2 kgf"`, "header"}},
		{"not finite", "x,y\nNaN,2\n", 2, []string{`"NaN"`}},
		{"endless", "x,y\n1e99,2\n", 2, []string{"out of all bounds"}},
		{"a direction of its own", "x,y,direction\n1,2,sideways\n", 2, []string{`"sideways"`, `"up"`}},
		{"an escape", "x,y\n\x1b[31m,2\n", 2, []string{`"\x1b[31m"`}},
		{"an open quote", "x,y\n\"1,2\n", 2, []string{"is no CSV"}},
		{"not text", "x,y\n\xff\xfe,2\n", 1, []string{"UTF-8"}},
	} {
		_, err := Read("cell.csv", []byte(tt.text))
		bad, ok := errors.AsType[*Error](err)
		if !ok {
			t.Errorf("%s: got %v, want an error with its line", tt.name, err)
			continue
		}
		if bad.Line != tt.line {
			t.Errorf("%s: line %d, want %d: %v", tt.name, bad.Line, tt.line, err)
		}
		for _, w := range tt.want {
			if !strings.Contains(err.Error(), w) || strings.ContainsAny(err.Error(), "\n\x1b") {
				t.Errorf("%s: %q, want %q in one clean line", tt.name, err, w)
			}
		}
	}
}

func TestTooLittle(t *testing.T) {
	for _, tt := range []struct {
		name, text string
		degree     int
		zero       bool
		want       string
	}{
		{"two points", "x,y\n1,2\n3,4\n", 1, false, "no scatter can be told"},
		{"one point through zero", "x,y\n1,2\n", 1, true, "no scatter can be told"},
		{"constant x", "x,y\n1,2\n1,3\n1,4\n", 1, false, "column x is constant"},
		{"constant y", "x,y\n1,2\n2,2\n3,2\n", 1, false, "column y is constant"},
		{"x is 0 alone", "x,y\n0,2\n0,3\n0,4\n", 1, true, "column x is constant"},
		{"too few loads", "x,y\n1,2\n2,3\n1,4\n2,5\n", 2, false, "2 different x"},
		{"no load at all", "x,y\n1,0\n2,0\n3,0\n", 1, false, "column y is constant"},
		{"degree 0", "x,y\n1,2\n2,3\n1,4\n", 0, false, "give 1 to 5"},
	} {
		tab, err := Read("cell.csv", []byte(tt.text))
		if err != nil {
			t.Fatalf("%s: %v", tt.name, err)
		}
		if _, err = tab.Analyse(tt.degree, tt.zero, AppliedY); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
	}
}

// TestReadsWhatPeopleSend: other separators, cases, units, byte order mark.
func TestReadsWhatPeopleSend(t *testing.T) {
	for _, text := range []string{
		"x,y\n1,2\n3,4\n",
		"\xef\xbb\xbfY [kN],X [kN],note\r\n2,1,a\r\n4,3,b\r\n\r\n",
		"remark;x;y\n;1;2\n;3;4\n",
		"x\ty\n1\t2\n3\t4\n", "x,y,\u212aelvin kgf\n1,2,\n3,4,\n",
		" x , y \n 1.0 , 2e0 \n +3 , 4. \n",
	} {
		tab, err := Read("cell.csv", []byte(text))
		if err != nil || len(tab.Rows) != 2 || tab.Rows[0].X != 1 || tab.Rows[0].Y != 2 || tab.Rows[1].X != 3 || tab.Rows[1].Y != 4 {
			t.Errorf("%q: %+v, %v; want (1, 2) and (3, 4)", text, tab, err)
		}
	}
	tab, err := Read("cell.csv", []byte("x [kgf],y (kN),run\n1,2,a\n"))
	if err != nil || tab.XUnit != "kgf" || tab.YUnit != "kN" || !tab.HasRun || tab.Rows[0].Run != "a" {
		t.Errorf("units and run: %+v, %v", tab, err)
	}
}

// loop is a cell that reads 2 more coming down, at loads 0 to 1000 and back,
// twice; invented.
func loop(column bool) string {
	var b strings.Builder
	b.WriteString("x,y,run,direction\n")
	for run := range 2 {
		for i := range 21 {
			load, x, way := 100*min(i, 20-i), 0.0, "up"
			if x = float64(load); i > 10 {
				way = "down"
				x += 2
			}
			if !column {
				way = ""
			}
			fmt.Fprintf(&b, "%g,%d,%c,%s\n", x+0.1*float64(run), load, 'a'+run, way)
		}
	}
	return b.String()
}

func TestHysteresisAndRuns(t *testing.T) {
	said := loop(true)
	unsaid := strings.Replace(loop(false), "x,y,run,direction", "x,y,run,left", 1)
	for _, text := range []string{said, unsaid} {
		tab, err := Read("cell.csv", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		r, err := tab.Analyse(1, false, AppliedY)
		if err != nil {
			t.Fatal(err)
		}
		if !r.HasHysteresis || math.Abs(r.Hysteresis-2) > 0.01 {
			t.Errorf("hysteresis %v at %v, want 2", r.Hysteresis, r.HysteresisAt)
		}
		if len(r.Runs) != 2 || math.Abs(r.Runs[0].Mean-r.Runs[1].Mean-0.1) > 1e-3 {
			t.Errorf("runs %+v, want two, 0.1 apart", r.Runs)
		}
		plot := r.Plot(tab, 60, 15)
		if !strings.Contains(plot, "u") || !strings.Contains(plot, "d") {
			t.Errorf("no u and d in\n%s", plot)
		}
	}
}

func TestNotes(t *testing.T) {
	note := func(text string, degree int) string {
		tab, err := Read("cell.csv", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		r, err := tab.Analyse(degree, false, AppliedY)
		if err != nil {
			t.Fatal(err)
		}
		return strings.Join(r.Notes, "\n")
	}
	rows := func(f func(x float64) float64) string {
		var b strings.Builder
		b.WriteString("x,y\n")
		for i := range 41 {
			x := float64(25 * i)
			fmt.Fprintf(&b, "%g,%.6f\n", x, f(x)+0.01*math.Sin(float64(7*i)))
		}
		return b.String()
	}
	for _, tt := range []struct {
		name, text string
		degree     int
		want       string
	}{
		{"newtons for kgf", rows(func(x float64) float64 { return 9.80665 * x }), 1, "9.81 times"},
		{"lbf for kgf", rows(func(x float64) float64 { return x / 0.45359237 }), 1, "2.2 times"},
		{"kgf for lbf", rows(func(x float64) float64 { return x * 0.45359237 }), 1, "the other way round"},
		{"a curve", rows(func(x float64) float64 { return x + 1e-5*x*x }), 1, "a curve is left"},
		{"reversed", rows(func(x float64) float64 { return 5 - x }), 1, "does not rise"},
		{"unsorted", "x,y\n5,5\n1,1.1\n9,9\n2,2\n7,7\n3,3\n", 1, "not in order"},
		{"few", "x,y\n1,1\n2,2\n3,3.1\n", 1, "ASTM E74 wants"},
		{"one way", rows(func(x float64) float64 { return x }), 1, "nothing is known of hysteresis"},
		{"a slip of the pen", strings.Replace(rows(func(x float64) float64 { return x }), "\n500,", "\n500,1", 1), 1, "line 22 lies"},
	} {
		if got := note(tt.text, tt.degree); !strings.Contains(got, tt.want) {
			t.Errorf("%s: %q, want %q", tt.name, got, tt.want)
		}
	}
	if got := note(rows(func(x float64) float64 { return 1.01 * x }), 1); strings.Contains(got, "unit") || strings.Contains(got, "curve") || strings.Contains(got, "lies") {
		t.Errorf("a good cell: %q", got)
	}
}

func TestBlockAndPicture(t *testing.T) {
	tab, err := Read("cell.csv", []byte(loop(true)))
	if err != nil {
		t.Fatal(err)
	}
	r, _ := tab.Analyse(2, true, AppliedY)
	block, err := r.Block("kgf", "a \"works\"\ncertificate\\")
	if err != nil || !strings.Contains(block, `source = "a \"works\" certificate\\"`) || !strings.Contains(block, "coefficients = [0.0, ") {
		t.Errorf("block: %s, %v", block, err)
	}
	if r, _ = tab.Analyse(1, false, AppliedX); r != nil {
		if _, err := r.Block("kgf", "x"); err == nil {
			t.Error("a block of a table with x applied")
		}
	}
	svg := r.SVG(tab, "<script>\x07&", "kgf")
	if strings.Contains(svg, "<script") || strings.Contains(svg, "\x07") || strings.Count(svg, "<circle") != len(tab.Rows) || strings.Contains(svg, "NaN") {
		t.Errorf("picture:\n%s", svg)
	}
}

func TestDrift(t *testing.T) {
	before := of(t, [][2]string{{"0", "0"}, {"50", "50"}, {"100", "100"}})
	after := of(t, [][2]string{{"0", "1"}, {"50", "52"}, {"100", "103"}})
	b, _ := before.Polynomial(1, false)
	a, _ := after.Polynomial(1, false)
	d := a.DriftFrom(b, 0, 100)
	if math.Abs(d.AtZero-1) > 1e-12 || math.Abs(d.AtTop-3) > 1e-12 || math.Abs(d.Most-3) > 1e-12 || d.At != 100 || math.Abs(d.Share-0.03) > 1e-12 {
		t.Errorf("drift %+v, want 1 at 0 and 3 at 100", d)
	}
}

func FuzzRead(f *testing.F) {
	f.Add("x,y\n1,2\n3,4\n5,7\n")
	f.Add("mark,counts\n1,2\n3,4\n5,7\n")
	f.Add("x;y;run\n\"1\";-2e3;\n")
	f.Fuzz(func(t *testing.T, text string) {
		if tab, err := Read("f", []byte(text)); err == nil && len(tab.Rows) < 200 {
			for degree := 1; degree <= 3; degree++ {
				r, err := tab.Analyse(degree, degree == 2, AppliedY)
				if err != nil {
					continue
				}
				r.Plot(tab, 40, 9)
				if svg := r.SVG(tab, text, text); strings.Contains(svg, "NaN") {
					t.Fatalf("NaN in the picture of %q", text)
				}
			}
		}
		if m, err := ReadMarks("f", []byte(text)); err == nil {
			m.Block()
		}
	})
}
