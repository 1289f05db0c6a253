package compare_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"hawse/trial/compare"
)

const data = "../../testdata/compare"

func table(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join(data, name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	return rows[1:]
}

func numbers(t *testing.T, s string) (out []float64) {
	t.Helper()
	for _, w := range strings.Fields(s) {
		v, err := strconv.ParseFloat(w, 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, v)
	}
	return out
}

// outcomes reads "3 5 8+": a plus sign marks a lower bound.
func outcomes(t *testing.T, s string) (out []compare.Outcome) {
	t.Helper()
	for _, w := range strings.Fields(s) {
		o := compare.Outcome{Kind: compare.Measured}
		if w == "x" {
			out = append(out, compare.Outcome{Kind: compare.NotSet})
			continue
		}
		if n, is := strings.CutSuffix(w, "+"); is {
			w, o.Kind = n, compare.AtLeast
		}
		o.V = numbers(t, w)[0]
		out = append(out, o)
	}
	return out
}

// near allows for a double that was computed otherwise.
func near(got, want, tolerance float64) bool {
	return math.Abs(got-want) <= tolerance*math.Max(1, math.Abs(want))
}

func TestNIST(t *testing.T) {
	for _, row := range table(t, "nist-univariate.certified.csv") {
		name := row[0]
		mean, sd := numbers(t, row[2])[0], numbers(t, row[3])[0]
		var v []float64
		for _, r := range table(t, "nist-"+name+".csv") {
			v = append(v, numbers(t, r[len(r)-1])[0])
		}
		if want := int(numbers(t, row[1])[0]); len(v) != want {
			t.Fatalf("%s has %d values, want %d", name, len(v), want)
		}
		s := compare.SpreadOf(v)
		// Digits in agreement with the certified ones. The data of these two cannot be
		// held in doubles: no more digits of their deviation exist.
		least := 14.0
		switch name {
		case "mavro":
			least = 13
		case "numacc4":
			least = 8
		}
		digits := func(got, want float64) float64 {
			if got == want {
				return 15
			}
			return -math.Log10(math.Abs(got-want) / math.Abs(want))
		}
		m, d := digits(s.Mean, mean), digits(s.SD, sd)
		t.Logf("%-8s mean %.15g (%.1f digits), sd %.15g (%.1f digits)", name, s.Mean, m, s.SD, d)
		if m < 14.5 || d < least {
			t.Errorf("%s: mean %v, sd %v; want %v, %v", name, s.Mean, s.SD, mean, sd)
		}
	}
}

// TestValues holds each test against what R gives, see testdata/compare.
func TestValues(t *testing.T) {
	n := map[string]int{}
	for _, row := range table(t, "values.csv") {
		what, in, result := row[0], row[1], row[2]
		want, tolerance := math.NaN(), 1e-10
		if row[3] != "NA" && what != "version" {
			want = numbers(t, row[3])[0]
		}
		var got float64
		ends := func(i compare.Interval) float64 {
			if strings.HasSuffix(result, "low") {
				return i.Low
			}
			return i.High
		}
		switch what {
		case "clopper-pearson":
			k := numbers(t, in)
			got = ends(compare.ClopperPearson(int(k[0]), int(k[1]), 0.95))
		case "sd-interval":
			got = ends(compare.SDInterval(1, int(numbers(t, in)[0]), 0.95))
		case "cv-exact": // ours is an approximation
			k := numbers(t, in)
			got, tolerance = ends(compare.CVInterval(k[0], int(k[1]), 0.95)), 0.02
		case "kaplan-meier":
			m := compare.Median(outcomes(t, in))
			got = m.V
			if m.Bound { // R gives none, or the middle up to the last bound
				if math.IsNaN(want) {
					want = m.V
				}
			}
		case "sign-flips":
			got = paired(numbers(t, in)).Test.P
		case "sign-test":
			k := numbers(t, in)
			got = signs(int(k[0]), int(k[1])).Test.P
		case "rank-test":
			a, b, _ := strings.Cut(in, " / ")
			got = compare.TwoGroups(outcomes(t, a), outcomes(t, b), 1).P
		case "friedman":
			var rows [][]compare.Outcome
			for _, r := range strings.Split(in, " / ") {
				rows = append(rows, outcomes(t, r))
			}
			f := compare.Friedman(rows, 1)
			if got = f.Statistic; result == "p" {
				got = f.Test.P
			}
		case "holm":
			i, _ := strconv.Atoi(result)
			got = compare.Holm(numbers(t, in))[i-1]
		case "power-law":
			var sizes []compare.Sized
			for _, w := range strings.Fields(in) {
				m, h, _ := strings.Cut(w, ":")
				sizes = append(sizes, compare.Sized{Mass: numbers(t, m)[0], Outcomes: outcomes(t, h)})
			}
			l, err := compare.PowerLaw(sizes)
			if err != nil {
				t.Fatal(err)
			}
			switch result {
			case "a":
				got = l.A
			case "b":
				got = l.B
			default:
				got = ends(l.BIn)
			}
		case "version":
			continue
		default:
			t.Fatalf("values.csv has %q, which no test knows", what)
		}
		n[what]++
		if !near(got, want, tolerance) {
			t.Errorf("%s of %s: %s %.12g, want %.12g", what, in, result, got, want)
		}
	}
	t.Log(n)
}

// paired is blocks with such differences.
func paired(d []float64) compare.Pairs {
	var a, b []compare.Member
	for i, v := range d {
		block := strconv.Itoa(i + 1)
		a = append(a, compare.Member{Block: block, Outcome: compare.Outcome{Kind: compare.Measured, V: 100 + v}})
		b = append(b, compare.Member{Block: block, Outcome: compare.Outcome{Kind: compare.Measured, V: 100}})
	}
	return compare.MakePairs(a, b, 1)
}

// signs is blocks of which so many are won and lost, by bounds.
func signs(wins, losses int) compare.Pairs {
	var a, b []compare.Member
	for i := range wins + losses {
		block := strconv.Itoa(i + 1)
		x, y := compare.Outcome{Kind: compare.AtLeast, V: 8}, compare.Outcome{Kind: compare.Measured, V: 3}
		if i >= wins {
			x, y = y, x
		}
		a = append(a, compare.Member{Block: block, Outcome: x})
		b = append(b, compare.Member{Block: block, Outcome: y})
	}
	return compare.MakePairs(a, b, 1)
}
