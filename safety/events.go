package safety

import "hawse/trial"

// What is a kind of event. Its word in the record never changes.
type What uint8

const (
	NoEvent    What = iota
	AlarmUp         // an alarm appeared, or rose; On: at its limit, not only at the level that warns
	AlarmLess       // back under the stop limit, still at or above the level that warns; On: this stage only warns of it
	AlarmDown       // back to normal; unacknowledged, it stays visible; On: only because this stage does not judge it
	AlarmAcked      // the director has seen it
	EndReached      // a planned end is reached that sets no stop of its own: nothing was armed yet, or one is in force
	StopSet         // a stop is in force, or a planned end has become a trip
	StopMore        // another trip arose while one is latched
	StopLifted
	OrderIs
	StageIs
	PermitIs  // On: hauling is permitted, under Session
	ArmedIs   // On: the director has armed
	Ending    // a request to end was granted
	CheckIs   // a check before arming: Check, To
	CellIs    // the load cell came out or in: Cell
	ClearedIs // what may not pass the fairlead has been taken in: Name; On: it counts as out again
	StopTop   // how far the tension went past its limit in the first seconds after the stop; On: further than was measured, Value is zero
	LimitIs   // a limit was made stricter: Key, Value
	UsedIs    // line hauled in Stage before the log broke off counts: Value of Limit
	NumWhats
)

// Event is one thing the guard says, stamped with the time it fell due: enough
// for a line in the record and a line for people. What it does not concern is
// zero. Value and Limit are in the cause's own unit.
type Event struct {
	T        int64
	What     What
	Cause    Cause
	Priority Priority
	Kind     StopKind
	Stage    trial.Stage
	Order    Order
	On       bool
	Taken    bool // taken over from the log before this one: it was measured there
	Session  uint32
	Value    float64
	Limit    float64
	Who      Who
	Check    Check
	To       CheckState
	Cell     CellState
	Key      LimitKey
	Name     string // of a thing that may not pass the fairlead
}

const eventsKept = 64 // one input says a few; acknowledging every alarm there is says 38

// Events is where the guard puts what it says, in order. It never grows: what
// does not fit is counted. The zero Events is empty and ready.
type Events struct {
	kept    [eventsKept]Event
	n       int
	dropped int
}

func (e *Events) add(v Event) {
	switch {
	case e == nil:
	case e.n == len(e.kept):
		e.dropped++
	default:
		e.kept[e.n] = v
		e.n++
	}
}

// All returns the events in order. The slice is valid until Reset.
func (e *Events) All() []Event { return e.kept[:e.n] }

// Dropped says how many events did not fit since the last Reset.
func (e *Events) Dropped() int { return e.dropped }

// Reset empties the buffer.
func (e *Events) Reset() { e.n, e.dropped = 0, 0 }
