package acquire

import (
	"strconv"

	"hawse/trial"
)

// StopWord is one thing the relay said.
type StopWord struct {
	Frame   []byte // as received, for people; valid until emit returns
	Good    bool   // it is a whole word of the relay's
	State   bool   // Good, and it tells how the relay stands: Closed, Session and Reason
	Closed  bool
	Session uint32 // of the last arm, as far as the relay has told it; 0: not
	Reason  string // why it is open, one short word; empty when closed
	Refused string // Good, and it says that it does not do what it was told: which, and why
}

// StopDecoder makes words of the bytes that come from the stop output, cut
// anyhow. It is pure. Garbage costs itself and nothing that follows.
type StopDecoder struct {
	kind    string
	text    Framer
	onLine  func(frame []byte, bad string)
	scan    scan
	onFrame func(frame []byte, good bool)
	session uint32 // Modbus: as last read back
	emit    func(StopWord)
}

// NewStopDecoder returns a decoder for an output of this kind, [trial.StopText],
// [trial.StopModbus] or [trial.StopPulse]. An output with a pulse train says
// nothing: what comes there is noise.
func NewStopDecoder(kind string) *StopDecoder {
	d := &StopDecoder{kind: kind, scan: answers}
	d.onLine, d.onFrame = d.line, d.frame
	return d
}

// Feed takes the next bytes and hands out each word they complete, in order.
func (d *StopDecoder) Feed(raw []byte, emit func(StopWord)) {
	d.emit = emit
	if d.kind == trial.StopModbus {
		d.scan.feed(raw, d.onFrame)
	} else {
		d.text.Feed(raw, d.onLine)
	}
	d.emit = nil
}

// Reset forgets half a word. It belongs wherever the stream is broken.
func (d *StopDecoder) Reset() {
	d.text.Reset()
	d.scan.reset()
	d.session = 0
}

func (d *StopDecoder) line(frame []byte, bad string) {
	w := StopWord{Frame: frame}
	if bad == "" && d.kind != trial.StopPulse {
		w.Closed, w.Session, w.Reason, w.Good = ParseRelay(frame)
		w.State = w.Good
	}
	d.emit(w)
}

// Why a Modbus relay is open; it has no words of its own for it.
const (
	reasonCoilOff = "coil-off"
	reasonToldOff = "told-off"
)

func (d *StopDecoder) frame(p []byte, good bool) {
	w := StopWord{Frame: p, Good: good}
	if !good {
		d.emit(w)
		return
	}
	switch fn := p[1]; {
	case fn&fnRefused != 0:
		w.Refused = "function " + strconv.Itoa(int(fn&^fnRefused)) + " refused, code " + strconv.Itoa(int(p[2]))
	case fn == fnReadRegisters:
		d.session = uint32(p[3])<<24 | uint32(p[4])<<16 | uint32(p[5])<<8 | uint32(p[6])
	case fn == fnReadCoils:
		w.State, w.Closed, w.Session = true, p[3]&1 != 0, d.session
		if !w.Closed {
			w.Reason = reasonCoilOff
		}
	case fn == fnWriteCoil && p[4] == 0:
		w.State, w.Session, w.Reason = true, d.session, reasonToldOff
	}
	d.emit(w)
}

// answerMost is the longest answer to a question asked here.
const answerMost = 9

// answerLen is how long an answer that begins like this is: 0 for none, more
// than len(p) while that is open.
func answerLen(p []byte) int {
	if len(p) < 3 {
		return answerMost
	}
	switch {
	case p[0] == 0 || p[0] > 247:
		return 0
	case p[1] == fnReadCoils && p[2] == 1:
		return 6
	case p[1] == fnReadRegisters && p[2] == 4:
		return 9
	case p[1] == fnWriteCoil, p[1] == fnWriteRegister, p[1] == fnWriteRegisters:
		return 8
	case p[1] == fnReadCoils|fnRefused, p[1] == fnReadRegisters|fnRefused, p[1] == fnWriteCoil|fnRefused,
		p[1] == fnWriteRegister|fnRefused, p[1] == fnWriteRegisters|fnRefused:
		return 5
	}
	return 0
}
