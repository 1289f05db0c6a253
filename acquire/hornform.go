package acquire

import (
	"bytes"
	"sync"
	"time"

	"hawse/trial"
)

// HornForm is one form of the output to horn and lamp. A lost message is made
// good by the next, so it is never an OPEN and nothing waits for it.
type HornForm interface {
	Form
	// Signal appends the message that has them sound and shine so.
	Signal(dst []byte, horn, lamp bool) []byte
	// Every is how often it is said again unchanged.
	Every() time.Duration
}

// NewHornForm returns the form of a horn. An unknown kind is text.
func NewHornForm(h *trial.Horn) HornForm {
	switch h.Kind {
	case trial.StopModbus:
		return modbusHorn{at: *h, line: newModbusLine(h.Port.Baud)}
	case trial.StopLevel, trial.StopPulse:
		return lineHorn{horn: lineNamed(h.Line), pulse: h.Kind == trial.StopPulse}
	}
	return textHorn{}
}

const (
	hornEvery = time.Second
	hornHalf  = 50 * time.Millisecond // half a period of its pulses: 10 Hz
)

// textHorn says, closed like the words of the stop output,
//
//	SIGNAL <horn> <lamp>
//
// each 1 or 0, at each change and once a second. A box that hears nothing for
// three seconds should fall silent.
type textHorn struct{}

func (textHorn) Class([]byte) Class        { return ClassArm }
func (textHorn) Wrap(c Conn) (Conn, error) { return c, nil }
func (textHorn) Lines() bool               { return true }
func (textHorn) Every() time.Duration      { return hornEvery }

func (textHorn) Signal(dst []byte, horn, lamp bool) []byte { return appendSignal(dst, horn, lamp) }

const signalWord = "SIGNAL "

func appendSignal(dst []byte, horn, lamp bool) []byte {
	at := len(dst)
	dst = append(append(dst, signalWord...), bit(horn), ' ', bit(lamp))
	return sealWord(dst, at)
}

func bit(on bool) byte {
	if on {
		return '1'
	}
	return '0'
}

// modbusHorn sets two coils of a Modbus unit, at each change and once a second.
type modbusHorn struct {
	at   trial.Horn
	line modbusLine
}

func (modbusHorn) Class([]byte) Class          { return ClassArm }
func (h modbusHorn) Wrap(c Conn) (Conn, error) { return newModbusConn(c, h.line), nil }
func (modbusHorn) Lines() bool                 { return false }
func (modbusHorn) Every() time.Duration        { return hornEvery }

func (h modbusHorn) Signal(dst []byte, horn, lamp bool) []byte {
	for _, c := range []struct {
		at int
		on bool
	}{{h.at.Coil, horn}, {h.at.LampCoil, lamp}} {
		value := uint16(coilOff)
		if c.on {
			value = coilOn
		}
		dst = appendShort(dst, byte(h.at.Unit), fnWriteCoil, c.at, value)
	}
	return dst
}

// lineHorn has the horn on one modem line and the lamp on the other, as a level
// or as pulses. As a level both stay as they are when the program hangs; that
// is why the stop output is none. The messages are the words of [textHorn].
type lineHorn struct {
	horn  Line
	pulse bool
}

func (lineHorn) Class([]byte) Class { return ClassArm }
func (lineHorn) Lines() bool        { return true }

func (h lineHorn) Every() time.Duration {
	if h.pulse {
		return hornHalf
	}
	return hornEvery
}

func (lineHorn) Signal(dst []byte, horn, lamp bool) []byte { return appendSignal(dst, horn, lamp) }

func (h lineHorn) Wrap(c Conn) (Conn, error) {
	lc, err := takeLines(c)
	if err != nil {
		return nil, err
	}
	w := &lineHornConn{LineConn: lc, form: h}
	w.fall = time.AfterFunc(time.Hour, w.lower)
	w.fall.Stop()
	return w, nil
}

// lineHornConn is a port whose Write sets its lines.
type lineHornConn struct {
	LineConn
	form lineHorn
	fall *time.Timer

	mu  sync.Mutex
	low bool // of a pulse train: the next message belongs to the low half
}

// Write obeys the last of the words it is given.
func (w *lineHornConn) Write(words []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	horn, lamp := false, false
	if at := bytes.LastIndex(words, []byte(signalWord)); at >= 0 {
		now := words[at+len(signalWord):]
		horn = len(now) > 2 && now[0] == '1'
		lamp = len(now) > 2 && now[2] == '1'
	}
	if w.form.pulse {
		high := !w.low
		w.low = high && (horn || lamp)
		horn, lamp = horn && high, lamp && high
		if horn || lamp {
			w.fall.Reset(hornHalf * 4 / 5)
		}
	}
	if err := w.set(horn, lamp); err != nil {
		return 0, err
	}
	return len(words), nil
}

func (w *lineHornConn) set(horn, lamp bool) error {
	if err := w.SetLine(w.form.horn, horn); err != nil {
		return err
	}
	return w.SetLine(w.form.horn.other(), lamp)
}

// lower ends a pulse in time whatever the messages do.
func (w *lineHornConn) lower() {
	w.mu.Lock()
	defer w.mu.Unlock()
	_ = w.set(false, false) // the next message tells of a port that is gone
}

// Close implements [Conn]. The port lowers its lines as it closes.
func (w *lineHornConn) Close() error {
	w.fall.Stop()
	return w.LineConn.Close()
}
