package tui

import (
	"fmt"
	"strings"
)

// Stand is the place from which the screen is looked at: what each of the three
// people needs, or all of it together. It changes nothing but what is drawn and,
// at the winch, which keys are taken.
type Stand uint8

// The stands. The alarm line, the order word and STOP are in each of them.
const (
	StandAll      Stand = iota // everything, with the trace
	StandOperator              // the tension, the order, the nearest limit
	StandDirector              // every margin, the steps, the alarms
	StandLogger                // the streams, the record, gaps and marks
	StandFigures               // what the pull has come to
	numStands
)

var standNames = [numStands]string{"all", "operator", "director", "logger", "figures"}

func (s Stand) String() string {
	if s >= numStands {
		return fmt.Sprintf("stand(%d)", uint8(s))
	}
	return standNames[s]
}

// ParseStand reads a stand by its name. Its error lists them.
func ParseStand(name string) (Stand, error) {
	for i, n := range standNames {
		if strings.EqualFold(n, name) {
			return Stand(i), nil
		}
	}
	return 0, fmt.Errorf("%q is no view: %s", name, strings.Join(standNames[:], ", "))
}

// standOf is the stand a key asks for.
func standOf(in intent) (Stand, bool) {
	switch in {
	case showOperator:
		return StandOperator, true
	case showDirector:
		return StandDirector, true
	case showLogger:
		return StandLogger, true
	case showAll:
		return StandAll, true
	case showFigures:
		return StandFigures, true
	}
	return 0, false
}

// takes says whether a key is taken at a stand. At the winch few are: a wet
// glove on the wrong one must change nothing.
func (s Stand) takes(in intent) bool {
	if s != StandOperator {
		return true
	}
	switch in {
	case sayDepth, sayOut, arm, nextStage, chooseStage, acknowledge, rearm, sayCleared, showMore, sayAbandon:
		return false
	}
	return true
}
