package trial

import "fmt"

// Phase is what the anchor is doing, as read from tension against line hauled.
// It is a reading, not an order: no stop depends on it.
type Phase uint8

// The phases. None is called as a [Stage] or an order is. Their order and words
// stand in records and never change.
const (
	Unclear        Phase = iota // no rule speaks, or what a rule needs is unknown
	Slack                       // tension under what the bare rode gives
	TakeUp                      // curve and stretch come out, the anchor still
	Embedding                   // tension rises as line is hauled
	Plateau                     // tension level, well above a dead weight
	SawTooth                    // grabs slowly, slips at once, again and again
	Decline                     // falls no faster than the falling scope explains
	Relaxing                    // falls with the winch standing
	WeakEngagement              // no more than a moment above what a weight gives, or a level little above it
	Breakout                    // has lost the bottom suddenly
	Resetting                   // climbs again after a breakout
	Reset                       // has climbed to most of the peak again
	Dragging                    // no more tension than bare rode or dead weight give
	NotSet                      // the same, and it never held
	NotMoving                   // tension rises as the rode's own stiffness has it
	Snagged                     // the same, after it had travelled
	ShortStay                   // recovery: little line left out
	UpAndDown                   // recovery: the line vertical
	BreakingOut                 // recovery: loaded, until it comes out
	Aweigh                      // recovery: free of the bottom
	NumPhases                   // how many there are; not a phase
)

var phaseNames = [NumPhases]string{
	"unclear", "slack", "take-up", "embedding", "plateau", "saw-tooth", "decline", "relaxing", "weak engagement", "breakout",
	"re-setting", "re-set", "dragging", "not set", "anchor not moving", "snag", "short stay", "up and down", "breaking out", "aweigh",
}

// String is the phase in the crew's words.
func (p Phase) String() string {
	if p >= NumPhases {
		return fmt.Sprintf("phase(%d)", uint8(p))
	}
	return phaseNames[p]
}

// Cause is what let the tension fall. Undecided is a result.
type Cause uint8

// The causes.
const (
	Undecided Cause = iota
	AnchorMoved
	VesselMoved
)

var causeNames = [...]string{"undecided", "anchor", "vessel"}

// String is the cause in one word.
func (c Cause) String() string {
	if int(c) >= len(causeNames) {
		return fmt.Sprintf("cause(%d)", uint8(c))
	}
	return causeNames[c]
}

// EventKind is what happened at one moment of a pull.
type EventKind uint8

// The kinds of event.
const (
	EventBreakout EventKind = iota // the anchor lost the bottom
	EventReset                     // it has climbed to most of the peak again
	EventNotSet                    // it has been dragged, and never held before
	EventAweigh                    // it came off the bottom in recovery; From is what that took
	EventSawTooth                  // a saw-tooth begins
	// EventFall is a fall by half that does not count as a breakout: tension came
	// back as no anchor digs in, or nobody can say. One with the T of a breakout
	// already said takes that back; one with the T of an earlier fall betters its
	// cause.
	EventFall
	numEventKinds
)

var eventNames = [numEventKinds]string{"breakout", "re-set", "not set", "aweigh", "saw-tooth", "fall"}

// String is the kind in the crew's words.
func (k EventKind) String() string {
	if k >= numEventKinds {
		return fmt.Sprintf("event(%d)", uint8(k))
	}
	return eventNames[k]
}

// PhaseEvent is one moment of a pull. It is said once it is sure, with the time
// and the line it is dated back to.
type PhaseEvent struct {
	Kind     EventKind
	T        int64  // ns, of the event
	X        Length // m hauled there
	SaidT    int64  // ns, when it became sure
	SaidX    Length
	From, To Force // of a fall: from what to the lowest so far; of a re-set: the peak and what was reached
	Cause    Cause // as far as it was known when said; the segment has the last word
}

// Segment is a stretch of a series with one phase, dated back to where it began.
type Segment struct {
	Phase  Phase
	T0, T1 int64  // ns
	X0, X1 Length // m hauled
	Cause  Cause  // of a breakout, and of the unclear stretch of a fall that was none
	Fell   bool   // tension fell by half in it
	// Of a saw-tooth: its mean wave in metres hauled, and its mean swing as a
	// share of the mean tension.
	Wave  Length
	Swing float64
	// Where it began, m; 0 unknown. For the burial at up and down.
	RodeOut, Height Length
	Merged          bool // others were merged into it, see [PhaseDetector.Segments]
}
