package safety

import (
	"math"

	"hawse/trial"
)

// twin is the guard once more, written from the rules' words as plainly as can
// be and without its code: it keeps every word of the load cell there ever was
// and looks through them anew whenever it must know something. Of what a person
// asks it is told whether the guard granted it; what a grant does is its own.
type twin struct {
	c     *Config
	words []twinWord // all of them, from the first
	from  int        // words before it were measured from another zero
	rises int        // words before it say nothing of a rise without haul
	alone bool       // the last word has stood alone

	t, first, loadWord, lineWord, heard, lineAt int64
	line                                        Line
	hasBase                                     bool
	base, hauled, most                          float64

	stage        trial.Stage
	since        int64
	armed, ever  bool
	session      uint32
	relayOn      bool
	cell         CellState
	cleared      map[int]bool
	low          Lowered
	level, shown [NumCauses]int
	until        [NumCauses]int64 // the alarm goes down then; 0: it does not wait
	pending      map[Cause]bool

	stop    StopKind
	cause   Cause
	at      int64
	inStop  map[Cause]bool
	looked  bool
	order   Order
	under   int64
	soon    int64
	same    int64 // the number has been the same since
	sameX   float64
	started bool

	permitAt  int64
	wasPermit bool
	rest      float64
	resting   bool
	lane      trial.Stage
	laneBase  float64
	waits     *Used   // of the log before: its stage has not been said again
	waitsBase float64 // where that stage began
	waitsAt   int64   // when it was taken over
	goesOn    bool    // it has been said again, and is the present one
	riseTaken bool    // a rise was taken over, and not yet seen to be gone
	outThen   float64 // rode out when that log broke off; 0: unknown, or the line has been known since

	stops []twinStop // every stop that was set

	twinNumbers
}

type twinStop struct {
	kind  StopKind
	cause Cause
	at    int64
}

type twinWord struct {
	t        int64
	v        float64
	over, no bool // over range; not a number
	lead     bool // of a pin, with the line's angle unknown
	x        float64
	stood    bool // the number before it had stood still for 2 s while line was hauled
}

func (w twinWord) bad() bool { return w.over || w.no || w.lead }

// height is what the word counts for beside another one.
func (w twinWord) height() float64 {
	if w.bad() {
		return math.Inf(1)
	}
	return w.v
}

func newTwin(c *Config) *twin {
	return &twin{c: c, first: -1, heard: -1, lineAt: -1, under: -1, soon: -1, twinNumbers: twinNumbers{noisy: -1}, cleared: map[int]bool{}, pending: map[Cause]bool{}, inStop: map[Cause]bool{}}
}

func (w *twin) isTrip(c Cause) bool { return c < TensionReached }

func (w *twin) isEnd(c Cause) bool { return c >= TensionReached && c <= StageDuration }

// momentary causes stand until they are acknowledged.
func momentary(c Cause) bool {
	return c == PersonStop || c == StoodStill || c == HaulsOn || c == RelayOpened || c == ScreenGone || c == Terminated
}

func ofTheCell(c Cause) bool {
	switch c {
	case LoadOverRange, LoadNotNumber, LoadAngle, LoadSilent, LoadGarbled, LoadUnchanged, LoadReversed, LoadNoisy:
		return true
	}
	return false
}

func tooMuchTension(c Cause) bool {
	return c == TensionLimit || c == WLLShare || c == LimitSoon || c == VesselMoves || c == LoadOverRange
}

func staysUp(c Cause) int64 {
	switch c {
	case TensionLimit, WLLShare, LimitSoon, VesselMoves, LoadReversed, LoadNoisy:
		return 10 * sec
	case LoadOverRange, LoadNotNumber, LoadAngle, LoadSilent, LoadGarbled, LoadUnchanged, LineSilent:
		return 2 * sec
	}
	return 0
}

func (w *twin) judged(c Cause, stage trial.Stage) bool {
	seats := stage == trial.Preset || stage == trial.Pull
	switch {
	case ofTheCell(c) && w.cell != CellOn:
		return false
	case c == LoadUnchanged || c == LineReversed || c == TensionReached:
		return seats
	case c == HaulsOn:
		return stage != trial.StandBy && stage != trial.PayOut && stage != trial.Done
	}
	return true
}

func (w *twin) onlyWarns(c Cause) bool {
	return c == VesselMoves && (!w.ever || w.stage == trial.Ease || w.stage == trial.Recover)
}

func (w *twin) permit() bool {
	return w.armed && w.stop == NoStop && (w.stage == trial.Preset || w.stage == trial.Pull || w.stage == trial.Recover)
}

// limits of the stage as the director has left them.
func (w *twin) limits() trial.Limits {
	l := w.c.Limits[w.stage]
	if v := w.low.TensionStop; v > 0 && v < l.TensionStop {
		l.TensionStop = v
	}
	if v := w.low.TensionWarn; v > 0 && v < l.TensionWarn {
		l.TensionWarn = v
	}
	if w.low.TensionStop > 0 && l.TensionWarn >= l.TensionStop {
		l.TensionWarn = 0.8 * l.TensionStop
	}
	if v := w.low.Haul; l.Haul > 0 && v > 0 && v < l.Haul {
		l.Haul = v
	}
	if l.ScopeMin > 0 && w.low.ScopeMin > l.ScopeMin {
		l.ScopeMin = w.low.ScopeMin
	}
	return l
}

