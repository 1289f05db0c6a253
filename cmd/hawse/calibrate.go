package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"hawse/cmd/hawse/cli"
	"hawse/trial"
	"hawse/trial/calibrate"
)

// calibrateFlags is what the command line of `hawse calibrate` said.
type calibrateFlags struct {
	degree                              int
	throughZero, asJSON, onlyBlock      bool
	applied, unit, source, svg, earlier string
}

func newCalibrate() *cobra.Command {
	var f calibrateFlags
	c := &cobra.Command{
		Use:   "calibrate FILE.csv",
		Short: "Fit a calibration of the load cell, or of the line counter, and write its block for the trial file",
		Long: `Read the readings of a calibration and fit them: coefficients with standard
errors, scatter, R2, residuals, hysteresis, drift, the ASTM E74 lower limit factor
and the lowest load of use. The block for the trial file stands at the end.

LOAD CELL. A CSV file with a header; the columns are found by their names:

  x          what the box showed                      needed
  y          the force that was applied               needed
  run        which run a reading belongs to           if there
  direction  "up" or "down"                           if there

Other columns are left alone. A unit may stand in the header, as in x [kgf]; both
columns must be in one unit. Without direction up and down are read from the
order of the loads. A table with the force in x and the deflection in y, as E74
has it, is fitted with --applied x, and gives no block.

The lower limit factor is 2.4 times the scatter (with --applied x also as a force,
by load over deflection at capacity). Lowest load of use: 400 times it for class
A, 2000 for AA, never under the least load applied. R2 with --through-zero is
about 0, not about the mean.

LINE COUNTER. A file with columns mark (the rode out in metres as a mark passed the
roller) and counts, and, if there, layer and direction ("in", "out"), gives the
counts a metre on each layer.

Notes say what is to be looked at: a curve left in the residuals, a unit that
seems wrong, a reading that lies off. They change no exit code.

` + cli.ExitHelp,
		Example: `  hawse calibrate cell.csv --degree 2 --unit kgf --source "works, 3 May"
  hawse calibrate cell.csv --through-zero --json
  hawse calibrate after.csv --before before.csv --svg residuals.svg
  hawse calibrate marks.csv --block`,
		Args: cli.Exactly(1, "one CSV file"),
		RunE: func(c *cobra.Command, args []string) error {
			text, err := readBounded(args[0])
			if err != nil {
				return err
			}
			if f.asJSON && f.onlyBlock {
				return cli.Usage("--json or --block, not both")
			}
			if calibrate.IsMarks(args[0], text) {
				return f.marks(c, args[0], text)
			}
			return f.cell(c, args[0], text)
		},
	}
	s := c.Flags()
	s.IntVar(&f.degree, "degree", 1, "of the polynomial, 1 to 3")
	s.BoolVar(&f.throughZero, "through-zero", false, "no constant: nothing shown is nothing applied")
	s.StringVar(&f.applied, "applied", "y", "the column that holds the force applied, y or x")
	s.StringVar(&f.unit, "unit", "", "unit of both columns: kgf, kN, lbf ... (default: that of the header)")
	s.StringVar(&f.source, "source", "", "who calibrated it and when, for the block")
	s.StringVar(&f.earlier, "before", "", "an earlier calibration of the same box, FILE.csv: the drift since")
	s.StringVar(&f.svg, "svg", "", "write the residuals as a picture to this new file")
	s.BoolVar(&f.onlyBlock, "block", false, "print the block for the trial file alone")
	s.BoolVar(&f.asJSON, "json", false, "one object in JSON, in the units of the file")
	return c
}

// readBounded reads a file a person names; one that never ends is not read to
// its end.
func readBounded(path string) ([]byte, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("cannot read the calibration: %w", err)
	}
	defer file.Close()
	text, err := io.ReadAll(io.LimitReader(file, 9<<20))
	if err != nil {
		return nil, fmt.Errorf("cannot read the calibration: %w", err)
	}
	return text, nil
}

