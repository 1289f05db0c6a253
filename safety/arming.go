package safety

import (
	"fmt"
	"math"
	"strings"

	"hawse/trial"
)

// Checklist appends what is looked at before hauling is permitted for the first
// time, in the order in which a crew goes through it, each with how it stands.
// Arming needs every line to be [CheckItem.Good].
func (g *Guard) Checklist(dst []CheckItem) []CheckItem {
	s := &g.s
	add := func(c Check, state CheckState, text string) { dst = append(dst, CheckItem{c, state, text}) }
	auto := func(c Check, against string) {
		state := CheckPassed
		if against != "" {
			state = CheckFailed
		}
		add(c, state, against)
	}
	auto(CheckGear, g.ratingsAgainst())
	auto(CheckClock, g.clockAgainst())
	auto(CheckDisk, g.diskAgainst())
	auto(CheckLoad, g.loadAgainst(s.T))
	if haul := g.nextHaul(); g.watchesLine(haul) {
		auto(CheckLine, g.lineRateAgainst(s.T, haul))
	}
	if len(g.cfg.Cells) > 0 {
		auto(CheckCells, g.cellsAgainst())
		if last := &dst[len(dst)-1]; last.State == CheckFailed && s.Checks[CheckCells] == CheckWaived {
			last.State = CheckWaived
		}
	}
	if g.cfg.HasStopOut {
		auto(CheckStop, g.stopOutAgainst())
	}
	add(CheckZero, s.Checks[CheckZero], "with the cell hanging free, or the rode slack")
	add(CheckWeight, s.Checks[CheckWeight], "hang a known weight on the cell, or waive it with a reason")
	if g.cfg.HasHorn {
		add(CheckHorn, s.Checks[CheckHorn], "sound it once")
	}
	if g.slow() {
		add(CheckSlowCell, s.Checks[CheckSlowCell], "a cell under 3 Hz misses peaks; the director accepts it")
	}
	add(CheckLimits, s.Checks[CheckLimits], "read the limits aloud")
	add(ReadyLogger, s.Checks[ReadyLogger], `"logging, all live"`)
	add(ReadyWinch, s.Checks[ReadyWinch], `"winch ready, line clear"`)
	add(ReadyDirector, s.Checks[ReadyDirector], "people in their places, deck clear")
	return dst
}

// notReady is the first line of the checklist that stands against arming, in
// words; "" is nothing.
func (g *Guard) notReady() string {
	var room [NumChecks]CheckItem
	for _, l := range g.Checklist(room[:0]) {
		if l.Good() {
			continue
		}
		text := l.Check.String() + ": " + l.State.String()
		if l.Text != "" {
			text = l.Check.String() + ": " + l.Text
		}
		if l.State == CheckFailed && l.Check <= ReadyDirector {
			text += " (it failed)"
		}
		return text
	}
	return ""
}

func (g *Guard) ratingsAgainst() string {
	switch n := len(g.cfg.Unrated); {
	case n == 1:
		return fmt.Sprintf("%q has no WLL, or no source of it; write both into the trial file", g.cfg.Unrated[0])
	case n > 1:
		return fmt.Sprintf("%q and %d more have no WLL, or no source of it; write both into the trial file", g.cfg.Unrated[0], n-1)
	case !(g.cfg.WLL > 0):
		return "no WLL is known; name the gear with its WLL in the trial file"
	}
	return ""
}

func (g *Guard) clockAgainst() string {
	if g.s.links[WallClock] == linkDown {
		return "the computer's clock is wrong or has stepped; set it, then start anew"
	}
	return ""
}

func (g *Guard) diskAgainst() string {
	if g.s.present[RecordFailing] == atLimit {
		return "the record is not reaching the disk; free or change the disk first"
	}
	return ""
}

func (g *Guard) stopOutAgainst() string {
	if g.s.links[StopOut] != linkUp {
		return "the stop output is not open; " + StopOutLost.Advice()
	}
	return ""
}

