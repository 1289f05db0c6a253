package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"

	"hawse/cmd/hawse/cli"
	"hawse/trial"
	"hawse/trial/rode"
)

// mostRows bounds a table; a day's question needs a page.
const mostRows = 500

// rodeRow is one solved rode; state is nil where the tension asked cannot be,
// and why says so.
type rodeRow struct {
	state *rode.State
	out   float64
	lifts float64 // tension that begins to lift the anchor end; NaN none
	why   string
}

// printTable prints the rode over payout or over tension.
func (q *rodeAsk) printTable(out io.Writer, f rodeFlags) error {
	rows, err := q.tableRows(f)
	if err != nil {
		return err
	}
	if f.asJSON {
		return tableJSON(out, rows)
	}
	fmt.Fprintf(out, "%s, fairlead %s over the anchor\n", q.title, q.length(trial.Length(q.rode.Height())))
	for _, n := range q.notes {
		fmt.Fprintln(out, n)
	}
	unit := q.show.Tension.Name
	force := func(v float64) string { return fmt.Sprintf("%.3g", q.show.Tension.In(trial.Force(v))) }
	length := func(v float64) string { return fmt.Sprintf("%.1f", q.show.Length.In(trial.Length(v))) }
	fmt.Fprintf(out, "%9s %6s %10s  %10s %10s %9s %9s %10s\n", "rode out", "scope", "lifts from", "tension", "at anchor", "angle", "on bottom", "stiffness")
	fmt.Fprintf(out, "%9s %6s %10s  %10s %10s %9s %9s %10s\n", q.show.Length.Name, "", unit, unit, unit, "deg", q.show.Length.Name, unit+"/"+q.show.Length.Name)
	for _, r := range rows {
		lifts := "-"
		if !math.IsNaN(r.lifts) {
			lifts = force(r.lifts)
		}
		fmt.Fprintf(out, "%9s %6.2f %10s", length(r.out), r.out/q.rode.Height(), lifts)
		switch s := r.state; {
		case s != nil:
			stiff := "-"
			if !math.IsInf(s.Stiffness, 1) {
				stiff = fmt.Sprintf("%.3g", q.show.Tension.In(trial.Force(s.Stiffness*q.show.Length.M)))
			}
			fmt.Fprintf(out, "  %10s %10s %9.2f %9s %10s\n", force(s.T), force(s.AnchorT), s.AnchorAngle/degree, length(s.OnBottom), stiff)
		case r.why != "":
			fmt.Fprintf(out, "  %s\n", r.why)
		default:
			fmt.Fprintln(out)
		}
	}
	fmt.Fprintln(out, "lifts from: more tension than this, and the line leaves the anchor upwards.\nA model of a line at rest; -: it lies or hangs whatever the tension.")
	return nil
}

func (q *rodeAsk) tableRows(f rodeFlags) ([]rodeRow, error) {
	if f.table == "payout" {
		h := q.rode.Height()
		at, err := tableSteps(f, trial.ParseLength, 1.5*h, q.rode.Out())
		if err != nil {
			return nil, err
		}
		var rows []rodeRow
		for i := len(at) - 1; i >= 0; i-- { // as a pull goes
			if err := q.rode.SetOut(at[i]); err != nil {
				return nil, cli.Usage("--from, --to: %w", err)
			}
			if at[i] < h {
				return nil, cli.Usage("--from %s: shorter than the fairlead is high, %s", q.length(trial.Length(at[i])), q.length(trial.Length(h)))
			}
			rows = append(rows, q.rodeRow(float64(q.tension)))
		}
		return rows, nil
	}
	slack, err := q.rode.AtSpan(0)
	if err != nil {
		return nil, cli.Exit(cli.ExitFailed, "%w", err)
	}
	most := max(float64(q.top), 20*slack.T)
	if q.tension > 0 {
		most = float64(q.tension)
	}
	at, err := tableSteps(f, trial.ParseForce, max(1.01*slack.T, niceStep(most/12)), most)
	if err != nil {
		return nil, err
	}
	var rows []rodeRow
	for _, t := range at {
		rows = append(rows, q.rodeRow(t))
	}
	return rows, nil
}

// tableSteps are the places of the rows: from, then by steps, and to.
func tableSteps[Q ~float64](f rodeFlags, parse func(string) (Q, error), from, to float64) ([]float64, error) {
	read := func(flag, text string, to *float64) error {
		if text == "" {
			return nil
		}
		v, err := parse(text)
		if err != nil {
			return cli.Usage("--%s: %w", flag, err)
		}
		*to = float64(v)
		return nil
	}
	step := 0.0
	if err := errors.Join(read("from", f.from, &from), read("to", f.to, &to), read("step", f.step, &step)); err != nil {
		return nil, cli.Usage("%w", err)
	}
	switch {
	case !(from > 0) || !(to > from):
		return nil, cli.Usage("--from and --to: a table goes from something above 0 to something more")
	case f.step != "" && !(step > 0):
		return nil, cli.Usage("--step: give a step above 0")
	case step == 0:
		step = niceStep((to - from) / 12)
	}
	if (to-from)/step > mostRows {
		return nil, cli.Usage("--step %s gives more than %d rows", strconv.QuoteToASCII(f.step), mostRows)
	}
	out := []float64{from}
	for i := math.Floor(from/step) + 1; i*step < to*(1-1e-9); i++ {
		if i*step > from*(1+1e-9) {
			out = append(out, i*step)
		}
	}
	return append(out, to), nil
}

// niceStep is the least of 1, 2 or 5 times a power of ten that is at least v.
func niceStep(v float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 5} {
		if m*p >= v {
			return m * p
		}
	}
	return 10 * p
}

// rodeRow solves one row; a tension of 0 asks only what lifts.
func (q *rodeAsk) rodeRow(t float64) rodeRow {
	r := rodeRow{out: q.rode.Out(), lifts: math.NaN()}
	if l, err := q.rode.LiftsFrom(); err == nil {
		r.lifts = l
	}
	if t == 0 {
		return r
	}
	s, err := q.rode.AtTension(t)
	over := q.mayCarry(trial.Force(t))
	switch {
	case over != nil:
		r.why = over.Error()
	case err == nil:
		r.state = &s
	case errors.Is(err, rode.ErrCannotHang):
		r.why = q.force(trial.Force(t)) + " does not carry what hangs"
	default:
		r.why = err.Error()
	}
	return r
}

func tableJSON(out io.Writer, rows []rodeRow) error {
	type row struct {
		RodeOut     float64  `json:"rode_out_m"`
		Lifts       *float64 `json:"lifts_from_n"`
		Tension     *float64 `json:"fairlead_tension_n,omitempty"`
		AnchorT     *float64 `json:"anchor_tension_n,omitempty"`
		AnchorAngle *float64 `json:"anchor_angle_rad,omitempty"`
		OnBottom    *float64 `json:"on_bottom_m,omitempty"`
		Span        *float64 `json:"span_m,omitempty"`
		Why         string   `json:"why,omitempty"`
	}
	doc := make([]row, len(rows))
	for i := range rows {
		r := &rows[i]
		doc[i] = row{RodeOut: r.out, Why: r.why}
		if !math.IsNaN(r.lifts) {
			doc[i].Lifts = &r.lifts
		}
		if s := r.state; s != nil {
			doc[i].Tension, doc[i].AnchorT, doc[i].AnchorAngle, doc[i].OnBottom, doc[i].Span = &s.T, &s.AnchorT, &s.AnchorAngle, &s.OnBottom, &s.Span
		}
	}
	return cli.WriteJSON(out, doc)
}
