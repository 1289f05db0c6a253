package safety

import (
	"fmt"

	"hawse/trial"
)

// ActKind is what a person, or the system, does.
type ActKind uint8

const (
	NoAct        ActKind = iota
	CallStop             // anyone, in any stage: stop hauling
	Arm                  // director: hauling may be permitted, in the stage as it is
	NextStage            // director: this is the stage now; lifts a planned end
	Ack                  // director: every alarm has been seen
	Rearm                // director: lift a trip and go into a stage
	Abandon              // director: the rode is slipped by the crew's plan
	End                  // director, logger or program: end the capture
	Terminate            // the system asks the program to end
	DoCheck              // a check before arming was done, said or waived
	TakeCellOff          // director: the load cell comes out of the rode
	TakeCellBack         // director: it is in again, and is to be zeroed
	Clear                // director: what may not pass the fairlead has been taken in
	Lower                // director: a limit made stricter
	NumActs
)

// Act is one act. Session is a number no relay has seen before; it is taken
// when the act makes the permit rise.
type Act struct {
	What    ActKind
	Who     Who
	Stage   trial.Stage // NextStage, Rearm
	Session uint32
	Check   Check      // DoCheck
	To      CheckState // DoCheck: how it went
	Taken   bool       // DoCheck: taken over from the log before this one, so nothing was looked at now
	Thing   int        // Clear: its place in [Config].Things
	Limit   LimitKey   // Lower
	Value   float64    // Lower: N, m or scope
}

// LimitKey names a limit that can be made stricter during a pull.
type LimitKey uint8

const (
	NoLimit LimitKey = iota
	LimitTensionWarn
	LimitTensionStop
	LimitHaul
	LimitScopeMin
	NumLimits
)

// Do takes an act. A refusal is one clear line: what was refused, why, what to
// do. It changes nothing but what the system's or a person's second request to
// end rests on; End and Terminate granted return "".
func (g *Guard) Do(t int64, a Act, ev *Events) (refused string) {
	t = g.advance(t, ev)
	switch a.What {
	case CallStop:
		g.callStop(t, a, ev)
	case Arm:
		refused = g.doArm(t, a, ev)
	case NextStage:
		refused = g.nextStage(t, a, ev)
	case Ack:
		refused = g.ack(t, a, ev)
	case Rearm:
		refused = g.rearm(t, a, ev)
	case Abandon:
		refused = g.abandon(t, a, ev)
	case End:
		refused = g.end(t, a, ev)
	case Terminate:
		refused = g.terminate(t, a, ev)
	case DoCheck:
		refused = g.doCheck(t, a, ev)
	case TakeCellOff, TakeCellBack:
		refused = g.takeCell(t, a, ev)
	case Clear:
		refused = g.clear(t, a, ev)
	case Lower:
		refused = g.lowerLimit(t, a, ev)
	default:
		return "no such act: " + a.What.String() + "; nothing was done"
	}
	g.permit(t, a.Session, ev)
	g.fire(t, ev) // a stage that was entered may have shorter times
	return refused
}

func (g *Guard) callStop(t int64, a Act, ev *Events) {
	g.raise(t, PersonStop, atLimit, 0, 0, a.Who, ev)
}

func (g *Guard) doArm(t int64, a Act, ev *Events) string {
	const not = "not armed: "
	s := &g.s
	switch {
	case a.Who != Director:
		return not + "only the director arms; ask the director"
	case s.Armed:
		return not + "it is armed already; say the next stage"
	case s.Stop.Kind == Trip:
		return not + "a stop is in force (" + s.Stop.Cause.Title() + "); acknowledge and re-arm first"
	case s.Stop.Kind == PlannedEnd:
		return not + "the stage has ended (" + s.Stop.Cause.Title() + "); say the next stage first"
	}
	haul := g.nextHaul()
	if reason := g.against(t, haul, haul == s.Stage); reason != "" {
		return not + reason
	}
	if haul != s.Stage {
		if reason := g.against(t, s.Stage, true); reason != "" {
			return not + reason
		}
	}
	if reason := g.notReady(); reason != "" {
		return not + reason
	}
	g.arm(t, true, a.Who, ev)
	g.rejudge(t, ev)
	return ""
}

// nextStage changes the stage, and lifts a planned end if what ended the stage
// does not hold in the one entered. Under a trip only ease and stopped are
// open, and the trip stays.
func (g *Guard) nextStage(t int64, a Act, ev *Events) string {
	s := &g.s
	not := func(reason string) string { return a.Stage.String() + " not entered: " + reason }
	refuge := a.Stage == trial.Ease || a.Stage == trial.Stopped
	kept := a.Stage == s.Stage
	switch {
	case a.Stage >= trial.NumStages:
		return "stage not changed: there is no such stage; say one of the stages"
	case a.Who != Director:
		return not("only the director changes the stage; ask the director")
	case s.Stop.Kind == NoStop && kept:
		return not("it is the stage already")
	case s.Stop.Kind == Trip && !refuge:
		return not("a stop is in force (" + s.Stop.Cause.Title() + "); ease and stopped are open, else acknowledge and re-arm")
	case s.Stop.Kind == Trip && kept:
		return not("it is the stage already")
	}
	if !refuge || kept {
		if reason := g.nextAgainst(t, a.Stage, kept); reason != "" {
			return not(reason)
		}
	}
	if s.Stop.Kind == PlannedEnd {
		g.lift(t, a.Who, ev)
	}
	g.enter(t, a.Stage, a.Who, ev)
	return ""
}