func (g *Guard) loadAgainst(t int64) string {
	s := &g.s
	if s.Load.NoAngle {
		return "the load cell is a pin in the roller, and how the line leads over it is not known: say rode out and depth, and see the line counter"
	}
	if s.Load.At < 0 {
		return "the load cell has sent nothing valid yet; see its port and its line pattern"
	}
	if age := t - s.timers.loadWord; age >= int64(g.limits(g.nextHaul()).SilentWarn) {
		return fmt.Sprintf("nothing valid from the load cell for %.1f s; %s", seconds(age), LoadSilent.Advice())
	}
	if s.Cell != CellOn {
		return "the load cell is " + s.Cell.String()
	}
	return rateAgainst("the load box", s.Load.Period, g.cfg.LoadHz)
}

// cellsAgainst: where the largest tension guards, one that is not told is unknown,
// and unknown is loaded.
func (g *Guard) cellsAgainst() string {
	var names []string
	for i, name := range g.cfg.Cells {
		if g.s.Missing&(1<<i) != 0 {
			names = append(names, name)
		}
	}
	switch len(names) {
	case 0:
		return ""
	case 1:
		return names[0] + " tells no tension, and the limits count with it: see its cable, box and port, or go without it"
	}
	return strings.Join(names, " and ") + " tell no tension, and the limits count with them: see their cables, boxes and ports, or go without them"
}

// CellsMissing takes which of [Config].Cells tell no tension, bit i the cell i. One
// that was done without and is heard again must be done without anew.
func (g *Guard) CellsMissing(missing uint8) {
	s := &g.s
	if s.Missing&^missing != 0 {
		s.Checks[CheckCells] = CheckOpen
	}
	s.Missing = missing
}

func (g *Guard) lineRateAgainst(t int64, haul trial.Stage) string {
	if reason := g.lineAgainst(t, haul); reason != "" {
		return reason
	}
	return rateAgainst("the line box", g.s.Line.Period, g.cfg.LineHz)
}

func rateAgainst(box string, period, hz float64) string {
	if !(hz > 0) {
		return ""
	}
	switch got := 1 / period; {
	case period == 0 || math.IsInf(got, 0):
		return box + " has not sent enough to know its rate"
	case got < rateLeast*hz || got > rateMost*hz:
		return fmt.Sprintf("%s sends %.3g lines a second, the trial file says %.3g; set one right", box, got, hz)
	}
	return ""
}

// slow says whether the load cell is too slow to guard unasked.
func (g *Guard) slow() bool {
	p := g.s.Load.Period
	return g.cfg.LoadHz > 0 && g.cfg.LoadHz < slowCell || p > 1/(slowCell*rateLeast)
}

