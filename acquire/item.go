package acquire

import (
	"errors"

	"hawse/trial"
)

// ItemKind tells what an [Item] holds.
type ItemKind uint8

// The kinds of item.
const (
	Data  ItemKind = iota // Cut: bytes that arrived
	State                 // State: the port came, went, or does not answer
	Sent                  // Raw: bytes that went out
)

// The states of a port.
const (
	StateOpen    = "open"    // Name; Gap after a loss
	StateLost    = "lost"    // Reason; half a line comes as a cut before it
	StateRetry   = "retry"   // Reason it cannot be opened; said again only when the reason changes
	StateStalled = "stalled" // Reason: a read or write does not return
	StateResumed = "resumed" // it returned
	StateClosed  = "closed"  // by ourselves
)

// Item is what an owner hands over. Of one connection, open comes first, lost or
// closed last, and everything that arrived in between in order. Data and Sent
// come from two goroutines: against each other they may be swapped by the time
// a goroutine needs to wake.
type Item struct {
	Src    string
	Kind   ItemKind
	Cut    Cut   // Data
	T      int64 // Data: Cut.T; State: when it was seen; Sent: when Write returned
	State  string
	Name   string // of the port, as in the trial file
	Reason string // visible text
	Gap    int64  // ns without the port, on open after a loss
	Raw    []byte // Sent
}

// Conn is one open port.
type Conn interface {
	// Read waits about 100 ms for bytes; 0, nil means none came. After Close it
	// gives ErrClosed, after an unplug ErrUnplugged, wrapped or not.
	Read(p []byte) (int, error)
	// Write returns when all is handed to the driver. It may block.
	Write(p []byte) (int, error)
	// Close returns within about a second, also while a Read or Write hangs.
	Close() error
}

// Dialer opens a port. A *PortError says why it cannot.
type Dialer func(name string, p trial.Port) (Conn, error)

// What ends a connection, told apart.
var (
	ErrClosed    = errors.New("port closed by this program")
	ErrUnplugged = errors.New("unplugged")
)

// Fault is the kind of reason why a port cannot be opened.
type Fault uint8

// The faults.
const (
	Failed  Fault = iota // anything else
	Missing              // no such port, or nothing behind it
	Busy                 // another program has it
	Denied               // no permission
	NotPort              // something else than a serial port
	BadMode              // baud or frame cannot be set
)

// PortError says why a port cannot be opened, and what to do.
type PortError struct {
	Name  string
	Fault Fault
	What  string // NotPort: what it is instead; BadMode: what is wrong
	Err   error
}

// Error is one line for the crew; text from outside in it is made visible.
func (e *PortError) Error() string {
	name := Visible([]byte(e.Name))
	if name == "" {
		name = `""`
	}
	switch e.Fault {
	case Missing:
		return missingText(name)
	case Busy:
		return "port " + name + " is in use by another program; close that program, or correct port= in the trial file"
	case Denied:
		return "no permission to open port " + name +
			"; add this user to the group that owns it (often dialout) and log in again"
	case NotPort:
		what := ""
		if e.What != "" {
			what = " but " + e.What
		}
		return name + " is not a serial port" + what + "; correct port= in the trial file"
	case BadMode:
		return "port " + name + ": " + e.What + "; correct baud= or frame= in the trial file"
	}
	why := "unknown fault"
	if e.Err != nil {
		why = Visible([]byte(e.Err.Error()))
	}
	return "port " + name + " cannot be opened: " + why + "; plug it in again or correct port= in the trial file"
}

// Unwrap is the system's error.
func (e *PortError) Unwrap() error { return e.Err }

func missingText(names string) string {
	return "no such port " + names + "; plug it in or correct port= in the trial file"
}
