package session

import (
	"hawse/logfmt"
)

// folder is what live and dry runs have in common: one place that numbers a
// record, keeps it, folds it and lets the guard speak to the relay, in a step
// that waits for nothing.
type folder struct {
	core  Core
	board board
	step  Step
	out   stopOut
	horn  hornOut
	n     uint64
	t     int64

	ending string // reason, once an end was accepted
	spoke  bool   // something was said since the last snapshot

	keep    func(logfmt.Record)                   // takes every record in order; nil: nobody
	explain func(samples []JudgeInput, by uint64) // takes what the Judge is to see; nil: nobody
	follow  func(*logfmt.Record)                  // sees every record once it is folded; nil: nobody
}

// put gives a record its number and time, queues it for the log and folds it,
// in one step.
func (f *folder) put(r logfmt.Record) error {
	f.number(&r)
	if f.keep != nil {
		f.keep(r)
	}
	f.board.add(&r)
	if err := f.core.Apply(&r, &f.step); err != nil {
		return err
	}
	for _, s := range f.step.Says {
		f.word(s)
	}
	if len(f.step.Samples) > 0 && f.explain != nil {
		f.explain(f.step.Samples, r.N)
	}
	if f.follow != nil {
		f.follow(&r)
	}
	if f.step.Ended {
		f.ending = f.step.EndReason
		if f.ending == "" {
			f.ending = "ended"
		}
	}
	if f.core.Ready() {
		g := f.core.Guard()
		if r.Kind == logfmt.Act && f.step.Refused == "" && r.Str("act") == ActHorn {
			f.horn.tryOut(r.T)
		}
		f.out.after(r.T, &g)
		f.horn.after(r.T, &g)
	}
	return nil
}

// number gives the next number; time never falls, and where a chunk was read
// before the last record was made, `at` keeps when.
func (f *folder) number(r *logfmt.Record) {
	if r.T < f.t {
		if r.Kind == logfmt.Rx || r.Kind == logfmt.Tx {
			r.Fields = append(r.Fields, logfmt.Field{Key: "at", Val: logfmt.FormatNs(r.T)})
		}
		r.T = f.t
	}
	f.t = r.T
	f.n++
	r.N = f.n
}

// word writes an output record.
func (f *folder) word(s logfmt.Record) {
	f.spoke = true
	s.T = f.t
	f.number(&s)
	if f.keep != nil {
		f.keep(s)
	}
	f.board.add(&s)
}