func (f *calibrateFlags) read(path string, text []byte) (*calibrate.Table, *calibrate.Report, error) {
	t, err := calibrate.Read(path, text)
	if err != nil {
		return nil, nil, err
	}
	applied := calibrate.AppliedY
	if f.applied == "x" {
		applied = calibrate.AppliedX
	}
	r, err := t.Analyse(f.degree, f.throughZero, applied)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", visible(path), err)
	}
	return t, r, nil
}

func (f *calibrateFlags) cell(c *cobra.Command, path string, text []byte) error {
	switch {
	case f.degree < 1 || f.degree > 3:
		return cli.Usage("--degree %d: give 1, 2 or 3", f.degree)
	case f.applied != "x" && f.applied != "y":
		return cli.Usage("--applied %q: give x or y, the column with the force", f.applied)
	}
	t, r, err := f.read(path, text)
	if err != nil {
		return err
	}
	unit, err := f.unitOf(path, t)
	if err != nil {
		return err
	}
	d := f.doc(path, t, r, unit)
	if f.earlier != "" {
		if d.Drift, err = f.drift(t, r, unit); err != nil {
			return err
		}
	}
	if f.svg != "" {
		title := fmt.Sprintf("%s: residuals of degree %d", visible(path), f.degree)
		if err := newFile(f.svg, r.SVG(t, title, unit)); err != nil {
			return err
		}
	}
	out := c.OutOrStdout()
	switch {
	case f.asJSON:
		return cli.WriteJSON(out, d)
	case f.onlyBlock:
		block, err := f.block(r, unit)
		if err != nil {
			return err
		}
		_, err = io.WriteString(out, block)
		for _, n := range r.Notes {
			fmt.Fprintf(c.ErrOrStderr(), "hawse: note: %s\n", n)
		}
		return err
	}
	_, err = io.WriteString(out, f.page(path, t, r, d))
	return err
}

// unitOf is the unit of both columns: of the flag, or of the header.
func (f *calibrateFlags) unitOf(path string, t *calibrate.Table) (string, error) {
	unit := f.unit
	for _, u := range []struct{ column, unit string }{{"x", t.XUnit}, {"y", t.YUnit}} {
		if u.unit == "" {
			continue
		}
		known, ok := trial.ForceUnitNamed(u.unit)
		if !ok {
			if f.applied == "x" && u.column == "y" {
				continue // a deflection, in whatever
			}
			return "", fmt.Errorf("%s: column %s is in %q, which is no unit of force; N, kN, lbf, kgf or tf", visible(path), u.column, visible(u.unit))
		}
		if unit == "" {
			unit = known.Name
		}
		if have, ok := trial.ForceUnitNamed(unit); ok && have != known {
			return "", fmt.Errorf("%s: column %s is in %s and the other, or --unit, says %s: a trial file has one unit for both; turn one into the other", visible(path), u.column, known.Name, have.Name)
		}
	}
	if unit != "" {
		known, ok := trial.ForceUnitNamed(unit)
		if !ok {
			return "", cli.Usage("--unit %q is no unit of force; N, kN, lbf, kgf or tf", visible(unit))
		}
		unit = known.Name
	}
	return unit, nil
}

func (f *calibrateFlags) block(r *calibrate.Report, unit string) (string, error) {
	if unit == "" {
		return "", cli.Usage("the block needs a unit: say --unit, or write it in the header, as in x [kgf]")
	}
	source := f.source
	if source == "" {
		source = "not said"
	}
	return r.Block(unit, source)
}

