package session

import (
	"fmt"
	"slices"
	"time"

	"hawse/logfmt"
	"hawse/trial"
)

// Result is what the parts of one pull, and the addenda to them, say of it.
type Result struct {
	Head    Head // of the first part that has a whole one
	Ready   bool // there is one; without it nothing but Parts and Addenda says anything
	Started time.Time
	Length  int64 // ns, of the pull's time: the breaks between its parts count
	Parts   []ResultPart

	// Figures are those of the log as it was recorded. Corrected are the same
	// with the corrections that apply put to every sample; nil where none does.
	Figures   trial.Figures
	Corrected *trial.Figures

	// Stretches are means that were asked for, in that order; CorrectedOver the
	// same of the corrected samples, empty where no correction applies.
	Stretches, CorrectedOver []trial.Figure

	Late  []LateTold // lines that came late and all at once, by port
	Cells []CellTold // of the load cells beside the one the figures are of

	Stops   []StopTold
	Checks  []CheckTold
	Drops   []DropTold // where rode began to go out, against where it was planned
	Marks   []MarkTold
	More    int          // stops, checks and marks that are not listed
	CameUp  []CameUpTold // what the anchor came up with, in the order in which it was said
	Addenda []Comment
	Doubts  []Doubt
	Faults  []string // what could not be read of the addenda
	Beside  int      // logs of pulls beside its parts that were not given
	CopyOf  string   // of one that [DropCopies] left out: what it is to which log
}

// ResultPart is one log of a pull.
type ResultPart struct {
	Part
	Read    bool // it could be read, and its head was whole
	Join    Join
	Records uint64
	Seal    logfmt.Seal
	SHA256  string
	Damage  []logfmt.Damage
	Broken  string // why it could not be read, or not to its end; "" it could

	cell       cellKey
	measured   [2]span // when it measured what the figures tell: in the pull, and after it
	correction int     // index of the one that holds in the addenda, plus 1; 0 none
}

// span is a time of the pull, ns; empty until something is in it.
type span struct {
	some     bool
	from, to int64
}

const (
	spanPull = iota
	spanAfter
)

func (s *span) take(t int64) {
	if !s.some {
		s.some, s.from = true, t
	}
	s.to = t
}

// Whole says that the log has its end, that its seal fits, and that nothing of
// it is missing.
func (p *ResultPart) Whole() bool {
	return p.Broken == "" && p.Seal.There && p.Seal.Good && len(p.Damage) == 0
}

// State is how the log is, in a few words.
func (p *ResultPart) State() string {
	switch {
	case p.Broken != "":
		return "not read"
	case len(p.Damage) > 0:
		return "damaged"
	case !p.Seal.There:
		return "cut short"
	case !p.Seal.Good:
		return "seal does not fit"
	}
	return "whole"
}

// Holds says that every part is whole and in its place, and that every addendum
// is whole and of the log as it lies there.
func (r *Result) Holds() bool {
	return len(r.Faults) == 0 &&
		!slices.ContainsFunc(r.Parts, func(p ResultPart) bool { return !p.Whole() || p.Fault != "" || !p.Read }) &&
		!slices.ContainsFunc(r.Addenda, func(c Comment) bool { return !c.Whole || !c.Matches })
}

// Moment is a time of the pull as a time of day, counted on from when its first
// part was started.
func (r *Result) Moment(t int64) time.Time {
	return r.Started.Add(time.Duration(float64(t) / max(r.Head.Scale, 1)))
}

// ReadResult reads the parts of a pull, each once, and the addenda to them, with
// the means over these stretches of line hauled. Memory does not grow with the
// logs. What cannot be read is in the result.
func ReadResult(p PullLogs, over ...trial.Stretch) *Result { return WatchResult(p, nil, over...) }

// WatchResult is [ReadResult], and shows watch, where it is one, what the figures
// are made of as it is read: every sample and every gap of the pull, in order of
// time, and how far the anchor has come by then, NaN not known. One goroutine
// calls watch, and no longer when WatchResult has returned. Corrections are in no
// sample that it sees.
func WatchResult(p PullLogs, watch func(in JudgeInput, travel trial.Length), over ...trial.Stretch) *Result {
	r := &Result{Parts: make([]ResultPart, len(p.Parts))}
	for i, part := range p.Parts {
		r.Parts[i] = ResultPart{Part: part}
		r.comment(i, p.Addenda[part.Path])
	}
	r.Faults, r.Beside = p.Faults, p.Beside
	f := resultFold{r: r, over: over, watch: watch}
	for i := range r.Parts {
		f.part(i)
	}
	f.end()
	r.cameUpLater()
	return r
}

// resultFold folds the parts one after the other.
type resultFold struct {
	r     *Result
	whole Whole
	stage trial.Stage
	pipe  *figurePipe // nil before the first whole head
	over  []trial.Stretch
	watch func(JudgeInput, trial.Length)
	told  teller
}

