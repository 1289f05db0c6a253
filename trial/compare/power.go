package compare

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Law is a fitted power law: holding = A × mass^B, newtons and kilograms.
type Law struct {
	A, B  float64
	BIn   Interval // of B, for normal scatter of the logarithms
	N     int      // pulls
	Sizes int
	// Scatter is the factor within which the pulls lie about the law: e to the
	// standard deviation of what is left of the logarithms.
	Scatter float64
}

// Sized is the outcomes of one pattern in one size.
type Sized struct {
	Mass     float64 // kg
	Outcomes []Outcome
}

// PowerLaw fits the law to the sizes of one pattern on one bottom: a straight line
// through the logarithms. It is refused where an outcome is a lower bound or did
// not set, and under two sizes or [LeastN] pulls. The form is that of UFC 4-159-03
// (2005), equation 26, where the exponent is under one: holding over weight falls
// with size.
func PowerLaw(sizes []Sized) (Law, error) {
	var x, y []float64
	seen := map[float64]bool{}
	for _, s := range sizes {
		v, err := values("power law", s.Outcomes)
		if err != nil {
			return Law{}, err
		}
		for _, h := range v {
			if !(h > 0) || !(s.Mass > 0) {
				return Law{}, refuse("no power law: a force or a mass is not above 0")
			}
			x, y = append(x, math.Log(s.Mass)), append(y, math.Log(h))
			seen[s.Mass] = true
		}
	}
	l := Law{N: len(x), Sizes: len(seen)}
	switch {
	case l.Sizes < 2:
		return Law{}, refuse("no power law: one size alone")
	case l.N < LeastN:
		return Law{}, refuse("no power law: %s, and nothing is claimed under %d", count(l.N, "pull"), LeastN)
	}
	n := float64(l.N)
	mx, my := exactSum(x)/n, exactSum(y)/n
	sxx, sxy := 0.0, 0.0
	for i := range x {
		sxx += (x[i] - mx) * (x[i] - mx)
		sxy += (x[i] - mx) * (y[i] - my)
	}
	l.B = sxy / sxx
	l.A = math.Exp(my - l.B*mx)
	rest := 0.0
	for i := range x {
		d := y[i] - my - l.B*(x[i]-mx)
		rest += d * d
	}
	sd := math.Sqrt(rest / (n - 2))
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: n - 2}.Quantile(1 - (1-Level)/2)
	half := t * sd / math.Sqrt(sxx)
	l.BIn = Interval{l.B - half, l.B + half, Level}
	l.Scatter = math.Exp(sd)
	return l, nil
}
