package safety

import (
	"fmt"
	"strings"
)

// step is one arrow in the life of the stop, or of the order.
type step struct{ from, when, to string }

// stopLife is every way the stop can change. Only what a director does leads
// back to "no stop".
var stopLife = []step{
	{"no stop", "a planned end, once armed", "planned end"},
	{"no stop", "a trip, once armed", "trip"},
	{"no stop", "anybody calls stop, at any time", "trip"},
	{"no stop", "a trip is taken over from a log that broke off", "trip"},
	{"planned end", "director: a next stage where that end does not hold", "no stop"},
	{"planned end", "director: next stage ease or stopped", "no stop"},
	{"planned end", "another planned end", "planned end"},
	{"planned end", "a trip, or anybody calls stop", "trip"},
	{"trip", "director acknowledges", "trip, acknowledged"},
	{"trip", "another trip", "trip"},
	{"trip", "director: next stage ease or stopped", "trip"},
	{"trip, acknowledged", "another trip, or the same after its alarm went down", "trip"},
	{"trip, acknowledged", "director: next stage ease or stopped", "trip, acknowledged"},
	{"trip, acknowledged", "director re-arms, causes gone by the limits of the stage entered", "no stop"},
}

// alarmLife is every way an alarm can change, after the ISA-18.2 / IEC 62682
// family. Shelving and out of service, which are there too, do not exist here.
var alarmLife = []step{
	{"normal", "its cause appears", "unacknowledged"},
	{"normal", "director takes the load cell off (faults of the load cell)", "suppressed by design"},
	{"unacknowledged", "director acknowledges", "acknowledged"},
	{"unacknowledged", "director acknowledges what only happens, such as a call", "normal"},
	{"unacknowledged", "its cause has been gone for its time to stay up", "returned, unacknowledged"},
	{"unacknowledged", "the stage entered does not judge it", "returned, unacknowledged"},
	{"acknowledged", "its cause comes from its warning to its limit", "unacknowledged"},
	{"acknowledged", "its cause has been gone for its time to stay up", "normal"},
	{"acknowledged", "the stage entered does not judge it", "normal"},
	{"returned, unacknowledged", "director acknowledges", "normal"},
	{"returned, unacknowledged", "its cause appears again", "unacknowledged"},
	{"suppressed by design", "the load cell is in again and zeroed", "normal"},
}

// orderLife is every way the order on the screen can change.
var orderLife = []step{
	{"no stop in force", "a stop is set", "STOP"},
	{"no stop in force", "a stop is set by tension rising with no haul", "EASE"},
	{"no stop in force", "a stop is taken over that asked for EASE", "EASE"},
	{"no stop in force", "a stop is taken over that was abandoned", "ABANDON"},
	{"STOP", "tension at its stop limit 3 s after the stop, or later", "EASE"},
	{"STOP", "a tension trip after a stop for something else", "EASE"},
	{"STOP", "tension rising with no haul", "EASE"},
	{"EASE", "tension under 20 % of the stop limit for 2 s", "STOP"},
	{"any", "director: abandon", "ABANDON"},
	{"any", "the stop is lifted", "no stop in force"},
}

// life is the life of an alarm, of the stop and of the order as a drawing in
// text, made from the tables that the tests walk through.
func life() string { return draw(alarmLife) + "\n" + draw(stopLife) + "\n" + draw(orderLife) }

func draw(steps []step) string {
	width := 0
	for _, s := range steps {
		width = max(width, len(s.when))
	}
	var b strings.Builder
	from := ""
	for _, s := range steps {
		if s.from != from {
			from = s.from
			fmt.Fprintf(&b, "%s\n", from)
		}
		fmt.Fprintf(&b, "  |-- %s %s> %s\n", s.when, strings.Repeat("-", width-len(s.when)+2), s.to)
	}
	return b.String()
}