func (w *twin) stopN() float64 {
	l := w.limits()
	return math.Min(float64(l.TensionStop), l.WLLStop*float64(w.c.WLL))
}

func (w *twin) lineNeeded() bool {
	l := w.limits()
	hauls := w.stage == trial.Preset || w.stage == trial.Pull || w.stage == trial.Recover
	return hauls || l.Haul > 0 || l.ScopeMin > 0
}

// levels: what raises and lowers a cause, and what a trip does.

func (w *twin) set(c Cause, level int) {
	if level > 0 && !w.judged(c, w.stage) {
		return
	}
	if level == 2 && w.onlyWarns(c) {
		if w.stop != NoStop && w.order == OrderStop {
			w.say(OrderEase)
		}
		level = 1
	}
	switch was := w.level[c]; {
	case level < was:
		w.level[c] = level
		if staysUp(c) > 0 {
			w.until[c] = w.t + staysUp(c)
		} else {
			w.shown[c] = level
		}
	case level > was || level == 2 && momentary(c):
		w.level[c] = level
		if level == w.shown[c] {
			w.until[c] = 0
		}
		news := level > w.shown[c] || momentary(c) || !w.inStop[c] || w.stop != Trip
		w.shown[c] = max(w.shown[c], level)
		switch {
		case level != 2 || !w.ever && c != PersonStop:
		case news:
			w.trip(c)
		case c == VesselMoves && w.order == OrderStop:
			w.say(OrderEase)
		}
	}
}

func (w *twin) trip(c Cause) {
	before, cause := w.stop, w.cause
	if before != Trip {
		w.stop, w.cause, w.at, w.looked = Trip, c, w.t, false
		w.inStop = map[Cause]bool{}
		w.stops = append(w.stops, twinStop{Trip, c, w.t})
	}
	w.inStop[c] = true
	w.watch()
	switch ease := c == VesselMoves || before != NoStop && tooMuchTension(c) && !tooMuchTension(cause); {
	case ease && w.order < OrderEase:
		w.say(OrderEase)
	case w.order < OrderStop:
		w.say(OrderStop)
	}
}

func (w *twin) say(o Order) {
	if w.order != o {
		w.order, w.under = o, -1
	}
}

func (w *twin) reach(c Cause) {
	if w.level[c] == 2 {
		return
	}
	w.level[c] = 2
	if w.ever && w.stop == NoStop {
		w.stop, w.cause, w.at, w.looked = PlannedEnd, c, w.t, false
		w.stops = append(w.stops, twinStop{PlannedEnd, c, w.t})
		w.watch()
		w.say(OrderStop)
	}
}

// watch notes when hauling comes to be permitted, or ceases to be.
func (w *twin) watch() {
	if w.permit() == w.wasPermit {
		return
	}
	w.wasPermit, w.permitAt, w.resting = w.permit(), w.t, false
	if w.wasPermit {
		w.set(RelayStuck, 0)
	}
}

// settle lets alarms go down whose time to stay up is over.
func (w *twin) settle(t int64) {
	for c := range w.until {
		if w.until[c] > 0 && w.until[c] <= t {
			w.until[c], w.shown[c] = 0, w.level[c]
		}
	}
}

// drop takes away what is not judged as things are.
func (w *twin) drop(c Cause) { w.level[c], w.shown[c], w.until[c] = 0, 0, 0 }

// confirmed tension: the lower and the higher of the last two words, or the one
// that stands alone.
func (w *twin) confirmed() (lo, hi float64) {
	n := len(w.words)
	if n == w.from || w.words[n-1].bad() {
		return math.Inf(-1), math.Inf(1)
	}
	cur := w.words[n-1].v
	if w.alone {
		return cur, cur
	}
	if n-w.from < 2 {
		return math.Inf(-1), math.Inf(1)
	}
	was := w.words[n-2].height()
	return math.Min(was, cur), math.Max(was, cur)
}

func (w *twin) cur() float64 {
	if len(w.words) == w.from {
		return 0
	}
	return w.words[len(w.words)-1].height()
}

func (w *twin) over() bool {
	return len(w.words) > 0 && w.words[len(w.words)-1].over
}

func (w *twin) known() bool {
	good := false
	for _, word := range w.words {
		good = good || !word.bad()
	}
	if n := len(w.words); n > 0 && w.words[n-1].lead || w.level[LoadAngle] > 0 {
		return false
	}
	return good && !w.lastOver() && w.cell == CellOn && w.level[LoadNotNumber] == 0 && w.level[LoadSilent] == 0 && w.level[LoadGarbled] == 0 && w.level[LoadUnchanged] == 0 && w.level[LoadReversed] < 2 && w.level[LoadUnit] == 0
}

// lastOver says whether the last word, one that is no number set aside, was
// over range: it is what a box last said of its range.
func (w *twin) lastOver() bool { return w.over() }
