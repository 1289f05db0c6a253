package main

import (
	"crypto/sha256"
	"fmt"
	"math"
	"slices"

	"hawse/acquire/session"
	"hawse/trial"
	"hawse/trial/report"
)

func sha256Hex(b []byte) string { return fmt.Sprintf("%x", sha256.Sum256(b)) }

// traced is what is drawn of a pull, in memory that does not grow with its logs.
type traced struct {
	cols  []report.Col // their depth is that under the fairlead
	width float64      // s, of a column
	gap   bool         // nothing joins the next sample to the last
}

// Columns that are kept: about as many as a print on paper can show. They double
// in width when there are more.
const (
	traceCols  = 1000
	traceWidth = 0.25 // s, to begin with
)

// columns are those of a pull, whose fairlead is so high, m.
func (t *traced) columns(fairlead trial.Length) []report.Col {
	for i := range t.cols {
		t.cols[i].Depth -= float64(fairlead)
	}
	return slices.Clip(t.cols)
}

// sample takes what the figures are made of: see [session.WatchResult].
func (t *traced) sample(in session.JudgeInput, travel trial.Length) {
	if in.Happened() {
		return
	}
	v := float64(in.Tension)
	if in.Gap || in.Over || math.IsNaN(v) || math.IsInf(v, 0) {
		t.gap = true
		return
	}
	at := float64(in.T) / 1e9
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
			k.X, k.Travel, k.Scope, k.Depth = float64(in.X), float64(travel), in.Scope, float64(in.Height)
			return
		}
	}
	if len(t.cols) == traceCols {
		t.halve()
	}
	t.cols = append(t.cols, report.Col{T0: at, T1: at, Low: v, High: v, X: float64(in.X), Travel: float64(travel), Scope: in.Scope, Depth: float64(in.Height), Stage: in.Stage, Gap: t.gap})
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