// doCheck takes the outcome of a check that a person does or says.
func (g *Guard) doCheck(t int64, a Act, ev *Events) string {
	s := &g.s
	not := func(reason string) string { return a.Check.String() + " not taken: " + reason }
	switch {
	case a.Check > ReadyDirector && !(a.Check == CheckCells && a.To == CheckWaived) || a.To > CheckWaived:
		return not("nobody says that; it is read from the state")
	case a.Check == CheckCells && s.Missing == 0:
		return not("no load cell is missing that the limits count with")
	case a.Who == Watcher || a.Who == Nobody:
		return not("a read-only seat may only call stop")
	case a.To == CheckWaived && a.Check > CheckWeight && a.Check != CheckCells:
		return not("only zero, known weight and a missing further load cell can be done without")
	}
	may := false
	switch a.Check {
	case CheckLimits, CheckSlowCell, ReadyDirector:
		may = a.Who == Director
	case ReadyWinch:
		may = a.Who == Director || a.Who == WinchOperator
	default:
		may = a.Who == Director || a.Who == Logger
	}
	switch {
	case a.To == CheckWaived:
		may = a.Who == Director
	case a.Check == CheckSlowCell && !g.cfg.SlowCell:
		return not("the trial file does not allow a slow cell; write slow_cell = true under [load] first")
	}
	if !may {
		return not("not this seat's to say; ask the director")
	}
	if a.To == CheckWaived && s.Checks[a.Check] == CheckFailed {
		return not("it failed, and what is known to be wrong is not done without; mend it and check again")
	}
	if a.Check == CheckZero && a.To == CheckPassed && s.Cell == CellOff {
		return not("the cell is out of the rode; say first that it is back")
	}
	s.Checks[a.Check] = a.To
	if (a.Check == CheckZero || a.Check == CheckWeight) && a.To == CheckPassed && !a.Taken {
		g.lower(t, ZeroDue, absent, 0, ev)
	}
	if a.Check == CheckWeight && (a.To == CheckPassed || a.To == CheckWaived) && !a.Taken {
		g.unitIsRight(t, ev)
	}
	ev.add(Event{T: t, What: CheckIs, Check: a.Check, To: a.To, Stage: s.Stage, Who: a.Who})
	switch {
	case a.Check != CheckZero || a.To != CheckPassed:
	case s.Cell == CellBack:
		g.cellIs(t, CellOn, a.Who, ev)
	default:
		g.forgetTension() // measured from another zero
	}
	return ""
}

// forgetTension lets all that compares one sample with another begin anew.
func (g *Guard) forgetTension() {
	s := &g.s
	s.tensionWas, s.tension, s.rise = confirm{}, trend{}, rise{}
	s.rode.forget()
	s.word.started = false
	s.leap.forget()
	s.noise.forget()
}

// takeCell says where the load cell is. It comes out only while the rode is
// slack: then its loss hides nothing.
func (g *Guard) takeCell(t int64, a Act, ev *Events) string {
	s := &g.s
	const not = "not taken: "
	switch {
	case a.Who != Director:
		return not + "only the director says where the load cell is; ask the director"
	case a.What == TakeCellBack && s.Cell != CellOff:
		return not + "the load cell is " + s.Cell.String()
	case a.What == TakeCellBack:
		g.cellIs(t, CellBack, a.Who, ev)
		return ""
	case s.Cell == CellOff:
		return not + "the load cell is off already"
	case s.Cell == CellOn && (s.Loaded(g.cfg) || g.highest() >= float64(g.cfg.Slack)): // not on one low sample
		return not + "the rode counts as loaded; ease until the tension is known and under the slack level, " + g.force(float64(g.cfg.Slack))
	case s.Permit && s.Stage != trial.Recover:
		return not + "hauling is permitted; say another stage first"
	}
	g.cellIs(t, CellOff, a.Who, ev)
	return ""
}

func (g *Guard) cellIs(t int64, to CellState, who Who, ev *Events) {
	s := &g.s
	s.Cell = to
	ev.add(Event{T: t, What: CellIs, Cell: to, Stage: s.Stage, Who: who})
	g.forgetTension()
	if to == CellOff {
		s.Checks[CheckZero] = CheckOpen
		g.suppress(t, true, ev)
	}
	if to == CellOn {
		s.timers.loadWord = t
		g.suppress(t, false, ev)
	}
}

// clearNear is how near its end of hauling a thing must be to be said taken in,
// and how far out it counts as out again.
const clearNear trial.Length = 2

// outAgain takes back that a thing has been taken in, once so much rode is out
// that it may be outside again: nothing is blind for good.
func (g *Guard) outAgain(t int64, ev *Events) {
	s := &g.s
	if s.Cleared == 0 || !s.Line.HasX {
		return
	}
	for i, th := range g.cfg.Things {
		if s.Cleared&(1<<i) != 0 && s.Line.RodeOut-th.At-g.cfg.KeepOut > clearNear+0.1 {
			s.Cleared &^= 1 << i
			ev.add(Event{T: t, What: ClearedIs, Name: th.Name, On: true, Stage: s.Stage})
		}
	}
}

