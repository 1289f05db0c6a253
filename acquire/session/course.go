package session

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"time"

	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// Course is one finished pull, read to its end and kept small enough to be drawn
// beside another: about half a megabyte, however long its logs are. It comes out
// of the same folds that a screen works from. It is not changed afterwards.
type Course struct {
	Path    string // of the first part's log
	Parts   int
	Head    Head // of the first part
	Started time.Time
	Length  int64 // ns
	Config  *safety.Config

	// Preset, Pull and Recover are the haul series of those stages, the last of
	// each; empty where there was none. A hold goes on with the series it follows.
	Preset, Pull, Recover CourseSeries
	Peak                  Peak // of the pull
	Points                []CoursePoint
	MorePoints            int // that were not kept
}

// CourseSeries is one haul series of a pull: its tension along line hauled, time
// since its first sample and travel of the anchor.
type CourseSeries struct {
	T0, T1   int64           // ns, of the first and last sample
	ByHaul   *trial.Envelope // m
	ByTime   *trial.Envelope // s since T0
	ByTravel *trial.Envelope // m
	Segments []trial.Segment
	Stamps   []Stamp

	every time.Duration // between stamps
}

// Stamp is where everything stood at a moment.
type Stamp struct {
	T       int64
	Tension trial.Force
	X       trial.Length // NaN unknown
	Travel  trial.Length // NaN not yet, or unknown
	Scope   float64      // NaN unknown
}

// CoursePoint is something that can be jumped to.
type CoursePoint struct {
	T     int64
	X     trial.Length // NaN unknown
	Kinds []PointKind
	Text  string
}

// Is says whether the point is of a kind.
func (p *CoursePoint) Is(k PointKind) bool { return k == AnyPoint || slices.Contains(p.Kinds, k) }

const (
	courseLength = 0.02 // m, the finest cell along line hauled and travel
	courseTime   = 0.1  // s, the finest cell along time
	mostStamps   = 2048
	stampEvery   = 100 * time.Millisecond // to begin with
	mostPoints   = 1000
)

// Series is the haul series that a stage belongs to; nil for other stages.
func (c *Course) Series(stage trial.Stage) *CourseSeries {
	switch stage {
	case trial.Preset:
		return &c.Preset
	case trial.Pull:
		return &c.Pull
	case trial.Recover:
		return &c.Recover
	}
	return nil
}

// Empty says that nothing was hauled in the series.
func (s *CourseSeries) Empty() bool { return s == nil || s.ByTime.Len() == 0 }

// AtTime is the stamp at or before t, ns; ok is false before the first.
func (s *CourseSeries) AtTime(t int64) (Stamp, bool) {
	i, found := slices.BinarySearchFunc(s.Stamps, t, func(k Stamp, t int64) int {
		return int(min(max(k.T-t, -1), 1))
	})
	if !found {
		i--
	}
	if i < 0 {
		return Stamp{}, false
	}
	return s.Stamps[i], true
}

// AtHaul is the stamp at which line hauled first came to x, or the last one.
func (s *CourseSeries) AtHaul(x trial.Length) (Stamp, bool) {
	return s.first(func(k *Stamp) bool { return k.X >= x })
}

// AtTravel is AtHaul for travel of the anchor.
func (s *CourseSeries) AtTravel(x trial.Length) (Stamp, bool) {
	return s.first(func(k *Stamp) bool { return k.Travel >= x })
}

func (s *CourseSeries) first(is func(*Stamp) bool) (Stamp, bool) {
	for i := range s.Stamps {
		if is(&s.Stamps[i]) {
			return s.Stamps[i], true
		}
	}
	if n := len(s.Stamps); n > 0 {
		return s.Stamps[n-1], true
	}
	return Stamp{}, false
}

// UnfinishedError says that a log has no end: it was cut short, or is being
// written.
type UnfinishedError struct{ Path string }

func (e *UnfinishedError) Error() string {
	return filepath.Base(e.Path) + ": has no end: it is being written, or was cut short; 'hawse verify' tells more"
}

// ReadCourse reads the parts of a finished pull. A log that is damaged, whose seal
// does not fit or that has no end gives an error, and so does one that makes the
// folds fail. pace, if not nil, is called between records; its error ends the
// reading.
func ReadCourse(parts []Part, pace func() error) (c *Course, err error) {
	if len(parts) == 0 {
		return nil, errNoParts
	}
	defer func() {
		if p := recover(); p != nil {
			c, err = nil, fmt.Errorf("%s: could not be followed: %v", filepath.Base(parts[0].Path), p)
		}
	}()
	f := courseFold{c: &Course{Path: parts[0].Path, Parts: len(parts)}, pace: pace}
	for i, p := range parts {
		if p.Fault != "" {
			return nil, fmt.Errorf("%s: the chain of its logs is broken: %s", filepath.Base(p.Path), p.Fault)
		}
		if err := f.part(p.Path, i == len(parts)-1); err != nil {
			return nil, err
		}
	}
	f.end()
	return f.c, nil
}

// courseFold folds the parts one after the other.
type courseFold struct {
	c     *Course
	whole Whole
	judge *Judge
	says  []logfmt.Record
	in    *CourseSeries // the present one; nil none
	of    int           // its number, as the trace counts
	stage trial.Stage   // of the last sample
	x     trial.Length
	pace  func() error
}

// paceEvery is how many records are read between two calls of pace.
const paceEvery = 64

