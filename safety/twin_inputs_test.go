package safety

import (
	"math"
)

// advance lets time pass: whatever falls due on the way falls due at its time.
func (w *twin) advance(t int64) {
	if w.first < 0 {
		w.first, w.t, w.since, w.loadWord, w.lineWord = t, t, t, t, t
		return
	}
	was := w.t
	for {
		at := w.nextDue()
		if at > t {
			break
		}
		w.settle(at - 1)
		w.t = max(w.t, at)
		w.due()
		w.settle(w.t)
	}
	w.settle(t)
	w.t = t
	if t-was > w.c.Stall {
		w.set(StoodStill, 2)
	}
}

// nextDue is when something may fall due next.
func (w *twin) nextDue() int64 {
	l, next := w.limits(), int64(math.MaxInt64)
	may := func(cond bool, at int64) {
		if cond && at < next {
			next = at
		}
	}
	if n := len(w.words); n > w.from {
		may(!w.alone && !w.words[n-1].bad(), w.words[n-1].t+300*ms)
	}
	may(len(w.pending) > 0, w.lineAt+300*ms)
	lost := max(w.level[LoadSilent], w.level[LoadGarbled])
	may(w.cell == CellOn && lost == 0, w.loadWord+int64(l.SilentWarn))
	may(w.cell == CellOn && lost < 2, w.loadWord+int64(l.SilentStop))
	may(w.lineNeeded() && w.level[LineSilent] == 0, w.lineWord+int64(l.LineSilentWarn))
	may(w.lineNeeded() && w.level[LineSilent] < 2, w.lineWord+int64(l.LineSilentStop))
	may(l.Duration > 0 && w.level[StageDuration] == 0, w.since+int64(l.Duration))
	may(w.stop != NoStop && !w.looked, w.at+3*sec)
	may(w.order == OrderEase && w.under >= 0, w.under+2*sec)
	return next
}

// due does what falls due now, in the order in which one instant is judged.
func (w *twin) due() {
	l := w.limits()
	if n := len(w.words); n > w.from && !w.alone && !w.words[n-1].bad() && w.t >= w.words[n-1].t+300*ms {
		w.alone = true
		w.goodWord()
	}
	if len(w.pending) > 0 && w.t >= w.lineAt+300*ms {
		w.lineEnds(true)
		clear(w.pending)
	}
	lost := func() int { return max(w.level[LoadSilent], w.level[LoadGarbled]) }
	if w.cell == CellOn {
		as, other := LoadSilent, LoadGarbled
		if w.heard > w.loadWord && w.heard >= w.t-int64(l.SilentWarn)/2 {
			as, other = LoadGarbled, LoadSilent
		}
		if lost() == 0 && w.t >= w.loadWord+int64(l.SilentWarn) {
			w.drop(other)
			w.set(as, 1)
			w.under = -1
		}
		if lost() == 1 && w.t >= w.loadWord+int64(l.SilentStop) {
			w.drop(other)
			w.set(as, 2)
		}
	}
	if w.lineNeeded() && w.t >= w.lineWord+int64(l.LineSilentWarn) && w.level[LineSilent] == 0 {
		w.set(LineSilent, 1)
	}
	if w.lineNeeded() && w.t >= w.lineWord+int64(l.LineSilentStop) && w.level[LineSilent] < 2 {
		w.set(LineSilent, 2)
	}
	if l.Duration > 0 && w.t >= w.since+int64(l.Duration) {
		w.reach(StageDuration)
	}
	if w.stop != NoStop && !w.looked && w.t >= w.at+3*sec {
		w.looked = true
		w.winch()
	}
	if w.order == OrderEase && w.under >= 0 && w.t >= w.under+2*sec {
		w.say(OrderStop)
	}
}

// comesIn: line that is hauled though hauling is not permitted.
func (w *twin) comesIn() {
	if w.permit() || !w.ever || !w.line.HasX || w.t-w.permitAt < 2*sec || !w.judged(HaulsOn, w.stage) {
		w.resting = false
		return
	}
	x := float64(w.line.X)
	if !w.resting || x < w.rest {
		w.resting, w.rest = true, x
	}
	if x-w.rest >= 0.5 {
		w.rest = x
		w.set(HaulsOn, 2)
	}
}

