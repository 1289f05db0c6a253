package dryrun

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"hawse/acquire/deck"
	"hawse/trial"
)

// Moment is what the deck truly was at one time.
type Moment struct {
	T       int64
	X       float64 // m hauled
	Tension float64 // N at the fairlead, without noise
	Pulls   bool    // in stage pull
	Raises  bool    // in stage recover
	Truth   deck.Truth
}

// SaidPhase is a phase that was said from X on, at time T.
type SaidPhase struct {
	T     int64
	X     float64
	Phase string
}

// SaidEvent is an event that was said. X is where it was said to be, SaidX where
// the line stood when it was said.
type SaidEvent struct {
	Kind     string // as trial.EventKind says it
	Cause    string // "anchor", "vessel", "undecided", "" not said
	T, SaidT int64
	X, SaidX float64
	Back     bool // a breakout that was taken back
}

// Said is what a detector said of one pull: as it went, and, if it dates its
// phases back, of the whole afterwards.
type Said struct {
	Phases   []SaidPhase // in order; each holds until the next
	Segments []SaidPhase // the same, dated back; nil: not given
	Events   []SaidEvent
}

// The events that are scored.
const (
	Breakout = "breakout"
	Reset    = "re-set"
	NotSet   = "not set"
	Aweigh   = "aweigh"
)

// EventKinds are the events that are scored, in the order of the table.
var EventKinds = []string{Breakout, Reset, NotSet, Aweigh}

// EventScore is how one kind of event was found.
type EventScore struct {
	True, Said, Hit int
	Delay           []float64 // m hauled from the event to its being said

	Lenient Lenient
}

// Lenient is what True, Said and Hit leave out of one kind of event.
type Lenient struct {
	Found, Missed int // so, but too near a threshold to be asked for
	Near          int // said where the truth is too near a threshold to call it wrong
	Open          int // said of the vessel's fall, its cause left open
	Back          int // said and taken back
}

// Strict counts all of that: what was so must be found, what was said must be so,
// and what was said once stays said.
func (e *EventScore) Strict() EventScore {
	l := e.Lenient
	return EventScore{True: e.True + l.Found + l.Missed, Hit: e.Hit + l.Found, Said: e.Said + l.Found + l.Near + l.Open + l.Back}
}

func (e *EventScore) add(o *EventScore) {
	e.True, e.Said, e.Hit = e.True+o.True, e.Said+o.Said, e.Hit+o.Hit
	l, m := &e.Lenient, &o.Lenient
	l.Found, l.Missed, l.Near, l.Open, l.Back = l.Found+m.Found, l.Missed+m.Missed, l.Near+m.Near, l.Open+m.Open, l.Back+m.Back
	e.Delay = append(e.Delay, o.Delay...)
}

// Precision is the share of what was said that was so; NaN when nothing was said.
func (e *EventScore) Precision() float64 { return share(float64(e.Hit), float64(e.Said)) }

// Recall is the share of what was so that was said; NaN when nothing was.
func (e *EventScore) Recall() float64 { return share(float64(e.Hit), float64(e.True)) }

func share(part, of float64) float64 {
	if of == 0 {
		return math.NaN()
	}
	return part / of
}

// Score is one pull's, or the sum of many.
type Score struct {
	Pulls          int
	Tripped        int           // pulls that a trip ended
	Events         [4]EventScore // in the order of EventKinds
	Length, Right  float64       // m hauled that is scored, and said right
	DatedBack      float64       // m said right in the phases dated back
	Segments       bool          // some were given
	Confusion      map[Pair]Metres
	Surges, Blamed int     // falls that the vessel made, and those said to be the anchor's
	Told, Named    int     // of Surges, those that were told at all, and those said to be the vessel's
	Excused        int     // breakouts, asked for or not, said to be the vessel's
	Undecided      int     // breakouts found whose cause was left open
	Arguable       int     // events, so or said, too near a threshold to be asked for
	Skipped        float64 // m hauled that is not scored
	Teeth, Bitten  int     // of saw-teeth, and those said to be breakouts
	Other          int     // breakouts said that were neither
}

// Pair is what was so and what was said of it.
type Pair struct {
	True TruthPhase
	Said string
}

// Metres is a length hauled, and how much of it was said wrong.
type Metres struct{ All, Wrong float64 }

