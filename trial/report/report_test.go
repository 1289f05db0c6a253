package report

import (
	"bytes"
	"encoding/csv"
	"errors"
	"flag"
	"fmt"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hawse/trial"
)

var update = flag.Bool("update", false, "write the golden anew; read the diff before keeping it")

// invented is a small campaign: three patterns over six blocks, with a set that
// failed, a stop that was called and a bound.
func invented(t *testing.T, name string) *Campaign {
	t.Helper()
	text := strings.Replace(trial.Template(), `name = "Three grounds, three patterns (invented)"`, "name = \""+name+"\"", 1)
	if i := strings.Index(text, "\n[[anchor]]"); i > 0 {
		text = text[:i+1]
	}
	var b strings.Builder
	b.WriteString(text)
	for _, p := range []string{"A", "B", "C"} {
		fmt.Fprintf(&b, "[[anchor]]\nid = \"%s16\"\npattern = %q\nmass = \"16 kg\"\nfluke = \"45 deg\"\nnote = \"invented\"\n", p, p)
	}
	b.WriteString("[[station]]\nname = \"Alder Flat\"\nbottom = \"soft mud\"\ndepth = \"6.0 m\"\n")
	lane := 0
	for block := range 6 {
		for _, p := range []string{"A", "B", "C"} {
			lane++
			fmt.Fprintf(&b, "[[run]]\nid = \"%s%d\"\nkind = \"pull\"\nanchor = \"%s16\"\nstation = \"Alder Flat\"\nlane = %d\npayout = \"60 m\"\nspeed = \"2.4 m/min\"\n", p, block+1, p, lane)
		}
	}
	tr, err := trial.ParseTrial("trial.toml", []byte(b.String()))
	if err != nil {
		t.Fatal(err)
	}
	c := &Campaign{Tool: "test", Trial: tr, By: trial.Peak1m, Seed: 1}
	for i, r := range tr.Runs {
		a, _ := tr.Anchor(r.Anchor)
		peak := map[string]float64{"A": 3000, "B": 4000, "C": 2000}[a.Pattern] * (1 + 0.04*float64(i%5-2))
		f := &trial.Figures{Told: true, Hauled: 29, InPull: 29}
		for q := range f.Quantities {
			for k := range f.Quantities[q].Read {
				f.Quantities[q].Read[k] = trial.Value{Why: "not in this test", V: math.NaN(), U: math.NaN()}
			}
		}
		f.Quantities[trial.Peak1m].Read[0] = trial.Value{Known: true, V: peak, U: 0.02 * peak}
		f.Quantities[trial.SetOrNot] = trial.Figure{Word: "set"}
		f.Quantities[trial.ScopeAtPeak].Read[0] = trial.Value{Known: true, V: 5.5}
		p := Pull{ID: r.ID, Run: r, Anchor: &a, Trial: tr, Started: time.Date(2026, 4, 13, 8+i/3, 20*(i%3), 0, 0, time.UTC), Length: 14 * time.Minute,
			Mode: "simulated", Holds: true, Figures: f, Files: []File{{Name: r.ID + ".log", State: "whole", SHA256: strings.Repeat("ab", 32), Records: 9}}}
		switch r.ID {
		case "B3":
			f.Quantities[trial.SetOrNot].Word = "not set"
		case "A4":
			f.Quantities[trial.Peak1m].Bound, p.CalledStop = trial.BoundNotLeft, true
			p.Stops = []Stop{{T: 5 * time.Minute, Kind: "trip", Text: "STOP CALLED", Person: true}}
		}
		p.Checks = []Check{{At: p.Started, Done: true, Text: "passed", Zero: float64(10 + i), Shown: math.NaN(), Want: math.NaN()}}
		for k := range 200 {
			x := 29 * float64(k) / 200
			p.Trace.Cols = append(p.Trace.Cols, Col{T0: float64(k) * 3, T1: float64(k+1) * 3, Low: peak * x / 29, High: peak*x/29 + 20, X: x, Travel: x - 2, Scope: (60 - x) / 7.5, Depth: 6, Stage: trial.Pull})
		}
		c.Pulls = append(c.Pulls, p)
	}
	return c
}

type output struct {
	Name  string
	Bytes []byte
}

