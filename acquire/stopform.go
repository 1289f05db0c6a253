package acquire

import (
	"bytes"
	"fmt"
	"time"

	"hawse/trial"
)

// Form is how an output port is spoken to. A form is pure; what it must know of
// a port that is open, the connection made by Wrap knows.
type Form interface {
	// Class says what a message is, so that an OPEN is never lost to a heartbeat.
	Class(msg []byte) Class
	// Wrap makes a port that was just opened speak the form. On an error it has
	// closed the port.
	Wrap(Conn) (Conn, error)
	// Lines says whether what arrives comes in lines; otherwise each Read is a
	// cut of its own.
	Lines() bool
}

// StopForm is one form of the stop output. There are three, one for each kind
// in [trial.StopOutput]. Of each it holds that the relay falls open when no
// message comes any more, whatever was the last one.
type StopForm interface {
	Form
	// Beat appends the message of a session's beat number count, from 1. Until
	// the relay has answered that it is closed (heard), the messages also ask it
	// to close, again and again: a session number closes it once only.
	Beat(dst []byte, session uint32, count uint64, heard bool) []byte
	// Open appends the message that opens the relay.
	Open(dst []byte, session uint32) []byte
	// Again is how often, after the first OPEN, it is said again while hauling is
	// not permitted; 0: never.
	Again() time.Duration
	// Count is how many messages a piece of what was sent holds.
	Count(sent []byte) int
}

// Class is what a message to the stop output is.
type Class uint8

// The classes of message.
const (
	ClassArm  Class = iota // asks the relay to close, or anything else that must go out
	ClassBeat              // the next one says the same
	ClassOpen              // goes out before anything newer
)

// NewStopForm returns the form a stop output has. An unknown kind is text.
func NewStopForm(o trial.StopOutput) StopForm {
	switch o.Kind {
	case trial.StopModbus:
		return modbusForm{at: o.Modbus, line: newModbusLine(o.Port.Baud)}
	case trial.StopPulse:
		return pulseForm{line: lineNamed(o.Line), high: o.Beat * 4 / 5}
	}
	return textForm{}
}

// textForm is heartbeat text: the words of [AppendArm], [AppendBeat] and
// [AppendOpen].
type textForm struct{}

func (textForm) Class(msg []byte) Class           { return textClass(msg) }
func (textForm) Wrap(c Conn) (Conn, error)        { return c, nil }
func (textForm) Lines() bool                      { return true }
func (textForm) Again() time.Duration             { return 0 }
func (textForm) Count(sent []byte) int            { return bytes.Count(sent, []byte{'\n'}) }
func (textForm) Open(dst []byte, s uint32) []byte { return AppendOpen(dst, s) }

func (textForm) Beat(dst []byte, session uint32, count uint64, heard bool) []byte {
	if !heard {
		dst = AppendArm(dst, session)
	}
	return AppendBeat(dst, session, count)
}

func textClass(msg []byte) Class {
	switch {
	case bytes.HasPrefix(msg, []byte(openWord)):
		return ClassOpen
	case bytes.HasPrefix(msg, []byte(beatWord)):
		return ClassBeat
	}
	return ClassArm
}

// Line is a modem line a program can set.
type Line uint8

// The two lines.
const (
	RTS Line = iota
	DTR
)

// String is the line's name.
func (l Line) String() string { return [...]string{"RTS", "DTR"}[l] }

func (l Line) other() Line { return DTR - l }

func lineNamed(name string) Line {
	if name == trial.LineDTR {
		return DTR
	}
	return RTS
}

// LineConn is a port whose modem lines can be set. After Close SetLine gives
// ErrClosed and does nothing, like Write.
type LineConn interface {
	Conn
	SetLine(l Line, up bool) error
}

// takeLines returns the connection with both its lines down, or closes it.
func takeLines(c Conn) (LineConn, error) {
	lc, ok := c.(LineConn)
	err := errNoLines
	if ok {
		if err = lc.SetLine(RTS, false); err == nil {
			err = lc.SetLine(DTR, false)
		}
	}
	if err != nil {
		_ = c.Close() // it is being given up; why is told
		return nil, fmt.Errorf("its lines RTS and DTR cannot be set (%w), so no relay can hang on one", err)
	}
	return lc, nil
}
