package safety

import "hawse/trial"

// Source is where an input comes from: a port, or a part of the program whose
// loss the guard must know.
type Source uint8

const (
	Load        Source = iota // the load cell's port
	LineEncoder               // the line encoder's port
	StopOut                   // the port to the stop relay
	Record                    // the record on its way to the disk
	Screen                    // the screen the director works from
	Judge                     // the part that explains the pull
	Horn                      // the port to horn and lamp
	WallClock                 // the computer's clock: down once means that it stepped
	NumSources
)

// link is the last word about a source.
type link uint8

const (
	linkUnsaid link = iota
	linkUp
	linkDown
)

// Line is one reading of the line, as derived from a valid encoder frame. A
// number that is not finite counts as unknown, whatever its flag says.
type Line struct {
	X       trial.Length // hauled since the rode out was said
	RodeOut trial.Length
	Scope   float64
	HasX    bool // X and RodeOut are known
	HasS    bool // Scope is known
}