func (w *twin) feed(t int64, in input, refused string) {
	w.advance(t)
	switch in.kind {
	case inHeard, inBad:
		if in.src == Load {
			w.heard = t
		}
	case inSample:
		w.sample(in.v, in.over, in.lead)
	case inCount:
		w.lineAt = t
		w.takeLine(in.l)
		w.stageLine()
		if !w.ever || !w.lacks() {
			w.lineWord = t
			w.set(LineSilent, 0)
		}
		for i, th := range w.c.Things {
			if w.line.HasX && w.line.RodeOut-th.At-w.c.KeepOut > 2.1 {
				delete(w.cleared, i)
			}
		}
		w.lineEnds(false)
		w.runsOut()
		w.comesIn()
	case inSaid, inCountedOn:
		w.takeLine(in.l)
		if w.line.HasX {
			w.tie(in.kind == inCountedOn)
			w.set(LineJumped, 0)
		}
		w.resting = false
		w.rises, w.sameX = len(w.words), float64(w.line.X)
		w.lineEnds(true)
	case inMarked:
		w.takeLine(in.l)
		w.stageLine()
		w.rises, w.sameX = len(w.words), float64(w.line.X)
		w.most = w.hauled
		w.resting = false
		w.set(LineJumped, 0)
		w.lineEnds(true)
	case inFault:
		if in.cause == LineJumped {
			w.set(LineJumped, map[bool]int{true: 2}[in.up])
		}
	case inBehind:
		w.set(StoodStill, 2)
	case inPort:
		if c := map[Source]Cause{StopOut: StopOutLost, Screen: ScreenGone}[in.src]; c != NoCause {
			w.set(c, map[bool]int{false: 2}[in.up])
		}
	case inRelay:
		was := w.relayOn
		if !in.up {
			w.set(RelayStuck, 0)
		} else if !w.permit() && t-w.permitAt >= sec {
			w.set(RelayStuck, 2)
		}
		w.relayOn = in.up && w.ever && in.session == w.session
		if was && !in.up && w.permit() {
			w.set(RelayOpened, 2)
		}
	case inLatch:
		w.latch(in.latched)
	case inGoOn:
		w.goOn(in.used)
	case inAct:
		w.act(in.act, refused)
	}
}

func (w *twin) sample(v float64, over, lead bool) {
	number := !math.IsNaN(v) && !math.IsInf(v, 0)
	word := twinWord{lead: lead && number && !over && !(math.Abs(v) >= float64(w.c.Range)), t: w.t, v: v, over: over || number && math.Abs(v) >= float64(w.c.Range), no: !over && !number, x: float64(w.line.X)}
	var before *twinWord // the good word before it, ever
	for i := range w.words {
		if !w.words[i].bad() {
			before = &w.words[i]
		}
	}
	w.heard, w.loadWord, w.alone = w.t, w.t, false
	word.stood = w.started && w.t-w.same >= 2*sec && float64(w.line.X) > w.sameX && before != nil && before.v > 200*float64(w.c.Step)
	w.words = append(w.words, word)
	w.set(LoadSilent, 0)
	w.set(LoadGarbled, 0)
	if !over && number && !word.over {
		w.unitLeap()
	} else {
		w.forgetNumbers()
	}
	if word.bad() {
		w.rises = len(w.words)
		if word.over {
			w.set(LoadOverRange, 2)
		} else if word.lead {
			if w.ever {
				w.set(LoadAngle, 2)
			}
		} else {
			w.set(LoadNotNumber, 2)
		}
		w.winch()
		return
	}
	if w.permit() && (!w.line.HasX || w.level[LineSilent] > 0) {
		w.rises = len(w.words) - 1 // nobody knows whether line is hauled
	}
	w.goodWord()
	w.doubt(word, before)
	if n := len(w.words); n-1 > w.rises && w.words[n-2].t/(500*ms) != word.t/(500*ms) {
		switch up, limit := w.rise(), w.stopN(); {
		case up >= 0.1*limit:
			w.riseTaken = false
			w.set(VesselMoves, 2)
		case up < 0.05*limit && (!w.riseTaken || w.seenAll()):
			w.riseTaken = false
			w.set(VesselMoves, 0)
		}
	}
	w.noises()
}

