package session

import (
	"hawse/safety"
	"hawse/trial"
)

// window keeps the newest samples of the load cell, with the calibration but
// without software zero, for the checks that a person does. Its room is fixed:
// past 1024 samples a second it holds less than a second.
type window struct {
	samples [1024]struct {
		t int64
		v float64
	}
	n int // samples since the last reset
}

func (w *window) add(t int64, v float64) {
	s := &w.samples[w.n%len(w.samples)]
	s.t, s.v = t, v
	w.n++
}

// reset forgets everything: what came before says nothing of what hangs on the
// cell now.
func (w *window) reset() { w.n = 0 }

// reading is what the cell showed in the ns before t.
func (w *window) reading(t, ns int64) (r safety.Reading) {
	var sum, lo, hi float64
	for i := w.n - 1; i >= max(w.n-len(w.samples), 0); i-- {
		s := &w.samples[i%len(w.samples)]
		if s.t <= t-ns {
			break
		}
		if r.N == 0 {
			lo, hi = s.v, s.v
		}
		lo, hi = min(lo, s.v), max(hi, s.v)
		sum += s.v
		r.N++
	}
	if r.N > 0 {
		r.Mean, r.Low, r.High = trial.Force(sum/float64(r.N)), trial.Force(lo), trial.Force(hi)
	}
	return r
}
