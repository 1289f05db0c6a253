package trial

import "math"

// Reading is one sample of the load cell as [FigureFold] takes it: joined with
// the line.
type Reading struct {
	Point
	Scope float64 // incl. roller height; NaN unknown
	// Over: past the range of the cell. Tension is then the least it can have
	// been; NaN: not even that is known.
	Over bool
	// LateFrom is from when on it may have been measured, ns, where it came after a
	// gap and so perhaps late; -1, and 0, where that is not so.
	LateFrom int64
	// Of a pin in the roller: what the tension is uncertain by for the angle of the
	// line, N, and what it grows by for each newton felt. 0 of any other cell.
	TensionU Force
	Gain     float64
}

// Window says over how much of a pull a tension was taken. It is a part of the
// figure: a peak of one sample and a mean of ten seconds are not the same thing.
type Window string

// Instant is one valid sample as it came: it depends on the rate and the filter
// of the load cell's box.
const Instant Window = "instant"

// Greatest is the greatest tension of a part of a pull.
type Greatest struct {
	Known  bool
	Window Window
	Value  Force
	T      int64   // ns, of the first sample that reached it
	From   int64   // ns, from when on it may have been measured, where it came late; 0 at T
	X      Length  // line hauled there, m; NaN unknown
	Scope  float64 // there; NaN unknown
	Stage  Stage
	// Bound: the true one may be greater, and is shown with ">".
	Bound Bound
	// Still: it came more than 5 s after line was hauled last, so the winch did
	// not make it.
	Still bool
}

// Bound says why a greatest tension is a lower bound; empty: it is none.
type Bound string

// The reasons.
const (
	BoundNotLeft Bound = "not left by 10 % when hauling ended"
	BoundOver    Bound = "the load cell was over range"
	BoundNoLine  Bound = "line hauled is not known, so nobody can tell whether the tension was left while hauling"
)

// Haul is one stay in pull and hold, from entering pull to leaving both. A pull
// that was broken off and begun again has several; each has its own greatest
// tension.
type Haul struct {
	Begin, End int64  // ns, of its first and last sample
	From, To   Length // least and greatest line hauled in it, m; NaN unknown; since the rode out was said anew, where it was
	Before     Length // line hauled in it before that, m
	Greatest   Greatest
}

// StageFigure is what is told of one stage, all stays in it together.
type StageFigure struct {
	Time     int64 // ns
	Greatest Greatest
}

// Figures are the quantities of one pull. What is not known says so: Known is
// false, a number NaN.
type Figures struct {
	Pull   Greatest // the greatest of all Hauls
	Hauls  []Haul   // the first [MostHauls] of them
	More   int      // hauls that are not listed
	After  Greatest // in ease, stopped and recover, once the pull had begun
	Hauled Length   // most line hauled in pull and hold, since the rode out was said, m; NaN unknown
	InPull Length   // line hauled in pull and hold alone, m; NaN unknown
	Stages [NumStages]StageFigure
	Lost   int64 // ns in which nothing was recorded

	// The quantities, as [Quantities] has them, and what they are told from. A
	// [FigureFold] alone leaves them empty: [Study] fills them.
	Told       bool
	Quantities [NumQuantities]Figure
	Phases     [NumPhases]PhaseTotal // in pull, hold, stopped and recover
	Segments   []Segment             // the phases, dated back, of pull and recover
	Breaks     []BreakTold           // falls by half, breakouts or not, in the pull
	Holds      []HoldTold
	Stops      []OvershootTold
	Anew       []AnewTold // the rode out, said anew since the pull had begun
}

// MostHauls bounds how many stays in pull are listed.
const MostHauls = 32

// leftShare is by how much a tension must have fallen for its peak to stand; see
// [Peak.Left].
const leftShare = 0.1

// FigureFold folds the samples of one pull into its [Figures]: a pure function
// of what it is given, in order. Memory is fixed. The zero value is ready.
type FigureFold struct {
	f       Figures
	winch   winch
	haul    Haul
	pull    crest // of the present haul
	best    crest // of those before
	after   crest
	stages  [NumStages]crest
	began   bool
	over    bool // in any haul
	stage   Stage
	now     Stage // as said by Enter
	anew    anewFold
	since   int64
	entered bool
}

