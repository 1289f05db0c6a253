package safety

import "fmt"

func word[T ~uint8](names []string, v T, what string) string {
	if int(v) < len(names) {
		return names[v]
	}
	return fmt.Sprintf("%s(%d)", what, v)
}

var orderNames = []string{"no stop in force", "STOP", "EASE", "ABANDON"}

// String is the order as the screen says it. None is "no stop in force", which
// is not a word about the deck.
func (o Order) String() string { return word(orderNames, o, "order") }

var stopKindNames = []string{"no stop", "planned end", "trip"}

// String is the kind of stop in plain words.
func (k StopKind) String() string { return word(stopKindNames, k, "stop") }

var alarmStateNames = []string{"normal", "unacknowledged", "acknowledged", "returned, unacknowledged", "suppressed by design"}

// String is the state in the words of the alarm standards.
func (a AlarmState) String() string { return word(alarmStateNames, a, "state") }

var priorityNames = []string{"none", "caution", "warning", "alarm", "emergency"}

// String is the priority's name.
func (p Priority) String() string { return word(priorityNames, p, "priority") }

var whoNames = []string{"nobody", "director", "winch operator", "logger", "watcher", "program"}

// String is the seat's name.
func (w Who) String() string { return word(whoNames, w, "seat") }

var sourceNames = []string{"load", "line", "stop output", "record", "screen", "judge", "horn", "clock"}

// String is the source's name.
func (s Source) String() string { return word(sourceNames, s, "source") }

var actNames = []string{"none", "stop", "arm", "next stage", "acknowledge", "re-arm", "abandon", "end", "terminate",
	"check", "cell off", "cell back", "clear", "lower a limit"}

// String is the act's name.
func (a ActKind) String() string { return word(actNames, a, "act") }

var whatNames = []string{"none", "alarm-up", "alarm-less", "alarm-down", "alarm-acked", "end-reached", "stop-set", "stop-more",
	"stop-lifted", "order", "stage", "permit", "armed", "ending", "check", "cell", "clear", "stop-top", "limit", "used"}

// String is the event's word in the record.
func (w What) String() string { return word(whatNames, w, "event") }

var checkNames = []string{"zero", "known weight", "horn and lamp", "slow cell accepted", "limits read out", "winch ready", "logger ready",
	"director ready", "ratings", "clock", "disk", "load cell", "line encoder", "stop output", "other load cells"}

// String is the check's name.
func (c Check) String() string { return word(checkNames, c, "check") }

var checkStateNames = []string{"to do", "done", "failed", "waived"}

// String is how the check stands, in a word.
func (c CheckState) String() string { return word(checkStateNames, c, "state") }

var cellNames = []string{"in the rode", "off", "back, to be zeroed"}

// String says where the load cell is.
func (c CellState) String() string { return word(cellNames, c, "cell") }

var limitNames = []string{"none", "tension_warn", "tension_stop", "haul", "scope_min"}

// String is the limit as the trial file names it.
func (l LimitKey) String() string { return word(limitNames, l, "limit") }

// ParseLimitKey reads a limit as the trial file names it.
func ParseLimitKey(s string) (LimitKey, bool) {
	for i, name := range limitNames {
		if i > 0 && name == s {
			return LimitKey(i), true
		}
	}
	return NoLimit, false
}
