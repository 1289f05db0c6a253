// Package crew plays the people of a scenario: it does what the script's [crew]
// section says against what the screen shows, never against what the deck
// knows, and each act in the name of the seat whose it is.
//
// [Crew] is pure: it is given the time and a snapshot and says what the people
// do now. [Crew.On] drives a dry run with it, [Player] a live one.
package crew

import (
	"fmt"
	"strings"

	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// Name is who acts, in the record.
const Name = "demo crew"

// longestLook is how long the crew waits for the reading after a zero.
const longestLook = int64(5e9)

// A crew whose arming or re-arming is refused looks why, acknowledges what is not,
// and tries again so often, a second apart: an instrument that has just come back is
// not steady yet.
const (
	mostAgain  = 10
	againAfter = int64(1e9)
)

// Crew works through the steps of a script. It belongs to one goroutine.
type Crew struct {
	steps []deck.Step
	at    int    // the step that is on
	since int64  // since when, for a wait; -1 not yet
	seen  uint64 // nothing older than this record is news: an act may have changed it
	look  int    // the cell was zeroed or corrected: so many readings the crew looks at before it goes on
	pin   bool   // the load cell is a pin in the roller
	zeroT int64  // of the snapshot in which that is first seen; -1 not yet
	acted bool   // an act waits for its answer
	again int    // so often was the arming or re-arming of this step refused
	acks  bool   // the act that waits is an acknowledgement before the step is tried again
	fault string
	relay uint32 // the last session number given to a relay, in a dry run
}

// New returns a crew at the beginning of its script.
func New(steps []deck.Step) *Crew { return &Crew{steps: steps, since: -1, zeroT: -1} }

// Over says whether there is nothing left to do: the script is through, or
// stopped by its Fault.
func (k *Crew) Over() bool { return k.fault != "" || k.at >= len(k.steps) }

// Fault is what stopped the script, with its line: an act that was refused, or
// one that was to be refused and was not; "" nothing.
func (k *Crew) Fault() string { return k.fault }

// Step is the step the crew is at; the zero Step when it is over.
func (k *Crew) Step() deck.Step {
	if k.Over() {
		return deck.Step{}
	}
	return k.steps[k.at]
}

// Next says what the crew does at time t, seeing s: one act, or nothing yet.
// What came of an act is told by Answer before Next is called again.
func (k *Crew) Next(t int64, s *session.Snapshot) (a session.Act, now bool) {
	k.pin = s.Tension.Pin != nil
	if k.look > 0 && s.N >= k.seen {
		// Counted from here: what stood in the queue before the act may be later
		// than when the crew spoke, and is no reading since.
		if k.zeroT < 0 {
			k.zeroT = s.T
		}
		switch {
		case s.Tension.At > k.zeroT:
			k.look, k.zeroT = k.look-1, s.Tension.At
		case s.T-k.zeroT > longestLook:
			k.look = 0
		}
	}
	for !k.Over() && !k.acted && s.N >= k.seen && k.look == 0 {
		step := k.steps[k.at]
		switch step.Verb {
		case "wait":
			if k.since < 0 {
				k.since = t
			}
			if t-k.since < int64(step.SI*1e9) {
				return a, false
			}
		case "until":
			met, err := holds(step, s)
			if err != nil {
				k.fail(err.Error())
			}
			if !met {
				return a, false
			}
		case "say":
			k.acted = true
			return session.Act{Who: safety.Director, Name: Name, What: session.ActNote, Value: strings.Join(step.Args, " ")}, true
		case "act", "refused":
			if k.again > 0 {
				if k.since < 0 {
					k.since = t
				}
				if t-k.since < againAfter {
					return a, false
				}
				if stop := s.Guard.Stop; stop.Kind != safety.NoStop && !stop.Acked {
					k.acted, k.acks = true, true
					return session.Act{Who: safety.Director, Name: Name, What: session.ActAck}, true
				}
			}
			a, err := act(step)
			if err != nil {
				k.fail(err.Error())
				return a, false
			}
			k.acted = true
			return a, true
		default:
			k.fail("the crew does not know how")
			return a, false
		}
		k.pass()
	}
	return a, false
}

func (k *Crew) pass() { k.at, k.since, k.again = k.at+1, -1, 0 }

// Answer tells what came of the act that Next gave.
func (k *Crew) Answer(o session.Outcome) {
	if !k.acted || k.Over() {
		return
	}
	k.acted, k.seen = false, o.N
	step := k.steps[k.at]
	word := step.Args[0]
	arms := step.Verb == "act" && (word == session.ActArm || word == session.ActRearm)
	if acks := k.acks; arms && k.again < mostAgain && (acks || o.Refused != "") {
		k.acks, k.again = false, k.again+1
		if !acks {
			k.since = -1
		}
		return
	}
	switch {
	case word == session.ActZero || word == session.ActCorrect:
		k.look, k.zeroT = 1, -1
	case k.pin && (word == session.ActDepth || word == session.ActPayout): // its tension follows from these, too
		k.look, k.zeroT = 2, -1 // for one alone does not count
	}
	switch refused := o.Refused != ""; {
	case step.Verb == "refused" && !refused:
		k.fail("it was to be refused, and was taken")
		return
	case step.Verb == "act" && refused && step.Args[0] != session.ActEnd:
		// An end under load is refused once; a script, like a person, asks again.
		k.fail(o.Refused)
		return
	}
	k.pass()
}

func (k *Crew) fail(why string) {
	k.fault = fmt.Sprintf("script line %d: %s: %s", k.steps[k.at].Line, k.steps[k.at], why)
}

// On does everything the crew does at time t of a dry run.
func (k *Crew) On(d *session.Dry, t int64) {
	for !k.Over() {
		a, now := k.Next(t, d.Snapshot())
		if !now {
			return
		}
		k.relay++
		k.Answer(d.Act(t, a, k.relay))
	}
}

// seats says whose act each is; the rest are the director's.
var seats = map[string]safety.Who{
	session.ActZero: safety.Logger, session.ActWeight: safety.Logger, session.ActCorrect: safety.Logger, session.ActHorn: safety.Logger,
	session.ActPass: safety.WinchOperator,
}

var seatNamed = map[string]safety.Who{"winch": safety.WinchOperator, "logger": safety.Logger, "director": safety.Director}

// act is what a step of the script does.
func act(step deck.Step) (session.Act, error) {
	a := session.Act{Who: safety.Director, Name: Name, What: step.Args[0]}
	rest := step.Args[1:]
	if who, ok := seats[a.What]; ok {
		a.Who = who
	}
	switch a.What {
	case session.ActReady, session.ActNotReady:
		who, ok := seatNamed[first(rest)]
		if !ok {
			return a, fmt.Errorf("no seat called %q; say winch, logger or director", first(rest))
		}
		a.Who, rest = who, rest[1:]
	case session.ActStage, session.ActRearm:
		stage, err := trial.ParseStage(strings.Join(rest, " "))
		if err != nil {
			return a, err
		}
		a.Stage, rest = stage, nil
	}
	a.Value = strings.Join(rest, " ")
	return a, nil
}

func first(words []string) string {
	if len(words) == 0 {
		return ""
	}
	return words[0]
}
