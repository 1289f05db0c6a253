package compare_test

import (
	"flag"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write COVERAGE.md anew; read the diff before keeping it")

// covered is a figure of the simulations: n pulls or blocks, what is claimed, how
// often it came.
type covered struct {
	what  string
	n     int
	claim string
	share float64
}

var coverage []covered

func covers(what string, n int, claim string, share float64) {
	coverage = append(coverage, covered{what, n, claim, share})
}

const coverageHead = `# What the intervals and tests are worth

Invented pulls with a known truth: how often an interval holds the true value, and
how often a test finds a difference that is not there. Written by
` + "`go test ./trial/compare -update`" + `, and held against at every run. The exact intervals
and tests claim no more than they keep but for chance: a share of 20,000 groups is
itself uncertain by some 0.003 (2,000 families of tests: 0.01). Nothing is claimed of
fewer than five blocks; five give no p under 0.05 in a pair, so none is found there.

| what | n | claimed | came |
|---|---:|---:|---:|
`

// TestTheFiguresAreWrittenDown comes after the simulations.
func TestTheFiguresAreWrittenDown(t *testing.T) {
	if len(coverage) != 5+27+9*2+3+6*3 {
		t.Skipf("%d figures: not all simulations ran", len(coverage))
	}
	var b strings.Builder
	b.WriteString(coverageHead)
	for _, c := range coverage {
		fmt.Fprintf(&b, "| %s | %d | %s | %.4f |\n", c.what, c.n, c.claim, c.share)
	}
	if *update {
		if err := os.WriteFile("COVERAGE.md", []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	file, err := os.ReadFile("COVERAGE.md")
	if err != nil {
		t.Fatal(err)
	}
	got, want := strings.Split(b.String(), "\n"), strings.Split(string(file), "\n")
	if len(got) != len(want) {
		t.Fatalf("%d lines, COVERAGE.md has %d: write it with -update", len(got), len(want))
	}
	// The last digits are those of the machine's exp and log.
	for i := range got {
		a, x := cutFigure(got[i])
		b, y := cutFigure(want[i])
		if a != b || math.Abs(x-y) > 0.002 {
			t.Errorf("COVERAGE.md, line %d: %q, now %q", i+1, want[i], got[i])
		}
	}
}

// cutFigure cuts the last cell off a row.
func cutFigure(row string) (rest string, v float64) {
	cells := strings.Split(strings.TrimSuffix(row, " |"), "| ")
	v, err := strconv.ParseFloat(cells[len(cells)-1], 64)
	if err != nil {
		return row, 0
	}
	return strings.Join(cells[:len(cells)-1], "| "), v
}