// Enter says that a stage is in force from t on.
func (f *FigureFold) Enter(t int64, s Stage) {
	f.close(t)
	f.now, f.since, f.entered = s, t, true
}

// Break says that nothing was recorded between the two times. The stage stays.
func (f *FigureFold) Break(from, to int64) {
	f.close(from)
	f.since = to
	f.f.Lost += max(to-from, 0)
	f.winch.known = false
}

func (f *FigureFold) close(t int64) {
	if f.entered && f.now < NumStages {
		f.f.Stages[f.now].Time += max(t-f.since, 0)
	}
	f.since = t
}

// Add takes one sample. A tension that is not finite is no news, but for one
// over range.
func (f *FigureFold) Add(r Reading) {
	known := finite(float64(r.Tension))
	if !known && !r.Over || r.Stage >= NumStages {
		return
	}
	did := f.winch.follow(r.T, float64(r.X))
	still := f.winch.still(r.T)
	anew := f.anew.add(&r)
	inPull := r.Stage == Pull || r.Stage == Hold
	if r.Stage == Pull && (f.stage != Pull && f.stage != Hold || !f.began) {
		f.endHaul()
		f.began, f.pull = true, crest{}
		nan := Length(math.NaN())
		f.haul = Haul{Begin: r.T, From: nan, To: nan}
	}
	f.stage = r.Stage
	f.stages[r.Stage].add(&r, did, still)
	switch {
	case !f.began:
	case inPull:
		f.haul.End = r.T
		if x := r.X; finite(float64(x)) {
			if anew && finite(float64(f.haul.To)) {
				f.haul.Before += f.haul.To - f.haul.From
				f.haul.From, f.haul.To = x, x
			}
			if !(x >= f.haul.From) {
				f.haul.From = x
			}
			if !(x <= f.haul.To) {
				f.haul.To = x
			}
		}
		f.over = f.over || r.Over
		f.pull.add(&r, did, still)
	case r.Stage == Ease || r.Stage == Recover || r.Stage == Stopped: // in stand by it may be a known weight that hangs
		f.after.add(&r, did, still)
	}
}

// endHaul puts the present haul to those before.
func (f *FigureFold) endHaul() {
	if !f.began {
		return
	}
	in, most := f.line()
	f.f.Hauls, f.f.More = f.withHaul()
	f.f.InPull, f.f.Hauled = in, most
	if f.pull.above(&f.best) {
		f.best = f.pull
	}
}

// withHaul is the list of hauls with the present one at its end.
func (f *FigureFold) withHaul() ([]Haul, int) {
	if len(f.f.Hauls) == MostHauls {
		return f.f.Hauls, f.f.More + 1
	}
	h := f.haul
	h.Greatest = f.pull.greatest(!finite(float64(h.To)))
	return append(f.f.Hauls[:len(f.f.Hauls):len(f.f.Hauls)], h), 0
}

// line is InPull and Hauled with the present haul.
func (f *FigureFold) line() (in, most Length) {
	in, most = f.f.InPull, f.f.Hauled
	if len(f.f.Hauls) == 0 || !finite(float64(most)) {
		return f.haul.To - f.haul.From + f.haul.Before, f.haul.To
	}
	if finite(float64(f.haul.To)) {
		in, most = in+f.haul.To-f.haul.From+f.haul.Before, max(most, f.haul.To)
	}
	return in, most
}

// Figures are those of all that was given, up to end, ns. More may follow.
func (f *FigureFold) Figures(end int64) Figures {
	out := f.f
	nan := Length(math.NaN())
	out.Hauled, out.InPull = nan, nan
	best := f.best
	if f.began {
		out.Hauls, out.More = f.withHaul()
		out.InPull, out.Hauled = f.line()
		if f.pull.above(&best) {
			best = f.pull
		}
	}
	out.Pull = best.greatest(!finite(float64(out.Hauled)))
	if f.over {
		out.Pull.Bound = BoundOver
	}
	out.After = f.after.outside()
	for s := range out.Stages {
		out.Stages[s].Greatest = f.stages[s].outside()
	}
	if f.entered && f.now < NumStages {
		out.Stages[f.now].Time += max(end-f.since, 0)
	}
	return out
}