// Add adds another's figures.
func (s *Score) Add(o *Score) {
	s.Pulls, s.Tripped = s.Pulls+o.Pulls, s.Tripped+o.Tripped
	for i := range s.Events {
		s.Events[i].add(&o.Events[i])
	}
	s.Length, s.Right, s.DatedBack = s.Length+o.Length, s.Right+o.Right, s.DatedBack+o.DatedBack
	s.Segments = s.Segments || o.Segments
	s.Surges, s.Blamed, s.Teeth, s.Bitten, s.Other = s.Surges+o.Surges, s.Blamed+o.Blamed, s.Teeth+o.Teeth, s.Bitten+o.Bitten, s.Other+o.Other
	if s.Confusion == nil {
		s.Confusion = map[Pair]Metres{}
	}
	s.Told, s.Named, s.Excused, s.Undecided = s.Told+o.Told, s.Named+o.Named, s.Excused+o.Excused, s.Undecided+o.Undecided
	s.Arguable, s.Skipped = s.Arguable+o.Arguable, s.Skipped+o.Skipped
	for k, v := range o.Confusion {
		m := s.Confusion[k]
		s.Confusion[k] = Metres{m.All + v.All, m.Wrong + v.Wrong}
	}
}

// Windows in which something said counts for what was so, m hauled.
const (
	Early       = 0.3 // said before it was so: the places are known no better
	Late        = 3.0 // the longest rule
	earlyNotSet = 1.5 // of "not set": 3 m are counted from where the rode came taut
	UnclearFor  = 1.0 // m on end for which "unclear" is no fault
	Edge        = 0.3 // m around a change of the truth in which either phase is right
)

// ScorePull holds what was said against what was so. wrong tells what was not
// right, a line each.
func ScorePull(course []Moment, said Said) (s Score, wrong []string) {
	s = Score{Pulls: 1, Confusion: map[Pair]Metres{}, Segments: said.Segments != nil}
	tr := newTruth(course)
	s.Surges, s.Teeth = len(tr.surges), tr.teeth
	complain := func(format string, args ...any) { wrong = append(wrong, fmt.Sprintf(format, args...)) }

	for _, fall := range tr.surges {
		told, named := false, false
		for _, e := range said.Events {
			fell := fall.holds(e.T) && (e.Kind == Breakout || e.Kind == "fall")
			told, named = told || fell, named || fell && e.Cause == "vessel"
		}
		if told {
			s.Told++
		}
		if named {
			s.Named++
		}
	}
	for _, so := range tr.events {
		is := func(e SaidEvent) bool { return e.Cause == "vessel" && e.T >= so.t-2*second && e.T <= so.t+2*second }
		if so.kind == Breakout && slices.ContainsFunc(said.Events, is) {
			s.Excused++
			complain("breakout at %.2f m was said to be the vessel's", so.x)
		}
	}
	claimed := make([]bool, len(said.Events))
	for i, kind := range EventKinds {
		e := &s.Events[i]
		before := Early
		if kind == NotSet {
			before = earlyNotSet
		}
		for _, so := range tr.events {
			if so.kind != kind {
				continue
			}
			if so.maybe {
				s.Arguable++
			}
			hit := -1
			for j, ev := range said.Events {
				if !claimed[j] && ev.Kind == kind && ev.Cause != "vessel" && ev.SaidX <= so.x+Late &&
					(ev.SaidX >= so.x-before || kind == Reset && ev.SaidX >= so.x-Late && tr.arguable(kind, ev.SaidX)) {
					hit = j
					break
				}
			}
			switch {
			case hit >= 0:
				claimed[hit] = true
				if so.maybe {
					e.Lenient.Found++
					continue
				}
				e.True, e.Said, e.Hit = e.True+1, e.Said+1, e.Hit+1
				if kind == Breakout && said.Events[hit].Cause == "undecided" {
					s.Undecided++
				}
				e.Delay = append(e.Delay, said.Events[hit].SaidX-so.x)
			case !so.maybe:
				e.True++
				complain("%s at %.2f m was not said", kind, so.x)
			default:
				e.Lenient.Missed++
			}
		}
		for j, ev := range said.Events {
			if ev.Back && kind == Breakout {
				e.Lenient.Back++
			}
			if claimed[j] || ev.Kind != kind || ev.Cause == "vessel" {
				continue
			}
			if kind == Breakout && ev.Cause == "undecided" && tr.inSurge(ev.T) {
				e.Lenient.Open++
				continue // a legal result
			}
			if tr.arguable(kind, ev.SaidX) {
				s.Arguable++
				e.Lenient.Near++
				continue
			}
			e.Said++
			complain("%s said at %.2f m (%s): it was %v", kind, ev.X, ev.Cause, tr.at(ev.X))
			if kind != Breakout {
				continue
			}
			switch {
			case tr.inSurge(ev.T):
				s.Blamed++
			case tr.at(ev.X) == TrueSawTooth:
				s.Bitten++
			default:
				s.Other++
			}
		}
	}

	s.Length, s.Right = tr.length(said.Phases, s.Confusion)
	for _, cell := range tr.cells {
		if cell.seen && cell.phase == NotScored {
			s.Skipped += truthCell
		}
	}
	if said.Segments != nil {
		_, s.DatedBack = tr.length(said.Segments, nil)
	}
	if s.Length > 0 && s.Right < 0.9*s.Length {
		worst, most := Pair{}, 0.0
		for _, k := range sortedPairs(s.Confusion) {
			if v := s.Confusion[k].Wrong; v > most {
				worst, most = k, v
			}
		}
		complain("%.0f %% of %.1f m said right; most, %.1f m, was %v and said %s", 100*s.Right/s.Length, s.Length, most, worst.True, worst.Said)
	}
	return s, wrong
}

