package calibrate

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Axis says which column holds the force that was applied.
type Axis int8

const (
	AppliedY Axis = iota // y applied, x shown: the way a trial file wants it
	AppliedX             // x applied, y the deflection: the way E74 tabulates it
)

// ASTM E74; see the package comment.
const (
	llfFactor  = 2.4
	classA     = 400
	classAA    = 2000
	e74Rows    = 30
	e74Loads   = 10
	curvatureF = 16   // F of one more degree, past which a curve is left; F(1, 5 and more, 1 %) from memory
	sameLoad   = 1e-3 // share of the range, up to which two loads are the same one
)

// Report is a calibration, worked out.
type Report struct {
	Fit     *Fit
	Next    *Fit // one degree more; nil where it cannot be fitted
	Applied Axis

	LLF   float64 // lower limit factor in units of y
	LLFIn float64 // the same as a force: LLF itself, or by load over deflection at capacity

	Capacity, LeastLoad float64 // greatest and least load applied, without 0, as magnitudes
	FromA, FromAA       float64 // lowest load of use by class, as a force

	Directions    []Direction // of each reading, as said or as found from the order
	Hysteresis    float64     // greatest difference between up and down at one load, in units of y
	HysteresisAt  float64     // the load there
	HasHysteresis bool

	Runs  []RunMean // in order of the file; one only where nothing tells runs apart
	Notes []string  // what is to be looked at, a sentence each
}

// RunMean is how far the readings of one run lie from the curve, on the mean.
type RunMean struct {
	Name string
	N    int
	Mean float64 // in units of y
}

// Analyse fits and judges. degree is 1 to [MaxDegree].
func (t *Table) Analyse(degree int, throughZero bool, applied Axis) (*Report, error) {
	f, err := t.Polynomial(degree, throughZero)
	if err != nil {
		return nil, err
	}
	r := &Report{Fit: f, Applied: applied}
	if degree < MaxDegree {
		r.Next, _ = t.Polynomial(degree+1, throughZero) // nil with too few readings
	}
	loads := t.loads(applied)
	r.Capacity, r.LeastLoad = 0, math.Inf(1)
	top := t.Rows[0]
	for i, l := range loads {
		if a := math.Abs(l); a > r.Capacity {
			r.Capacity, top = a, t.Rows[i]
		}
		if a := math.Abs(l); a > 0 {
			r.LeastLoad = min(r.LeastLoad, a)
		}
	}
	if r.Capacity == 0 {
		return nil, errors.New("no load but 0 was applied: nothing to calibrate with")
	}
	r.LLF = llfFactor * f.ResidualSD
	r.LLFIn = r.LLF
	if applied == AppliedX {
		r.LLFIn = r.LLF * math.Abs(top.X/f.At(top.X))
	}
	r.FromA = max(classA*r.LLFIn, r.LeastLoad)
	r.FromAA = max(classAA*r.LLFIn, r.LeastLoad)
	runs, sorted := t.order(loads)
	r.Directions = t.directions(loads, runs, sorted)
	r.hysteresis(t, loads)
	r.means(t, runs)
	r.look(t, loads, sorted)
	return r, nil
}

func (t *Table) loads(applied Axis) []float64 {
	out := make([]float64, len(t.Rows))
	for i, r := range t.Rows {
		if out[i] = r.Y; applied == AppliedX {
			out[i] = r.X
		}
	}
	return out
}

// order gives each reading its run: by the column, or, without one, by a fall
// from the greatest load straight back to the least, each to 1 % of the range. sorted says that the loads
// of each run go up, down, or up and then down.
func (t *Table) order(loads []float64) (runs []int, sorted bool) {
	runs, sorted = make([]int, len(loads)), true
	least, most := slices.Min(loads), slices.Max(loads)
	near := 0.01 * (most - least)
	names := map[string]int{}
	turned, way := false, 0.0
	for i := range loads {
		switch {
		case t.HasRun:
			n, have := names[t.Rows[i].Run]
			if !have {
				n = len(names)
				names[t.Rows[i].Run] = n
			}
			runs[i] = n
		case i > 0 && loads[i-1] >= most-near && loads[i] <= least+near:
			runs[i] = runs[i-1] + 1
		case i > 0:
			runs[i] = runs[i-1]
		}
		if i == 0 || runs[i] != runs[i-1] {
			turned, way = false, 0
			continue
		}
		d := loads[i] - loads[i-1]
		switch {
		case math.Abs(d) <= sameLoad*most || d*way > 0:
			continue
		case way == 0:
		case turned || way < 0:
			sorted = false
		default:
			turned = true
		}
		way = d
	}
	return runs, sorted
}

