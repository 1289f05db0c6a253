package calibrate

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/big"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

const published = "../../testdata/calibration"

// certified reads the values of one set; texts among them are left out.
func certified(t *testing.T, name string) map[string]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join(published, name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]float64{}
	for _, r := range rows[1:] {
		if v, err := strconv.ParseFloat(r[1], 64); err == nil {
			out[r[0]] = v
		}
	}
	return out
}

func table(t testing.TB, name string) *Table {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(published, name))
	if err != nil {
		t.Fatal(err)
	}
	tab, err := Read(name, text)
	if err != nil {
		t.Fatal(err)
	}
	return tab
}

// digits is how many digits two numbers agree in, 15 at most as the published
// values have.
func digits(got, want float64) float64 {
	if got == want {
		return 15
	}
	if want == 0 {
		return -math.Log10(math.Abs(got))
	}
	return min(15, -math.Log10(math.Abs(got-want)/math.Abs(want)))
}

// TestNIST: certified values to 14 digits, where 9 are asked for.
func TestNIST(t *testing.T) {
	for _, tt := range []struct {
		set, values string
		degree      int
		zero        bool
		digits      float64
	}{
		{"nist-pontius.csv", "nist-pontius.certified.csv", 2, false, 14},
		{"nist-pontius.csv", "nist-pontius.linear-fit-computed.csv", 1, false, 13.5},
		{"nist-noint1.csv", "nist-noint1.certified.csv", 1, true, 14},
		{"nist-noint2.csv", "nist-noint2.certified.csv", 1, true, 14},
		{"nist-norris.csv", "nist-norris.certified.csv", 1, false, 14},
	} {
		want := certified(t, tt.values)
		f, err := table(t, tt.set).Polynomial(tt.degree, tt.zero)
		if err != nil {
			t.Errorf("%s: %v", tt.set, err)
			continue
		}
		got := map[string]float64{"n": float64(f.N), "dof": float64(f.DoF), "residual_sd": f.ResidualSD, "residual_ss": f.ss,
			"residual_ms": f.ss / float64(f.DoF), "r_squared": f.RSquared, "r_squared_uncentred": f.RSquared}
		for k := range f.Coefficients {
			got[fmt.Sprint("B", k)], got[fmt.Sprint("sd_B", k)] = f.Coefficients[k], f.StandardErrors[k]
		}
		for _, v := range f.Residuals {
			got["max_abs_residual"] = max(got["max_abs_residual"], math.Abs(v))
		}
		checked := 0
		for name, w := range want {
			g, have := got[name]
			if !have {
				continue
			}
			checked++
			if d := digits(g, w); d < tt.digits {
				t.Errorf("%s %s: got %.16g, want %.16g: %.1f digits, want %.1f", tt.set, name, g, w, d, tt.digits)
			}
		}
		if checked < 5 {
			t.Errorf("%s: only %d values held against %s", tt.set, checked, tt.values)
		}
	}
}

// TestLowerLimitFactor: the worked example on Pontius, both ways round.
func TestLowerLimitFactor(t *testing.T) {
	want := certified(t, "force-calibration-llf-example.csv")
	tab := table(t, "nist-pontius.csv")
	r, err := tab.Analyse(2, false, AppliedX)
	if err != nil {
		t.Fatal(err)
	}
	for name, got := range map[string]float64{"llf_deflection = 2.4 s": r.LLF, "llf_load (ratio at capacity)": r.LLFIn, "capacity_load": r.Capacity,
		"class_A_lower_limit_load = 400 llf": r.FromA, "class_AA_lower_limit_load = 2000 llf": r.FromAA, "lowest_nonzero_calibration_load": r.LeastLoad,
		"fitted_deflection_at_capacity": r.Fit.At(3e6)} {
		if d := digits(got, want[name]); d < 9 {
			t.Errorf("%s: got %.12g, want %.12g", name, got, want[name])
		}
	}
	if r, err = tab.Analyse(2, false, AppliedY); err != nil || r.LLF != r.LLFIn || digits(r.LLF, want["llf_deflection = 2.4 s"]) < 9 {
		t.Errorf("with y applied the factor is a force as it is: %+v, %v", r, err)
	}
}

// of makes a table of exact decimals.
func of(t testing.TB, rows [][2]string) *Table {
	t.Helper()
	var b strings.Builder
	b.WriteString("x,y\n")
	for _, r := range rows {
		b.WriteString(r[0] + "," + r[1] + "\n")
	}
	tab, err := Read("made", []byte(b.String()))
	if err != nil {
		t.Fatal(err)
	}
	return tab
}

// exactly writes polynomial values without rounding.
func exactly(x *big.Rat, coef []*big.Rat) *big.Rat {
	v := new(big.Rat)
	for k := len(coef) - 1; k >= 0; k-- {
		v.Add(v.Mul(v, x), coef[k])
	}
	return v
}

