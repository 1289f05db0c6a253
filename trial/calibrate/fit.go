package calibrate

import (
	"fmt"
	"math"
	"math/big"
)

// MaxDegree is the highest degree that is fitted, the one ASTM E74 ends at
// (from memory).
const MaxDegree = 5

// Fit is y = c0 + c1 x + c2 x^2 ... by least squares.
type Fit struct {
	Degree      int
	ThroughZero bool // no c0: it is 0, and so is its standard error
	N, DoF      int  // readings; those less the coefficients that were fitted

	// Coefficients and StandardErrors go by the power of x, from 0.
	Coefficients, StandardErrors []float64
	ResidualSD                   float64 // sqrt(sum of squares / DoF), in units of y
	// RSquared is the share of the squares about the mean of y that the curve
	// takes up; through zero, of the squares about 0, as NIST's NoInt sets have it.
	RSquared  float64
	Residuals []float64 // y less the curve, in the order of the readings

	ss float64 // sum of squared residuals
}

// precision of the arithmetic, in bits. Powers up to x^5 of readings that
// differ in the ninth digit lose 150 bits; what is left is far more than the 53
// of the result, so that every digit given is right.
const precision = 512

func float() *big.Float              { return new(big.Float).SetPrec(precision) }
func mul(a, b *big.Float) *big.Float { return float().Mul(a, b) }
func quo(a, b *big.Float) *big.Float { return float().Quo(a, b) }
func small(f *big.Float, than float64) bool {
	return float().Abs(f).Cmp(float().SetMantExp(big.NewFloat(than), -precision*3/4)) < 0
}

// Polynomial fits a polynomial of a degree from 1 to [MaxDegree] by Householder
// QR on x divided by its greatest magnitude. At least one reading more than
// coefficients is needed, and as many different x as coefficients: from fewer no
// scatter can be told.
func (t *Table) Polynomial(degree int, throughZero bool) (*Fit, error) {
	if degree < 1 || degree > MaxDegree {
		return nil, fmt.Errorf("degree %d: give 1 to %d", degree, MaxDegree)
	}
	first := 0
	if throughZero {
		first = 1
	}
	p, n := degree+1-first, len(t.Rows)
	if err := t.enough(p, degree, throughZero); err != nil {
		return nil, err
	}
	scale := float()
	for _, r := range t.Rows {
		if a := float().Abs(r.x); a.Cmp(scale) > 0 {
			scale = a
		}
	}
	cols, rhs := make([][]*big.Float, p), make([]*big.Float, n)
	for j := range cols {
		cols[j] = make([]*big.Float, n)
	}
	mean, top := float(), float()
	for i, r := range t.Rows {
		z, power := quo(r.x, scale), big.NewFloat(1).SetPrec(precision)
		if throughZero {
			power = z
		}
		for j := range cols {
			cols[j][i] = power
			power = mul(power, z)
		}
		rhs[i] = float().Set(r.y)
		mean.Add(mean, r.y)
		if a := float().Abs(r.y); a.Cmp(top) > 0 {
			top = a
		}
	}
	mean.Quo(mean, float().SetInt64(int64(n)))

	diag := reflect(cols, rhs)
	for j := range diag {
		if small(diag[j], 1) {
			return nil, fmt.Errorf("x does not tell the %d coefficients of degree %d apart; lower the degree, or add readings at other loads", p, degree)
		}
	}
	// Under the triangle the right-hand side holds what no coefficient explains.
	ss := float()
	for i := p; i < n; i++ {
		ss.Add(ss, mul(rhs[i], rhs[i]))
	}
	if small(float().Sqrt(ss), 1) || small(quo(float().Sqrt(ss), top), 1) {
		ss = float() // an exact fit: what is left is rounding
	}
	f := &Fit{Degree: degree, ThroughZero: throughZero, N: n, DoF: n - p,
		Coefficients: make([]float64, degree+1), StandardErrors: make([]float64, degree+1)}
	variance := quo(ss, float().SetInt64(int64(f.DoF)))
	f.ResidualSD, _ = float().Sqrt(variance).Float64()
	f.ss, _ = ss.Float64()

	b, inv := solve(cols, diag, rhs)
	exact := make([]*big.Float, degree+1)
	per := big.NewFloat(1).SetPrec(precision)
	for k := range exact {
		exact[k] = float()
		if j := k - first; j >= 0 {
			exact[k] = quo(b[j], per)
			sum := float()
			for _, v := range inv[j] {
				if v != nil {
					sum.Add(sum, mul(v, v))
				}
			}
			f.Coefficients[k], _ = exact[k].Float64()
			f.StandardErrors[k], _ = quo(float().Sqrt(mul(sum, variance)), per).Float64()
		}
		per = mul(per, scale)
	}
	total := float()
	f.Residuals = make([]float64, n)
	for i, r := range t.Rows {
		at := float()
		for k := degree; k >= 0; k-- {
			at.Add(mul(at, r.x), exact[k])
		}
		if at.Sub(r.y, at); ss.Sign() != 0 {
			f.Residuals[i], _ = at.Float64()
		}
		d := r.y
		if !throughZero {
			d = float().Sub(r.y, mean)
		}
		total.Add(total, mul(d, d))
	}
	f.RSquared, _ = float().Sub(big.NewFloat(1), quo(ss, total)).Float64()
	for _, v := range append(append([]float64{f.ResidualSD}, f.Coefficients...), f.StandardErrors...) {
		if math.IsInf(v, 0) || math.IsNaN(v) {
			return nil, fmt.Errorf("degree %d gives a coefficient too large for a number; write x and y in a larger unit", degree)
		}
	}
	return f, nil
}

