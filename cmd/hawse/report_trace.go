package main

import (
	"crypto/sha256"
	"fmt"
	"math"
	"time"

	"hawse/acquire/session"
	"hawse/logfmt"
	"hawse/trial"
	"hawse/trial/report"
)

func sha256Hex(b []byte) string { return fmt.Sprintf("%x", sha256.Sum256(b)) }

// traced is what is drawn of a pull, in memory that does not grow with its logs.
type traced struct {
	cols  []report.Col
	marks []report.Mark

	width float64 // s, of a column
	gap   bool    // nothing joins the next sample to the last
	fair  float64 // height of the fairlead, m
	far   trial.FarEnd
}

// Columns that are kept: about as many as a print on paper can show. They double
// in width when there are more.
const (
	traceCols  = 1000
	traceWidth = 0.25 // s, to begin with
	mostMarks  = 60
)

// tracePull reads the parts of a pull once more for what is drawn.
func tracePull(r *session.Result) *traced {
	t := &traced{width: traceWidth}
	h := r.Head.Trial
	t.fair = float64(h.Vessel.Fairlead)
	t.far = trial.NewFarEnd(h, r.Head.Run)
	if h := r.Head.After; h != nil && h.Came != nil {
		t.far.GoOn(*h.Came)
	}
	var whole session.Whole
	for i := range r.Parts {
		if r.Parts[i].Read {
			t.part(r.Parts[i].Path, &whole)
		}
	}
	return t
}

func (t *traced) part(path string, whole *session.Whole) {
	file, err := logfmt.Open(path)
	if err != nil {
		return // told already
	}
	defer file.Close()
	read := logfmt.NewReader(file)
	core, step, began := &session.Core{Plain: true}, new(session.Step), false
	for read.Next() {
		rec := read.Record()
		if rec.Kind == logfmt.Say {
			continue
		}
		if core.Apply(&rec, step) != nil {
			return
		}
		if !core.Ready() {
			continue
		}
		if !began {
			began = true
			whole.Next(core)
			t.gap = true
			continue
		}
		whole.Took(&rec, step.Refused != "")
		if rec.Kind == logfmt.Act && len(t.marks) < mostMarks {
			if what := rec.Str("act"); what == session.ActMark || what == session.ActNote {
				t.marks = append(t.marks, report.Mark{T: time.Duration(whole.At(rec.T)), Who: printable(rec.Str("who")), Text: clipped(printable(rec.Str("value")), 300)})
			}
		}
		for _, in := range step.Samples {
			t.sample(whole.Sample(in))
		}
	}
}

func (t *traced) sample(in session.JudgeInput) {
	if in.Happened() {
		return
	}
	v := float64(in.Tension)
	if in.Gap || in.Over || math.IsNaN(v) || math.IsInf(v, 0) {
		t.gap = true
		if in.Over {
			t.far.Lose(trial.ErrOverRange)
		} else {
			t.far.Lose(trial.ErrNoTension)
		}
		return
	}
	if in.MovedU > 0 {
		t.far.Moved(in.Moved, in.MovedU)
	}
	p := in.Reading()
	t.far.Solve(&p)
	travel := float64(p.Travel)
	at := float64(in.T) / 1e9
	depth := float64(in.Height) - t.fair
	if n := len(t.cols); n > 0 && !t.gap {
		k := &t.cols[n-1]
		if at < k.T0+t.width && in.Stage == k.Stage {
			k.T1 = at
			switch {
			case v < k.Low:
				k.Low, k.Falls = v, true
			case v > k.High:
				k.High, k.Falls = v, false
			}
			k.X, k.Travel, k.Scope, k.Depth = float64(in.X), travel, in.Scope, depth
			return
		}
	}
	if len(t.cols) == traceCols {
		t.halve()
	}
	t.cols = append(t.cols, report.Col{T0: at, T1: at, Low: v, High: v, X: float64(in.X), Travel: travel, Scope: in.Scope, Depth: depth, Stage: in.Stage, Gap: t.gap})
	t.gap = false
}

// halve joins neighbours, where they are of one stage and nothing is between.
func (t *traced) halve() {
	t.width *= 2
	out := t.cols[:0]
	for _, k := range t.cols {
		if n := len(out); n > 0 && !k.Gap && k.Stage == out[n-1].Stage && k.T0 < out[n-1].T0+t.width {
			last := &out[n-1]
			low, high := min(last.Low, k.Low), max(last.High, k.High)
			first, gap, falls := last.T0, last.Gap, last.Falls
			if low == k.Low || high == k.High { // the later one has an end
				falls = k.Falls
				if low != k.Low || high != k.High {
					falls = low == k.Low
				}
			}
			*last = k
			last.T0, last.Low, last.High, last.Gap, last.Falls = first, low, high, gap, falls
			continue
		}
		out = append(out, k)
	}
	if len(out) == len(t.cols) { // nothing joined: more stages than columns
		out = out[:len(out)-1]
	}
	t.cols = out
}
