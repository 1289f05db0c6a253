package crew

import (
	"fmt"
	"math"
	"strings"

	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

const standsStill = 0.002 // m/s: less is no hauling

var orders = map[string]safety.Order{"stop": safety.OrderStop, "ease": safety.OrderEase, "abandon": safety.OrderAbandon, "none": safety.NoOrder}

// holds says whether what an `until` waits for is there, as the screen shows it.
func holds(step deck.Step, s *session.Snapshot) (bool, error) {
	words := strings.Join(step.Args, " ")
	force, length := trial.Force(step.SI), trial.Length(step.SI)
	starts := func(with string) bool { return strings.HasPrefix(words, with) }
	switch {
	case starts("order "):
		order, ok := orders[step.Args[len(step.Args)-1]]
		if !ok {
			return false, fmt.Errorf("unknown order %q", words)
		}
		if order == safety.NoOrder {
			return s.Guard.Order == order, nil
		}
		return s.Guard.Order >= order, nil
	case words == "load live":
		// A pin in the roller feels before the rode out is said, which its tension needs.
		feels := s.Tension.Pin != nil && !math.IsNaN(float64(s.Tension.Pin.Felt))
		return (s.Tension.Known || feels) && s.Line.Good > 0 && s.Stop.State == "open", nil
	case words == "log on disk":
		return s.Log.OnDisk > 0 && s.Log.Fault == "", nil
	case words == "haul stopped":
		return s.Haul.Known && math.Abs(float64(s.Haul.Speed)) < standsStill, nil
	case starts("tension below "):
		v, known := shown(s)
		return known && v < force, nil
	case starts("tension above "):
		v, known := shown(s)
		return known && v > force, nil
	case starts("x "):
		return s.Haul.Known && s.Haul.X >= length, nil
	case starts("rode out "):
		return s.Haul.Known && s.Haul.RodeOut <= length, nil
	}
	return false, fmt.Errorf("unknown condition %q", words)
}

// shown is the tension a crew looks at. Before the pull is armed, and as long as the
// rode out is unsaid, that of a pin in the roller is what it feels: the cell is then
// zeroed, and weighed.
func shown(s *session.Snapshot) (trial.Force, bool) {
	if p := s.Tension.Pin; p != nil && !s.Tension.Known && s.Guard.Stage == trial.StandBy && !s.Guard.Armed {
		return p.Felt, !math.IsNaN(float64(p.Felt))
	}
	return s.Tension.Now, s.Tension.Known
}