func (f *calibrateFlags) drift(t *calibrate.Table, r *calibrate.Report, unit string) (*driftDoc, error) {
	text, err := readBounded(f.earlier)
	if err != nil {
		return nil, err
	}
	before, was, err := f.read(f.earlier, text)
	if err != nil {
		return nil, err
	}
	if u, err := f.unitOf(f.earlier, before); err != nil {
		return nil, err
	} else if u != unit && u != "" && unit != "" {
		return nil, fmt.Errorf("%s is in %s and the other calibration in %s: nothing to compare", visible(f.earlier), u, unit)
	}
	lo, hi := t.Span()
	blo, bhi := before.Span()
	if lo, hi = max(lo, blo), min(hi, bhi); !(lo < hi) {
		return nil, fmt.Errorf("%s covers none of the same readings: nothing to compare", visible(f.earlier))
	}
	d := r.Fit.DriftFrom(was.Fit, lo, hi)
	return &driftDoc{Before: f.earlier, AtZero: d.AtZero, AtTop: d.AtTop, Most: d.Most, At: d.At, Share: d.Share}, nil
}

// newFile writes a file that was not there: nothing is overwritten.
func newFile(path, text string) error {
	file, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if errors.Is(err, os.ErrExist) {
		return cli.Exit(cli.ExitStart, "%s exists and is left as it is; give another name", visible(path))
	}
	if err != nil {
		return cli.Exit(cli.ExitStart, "cannot write the picture: %w", err)
	}
	if _, err = io.WriteString(file, text); err != nil {
		file.Close()
		return err
	}
	return file.Close()
}

// calibrateDoc is `hawse calibrate --json`: x and y in the units of the file;
// what is not known is left out. coefficients and standard_errors go by the
// power of x from 0, also with --through-zero.
type calibrateDoc struct {
	File        string    `json:"file"`
	Unit        string    `json:"unit,omitempty"`
	Applied     string    `json:"applied"`
	N           int       `json:"n"`
	DoF         int       `json:"degrees_of_freedom"`
	Degree      int       `json:"degree"`
	ThroughZero bool      `json:"through_zero"`
	Coef        []float64 `json:"coefficients"`
	StdErr      []float64 `json:"standard_errors"`
	SD          float64   `json:"residual_sd"`
	R2          float64   `json:"r_squared"`
	LLF         float64   `json:"lower_limit_factor"`         // in y
	LLFForce    float64   `json:"lower_limit_factor_force"`   // as a force: differs with --applied x
	FromA       float64   `json:"lowest_load_class_a"`        // a force
	FromAA      float64   `json:"lowest_load_class_aa"`       // a force
	Least       float64   `json:"least_load_applied"`         // a force
	Capacity    float64   `json:"greatest_load_applied"`      // a force
	Hysteresis  *float64  `json:"hysteresis,omitempty"`       // in y
	HystAt      *float64  `json:"hysteresis_at,omitempty"`    // a force
	HystShare   *float64  `json:"hysteresis_share,omitempty"` // of the greatest y
	Runs        []runDoc  `json:"runs"`
	Residuals   []float64 `json:"residuals"`
	Drift       *driftDoc `json:"drift,omitempty"`
	Notes       []string  `json:"notes"`
}

type runDoc struct {
	Run  string  `json:"run"`
	N    int     `json:"n"`
	Mean float64 `json:"mean_residual"`
}

type driftDoc struct {
	Before string  `json:"before"`
	AtZero float64 `json:"at_zero"`
	AtTop  float64 `json:"at_greatest"`
	Most   float64 `json:"most"`
	At     float64 `json:"most_at_x"`
	Share  float64 `json:"most_share"`
}

func (f *calibrateFlags) doc(path string, t *calibrate.Table, r *calibrate.Report, unit string) calibrateDoc {
	fit := r.Fit
	d := calibrateDoc{File: path, Unit: unit, Applied: f.applied, N: fit.N, DoF: fit.DoF, Degree: fit.Degree, ThroughZero: fit.ThroughZero,
		Coef: fit.Coefficients, StdErr: fit.StandardErrors, SD: fit.ResidualSD, R2: fit.RSquared,
		LLF: r.LLF, LLFForce: r.LLFIn, FromA: r.FromA, FromAA: r.FromAA, Least: r.LeastLoad, Capacity: r.Capacity,
		Residuals: fit.Residuals, Notes: append([]string{}, r.Notes...), Runs: []runDoc{}}
	if r.HasHysteresis {
		share := r.Hysteresis / r.Full(t)
		d.Hysteresis, d.HystAt, d.HystShare = &r.Hysteresis, &r.HysteresisAt, &share
	}
	for _, m := range r.Runs {
		d.Runs = append(d.Runs, runDoc{m.Name, m.N, m.Mean})
	}
	return d
}