// TestCancellation: polynomials after NIST's Wampler1 and Wampler2 (from memory:
// x from 0 to 20, coefficients all 1, and powers of 0.1), and cubics far from the
// origin, where double precision has no digit left. All come back exactly.
func TestCancellation(t *testing.T) {
	ratOf := func(s string) *big.Rat { r, _ := new(big.Rat).SetString(s); return r }
	for _, tt := range []struct {
		name     string
		from, by string
		n        int
		coef     []string
	}{
		{"Wampler1", "0", "1", 21, []string{"1", "1", "1", "1", "1", "1"}},
		{"Wampler2", "0", "1", 21, []string{"1", "0.1", "0.01", "0.001", "0.0001", "0.00001"}},
		{"cubic at a million", "1000000", "0.001", 40, []string{"7", "-3", "0.5", "-0.25"}},
		{"cubic at a thousand million", "1000000000", "0.01", 12, []string{"-1", "2", "-3", "4"}},
		{"line at 1e12", "1000000000000", "1", 5, []string{"1", "1"}},
	} {
		coef := make([]*big.Rat, len(tt.coef))
		for i, c := range tt.coef {
			coef[i] = ratOf(c)
		}
		var rows [][2]string
		x := ratOf(tt.from)
		for range tt.n {
			rows = append(rows, [2]string{x.FloatString(6), exactly(x, coef).FloatString(20)})
			x = new(big.Rat).Add(x, ratOf(tt.by))
		}
		for i := range rows { // at most 60 characters a number are taken
			rows[i][1] = strings.TrimRight(rows[i][1], "0") + "0"
		}
		f, err := of(t, rows).Polynomial(len(coef)-1, false)
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		for k := range coef {
			if want, _ := coef[k].Float64(); f.Coefficients[k] != want {
				t.Errorf("%s: c%d = %.17g, want %.17g", tt.name, k, f.Coefficients[k], want)
			}
			if f.StandardErrors[k] != 0 {
				t.Errorf("%s: standard error of c%d = %g, want 0", tt.name, k, f.StandardErrors[k])
			}
		}
		if f.ResidualSD != 0 || f.RSquared != 1 {
			t.Errorf("%s: residual sd %g, R2 %.17g; want 0 and 1", tt.name, f.ResidualSD, f.RSquared)
		}
	}
}

// TestNoise: a pattern of errors that no cubic takes up, as in Wampler4 and 5:
// the coefficients stay, however large the errors are.
func TestNoise(t *testing.T) {
	// Fourth differences of equal steps are orthogonal to every cubic.
	pattern := []int64{1, -4, 6, -4, 1}
	for _, size := range []int64{1, 1000, 100_000_000} {
		var rows [][2]string
		for i, p := range pattern {
			x := int64(1000 + i)
			rows = append(rows, [2]string{fmt.Sprint(x), fmt.Sprint(1 + x + x*x + x*x*x + size*p)})
		}
		f, err := of(t, rows).Polynomial(3, false)
		if err != nil {
			t.Fatal(err)
		}
		for k, c := range f.Coefficients {
			if math.Abs(c-1) > 1e-15 {
				t.Errorf("size %d: c%d = %.17g, want 1", size, k, c)
			}
		}
		if want := float64(size) * math.Sqrt(70); digits(f.ResidualSD, want) < 15 {
			t.Errorf("size %d: residual sd %.16g, want %.16g", size, f.ResidualSD, want)
		}
	}
}

// TestScaleAndOrder: another unit or another order of the rows changes nothing
// but the unit.
func TestScaleAndOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(6, 12).Draw(t, "n")
		xs := rapid.SliceOfNDistinct(rapid.IntRange(-5000, 5000), n, n, func(i int) int { return i }).Draw(t, "x")
		ys := rapid.SliceOfN(rapid.IntRange(-5000, 5000), n, n).Draw(t, "y")
		degree := rapid.IntRange(1, 3).Draw(t, "degree")
		zero := rapid.Bool().Draw(t, "through zero")
		text := func(order []int, zeros string) string {
			var b strings.Builder
			b.WriteString("x,y\n")
			for _, i := range order {
				fmt.Fprintf(&b, "%d%s,%d%s\n", xs[i], zeros, ys[i], zeros)
			}
			return b.String()
		}
		order := make([]int, n)
		for i := range order {
			order[i] = i
		}
		fit := func(text string) *Fit {
			tab, err := Read("made", []byte(text))
			if err != nil {
				t.Fatal(err)
			}
			f, err := tab.Polynomial(degree, zero)
			if err != nil {
				t.Skip(err)
			}
			return f
		}
		a := fit(text(order, ""))
		b := fit(text(rapid.Permutation(order).Draw(t, "order"), ""))
		c := fit(text(order, "000"))
		near := func(x, y float64) bool { return math.Abs(x-y) <= 1e-14*max(math.Abs(x), math.Abs(y)) }
		for k := range a.Coefficients {
			if a.Coefficients[k] != b.Coefficients[k] || a.StandardErrors[k] != b.StandardErrors[k] {
				t.Fatalf("another order: %v, %v", a, b)
			}
			if !near(a.Coefficients[k], c.Coefficients[k]*math.Pow(1000, float64(k-1))) {
				t.Fatalf("another unit: c%d %v, %v", k, a.Coefficients, c.Coefficients)
			}
		}
		if !near(a.ResidualSD*1000, c.ResidualSD) || !near(a.RSquared, c.RSquared) {
			t.Fatalf("another unit: sd %g, %g; R2 %g, %g", a.ResidualSD, c.ResidualSD, a.RSquared, c.RSquared)
		}
		// The residuals of a least-squares fit are orthogonal to each power of x.
		for k := range degree + 1 {
			if k == 0 && zero {
				continue
			}
			dot, size := 0.0, 0.0
			for i, v := range a.Residuals {
				p := v * math.Pow(float64(xs[i]), float64(k))
				dot, size = dot+p, size+math.Abs(p)
			}
			if math.Abs(dot) > 1e-12*size+1e-300 {
				t.Fatalf("residuals and x^%d: %g of %g", k, dot, size)
			}
		}
	})
}