// EventsSaid is how many events were said, right or wrong.
func (s *Score) EventsSaid() (n int) {
	for i := range s.Events {
		n += s.Events[i].Said
	}
	return n
}

// ConfusionRow is a true phase and what was said of it.
type ConfusionRow struct {
	True TruthPhase
	Said []string // "embedding 60.9 (wrong 2.0)", the most first
}

// ConfusionRows is the confusion, by true phase.
func (s *Score) ConfusionRows() (rows []ConfusionRow) {
	pairs := sortedPairs(s.Confusion)
	slices.SortStableFunc(pairs, func(a, b Pair) int {
		switch {
		case a.True != b.True:
			return int(a.True) - int(b.True)
		case s.Confusion[a].All > s.Confusion[b].All:
			return -1
		case s.Confusion[a].All < s.Confusion[b].All:
			return 1
		}
		return 0
	})
	for _, p := range pairs {
		if len(rows) == 0 || rows[len(rows)-1].True != p.True {
			rows = append(rows, ConfusionRow{True: p.True})
		}
		r, m := &rows[len(rows)-1], s.Confusion[p]
		text := fmt.Sprintf("%s %.1f", p.Said, m.All)
		if m.Wrong > 0.05 {
			text += fmt.Sprintf(" (wrong %.1f)", m.Wrong)
		}
		r.Said = append(r.Said, text)
	}
	return rows
}

func sortedPairs(m map[Pair]Metres) []Pair {
	var list []Pair
	for k := range m {
		list = append(list, k)
	}
	slices.SortFunc(list, func(a, b Pair) int {
		if a.True != b.True {
			return int(a.True) - int(b.True)
		}
		return strings.Compare(a.Said, b.Said)
	})
	return list
}

// length is how much of the pull was scored, and how much of that was said right:
// with the right word, or unclear for no more than a metre on end. It counts into
// the confusion, where one is given.
func (tr *truth) length(said []SaidPhase, confusion map[Pair]Metres) (all, right float64) {
	i, unclear := 0, 0.0
	for c := range tr.cells {
		cell := &tr.cells[c]
		if !cell.seen || cell.phase == NotScored {
			unclear = 0
			continue
		}
		x := (float64(c) + 0.5) * truthCell
		for i < len(said) && said[i].X <= x {
			i++
		}
		word := "unclear"
		if i > 0 {
			word = said[i-1].Phase
		}
		if word == "unclear" {
			unclear += truthCell
		} else {
			unclear = 0
		}
		m := Metres{All: truthCell}
		if word == "unclear" && unclear <= UnclearFor+1e-9 || tr.right(c, word) {
			right += truthCell
		} else {
			m.Wrong = truthCell
		}
		all += truthCell
		if confusion != nil {
			k := Pair{cell.phase, word}
			confusion[k] = Metres{confusion[k].All + m.All, confusion[k].Wrong + m.Wrong}
		}
	}
	return all, right
}

// right says whether a word is right at a cell, or at one within reach of it.
func (tr *truth) right(c int, word string) bool {
	reach := int(Edge / truthCell)
	for k := max(c-reach, 0); k <= min(c+reach, len(tr.cells)-1); k++ {
		if cell := &tr.cells[k]; cell.seen && (cell.phase.allows(word) || cell.also != NotScored && cell.also.allows(word)) {
			return true
		}
	}
	return false
}

// DatedBack is a detector's segments in the form that is scored. Where none
// stands, nothing was clear.
func DatedBack(list []trial.Segment) []SaidPhase {
	said := []SaidPhase{}
	end := math.Inf(-1)
	for _, g := range list {
		if x := float64(g.X0); x > end+truthCell && len(said) > 0 {
			said = append(said, SaidPhase{g.T0, end, trial.Unclear.String()})
		}
		said = append(said, SaidPhase{g.T0, float64(g.X0), g.Phase.String()})
		end = float64(g.X1)
	}
	return said
}