// enough says what is missing for p coefficients.
func (t *Table) enough(p, degree int, throughZero bool) error {
	n := len(t.Rows)
	if n <= p {
		return fmt.Errorf("%d readings: degree %d has %d coefficients, and with fewer than %d readings no scatter can be told; calibrate at more loads", n, degree, p, p+1)
	}
	xs, constant := map[string]bool{}, true
	for _, r := range t.Rows {
		if !throughZero || r.x.Sign() != 0 {
			xs[r.x.Text('p', 0)] = true
		}
		constant = constant && r.y.Cmp(t.Rows[0].y) == 0
	}
	switch {
	case len(xs) <= 1 && p > 1 || len(xs) == 0:
		return fmt.Errorf("column x is constant: there is one load; calibrate at several")
	case constant && (!throughZero || t.Rows[0].y.Sign() == 0):
		return fmt.Errorf("column y is constant at %s: nothing to fit; is it the right column?", t.Rows[0].y.Text('g', 6))
	case len(xs) < p:
		return fmt.Errorf("%d different x: degree %d needs %d; lower the degree, or add readings at other loads", len(xs), degree, p)
	}
	return nil
}

// reflect turns the columns into an upper triangle by Householder reflections
// and applies them to the right-hand side; the diagonal is returned, what is
// above it stays in the columns. Golub and Van Loan, Matrix Computations,
// section 5.2 (from memory).
func reflect(cols [][]*big.Float, rhs []*big.Float) []*big.Float {
	diag := make([]*big.Float, len(cols))
	for j, c := range cols {
		norm := float()
		for _, v := range c[j:] {
			norm.Add(norm, mul(v, v))
		}
		norm.Sqrt(norm)
		if c[j].Sign() > 0 {
			norm.Neg(norm) // away from c[j], so that nothing cancels
		}
		diag[j] = float().Set(norm)
		v := make([]*big.Float, len(c)-j)
		for i := range v {
			v[i] = float().Set(c[j+i])
		}
		v[0].Sub(v[0], norm)
		vv := float()
		for _, e := range v {
			vv.Add(vv, mul(e, e))
		}
		if vv.Sign() == 0 {
			continue
		}
		apply := func(to []*big.Float) {
			dot := float()
			for i, e := range v {
				dot.Add(dot, mul(e, to[i]))
			}
			dot = quo(mul(dot, big.NewFloat(2)), vv)
			for i, e := range v {
				to[i] = float().Sub(to[i], mul(dot, e))
			}
		}
		for _, later := range cols[j+1:] {
			apply(later[j:])
		}
		apply(rhs[j:])
	}
	return diag
}

// solve gives the coefficients and the inverse of the triangle R, of which the
// rows' squares are the variances over that of y.
func solve(cols [][]*big.Float, diag, rhs []*big.Float) (b []*big.Float, inv [][]*big.Float) {
	p := len(cols)
	at := func(i, j int) *big.Float {
		if i == j {
			return diag[i]
		}
		return cols[j][i]
	}
	back := func(right func(i int) *big.Float) []*big.Float {
		out := make([]*big.Float, p)
		for i := p - 1; i >= 0; i-- {
			s := float().Set(right(i))
			for j := i + 1; j < p; j++ {
				s.Sub(s, mul(at(i, j), out[j]))
			}
			out[i] = quo(s, diag[i])
		}
		return out
	}
	b = back(func(i int) *big.Float { return rhs[i] })
	inv = make([][]*big.Float, p)
	for i := range inv {
		inv[i] = make([]*big.Float, p)
	}
	for k := range p {
		unit := back(func(i int) *big.Float {
			if i == k {
				return big.NewFloat(1)
			}
			return float()
		})
		for i := range p {
			inv[i][k] = unit[i]
		}
	}
	return b, inv
}

// At is the curve at x.
func (f *Fit) At(x float64) float64 {
	v := 0.0
	for k := f.Degree; k >= 0; k-- {
		v = v*x + f.Coefficients[k]
	}
	return v
}

// Slope is dy/dx at x.
func (f *Fit) Slope(x float64) float64 {
	v := 0.0
	for k := f.Degree; k >= 1; k-- {
		v = v*x + float64(k)*f.Coefficients[k]
	}
	return v
}