func (f *courseFold) part(path string, last bool) error {
	name := filepath.Base(path)
	file, err := logfmt.Open(path)
	if err != nil {
		return err
	}
	defer file.Close()
	read := logfmt.NewReader(file)
	read.CheckSeal()
	core, step, began := &Core{Plain: true}, new(Step), false
	for n := 0; read.Next(); n++ {
		if f.pace != nil && n%paceEvery == 0 {
			if err := f.pace(); err != nil {
				return err
			}
		}
		rec := read.Record()
		if rec.Kind == logfmt.Say {
			if began {
				f.point(&rec)
			}
			continue
		}
		if err := core.Apply(&rec, step); err != nil {
			if damage := read.Damage(); len(damage) > 0 {
				return damagedError(name, damage)
			}
			return fmt.Errorf("%s: record %d: %w", name, rec.N, err)
		}
		switch {
		case !core.Ready():
		case !began:
			began = true
			f.begin(core)
		default:
			f.whole.Took(&rec, step.Refused != "")
			f.point(&rec)
			for _, in := range step.Samples {
				in.N = rec.N
				f.sample(f.whole.Sample(in))
			}
		}
	}
	seal, damage := read.Seal(), read.Damage()
	switch {
	case read.Err() != nil:
		return fmt.Errorf("%s: %w", name, read.Err())
	case !began:
		return fmt.Errorf("%s: no whole head in it: not a log of this program, or cut short at its very start; 'hawse verify' tells more", name)
	case last && !seal.There:
		return &UnfinishedError{path}
	case len(damage) > 0:
		return damagedError(name, damage)
	case seal.There && !seal.Good:
		return fmt.Errorf("%s: its seal does not fit: %s; 'hawse verify' tells more", name, seal.Fault)
	}
	return nil
}

func damagedError(name string, damage []logfmt.Damage) error {
	return fmt.Errorf("%s: damaged: %s; 'hawse verify' tells more", name, damage[0])
}

func (f *courseFold) begin(core *Core) {
	join := f.whole.Next(core)
	if f.judge == nil {
		f.c.Head, f.c.Started, f.c.Config = core.Head(), core.Head().Started, core.cfg
		f.judge = NewJudge(f.c.Head)
		f.x = trial.Length(math.NaN())
		return
	}
	f.says = f.judge.Apply(JudgeInput{T: join.From, Gap: true}, f.says[:0])
	f.gap()
}

func (f *courseFold) gap() {
	if f.in != nil {
		for _, e := range []*trial.Envelope{f.in.ByHaul, f.in.ByTime, f.in.ByTravel} {
			e.Gap()
		}
	}
}

func (f *courseFold) point(rec *logfmt.Record) {
	kinds := pointsOf(rec)
	if len(kinds) == 0 {
		return
	}
	if len(f.c.Points) == mostPoints {
		f.c.MorePoints++
		return
	}
	text := rec.Str("text")
	if rec.Kind == logfmt.Act {
		text = rec.Str("value")
	}
	f.c.Points = append(f.c.Points, CoursePoint{T: f.whole.At(rec.T), X: f.x, Kinds: slices.Clone(kinds), Text: text})
}

func (f *courseFold) sample(in JudgeInput) {
	if in.Stage != f.stage && !in.Gap && !in.Happened() {
		f.close() // before the phases begin anew
		f.stage = in.Stage
	}
	f.says = f.judge.Apply(in, f.says[:0])
	switch v := float64(in.Tension); {
	case in.Happened():
		return
	case in.Gap, in.Over, math.IsNaN(v), math.IsInf(v, 0):
		f.gap()
		return
	}
	f.x = in.X
	if n := f.judge.trace.Span().Series; n != f.of {
		if f.of, f.in = n, f.c.Series(in.Stage); f.in != nil {
			*f.in = CourseSeries{T0: in.T, ByHaul: trial.NewEnvelope(courseLength), ByTime: trial.NewEnvelope(courseTime),
				ByTravel: trial.NewEnvelope(courseLength), every: stampEvery}
		}
	}
	if f.in == nil || !in.Stage.Hauls() && in.Stage != trial.Hold {
		return
	}
	k := Stamp{T: in.T, Tension: in.Tension, X: in.X, Travel: trial.Length(math.NaN()), Scope: in.Scope}
	if travel, _, ok := f.judge.study.Travel().Now(); ok {
		k.Travel = travel
	}
	f.in.take(k)
}

func (s *CourseSeries) take(k Stamp) {
	s.T1 = k.T
	s.ByTime.Add(float64(k.T-s.T0)/1e9, k.Tension)
	s.ByHaul.Add(float64(k.X), k.Tension)
	s.ByTravel.Add(float64(k.Travel), k.Tension)
	if n := len(s.Stamps); n > 0 && k.T-s.Stamps[n-1].T < int64(s.every) {
		return
	}
	if len(s.Stamps) == mostStamps {
		s.every *= 2
		for i := range mostStamps / 2 {
			s.Stamps[i] = s.Stamps[2*i]
		}
		s.Stamps = s.Stamps[:mostStamps/2]
	}
	s.Stamps = append(s.Stamps, k)
}

// close keeps the phases of the present series as they are by now.
func (f *courseFold) close() {
	if f.in != nil && (f.stage.Hauls() || f.stage == trial.Hold) {
		f.in.Segments = slices.Clone(f.judge.Segments())
	}
}

func (f *courseFold) end() {
	f.close()
	f.c.Length = f.whole.Last()
	f.c.Peak = f.judge.Peak()
}
