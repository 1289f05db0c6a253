package session

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// act folds what a person did. Every act is in the record whether it was
// granted or not; a refusal is said, with what to do.
func (c *Core) act(r *logfmt.Record) {
	who := whoNamed(r.Str("who"))
	refused := c.doAct(r, who)
	if refused == "" {
		c.saidAnew(r)
		return
	}
	c.flush(r.N)
	c.out.Refused = refused
	c.out.Says = append(c.out.Says, say(r.N, "core", logfmt.Field{Key: "what", Val: "refused"},
		logfmt.Field{Key: "act", Val: r.Str("act")}, logfmt.Field{Key: "text", Val: refused}))
}

func (c *Core) doAct(r *logfmt.Record, who safety.Who) (refused string) {
	a := safety.Act{Who: who}
	if v, err := strconv.ParseUint(r.Str("session"), 10, 32); err == nil {
		a.Session = uint32(v)
	}
	word := r.Str("act")
	switch word {
	case ActStop:
		a.What = safety.CallStop
	case ActArm:
		if refused = c.carryAgainst(word); refused != "" {
			return refused
		}
		a.What = safety.Arm
	case ActAck:
		a.What = safety.Ack
	case ActAbandon:
		a.What = safety.Abandon
	case ActStage, ActRearm:
		stage, err := trial.ParseStage(r.Str("stage"))
		if err != nil {
			return err.Error()
		}
		a.What, a.Stage = safety.NextStage, stage
		if word == ActRearm {
			if refused = c.carryAgainst(word); refused != "" {
				return refused
			}
			a.What = safety.Rearm
		}
	case ActEnd, ActTerminate:
		a.What = safety.End
		if word == ActTerminate {
			a.What = safety.Terminate
		}
		refused := c.guard.Do(r.T, a, &c.ev)
		if refused == "" {
			c.ended, c.out.Ended = true, true
			c.out.EndReason = r.Str("value")
		}
		return refused
	case ActDepth, ActPayout:
		return c.measured(word, r.Str("value"), who)
	case ActZero:
		return c.zero(r, who)
	case ActWeight:
		return c.weight(r, who)
	case ActCorrect:
		return c.correct(r, who)
	case ActPass:
		return c.pass(r, who)
	case ActCarry, ActDrop:
		return c.carryAct(r, who, word == ActCarry)
	case ActCameUp:
		return c.saidCameUp(r, who)
	case ActMark:
		if said, ok := trial.ParseCameUpMark(r.Str("value")); ok {
			said = c.cameUpWith(said)
			c.cameUp = &said
		}
		c.mark(r.Str("value"))
		if ofVessel(r.Str("value")) {
			c.out.Samples = append(c.out.Samples, JudgeInput{T: r.T, Vessel: true})
		}
		return ""
	case ActNote:
		return ""
	case ActCellOff, ActCellOn:
		return c.cell(r, who)
	default:
		if refused = c.checkOf(word, r.Str("value"), &a); refused != "" {
			return refused
		}
	}
	if c.head.Trial.LargerGuards {
		c.guard.CellsMissing(c.missingCells())
	}
	return c.guard.Do(r.T, a, &c.ev)
}

// ofVessel says whether a mark speaks of the vessel, which may explain a fall of
// the tension.
func ofVessel(mark string) bool {
	mark = strings.ToLower(mark)
	return slices.ContainsFunc([]string{"thruster", "engine", "wake", "swell", "vessel"}, func(w string) bool { return strings.Contains(mark, w) })
}

// measured takes a length a person read: water depth, or rode out, which is
// also the zero of line hauled.
func (c *Core) measured(word, value string, who safety.Who) (refused string) {
	not := word + " not taken: "
	switch who {
	case safety.Director, safety.Logger:
	case safety.Watcher, safety.Nobody:
		return not + "a read-only seat may only call stop"
	default:
		return not + "not this seat's to say; ask the director"
	}
	v, err := trial.ParseLength(value)
	if err != nil {
		return not + err.Error()
	}
	if !(v > 0) {
		return not + value + " is not above zero"
	}
	if word == ActDepth {
		if refused := c.askDepth(v); refused != "" {
			return refused
		}
		c.depthSaid(v)
		return ""
	}
	rode := c.head.Trial.RodeLength()
	switch {
	case v > rode:
		return fmt.Sprintf("%s%s is more than the whole rode, which is %s long", not, c.length(v), c.length(rode))
	case c.guard.State().Permit:
		// A new zero of line hauled would move every end by length while the
		// winch runs towards it.
		return not + "hauling is permitted; say another stage first, or call the rode mark (pass)"
	case !c.haul.hasCounts:
		return not + "the line encoder has said nothing yet, so there is no count to tie it to; see the line port"
	case !c.lineFresh(c.t):
		return not + "the last count is old, and the line may have moved since; see the line port"
	}
	c.said(v)
	return ""
}

func (c *Core) depthSaid(v trial.Length) {
	c.haul.depth, c.haul.hasDepth = v, true
	c.depthByHand(v)
	c.measure()
	c.guard.Said(c.t, c.lineNow(), &c.ev)
	c.judgeDepth(v)
}

// judgeDepth holds a depth against what the plan allows at the run's station.
func (c *Core) judgeDepth(v trial.Length) {
	station, _ := c.head.Trial.Station(c.head.Run.Station)
	out, bound := false, trial.Length(0)
	switch least, most := station.DepthMin, station.DepthMax; {
	case least > 0 && v < least:
		out, bound = true, least
	case most > 0 && v > most:
		out, bound = true, most
	}
	c.guard.Fault(c.t, safety.DepthOutOfBox, out, float64(v), float64(bound), &c.ev)
}

// ActTerminate is the system's request to end the program (SIGTERM).
const ActTerminate = "terminate"

var whoNames = [...]string{safety.Nobody: "nobody", safety.Director: "director", safety.WinchOperator: "winch",
	safety.Logger: "logger", safety.Watcher: "watcher", safety.Program: "program"}

// WhoNamed returns the seat of that name, Nobody for an unknown one.
func whoNamed(name string) safety.Who {
	for i, n := range whoNames {
		if n == name {
			return safety.Who(i)
		}
	}
	return safety.Nobody
}