// part folds one log in.
func (f *resultFold) part(i int) {
	p := &f.r.Parts[i]
	file, err := logfmt.Open(p.Path)
	if err != nil {
		p.Broken = err.Error()
		return
	}
	defer file.Close()
	read := logfmt.NewReader(file)
	read.CheckSeal()
	core, step := &Core{Plain: true}, new(Step)
	readAhead(read).each(func(rec *logfmt.Record) {
		p.Records++
		if p.Broken != "" {
			return // on to the seal
		}
		zeroed := core.tension.zero.Known
		if err := core.Apply(rec, step); err != nil {
			p.Broken = fmt.Sprintf("record %d: %v", rec.N, err)
			return
		}
		switch {
		case !core.Ready():
		case !p.Read:
			p.Read = true
			f.begin(p, core)
		default:
			f.take(i, core, rec, step, zeroed)
		}
	})
	if core.Ready() {
		f.r.late(core)
		f.r.cells(core)
	}
	p.Seal, p.SHA256, p.Damage = read.Seal(), read.SHA256(), read.Damage()
	if err := read.Err(); err != nil {
		p.Broken = err.Error()
	} else if !p.Read && p.Broken == "" {
		p.Broken = "no whole head in it: not a log of this program, or cut short at its very start; 'hawse verify' tells more"
	}
}

// begin goes on with the pull in a part whose head is whole.
func (f *resultFold) begin(p *ResultPart, core *Core) {
	p.Join = f.whole.Next(core)
	p.cell = cellOf(core.head.Trial)
	if f.pipe == nil {
		f.r.Head, f.r.Ready, f.r.Started = core.Head(), true, core.head.Started
		var corrected *Judge
		if f.r.Corrected != nil {
			corrected = newFigurer(f.r.Head)
		}
		f.pipe = newFigurePipe(newFigurer(f.r.Head), corrected, f.watch)
		f.enter(0)
		return
	}
	join := p.Join
	f.pipe.put(figureOp{in: JudgeInput{T: join.From, Gap: true}, op: func(j *Judge) { j.study.Break(join.From, join.To) }})
}

func (f *resultFold) enter(t int64) {
	stage := f.whole.Stage()
	f.stage = stage
	f.pipe.put(figureOp{op: func(j *Judge) { j.study.Enter(t, stage) }})
}

// take folds a record behind the head.
func (f *resultFold) take(i int, core *Core, rec *logfmt.Record, step *Step, zeroed bool) {
	p := &f.r.Parts[i]
	f.whole.Took(rec, step.Refused != "")
	f.told.take(f.r, i, f.whole.At(rec.T), core, rec, zeroed)
	if rec.Kind == logfmt.Act && step.Refused == "" {
		f.r.takeCameUp(i, f.whole.At(rec.T), rec)
	}
	if rec.Kind == logfmt.Say {
		if rec.Str("what") == "stop-set" {
			t := f.whole.At(rec.T)
			f.pipe.put(figureOp{op: func(j *Judge) { j.study.Stop(t) }})
		}
		return
	}
	for _, s := range step.Cells {
		f.r.cell(s, f.whole.At(s.T), f.whole.Stage())
	}
	for _, in := range step.Samples {
		if in.Happened() && !in.Vessel {
			continue // stops as they were told then; stages as they are in the pull
		}
		in = f.whole.Sample(in)
		if in.Gap || in.Vessel {
			f.pipe.put(figureOp{in: in})
			continue
		}
		f.pipe.put(figureOp{in: in, corrected: f.r.correct(i, in)})
		switch s := in.Stage; {
		case in.Over:
		case s == trial.Preset || s == trial.Pull || s == trial.Hold:
			p.measured[spanPull].take(in.T)
		case s == trial.Ease || s == trial.Recover:
			p.measured[spanAfter].take(in.T)
		}
	}
	if rec.Kind != logfmt.Act && rec.Kind != logfmt.Clock && len(step.Says) == 0 {
		return // no stage changes in silence
	}
	if stage := f.whole.Stage(); stage != f.stage {
		f.enter(f.whole.At(rec.T))
	}
}

func (f *resultFold) end() {
	if f.pipe == nil {
		return
	}
	f.pipe.end()
	f.r.Length = f.whole.Last()
	f.r.Figures = f.pipe.figures.Figures(f.r.Length)
	if c := f.pipe.corrected; c != nil {
		*f.r.Corrected = c.Figures(f.r.Length)
	}
	for _, x := range f.over {
		f.r.Stretches = append(f.r.Stretches, f.pipe.figures.study.Over(x))
		if c := f.pipe.corrected; c != nil {
			f.r.CorrectedOver = append(f.r.CorrectedOver, c.study.Over(x))
		}
	}
}

// fullScale is the tension that the top of a cell's range stands for.
func fullScale(cell trial.LoadCell) trial.Force {
	if len(cell.Cal) == 0 || !(cell.CalUnit.N > 0) {
		return cell.Range
	}
	x, y := cell.CalUnit.In(cell.Range), 0.0
	for _, k := range slices.Backward(cell.Cal) {
		y = y*x + k
	}
	return cell.CalUnit.Of(y)
}