// made is all files of a report.
func made(t *testing.T, c *Campaign) (out []output) {
	t.Helper()
	err := Make(c, nil, func(name string, write func(io.Writer) error) error {
		var b bytes.Buffer
		defer func() { out = append(out, output{name, b.Bytes()}) }()
		return write(&b)
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func named(out []output, name string) []byte {
	for _, o := range out {
		if o.Name == name {
			return o.Bytes
		}
	}
	return nil
}

func TestReportGolden(t *testing.T) {
	c := invented(t, "Six blocks (invented)")
	out := made(t, c)
	for i, again := range made(t, c) {
		if again.Name != out[i].Name || !bytes.Equal(again.Bytes, out[i].Bytes) {
			t.Errorf("%s is not the same when made again", again.Name)
		}
	}
	golden := filepath.Join("testdata", "report.md")
	got := named(out, "report.md")
	if *update {
		if err := os.WriteFile(golden, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), string(got)); diff != "" {
		t.Errorf("report.md, - want, + got; -update writes it anew:\n%s", diff)
	}
}

var safeName = regexp.MustCompile(`^(report\.(html|md)|tables/[A-Za-z0-9.-]+\.csv|plots/[A-Za-z0-9-][A-Za-z0-9.-]*\.(svg|png))$`)

// TestReportNeedsNothing: one file, no network, no script, whatever the logs say.
func TestReportNeedsNothing(t *testing.T) {
	c := invented(t, "Six blocks (invented)")
	evil := `</svg><script src="http://x/">alert(1)</script>`
	c.Pulls[0].ID, c.Pulls[1].ID = "../../etc/passwd", evil
	c.Pulls[1].Stops = []Stop{{Text: evil, Kind: "trip"}}
	c.Pulls[2].Marks = []Mark{{Text: `came up: =HYPERLINK("http://x")`, Who: evil}}
	c.Pulls[2].CameUp = &CameUp{CameUp: trial.CameUp{Flukes: "part", Angle: 0.5, Remark: "=1+1 " + evil}, Said: "=2 " + evil}
	c.Pulls[3].Doubts, c.Pulls[3].Files[0].Name = []string{"=1+1|| `x` [y](z)"}, "=cmd|' /C calc'!A0.log"
	c.Pulls[4].Trace.Cols = nil
	c.Pulls[5].Figures = &trial.Figures{}
	c.LeftOut = []LeftOut{{evil, evil}}
	out := made(t, c)
	page := string(named(out, "report.html"))
	plain := strings.NewReplacer("http://www.w3.org/2000/svg", "", "http://www.w3.org/1999/xlink", "").Replace(page)
	for _, bad := range []string{"<script", "src=", "url(", "@import", "<link"} {
		if strings.Contains(plain, bad) && !(bad == "src=" && strings.Count(plain, "src=") == strings.Count(plain, "src=&#34;http")) {
			t.Errorf("report.html has %q", bad)
		}
	}
	if !strings.Contains(page, "&lt;script") {
		t.Error("the text of a log is not in the page at all")
	}
	for _, o := range out {
		if !safeName.MatchString(o.Name) || strings.Contains(o.Name, "..") {
			t.Errorf("a file would be called %q", o.Name)
		}
		switch filepath.Ext(o.Name) {
		case ".png":
			if _, err := png.DecodeConfig(bytes.NewReader(o.Bytes)); err != nil {
				t.Errorf("%s: %v", o.Name, err)
			}
		case ".csv":
			rows, err := csv.NewReader(bytes.NewReader(o.Bytes)).ReadAll()
			if err != nil {
				t.Errorf("%s: %v", o.Name, err)
			}
			for _, r := range rows {
				for _, f := range r {
					if f != "" && strings.ContainsRune("=+@", rune(f[0])) {
						t.Errorf("%s: a spreadsheet would calculate %q", o.Name, f)
					}
				}
			}
		case ".svg":
			if bytes.Contains(o.Bytes, []byte("<script")) {
				t.Errorf("%s has a script", o.Name)
			}
		}
	}
}

func TestNothingToReport(t *testing.T) {
	out := made(t, &Campaign{Tool: "test", LeftOut: []LeftOut{{"x.log", "no log"}}})
	if md := string(named(out, "report.md")); !strings.Contains(md, "No pull could be read") || !strings.Contains(md, "x.log") {
		t.Errorf("a report of nothing:\n%s", md)
	}
}

// TestExcludedIsShown: what is held against none still has its row.
func TestExcludedIsShown(t *testing.T) {
	c := invented(t, "Six blocks (invented)")
	c.Pulls[0].Excluded = "of another trial, X"
	groups, _ := groupsOf(c, c.By)
	n := 0
	for _, g := range groups {
		n += len(g.Members)
	}
	if n != 17 {
		t.Errorf("%d pulls are compared; want 17", n)
	}
	if md := string(named(made(t, c), "report.md")); !strings.Contains(md, "not compared: of another trial, X") {
		t.Error("the excluded pull is not told")
	}
}

func TestBlocks(t *testing.T) {
	c := invented(t, "Six blocks (invented)")
	got := blocksOf(c)
	for i, b := range got {
		if want := fmt.Sprintf("Alder Flat %d", i/3+1); b.name != want || b.place != i%3+1 {
			t.Errorf("pull %d stands in %+v; want %s, place %d", i, b, want, i%3+1)
		}
	}
}

// TestPlannedOrder: a drawn order counts only where it was kept.
func TestPlannedOrder(t *testing.T) {
	c := invented(t, "Six blocks (invented)")
	c.Planned = map[string]Planned{}
	for i := range c.Pulls {
		at := i%3 + 1
		if i/3 == 2 { // in the third block the last two were exchanged
			at = []int{1, 3, 2}[i%3]
		}
		c.Planned[c.Pulls[i].ID] = Planned{Block: i/3 + 1, Place: at, Drawn: true, Bearing: float64(i) / 3}
	}
	for i, b := range blocksOf(c) {
		if want := i/3 != 2; b.drawn != want || b.name != fmt.Sprintf("Alder Flat, planned %d", i/3+1) {
			t.Errorf("pull %d: %+v; want drawn %v", i, b, want)
		}
	}
	if md := string(named(made(t, c), "report.md")); !strings.Contains(md, "was not drawn by lot") || !strings.Contains(md, "North is up") {
		t.Error("a block whose order was not kept is not told, or the lanes have no bearings")
	}
}

// TestCameUp: what was answered on deck has a table of its own, in words and, for
// programs, in the record's.
func TestCameUp(t *testing.T) {
	c := invented(t, "Six blocks (invented)")
	if strings.Contains(string(named(made(t, c), "report.md")), "What came up") {
		t.Error("a table of what came up, and nobody said anything")
	}
	said, err := trial.ParseCameUp("flukes=part soil_at=flukes soil=stiff-clay damage=none fit=cleaned angle=32.5 deg photo=7 zero=30 N")
	if err != nil {
		t.Fatal(err)
	}
	c.Pulls[3].CameUp = &CameUp{CameUp: said, Said: "test (logger)"}
	out := made(t, c)
	md := string(named(out, "report.md"))
	for _, want := range []string{"What came up", "| partly clogged | the flukes | stiff clay | none seen | once cleaned | 32.5 |", "Not said: runs " + c.Pulls[0].ID} {
		if !strings.Contains(md, want) {
			t.Errorf("report.md has no %q", want)
		}
	}
	rows, err := csv.NewReader(bytes.NewReader(named(out, "tables/came-up.csv"))).ReadAll()
	if err != nil || len(rows) != 2 || rows[1][3] != "stiff-clay" || rows[1][6] != "0.5672320068981571" || rows[0][7] != "zero_n" {
		t.Errorf("tables/came-up.csv: %v, %q", err, rows)
	}
}

// TestDiskFull: an error of whoever writes ends the report, and is told.
func TestDiskFull(t *testing.T) {
	c := invented(t, "Six blocks (invented)")
	full, n := errors.New("no room"), 0
	err := Make(c, nil, func(string, func(io.Writer) error) error {
		if n++; n > 5 {
			return full
		}
		return nil
	})
	if !errors.Is(err, full) || n != 6 {
		t.Errorf("after %d files: %v; want 6 and %v", n, err, full)
	}
}

// TestToldPlainly: what an owner, and whoever doubts the owner, looks for.
func TestToldPlainly(t *testing.T) {
	c := invented(t, "Six blocks (invented)")
	for i := range c.Pulls {
		p := &c.Pulls[i]
		switch p.ID {
		case "A1":
			f := *p.Figures
			f.Quantities[trial.Peak1m].Read[0].V = 2500
			p.Corrected = &f
		case "A2":
			p.Figures.Stages[trial.Recover].Time = 60e9
			p.Figures.Quantities[trial.BurialDepth].Read[0] = trial.Value{Known: true, V: 0.3, U: 0.2}
			p.Figures.Quantities[trial.BurialDepth].Note = "not resolved: no more than its own band; x"
		case "A3":
			p.Figures.Quantities[trial.BurialDepth].Read[0] = trial.Value{Known: true, V: 1.62, U: 0.2}
		case "B3":
			for k := range p.Trace.Cols {
				p.Trace.Cols[k].Travel = math.NaN()
			}
		}
	}
	out := made(t, c)
	md := string(named(out, "report.md"))
	for name, want := range map[string]string{
		"who held more":        "In short, on soft mud: too few blocks, nothing is claimed: A and B, A and C, B and C",
		"who did not set":      "did not set: B 16 kg 45° in 1 of 6 pulls",
		"a correction":         "with the corrections of its addenda, by which it is compared: peak, 1 m hauled; at deck 2.50",
		"a burial of no depth": "| not resolved |",
		"a burial":             "| 1.6 ± 0.4 |",
	} {
		if !strings.Contains(md, want) {
			t.Errorf("%s: no %q in\n%s", name, want, md[:min(len(md), 1500)])
		}
	}
	if svg := string(named(out, "plots/repeats-soft-mud.svg")); !strings.Contains(svg, "without a line: B3 (did not set)") {
		t.Error("the pull that did not set is in no panel of the repeats")
	}
	for _, o := range out {
		if filepath.Ext(o.Name) == ".svg" && !bytes.Contains(o.Bytes, []byte(">invented data<")) {
			t.Errorf("%s does not say that its data are invented", o.Name)
		}
	}
}