// clear takes note that a thing that may not pass the fairlead has been taken
// in by hand.
func (g *Guard) clear(t int64, a Act, ev *Events) string {
	s := &g.s
	switch {
	case a.Who != Director:
		return "not taken: only the director says what has been taken in; ask the director"
	case a.Thing < 0 || a.Thing >= len(g.cfg.Things):
		return "not taken: there is no such thing in the trial file"
	case s.Cleared&(1<<a.Thing) != 0:
		return "not taken: " + g.cfg.Things[a.Thing].Name + " is in already"
	}
	next, left := g.nextThing()
	switch {
	case next < 0:
		return "not taken: rode out is unknown, so nobody can tell what is near the fairlead; say it first"
	case a.Thing != next:
		return "not taken: " + g.cfg.Things[next].Name + " comes to the fairlead before it"
	case left > clearNear:
		return fmt.Sprintf("not taken: %s is still %s from where hauling ends; say it when it has been taken in", g.cfg.Things[next].Name, lengthText(float64(left), g.cfg.Show))
	}
	s.Cleared |= 1 << a.Thing
	ev.add(Event{T: t, What: ClearedIs, Name: g.cfg.Things[a.Thing].Name, Stage: s.Stage, Who: a.Who})
	s.present[AtFairlead], s.ends[AtFairlead] = absent, 0
	g.judgeLine(t, true, ev)
	return ""
}

// lowerLimit makes a limit stricter, in every stage that has it. Nothing here
// can make one laxer.
func (g *Guard) lowerLimit(t int64, a Act, ev *Events) string {
	s := &g.s
	not := func(reason string) string { return a.Limit.String() + " not changed: " + reason }
	now := *g.limits(s.Stage)
	var laxer bool
	var c Cause
	var is float64
	switch v := a.Value; a.Limit {
	case LimitTensionWarn:
		c, is = TensionLimit, float64(now.TensionWarn)
		laxer = is > 0 && v > is || s.Lowered.TensionWarn > 0 && v > float64(s.Lowered.TensionWarn)
	case LimitTensionStop:
		c, is = TensionLimit, float64(now.TensionStop)
		laxer = is > 0 && v > is || s.Lowered.TensionStop > 0 && v > float64(s.Lowered.TensionStop)
	case LimitHaul:
		c, is = LineHauled, float64(now.Haul)
		laxer = is > 0 && v > is || s.Lowered.Haul > 0 && v > float64(s.Lowered.Haul)
	case LimitScopeMin:
		c, is = MinimumScope, now.ScopeMin
		laxer = v < is || v < s.Lowered.ScopeMin
	default:
		return "limit not changed: there is no such limit; say tension_warn, tension_stop, haul or scope_min"
	}
	switch {
	case a.Who != Director:
		return not("only the director changes a limit; ask the director")
	case !(a.Value > 0) || math.IsInf(a.Value, 0):
		return not("give a number above zero")
	case a.Value == is:
		return not("it is that already")
	case laxer:
		return not(fmt.Sprintf("%s is laxer than the %s in force; during a pull limits only become stricter",
			limitText(c, a.Value, g.cfg.Show), limitText(c, is, g.cfg.Show)))
	}
	switch a.Limit {
	case LimitTensionWarn:
		s.Lowered.TensionWarn = trial.Force(a.Value)
	case LimitTensionStop:
		s.Lowered.TensionStop = trial.Force(a.Value)
	case LimitHaul:
		s.Lowered.Haul = trial.Length(a.Value)
	case LimitScopeMin:
		s.Lowered.ScopeMin = a.Value
	}
	g.setLimits()
	ev.add(Event{T: t, What: LimitIs, Cause: c, Key: a.Limit, Value: a.Value, Limit: is, Stage: s.Stage, Who: a.Who})
	g.judgeTension(t, false, ev)
	g.judgeLine(t, true, ev)
	return ""
}