// directions are those of the column; without it those of the order, where it
// has one.
func (t *Table) directions(loads []float64, runs []int, sorted bool) []Direction {
	out := make([]Direction, len(loads))
	for i := range out {
		if t.HasDirection {
			out[i] = t.Rows[i].Direction
			continue
		}
		if !sorted {
			continue
		}
		d := 0.0
		if i > 0 && runs[i] == runs[i-1] {
			d = loads[i] - loads[i-1]
		} else if i+1 < len(loads) && runs[i+1] == runs[i] {
			d = loads[i+1] - loads[i]
		}
		switch {
		case d > 0:
			out[i] = Up
		case d < 0:
			out[i] = Down
		}
	}
	return out
}

// hysteresis is the greatest difference of the mean residuals up and down at one
// load. Where the load was applied in y, what differs is x; by the curve that is
// the same in units of y.
func (r *Report) hysteresis(t *Table, loads []float64) {
	type both struct {
		load float64
		sum  [3]float64
		n    [3]float64
	}
	var at []both
	order := make([]int, len(loads))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(loads[a], loads[b]) })
	for _, i := range order {
		if n := len(at); n == 0 || loads[i]-at[n-1].load > sameLoad*r.Capacity {
			at = append(at, both{load: loads[i]})
		}
		b, d := &at[len(at)-1], r.Directions[i]
		b.sum[d] += r.Fit.Residuals[i]
		b.n[d]++
	}
	for _, b := range at {
		if b.n[Up] == 0 || b.n[Down] == 0 || math.Abs(b.load) > r.Capacity*(1-sameLoad) {
			continue // at the top the way turns: nothing is known there
		}
		if d := math.Abs(b.sum[Down]/b.n[Down] - b.sum[Up]/b.n[Up]); !r.HasHysteresis || d > r.Hysteresis {
			r.HasHysteresis, r.Hysteresis, r.HysteresisAt = true, d, b.load
		}
	}
}

func (r *Report) means(t *Table, runs []int) {
	for i, run := range runs {
		for len(r.Runs) <= run {
			name := fmt.Sprint(len(r.Runs) + 1)
			if t.HasRun {
				name = plain(t.Rows[i].Run)
			}
			r.Runs = append(r.Runs, RunMean{Name: name})
		}
		m := &r.Runs[run]
		m.Mean += (r.Fit.Residuals[i] - m.Mean) / float64(m.N+1)
		m.N++
	}
}

// Full is the greatest y of the curve over the readings: what a share is of.
func (r *Report) Full(t *Table) float64 {
	full := 0.0
	for _, row := range t.Rows {
		full = max(full, math.Abs(row.Y))
	}
	return full
}

// LeavesCurve says that one more degree would take up far more than chance does.
func (r *Report) LeavesCurve() bool {
	if r.Next == nil || r.Next.DoF < 5 {
		return false
	}
	gain := r.Fit.ss - r.Next.ss
	if r.Next.ss == 0 {
		return gain > 0
	}
	return gain/(r.Next.ss/float64(r.Next.DoF)) > curvatureF
}

