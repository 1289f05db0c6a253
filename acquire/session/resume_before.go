package session

import (
	"errors"
	"fmt"
	"path/filepath"

	"hawse/acquire"
	"hawse/logfmt"
)

// Before is a pull as far as its unfinished logs hold it, all its parts folded as
// one: what a capture that goes on from them goes on with, so that peak, figures
// and trace are those of the pull, as 'hawse results' has them.
//
// It is a view and no more: what a capture says goes by its own log alone, so
// that the log can be replayed without those before it.
type Before struct {
	whole  Whole
	judge  *Judge
	inputs []JudgeInput
}

// begin goes on with the pull in a part whose head is whole.
func (b *Before) begin(c *Core) {
	join := b.whole.Next(c)
	if b.judge == nil {
		b.judge = NewJudge(c.Head())
		return
	}
	b.judge.pause(join.From, join.To)
}

// take folds a record behind the head of the present part.
func (b *Before) take(rec *logfmt.Record, step *Step) {
	b.inputs = b.whole.inputs(rec, step, b.inputs[:0])
	for _, in := range b.inputs {
		in.N = rec.N
		b.judge.Apply(in, nil)
	}
}

// readBefore folds the log at path and those it goes on from. The error says what
// of them is missing, or is not as it was: the rest is folded all the same, as the
// results do.
func readBefore(path string) (b *Before, err error) {
	defer func() { // no figures are worth a pull that does not go on
		if r := recover(); r != nil {
			b, err = &Before{}, fmt.Errorf("folding what was before failed: %v", r)
		}
	}()
	b = &Before{}
	chain := []Part{{Opening: Opening{Path: path}}}
	self, err := ReadOpening(path)
	if err == nil && self.Predecessor != "" {
		chain, err = Chain(path)
	}
	for _, p := range chain {
		if p.Fault != "" {
			err = errors.Join(err, fmt.Errorf("%s: %s", filepath.Base(p.Path), p.Fault))
		}
		err = errors.Join(err, b.part(p.Path))
		if baseOf(p.Path) == baseOf(path) {
			break
		}
	}
	b.whole.missing = err != nil
	return b, err
}

// part folds a whole log in.
func (b *Before) part(path string) error {
	f, err := logfmt.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	core, step, begun := &Core{Plain: true}, new(Step), false
	r := logfmt.NewReader(f)
	for r.Next() {
		rec := r.Record()
		if err := core.Apply(&rec, step); err != nil {
			return fmt.Errorf("%s: record %d: %w", path, rec.N, err)
		}
		switch {
		case begun:
			b.take(&rec, step)
		case core.Ready():
			begun = true
			b.begin(core)
		}
	}
	if err := r.Err(); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if !begun {
		return fmt.Errorf("%s: %w", path, errNoHead)
	}
	return nil
}

// beforeText is why peak and figures are not those of the whole pull, for people;
// "" they are.
func (u *Unfinished) beforeText() string {
	if u.BeforeFault == "" {
		return ""
	}
	return "; of what was before it not all is there, so peak and figures are those 'since resume': " + acquire.Visible([]byte(u.BeforeFault))
}

// inputs is what the pull's Judge is to see of a record of the present part.
func (w *Whole) inputs(rec *logfmt.Record, step *Step, dst []JudgeInput) []JudgeInput {
	w.Took(rec, step.Refused != "")
	for _, in := range step.Samples {
		if in.Enter {
			continue // the stage of the pull may be that of the part before
		}
		in = w.Sample(in)
		if !in.Gap && !in.Happened() {
			w.entered = in.Stage // as the Judge takes it
		}
		dst = append(dst, in)
	}
	if stage := w.Stage(); stage != w.entered {
		w.entered = stage
		dst = append(dst, JudgeInput{T: w.At(rec.T), Enter: true, Stage: stage})
	}
	return dst
}

// goOn has the capture go on with what was before its log, whose head is whole.
func (c *Capture) goOn(b *Before) {
	if b == nil || b.judge == nil || !c.core.Ready() {
		return
	}
	b.begin(&c.core)
	c.pull = b
	c.judge.goOn(b)
	c.follow = func(r *logfmt.Record) {
		b.inputs = b.whole.inputs(r, &c.step, b.inputs[:0])
		for i := range b.inputs {
			b.inputs[i].ofPull = true
		}
		c.judge.add(b.inputs, r.N)
	}
}

// goOn has the pull's Judge work beside the log's own, whose words stand in it.
func (r *judgeRunner) goOn(b *Before) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.pull, r.shift = b.judge, b.whole.shift
	r.last.Store(r.pull.shot())
}

// shown is the Judge that a screen sees.
func (r *judgeRunner) shown() *Judge {
	if r.pull != nil {
		return r.pull
	}
	return r.j
}

// lag is how far the Judge is behind, ns; the sequencer's own.
func (r *judgeRunner) lag(shown *judgeShot) int64 {
	if len(r.pending) == 0 {
		return 0
	}
	last := &r.pending[len(r.pending)-1]
	t := last.T
	if !last.ofPull {
		t += r.shift
	}
	return max(t-shown.t, 0)
}
