package trial

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

func statistics(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open("../testdata/statistics/" + name + ".csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows[1:]
}

func numberIn(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Mean and standard deviation of the NIST univariate sets, as they come and
// merged from pieces. The tolerances are what the decimal data of a set let a
// float64 have: numacc4 is 10^8 times its scatter.
func TestMomentsOfReferenceSets(t *testing.T) {
	within := map[string]float64{"lottery": 1e-13, "mavro": 1e-11, "numacc1": 1e-15, "numacc2": 1e-13, "numacc4": 1e-7}
	for _, row := range statistics(t, "nist-univariate.certified") {
		name, mean, sd := row[0], numberIn(t, row[2]), numberIn(t, row[3])
		tol, ok := within[name]
		if !ok {
			t.Errorf("no tolerance for %s", name)
		}
		var one, merged, piece moments
		for i, r := range statistics(t, "nist-"+name) {
			v := numberIn(t, r[0])
			one.add(v, 1)
			piece.add(v, 1)
			if i%7 == 6 {
				merged.merge(piece, 1)
				piece = moments{}
			}
		}
		merged.merge(piece, 1)
		for how, m := range map[string]moments{"as they come": one, "merged": merged} {
			if got := m.mean; math.Abs(got-mean) > 1e-14*mean {
				t.Errorf("%s %s: mean %.17g, want %.17g", name, how, got, mean)
			}
			if got := m.sample(); math.Abs(got-sd) > tol*sd {
				t.Errorf("%s %s: standard deviation %.17g, want %.17g within %g", name, how, got, sd, tol)
			}
		}
	}
	if got := (&moments{}).sample(); !math.IsNaN(got) {
		t.Errorf("scatter of nothing is %v", got)
	}
}

// step is one step of a window: how far, and what is given for it.
type rollStep struct {
	by float64
	v  loads
}

// twin is the mean over the last width, by adding up every step again.
func rollTwin(steps []rollStep, width float64) (m loads, ok bool) {
	whole := 0.0
	for _, s := range steps {
		whole += s.by
	}
	if whole < width*(1-1e-9) {
		return m, false
	}
	left := width
	for i := len(steps) - 1; i >= 0 && left > 0; i-- {
		part := min(left, steps[i].by)
		for k := range m {
			m[k] += steps[i].v[k] * part / width
		}
		left -= part
	}
	return m, !math.IsNaN(m[atDeck])
}

// The rolling windows against the twin, over random steps of any length, with
// readings that are not known here and there.
func TestRollAgainstTwin(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		width := rapid.SampledFrom([]float64{1, 10}).Draw(rt, "width")
		grain := rapid.Float64Range(0.3, 300).Draw(rt, "steps a width")
		r := roll{width: width}
		r.begin()
		var steps []rollStep
		for i := range rapid.IntRange(1, 400).Draw(rt, "steps") {
			s := rollStep{by: width / grain * rapid.Float64Range(0.001, 2).Draw(rt, "by")}
			for k := range s.v {
				s.v[k] = rapid.Float64Range(-1e4, 1e4).Draw(rt, "v")
			}
			if rapid.IntRange(0, 40).Draw(rt, "lose") == 0 {
				s.v[1+i%2] = math.NaN()
			}
			if rapid.IntRange(0, 300).Draw(rt, "hole") == 0 {
				r.begin()
				steps = nil
			}
			steps = append(steps, s)
			r.add(s.by, s.v)
			got, ok := r.mean()
			want, due := rollTwin(steps, width)
			if ok != due {
				rt.Fatalf("step %d: there is a mean: %v, want %v", i, ok, due)
			}
			near, _ := rollTwin(steps, width*(1-1e-9))
			far, _ := rollTwin(steps, width*(1+1e-9))
			for k := range got {
				if math.IsNaN(near[k]) != math.IsNaN(far[k]) {
					continue // what is not known ends at the window's very edge: rounding has the say
				}
				// Knots nearer than a 4096th of the width are one: so far off may the mean be.
				if ok && math.IsNaN(got[k]) != math.IsNaN(want[k]) || math.Abs(got[k]-want[k]) > 1e-6+2*2e4/rollKnots*grained(steps, width) {
					rt.Fatalf("step %d, reading %d: %v, want %v", i, k, got[k], want[k])
				}
			}
		}
	})
}

// grained is 1 where a step was nearer than the knots are.
func grained(steps []rollStep, width float64) float64 {
	for _, s := range steps {
		if s.by < width/rollKnots {
			return 1
		}
	}
	return 0
}

// Memory stays what it was, however fine the steps.
func TestRollIsBounded(t *testing.T) {
	r := roll{width: 1}
	for range 200_000 {
		r.add(1e-5, loads{1, 1, 1})
	}
	if m, ok := r.mean(); !ok || math.Abs(m[atDeck]-1) > 1e-9 || r.n > len(r.knots) || len(r.knots) != rollKnots+4 {
		t.Errorf("mean %v %v, %d of %d knots", m, ok, r.n, len(r.knots))
	}
}

// Means over stretches against adding up every step; the cells double on the way.
func TestProfileAgainstTwin(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var p profile
		type piece struct{ from, to, v float64 }
		var all []piece
		x := rapid.Float64Range(-5, 5).Draw(rt, "from")
		begin := x
		longest := rapid.SampledFrom([]float64{0.04, 3}).Draw(rt, "longest step")
		for range rapid.IntRange(1, 300).Draw(rt, "steps") {
			step := rapid.Float64Range(0.001, longest).Draw(rt, "step")
			v := rapid.Float64Range(0, 1e4).Draw(rt, "v")
			all = append(all, piece{x, x + step, v})
			x += step
			p.add(x, step, loads{v, math.NaN(), v / 2}, moments{w: 1, mean: v})
		}
		// From edge to edge of cells the mean is exact.
		cell := p.cell
		a := math.Ceil(begin/cell)*cell + cell*float64(rapid.IntRange(0, 20).Draw(rt, "a"))
		b := a + cell*float64(rapid.IntRange(1, 4000).Draw(rt, "b"))
		var s stretchMean
		s.take(&p, a, b)
		sum, line := 0.0, 0.0
		for _, q := range all {
			if in := min(b, q.to) - max(a, q.from); in > 0 {
				sum, line = sum+in*q.v, line+in
			}
		}
		if last := math.Floor((x+1e-12)/cell) * cell; b > last && a < last { // in its last cell the line has not come to the end
			b = last
			s, sum, line = stretchMean{}, 0, 0
			s.take(&p, a, b)
			for _, q := range all {
				if in := min(b, q.to) - max(a, q.from); in > 0 {
					sum, line = sum+in*q.v, line+in
				}
			}
		}
		if a >= b || line == 0 {
			return
		}
		if math.Abs(s.deck.w-line) > 1e-6*line+1e-9 || math.Abs(s.mean(atDeck)-sum/line) > 1e-6*sum/line+1e-6 {
			rt.Fatalf("from %v to %v: mean %v over %v m, want %v over %v m", a, b, s.mean(atDeck), s.deck.w, sum/line, line)
		}
		if !math.IsNaN(s.mean(ofBare)) || math.Abs(s.mean(atAnchor)-s.mean(atDeck)/2) > 1e-6*s.mean(atDeck) {
			rt.Fatalf("less bare %v, at anchor %v of %v", s.mean(ofBare), s.mean(atAnchor), s.mean(atDeck))
		}
	})
}
