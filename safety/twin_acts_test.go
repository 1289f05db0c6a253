package safety

import (
	"math"

	"hawse/trial"
)

func (w *twin) takeLine(l Line) {
	finite := func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
	had := w.line.HasX
	var is Line
	if l.HasX && finite(float64(l.X)) && finite(float64(l.RodeOut)) {
		is.HasX, is.X, is.RodeOut = true, l.X, l.RodeOut
		if l.HasS && finite(l.Scope) {
			is.HasS, is.Scope = true, l.Scope
		}
	}
	w.line = is
	if is.HasX != had {
		w.rises, w.sameX = len(w.words), float64(is.X)
	}
}

func (w *twin) stageLine() {
	if !w.line.HasX {
		return
	}
	if !w.hasBase {
		w.tie(false)
	}
	w.hauled = float64(w.line.X) - w.base
}

// lacks says whether a limit of the stage has no number to be judged by.
func (w *twin) lacks() bool {
	l := w.limits()
	hauls := w.stage == trial.Preset || w.stage == trial.Pull || w.stage == trial.Recover
	return (l.Haul > 0 || l.ScopeMin > 0 || hauls) && !w.line.HasX || l.ScopeMin > 0 && !w.line.HasS
}

// lineEnds looks at the planned ends by line: sure ones at once, others by two
// counts in a row.
func (w *twin) lineEnds(sure bool) {
	l := w.limits()
	one := func(c Cause, there, gone bool) {
		switch {
		case !there:
			delete(w.pending, c)
			if gone {
				w.level[c] = 0
			}
		case w.level[c] == 2 || sure || w.pending[c]:
			delete(w.pending, c)
			w.reach(c)
		default:
			w.pending[c] = true
		}
	}
	if w.line.HasX && l.Haul > 0 {
		one(LineHauled, w.hauled >= float64(l.Haul), w.hauled < 0.98*float64(l.Haul))
	}
	if w.line.HasS && l.ScopeMin > 0 {
		one(MinimumScope, w.line.Scope <= l.ScopeMin, w.line.Scope > 1.02*l.ScopeMin)
	}
	if hauls := w.stage == trial.Preset || w.stage == trial.Pull || w.stage == trial.Recover; hauls && w.line.HasX {
		for i, th := range w.c.Things {
			if !w.cleared[i] {
				left := w.line.RodeOut - th.At - w.c.KeepOut
				one(AtFairlead, left <= 0, left > 0.1)
				break
			}
		}
	}
}

func (w *twin) runsOut() {
	if !w.line.HasX {
		return
	}
	if w.hauled > w.most || !w.permit() {
		w.most = w.hauled
	}
	switch out := w.most - w.hauled; {
	case out >= 1:
		w.set(LineReversed, 2)
	case out >= 0.3:
		w.set(LineReversed, max(1, w.level[LineReversed]))
	case out < 0.15:
		w.set(LineReversed, 0)
	}
}

func (w *twin) act(a Act, refused string) {
	permitted := w.permit()
	if refused != "" {
		if a.What == Terminate {
			w.set(Terminated, 2)
		}
		return
	}
	switch a.What {
	case CallStop:
		w.set(PersonStop, 2)
	case Arm:
		w.armed, w.ever = true, true
		w.anew()
	case NextStage:
		if w.stop == PlannedEnd {
			w.lift()
		}
		w.enter(a.Stage)
	case Ack:
		for c := range NumCauses {
			if momentary(c) {
				w.drop(c)
			}
		}
	case Rearm:
		w.lift()
		w.enter(a.Stage)
	case Abandon:
		if w.stop != Trip {
			w.set(PersonStop, 2)
		}
		w.say(OrderAbandon)
	case End, Terminate:
		w.armed = false
	case DoCheck:
		if a.Check == CheckWeight && (a.To == CheckPassed || a.To == CheckWaived) && !a.Taken {
			w.unitBy = 0
			w.set(LoadUnit, 0)
		}
		if a.Check == CheckZero && a.To == CheckPassed {
			w.moved(map[bool]CellState{true: CellOn, false: w.cell}[w.cell == CellBack])
		}
	case TakeCellOff:
		w.moved(CellOff)
	case TakeCellBack:
		w.moved(CellBack)
	case Clear:
		w.cleared[a.Thing] = true
		w.level[AtFairlead] = 0
		delete(w.pending, AtFairlead)
		w.lineEnds(true)
	case Lower:
		switch v := a.Value; a.Limit {
		case LimitTensionWarn:
			w.low.TensionWarn = trial.Force(v)
		case LimitTensionStop:
			w.low.TensionStop = trial.Force(v)
		case LimitHaul:
			w.low.Haul = trial.Length(v)
		case LimitScopeMin:
			w.low.ScopeMin = v
		}
		w.tension(false)
		w.lineEnds(true)
	}
	if !permitted && w.permit() {
		w.session, w.relayOn = a.Session, false
	}
	w.watch()
	w.due()
}

// moved: the tension is measured anew, with the cell where it is now.
func (w *twin) moved(to CellState) {
	back := w.cell != CellOn && to == CellOn
	w.cell = to
	w.from, w.rises, w.started, w.alone = len(w.words), len(w.words), false, false
	w.forgetNumbers()
	if to == CellOff {
		for c := range NumCauses {
			if ofTheCell(c) {
				w.drop(c)
			}
		}
	}
	if back {
		w.loadWord = w.t
	}
}

func (w *twin) lift() {
	w.stop, w.cause, w.at, w.inStop = NoStop, NoCause, 0, map[Cause]bool{}
	w.say(NoOrder)
}

func (w *twin) enter(stage trial.Stage) {
	if w.stage != stage {
		w.next(stage)
		if stage == trial.Done {
			w.armed = false
		}
	}
	w.anew()
}

// anew judges all that is known as if nothing had stood before.
func (w *twin) anew() {
	l := w.limits()
	clear(w.pending)
	for c := NoCause + 1; c < NumCauses; c++ {
		switch {
		case w.isEnd(c):
			w.level[c] = 0
		case c == LoadUnchanged && w.cell == CellOn: // until the number changes
		case w.isTrip(c) && !w.judged(c, w.stage):
			w.drop(c)
		case w.onlyWarns(c) && w.level[c] == 2:
			w.level[c], w.shown[c], w.until[c] = 1, 1, 0
		}
	}
	less := func(c Cause, age int64, warn, stop int64) {
		if age < warn {
			w.set(c, 0)
		} else if age < stop {
			w.set(c, min(w.level[c], 1))
		}
	}
	for _, c := range []Cause{LoadSilent, LoadGarbled} {
		less(c, w.t-w.loadWord, int64(l.SilentWarn), int64(l.SilentStop))
	}
	if w.lineNeeded() {
		less(LineSilent, w.t-w.lineWord, int64(l.LineSilentWarn), int64(l.LineSilentStop))
	} else {
		w.set(LineSilent, 0)
	}
	w.tension(true)
	w.lineEnds(true)
	w.winch()
}