// look collects what a person is to look at.
func (r *Report) look(t *Table, loads []float64, sorted bool) {
	note := func(format string, a ...any) { r.Notes = append(r.Notes, fmt.Sprintf(format, a...)) }
	if r.LeavesCurve() {
		note("a curve is left in the residuals: degree %d leaves %.3g of scatter, this one %.3g; give a higher degree, or say why not", r.Next.Degree, r.Next.ResidualSD, r.Fit.ResidualSD)
	}
	if !sorted && !t.HasDirection {
		note("the loads are not in order, and there is no column direction: up and down cannot be told apart, so nothing is known of hysteresis")
	} else if !r.HasHysteresis {
		note("no load was applied both going up and going down: nothing is known of hysteresis")
	}
	distinct := map[float64]bool{}
	for _, l := range loads {
		if l != 0 {
			distinct[l] = true
		}
	}
	if len(t.Rows) < e74Rows || len(distinct) < e74Loads {
		note("%d readings at %d loads: ASTM E74 wants at least %d at %d (from memory), so its classes do not apply", len(t.Rows), len(distinct), e74Rows, e74Loads)
	}
	if r.FromA > r.Capacity {
		note("the lowest load of class A is past the greatest load applied: the scatter is too large for the class")
	}
	worst := 0
	for i, v := range r.Fit.Residuals {
		if math.Abs(v) > math.Abs(r.Fit.Residuals[worst]) {
			worst = i
		}
	}
	if s := r.Fit.ResidualSD; s > 0 && r.Fit.DoF >= 8 && math.Abs(r.Fit.Residuals[worst]) > 4*s {
		note("line %d lies %.1f times the scatter off the curve: is it written right?", t.Rows[worst].Line, math.Abs(r.Fit.Residuals[worst])/s)
	}
	if r.Applied == AppliedY {
		if name := suspect(r.slope(t)); name != "" {
			note("what was applied is about %s of what was shown: one of the two is in another unit", name)
		}
		if lo, hi := r.ends(t); r.Fit.Slope(lo)*r.Fit.Slope(hi) <= 0 || r.Fit.Slope(lo) < 0 || r.Fit.Slope((lo+hi)/2) <= 0 {
			note("the curve does not rise over all of the readings: a trial file will refuse it; check the sign of x and the degree")
		}
	}
}

func (r *Report) ends(t *Table) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, row := range t.Rows {
		lo, hi = min(lo, row.X), max(hi, row.X)
	}
	return lo, hi
}

// slope is applied over shown, over the whole of the readings.
func (r *Report) slope(t *Table) float64 {
	lo, hi := r.ends(t)
	return (r.Fit.At(hi) - r.Fit.At(lo)) / (hi - lo)
}

// suspect names a slip of unit by its factor, within 3 %: standard gravity,
// pound-force and pound, a thousand.
func suspect(slope float64) string {
	a := math.Abs(slope)
	var found string
	for _, u := range []struct {
		name   string
		factor float64
	}{
		{"9.81 times (newtons for kgf)", 9.80665}, {"4.45 times (newtons for lbf)", 4.4482216152605},
		{"2.2 times (lbf for kgf)", 1 / 0.45359237}, {"1000 times (N for kN, kgf for tf)", 1000},
		{"9810 times (N for tf)", 9806.65},
	} {
		if math.Abs(a/u.factor-1) < 0.03 {
			found = u.name
		}
		if math.Abs(a*u.factor-1) < 0.03 {
			found = "1/" + strings.Replace(u.name, " times", "", 1) + ", the other way round"
		}
	}
	if slope < 0 {
		return strings.TrimPrefix(found+" and of the other sign", " and ")
	}
	return found
}

// Drift is how far one calibration lies from another over the loads of both.
type Drift struct {
	AtZero, AtTop float64 // this less the other at x = 0 and at the greatest x of both, units of y
	Most, At      float64 // the greatest difference, by magnitude, and its x
	Share         float64 // Most over the greatest y of the curve before
}

// DriftFrom compares two calibrations of one box, before and after.
func (f *Fit) DriftFrom(before *Fit, lo, hi float64) Drift {
	diff := func(x float64) float64 { return f.At(x) - before.At(x) }
	d := Drift{AtZero: diff(0), AtTop: diff(hi)}
	for i := range 101 {
		x := lo + (hi-lo)*float64(i)/100
		if v := diff(x); math.Abs(v) >= math.Abs(d.Most) {
			d.Most, d.At = v, x
		}
	}
	if full := max(math.Abs(before.At(lo)), math.Abs(before.At(hi))); full > 0 {
		d.Share = math.Abs(d.Most) / full
	}
	return d
}

// Span is the least and the greatest x.
func (t *Table) Span() (lo, hi float64) { return (&Report{}).ends(t) }
