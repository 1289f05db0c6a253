package session

import (
	"fmt"
	"math"
	"strings"

	"hawse/logfmt"
)

// Fold runs Core and Judge over a log's records and compares what they say now
// with what the log says was said then.
type Fold struct {
	core    Core
	judge   *Judge
	board   board
	step    Step
	build   string
	same    bool // this build wrote the log: every word must agree to the bit
	damaged bool // records are missing before here, so words may rightly differ
	want    [2][]logfmt.Record
	last    logfmt.Record

	Records uint64
	Says    uint64
	Diffs   []Difference
	// Unsaid counts words the fold says that the log does not hold: after a cut
	// the last ones may be missing.
	Unsaid int
}

// Difference is a word said then that is not the word judged now.
type Difference struct {
	N     uint64 // of the say record, or of the input whose word is missing
	Then  string // "" when nothing was said then
	Now   string // "" when nothing is said now
	After bool   // the log is damaged before it: no wonder
}

func (d Difference) String() string {
	then, now := d.Then, d.Now
	if then == "" {
		then = "(nothing)"
	}
	if now == "" {
		now = "(nothing)"
	}
	s := fmt.Sprintf("record %d: said then: %s; judged now: %s", d.N, then, now)
	if d.After {
		s += " (the log is damaged before here)"
	}
	return s
}

// NewFold returns a fold by a program of the given build.
func NewFold(build string) *Fold { return &Fold{build: build} }

const (
	byCore = iota
	byJudge
)

// Apply folds one record of a log in.
func (f *Fold) Apply(r logfmt.Record) error {
	f.Records++
	if salvaged := r.N == 0 && f.last.N == 0; r.N != f.last.N+1 && !salvaged { // such a log begins with what it is, numbered 0
		f.damaged = true
		f.board.tell(r.T, fmt.Sprintf("the log is damaged: record %d follows record %d; 'hawse verify' tells more", r.N, f.last.N), true)
	}
	f.last = logfmt.Record{T: r.T, N: r.N}
	f.board.add(&r)
	if r.Kind == logfmt.Say {
		f.step.Samples = f.step.Samples[:0]
		f.Says++
		who := byCore
		if r.Str("src") == "judge" {
			who = byJudge
		}
		f.compare(who, r)
		return nil
	}
	f.missing(byCore)
	if err := f.core.Apply(&r, &f.step); err != nil {
		return fmt.Errorf("record %d: %w", r.N, err)
	}
	if f.judge == nil && f.core.Ready() {
		f.judge = NewJudge(f.core.Head())
		f.same = f.core.head.Build == f.build
	}
	f.want[byCore] = append(f.want[byCore], f.step.Says...)
	for _, in := range f.step.Samples {
		in.N = r.N
		f.want[byJudge] = f.judge.Apply(in, f.want[byJudge])
	}
	return nil
}

// compare takes the next word due and holds it against the one in the log.
func (f *Fold) compare(who int, then logfmt.Record) {
	if len(f.want[who]) == 0 {
		f.differ(Difference{N: then.N, Then: words(then)})
		return
	}
	now := f.want[who][0]
	f.want[who] = f.want[who][1:]
	if !f.agree(then, now) {
		f.differ(Difference{N: then.N, Then: words(then), Now: words(now)})
	}
}

// missing reports words that the log should hold by now but does not.
func (f *Fold) missing(who int) {
	for _, now := range f.want[who] {
		f.differ(Difference{N: f.last.N, Now: words(now)})
	}
	f.want[who] = f.want[who][:0]
}

func (f *Fold) differ(d Difference) {
	d.After = f.damaged
	if len(f.Diffs) < 1000 { // more would say nothing new
		f.Diffs = append(f.Diffs, d)
	}
}

// Finish is called after the last record. sealed says whether the log was
// ended properly: without a seal the last words may not have been written.
func (f *Fold) Finish(sealed bool) {
	if !sealed {
		f.Unsaid = len(f.want[byCore]) + len(f.want[byJudge])
		f.want = [2][]logfmt.Record{}
		return
	}
	f.missing(byCore)
	f.missing(byJudge)
}

// agree holds two words against each other: to the bit for the same build,
// floats to 1e-12 for another, where the state's digest says nothing.
func (f *Fold) agree(then, now logfmt.Record) bool {
	if len(then.Fields) != len(now.Fields) {
		return false
	}
	for i, a := range then.Fields {
		b := now.Fields[i]
		if a.Key != b.Key {
			return false
		}
		if a.Val == b.Val || !f.same && (a.Key == "digest" || a.Key == "text") {
			continue
		}
		if f.same {
			return false
		}
		x, ok1 := then.Float(a.Key)
		y, ok2 := now.Float(b.Key)
		if !ok1 || !ok2 || math.Abs(x-y) > 1e-12*math.Max(math.Abs(x), math.Abs(y)) {
			return false
		}
	}
	return true
}

func words(r logfmt.Record) string {
	var b strings.Builder
	for i, f := range r.Fields {
		if i > 0 {
			b.WriteByte(' ')
		}
		fmt.Fprintf(&b, "%s=%q", f.Key, f.Val)
	}
	return b.String()
}

// Snapshot draws what a screen would show after the last record.
func (f *Fold) Snapshot() Snapshot {
	s := f.core.shot(&f.board, &f.last)
	if f.judge != nil {
		f.judge.shot().into(&s)
	}
	return s
}
