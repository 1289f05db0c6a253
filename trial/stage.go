package trial

import (
	"fmt"
	"strings"
)

// Stage is what the crew is doing, as the director says it. It is never
// guessed from the data. Limits belong to a stage.
type Stage uint8

// The stages of a pull in their usual order; Stopped can follow any of them.
const (
	StandBy   Stage = iota // ready, nothing moving
	PayOut                 // rode going out to the start scope
	Preset                 // slow haul to seat the anchor
	Soak                   // waiting, unloaded or lightly loaded
	Pull                   // the main haul
	Hold                   // winch stopped, load kept on
	Ease                   // giving out slowly, under load, on purpose
	Recover                // getting the anchor back
	Stopped                // a stop is in force
	Done                   // the run is over
	NumStages              // how many there are; not a stage
)

var stageNames = [NumStages]string{
	"stand by", "pay out", "preset", "soak", "pull", "hold", "ease", "recover", "stopped", "done",
}

// joints is what may stand between the words of a stage's name.
var joints = strings.NewReplacer(" ", "", "-", "", "_", "")

// String is the stage in the crew's words, such as "pay out".
func (s Stage) String() string {
	if s >= NumStages {
		return fmt.Sprintf("stage(%d)", uint8(s))
	}
	return stageNames[s]
}

// Key is the stage as one plain word for a file, a command or a log field,
// such as "pay_out". [ParseStage] reads it back.
func (s Stage) Key() string {
	return strings.ReplaceAll(s.String(), " ", "_")
}

// ParseStage reads a stage by name, in any case, with a space, a hyphen, an
// underscore or nothing between the words: "pay out", "pay-out", "standby".
// Its error lists the stages.
func ParseStage(s string) (Stage, error) {
	plain := func(s string) string { return joints.Replace(strings.ToLower(s)) }
	for i, name := range stageNames {
		if plain(s) == plain(name) {
			return Stage(i), nil
		}
	}
	return 0, fmt.Errorf("%s is no stage; say one of: %s", shown(s), strings.Join(stageNames[:], ", "))
}

// Hauls reports whether the winch is meant to take line in during the stage.
func (s Stage) Hauls() bool { return s == Preset || s == Pull || s == Recover }

// RodeOut reports whether rode may be outboard in the stage, so that a stop
// on tension must be in force. Only a finished run has none: a crew may also
// stand by with the rode already out.
func (s Stage) RodeOut() bool { return s < NumStages && s != Done }

// EndsByHaul reports whether line hauled and minimum scope may end the stage.
// They do not exist in ease and recover: easing gives line out, and recovery
// goes up and down by design.
func (s Stage) EndsByHaul() bool { return s < NumStages && s != Ease && s != Recover }

// endsByTension reports whether a tension that is reached may end the stage as
// planned.
func (s Stage) endsByTension() bool { return s == Preset || s == Pull }

// mayBuryIt reports whether the anchor may be pulled in so hard in the stage
// that it does not come up again.
func (s Stage) mayBuryIt() bool { return s == Preset || s == Pull || s == Hold }

// Next is the stage that usually follows. After Stopped it is Ease; Done is
// the last.
func (s Stage) Next() Stage {
	switch {
	case s == Recover:
		return Done
	case s == Stopped:
		return Ease
	case s < Recover:
		return s + 1
	}
	return Done
}
