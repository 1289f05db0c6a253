package deck

import (
	"bytes"
	"encoding/binary"
	"math"
	"time"

	"hawse/trial"
)

// What the boxes are asked in text.
const (
	askLoad = "W\r"
	askLine = "C\r"
)

// question is one that a box has heard and will answer.
type question struct {
	at  int64 // when the answer leaves
	ins int
	raw []byte
}

// hearing gathers a port's questions from pieces of any size.
type listener struct {
	buf []byte
	at  int64
}

// ask takes bytes that reach the boxes of a port at w.t, and returns the questions
// in them. echo says that the adapter hears itself.
func (w *world) ask(port int, raw []byte) (qs []question, echo bool) {
	l := &w.listens[port]
	if len(l.buf) > 0 && w.t-l.at > questionPause {
		l.buf = l.buf[:0]
	}
	l.at = w.t
	l.buf = append(l.buf, raw...)
	p := l.buf
	for len(p) > 0 {
		ins, n := w.questionAt(port, p)
		if n > len(p) {
			break
		}
		if ins >= 0 && w.unplugged[port] == 0 && w.mute[port] == 0 {
			b := &w.box[ins]
			b.over(w.t)
			late := int64(0)
			if b.fault == "late" {
				late = int64(b.value * 1e9)
			}
			qs = append(qs, question{w.t + late + int64(w.s.wiring.latency) + w.onTheWire(n+answerLength), ins, bytes.Clone(p[:n])})
		}
		p = p[n:]
	}
	l.buf = l.buf[:copy(l.buf, p)]
	for ins := range w.box {
		b := &w.box[ins]
		echo = echo || w.s.wiring.host(ins) == port && b.fault == "echo" && w.t < b.until
	}
	return qs, echo
}

// answerLength is about how many characters an answer has, for its time on the
// wire, which a pseudo-terminal does not take.
const answerLength = 10

// onTheWire is how long so many characters take at the boxes' speed, ns.
func (w *world) onTheWire(chars int) int64 {
	const bits = 11 // start, eight data, parity or a second stop, stop
	return int64(chars) * bits * int64(time.Second) / int64(w.s.wiring.bitsPerSecond())
}

// questionAt is whose question p begins with and how long it is; one byte of
// nobody's if it begins with none.
func (w *world) questionAt(port int, p []byte) (ins, n int) {
	if w.s.wiring.kind == boxModbus {
		n := questionLen(p)
		switch {
		case n > len(p):
			return -1, n
		case n == 0 || !sound(p[:n]):
			return -1, 1
		case p[0] == loadUnit:
			return portLoad, n
		case p[0] == lineUnit:
			return portLine, n
		}
		for i := range w.s.wiring.cells {
			if int(p[0]) == cellUnit(i) {
				return cellPorts[i], n
			}
		}
		return -1, n
	}
	ask := askLoad
	if port == portLine {
		ask = askLine
	}
	k := min(len(p), len(ask))
	if string(p[:k]) != ask[:k] {
		return -1, 1
	}
	return port, len(ask)
}

// answer hands over what a box answers now.
func (w *world) answer(q question, send func([]byte)) {
	if w.s.wiring.kind != boxModbus {
		w.say(q.ins, send)
		return
	}
	w.line = w.answerModbus(w.line[:0], q)
	w.box[q.ins].say(w.t, w.line, send)
}

// answerModbus reads the registers a question asks for. A load cell's unit has
// its number under the function the scenario says; the line counter's its count.
func (w *world) answerModbus(dst []byte, q question) []byte {
	first, count := word(q.raw[2:]), word(q.raw[4:])
	function, register, number := lineFunction, lineRegister, w.numberOf(q.ins)
	if q.ins != portLine {
		function, register = w.s.wiring.regs.Function, loadRegister
	}
	b := &w.box[q.ins]
	b.over(w.t)
	code := byte(0)
	switch {
	case b.fault == "refuse":
		code = byte(b.value)
	case int(q.raw[1]) != function:
		code = badFunction
	case count < 1 || count > trial.MaxRegisters:
		code = badValue
	case first < register || first+count > register+len(number)/2:
		code = badAddress
	}
	at := len(dst)
	if code != 0 {
		dst = append(dst, q.raw[0], q.raw[1]|refused, code)
	} else {
		dst = append(dst, q.raw[0], q.raw[1], byte(2*count))
		dst = append(dst, number[2*(first-register):2*(first-register+count)]...)
	}
	return append(dst, checksum(dst[at:])...)
}

// numberOf is an instrument's number as its registers hold it.
func (w *world) numberOf(ins int) []byte {
	if ins == portLine {
		return binary.BigEndian.AppendUint32(nil, uint32(int32(w.count())))
	}
	var v float64
	perCount := w.s.box.perCount()
	if i := w.s.wiring.cellOf(ins); i >= 0 {
		v, _ = w.cellNumber(ins, w.cellShows(i))
		perCount = cellBox.perCount()
	} else {
		v = w.shown()
	}
	n := w.s.wiring.regs.Number
	if n.Holds != "float32" {
		v *= perCount
		least, most := -math.Pow(2, float64(8*n.Bytes()-1)), math.Pow(2, float64(8*n.Bytes()-1))-1
		if n.Holds[0] == 'u' {
			least, most = 0, math.Pow(2, float64(8*n.Bytes()))-1
		}
		v = min(max(math.Round(v), least), most)
	}
	var p []byte
	switch {
	case n.Holds == "float32":
		p = binary.BigEndian.AppendUint32(nil, math.Float32bits(float32(v)))
	case n.Bytes() == 4:
		p = binary.BigEndian.AppendUint32(nil, uint32(int64(v)))
	default:
		p = binary.BigEndian.AppendUint16(nil, uint16(int64(v)))
	}
	return inOrder(p, n.Order)
}

// inOrder puts bytes, the most significant first, in the order of a word in which
// A stands for the most significant.
func inOrder(p []byte, order string) []byte {
	out := make([]byte, len(p))
	for i := range out {
		out[i] = p[order[i]-'A']
	}
	return out
}