// goodWord judges all that rests on the confirmed tension.
func (w *twin) goodWord() {
	if _, hi := w.confirmed(); !math.IsInf(hi, 1) {
		w.set(LoadOverRange, 0)
		w.set(LoadNotNumber, 0)
		w.set(LoadAngle, 0)
	}
	w.tension(false)
	l, limit, cur, slope := w.limits(), w.stopN(), w.cur(), w.slope()
	in := (limit - cur) / slope
	near := math.Max(l.SoonWarn.Seconds(), l.SoonStop.Seconds())
	switch {
	case w.level[TensionLimit] == 2 || w.level[WLLShare] == 2 || !(slope > 0) || !(limit-cur > 0):
		w.soon = -1
		w.set(LimitSoon, 0)
	case !(in <= near):
		w.soon = -1
		if !(in <= 2*near) {
			w.set(LimitSoon, 0)
		}
	default:
		if w.soon < 0 {
			w.soon = w.t
		}
		if w.t-w.soon >= 300*ms {
			if in <= l.SoonStop.Seconds() {
				w.set(LimitSoon, 2)
			} else if w.level[LimitSoon] == 0 {
				w.set(LimitSoon, 1)
			}
		}
	}
	w.winch()
}

func (w *twin) tension(anew bool) {
	l, wll := w.limits(), float64(w.c.WLL)
	lo, hi := w.confirmed()
	anew = anew && !math.IsInf(lo, -1)
	one := func(c Cause, warn, stop float64) {
		stays := func(level int, at float64) bool { return !anew && w.level[c] >= level && !(hi < 0.98*at) }
		switch {
		case lo >= stop || stays(2, stop):
			w.set(c, 2)
		case lo >= warn || stays(1, warn):
			if w.level[c] > 1 || w.level[c] == 1 || w.shown[TensionLimit+WLLShare-c] == 0 {
				w.set(c, 1)
			}
		default:
			w.set(c, 0)
		}
	}
	limit := func() { one(TensionLimit, float64(l.TensionWarn), float64(l.TensionStop)) }
	share := func() { one(WLLShare, l.WLLWarn*wll, l.WLLStop*wll) }
	if l.WLLStop*wll < float64(l.TensionStop) {
		share()
		limit()
	} else {
		limit()
		share()
	}
	if end := float64(l.TensionEnd); end > 0 && w.judged(TensionReached, w.stage) {
		if lo >= end {
			w.reach(TensionReached)
		} else if anew || hi < 0.98*end {
			w.level[TensionReached] = 0
		}
	}
}

// winch follows what is asked of it once a stop is in force.
func (w *twin) winch() {
	if w.stop == NoStop {
		return
	}
	lo, _ := w.confirmed()
	if w.looked && w.order == OrderStop && (w.lastOver() || lo >= w.stopN()) {
		w.say(OrderEase)
	}
	if w.order != OrderEase {
		return
	}
	if !w.known() || !(w.cur() < 0.2*w.stopN()) {
		w.under = -1
	} else if w.under < 0 {
		w.under = w.t
	}
}

// doubt: the number that does not change, and the one below zero.
func (w *twin) doubt(word twinWord, before *twinWord) {
	if !w.started || before == nil {
		w.started, w.same, w.sameX = true, w.t, float64(w.line.X)
		return
	}
	if math.Abs(word.v-before.v) > 1e-9*math.Max(1, math.Abs(word.v)) {
		if w.level[LoadUnchanged] > 0 {
			w.rises = len(w.words) - 1
		}
		w.same, w.sameX = w.t, float64(w.line.X)
		w.set(LoadUnchanged, 0)
	}
	if w.line.HasX && w.t-w.same >= 5*sec && float64(w.line.X)-w.sameX >= 0.2-1e-9 && word.v > 20*float64(w.c.Step) {
		w.set(LoadUnchanged, 2)
	}
	n := len(w.words)
	lo, hi := math.Inf(-1), math.Inf(1)
	if n-w.from >= 2 {
		was := w.words[n-2].height()
		lo, hi = math.Min(was, word.v), math.Max(was, word.v)
	}
	band, far := -0.005*float64(w.c.Range), -0.02*float64(w.c.Range)
	switch {
	case hi <= far || w.level[LoadReversed] == 2 && lo < 0.98*far:
		w.set(LoadReversed, 2)
	case hi <= band || w.level[LoadReversed] >= 1 && lo < 0.98*band:
		w.set(LoadReversed, 1)
	default:
		w.set(LoadReversed, 0)
	}
}