// nextAgainst is what stands against a stage without a trip: everything that
// would stand against hauling if it may haul, otherwise only what ended the
// stage before. What the crew does is told as it is.
func (g *Guard) nextAgainst(t int64, stage trial.Stage, kept bool) string {
	s, show := &g.s, g.cfg.Show
	if s.Armed && stage.Hauls() {
		return g.against(t, stage, kept)
	}
	if s.Stop.Kind != PlannedEnd {
		return ""
	}
	if c, value, limit := g.ended(t, stage, kept); c != NoCause {
		return fmt.Sprintf("%s holds there too, %s (limit %s); ease, stopped and recover are open", c.Title(),
			measured(c, value, show), limitText(c, limit, show))
	}
	return ""
}

func (g *Guard) ack(t int64, a Act, ev *Events) string {
	s := &g.s
	if a.Who != Director {
		return "not acknowledged: only the director acknowledges; ask the director"
	}
	some := g.acknowledge(t, a.Who, ev)
	if s.Stop.Kind != NoStop && !s.Stop.Acked { // of a planned end: that it was seen
		s.Stop.Acked, some = true, true
	}
	if !some {
		return "nothing to acknowledge: no alarm is waiting"
	}
	return ""
}

// rearm lifts a trip once it has been acknowledged and its cause is gone under
// the limits of the stage entered. It arms nothing that was not armed before.
func (g *Guard) rearm(t int64, a Act, ev *Events) string {
	const not = "not re-armed: "
	s := &g.s
	switch {
	case a.Stage >= trial.NumStages:
		return not + "there is no such stage; say one of the stages"
	case a.Who != Director:
		return not + "only the director re-arms; ask the director"
	case s.Stop.Kind == PlannedEnd:
		return not + "this stop is a planned end (" + s.Stop.Cause.Title() + "); say the next stage"
	case s.Stop.Kind == NoStop:
		return not + "no stop is in force; say the next stage, or arm"
	case !s.Stop.Acked:
		return not + "the stop is not acknowledged (" + g.newest().Title() + "); acknowledge first"
	}
	if reason := g.against(t, a.Stage, a.Stage == s.Stage); reason != "" {
		return not + reason
	}
	g.lift(t, a.Who, ev)
	g.enter(t, a.Stage, a.Who, ev)
	return ""
}

// newest is the cause of the stop that arose last.
func (g *Guard) newest() Cause {
	if g.s.Stop.Later != NoCause {
		return g.s.Stop.Later
	}
	return g.s.Stop.Cause
}

// abandon says ABANDON, and stops the winch with it.
func (g *Guard) abandon(t int64, a Act, ev *Events) string {
	if a.Who != Director {
		return "ABANDON not said: only the director says it; anyone may call stop"
	}
	if g.s.Stop.Kind != Trip {
		g.raise(t, PersonStop, atLimit, 0, 0, a.Who, ev)
	}
	g.order(t, OrderAbandon, ev)
	return ""
}

func (g *Guard) end(t int64, a Act, ev *Events) string {
	const not = "not ended: "
	s := &g.s
	switch a.Who {
	case Director, Logger, Program:
	default:
		return not + "only the director or the logger ends the capture; ask one of them"
	}
	reason := g.againstEnd()
	if again := s.timers.endAsked >= 0 && t-s.timers.endAsked <= int64(float64(endAgain)*g.cfg.Patience); reason != "" && !again {
		s.timers.endAsked = t
		return fmt.Sprintf("%s%s; ease to slack, or ask again within %d s", not, reason, endAgainText)
	}
	g.ending(t, a.Who, ev)
	return ""
}

// terminate is the system's request: under load it is a trip, capture and guard
// go on, and a second one ends.
func (g *Guard) terminate(t int64, a Act, ev *Events) string {
	s := &g.s
	reason := g.againstEnd()
	if reason != "" && !s.timers.termAsked {
		s.timers.termAsked = true
		g.raise(t, Terminated, atLimit, 0, 0, a.Who, ev)
		return "not ended: " + reason + "; capture and guard go on, a second request ends"
	}
	g.ending(t, a.Who, ev)
	return ""
}

func (g *Guard) ending(t int64, who Who, ev *Events) {
	g.arm(t, false, who, ev)
	g.permit(t, 0, ev)
	ev.add(Event{T: t, What: Ending, Stage: g.s.Stage, Who: who})
}