// page is the calibration for people.
func (f *calibrateFlags) page(path string, t *calibrate.Table, r *calibrate.Report, d calibrateDoc) string {
	p := &limitsPage{}
	fit := r.Fit
	in := func(v float64) string { return strings.TrimSpace(fmt.Sprintf("%.6g %s", v, d.Unit)) }
	inY := in
	if f.applied == "x" {
		inY = func(v float64) string { return fmt.Sprintf("%.6g of y", v) }
	}
	shown, applied := "x shown, y applied", "y"
	if f.applied == "x" {
		shown, applied = "x applied, y the deflection", "x"
	}
	p.line(2, "%s: %d readings, %s, %s %.6g to %.6g", visible(path), fit.N, shown, applied, r.LeastLoad, r.Capacity)
	p.WriteString("\n")
	for k, c := range fit.Coefficients {
		if k == 0 && fit.ThroughZero {
			p.line(2, "c0  0, by --through-zero")
			continue
		}
		p.line(2, "c%d  %-22s standard error %.6g", k, fmt.Sprintf("%.15g", c), fit.StandardErrors[k])
	}
	about := ""
	if fit.ThroughZero {
		about = " about 0, for the line goes through it"
	}
	p.WriteString("\n")
	p.line(2, "residual sd  %s, %d degrees of freedom", inY(fit.ResidualSD), fit.DoF)
	p.line(2, "R2           %.15g%s", fit.RSquared, about)
	p.line(2, "LLF          %s = 2.4 residual sd (ASTM E74)", inY(r.LLF))
	if f.applied == "x" {
		p.line(13, "             %s as a force, by load over deflection at capacity", in(r.LLFIn))
	}
	use := func(class string, from float64) {
		if from > r.Capacity {
			p.line(13, "%-12s none of the loads applied: it would begin at %s", class, in(from))
			return
		}
		p.line(13, "%-12s %s to %s", class, in(from), in(r.Capacity))
	}
	use("use, A", r.FromA)
	use("use, AA", r.FromAA)
	if r.HasHysteresis {
		p.line(13, "hysteresis   %s at %s, %.3g %% of the greatest", inY(r.Hysteresis), in(r.HysteresisAt), 100**d.HystShare)
	}
	if len(r.Runs) > 1 {
		var means []string
		for _, m := range r.Runs {
			means = append(means, fmt.Sprintf("%s: %+.3g", m.Name, m.Mean))
		}
		p.line(13, "runs         mean residual %s", strings.Join(means, ", "))
	}
	if d.Drift != nil {
		p.line(13, "drift        since %s: %+.4g at 0, %+.4g at the top, at most %+.4g at x %.4g (%.3g %%)", visible(d.Drift.Before),
			d.Drift.AtZero, d.Drift.AtTop, d.Drift.Most, d.Drift.At, 100*d.Drift.Share)
	}
	p.WriteString("\nRESIDUALS over x: u going up, d going down, o not said, * several\n" + r.Plot(t, 66, 15))
	for i, n := range r.Notes {
		if i == 0 {
			p.WriteString("\nNOTES\n")
		}
		p.line(4, "  %s", n)
	}
	p.WriteString("\nFOR THE TRIAL FILE\n")
	block, err := f.block(r, d.Unit)
	if err != nil {
		block = "# " + err.Error() + "\n"
	}
	p.WriteString(block)
	return p.String()
}
