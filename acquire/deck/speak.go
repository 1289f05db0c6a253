package deck

import (
	"bytes"
	"encoding/binary"
	"math"
	"strconv"

	"hawse/trial"
)

// The binary frame of the deck: AA 55, flags, a running number, the tension as a
// float and the count, both least significant byte first and most, CRC-16.
const (
	frameLength = 14
	frameOver   = 1 // bit of the flags: over range
)

var lineFeed = []byte("\r\n")

// say hands over what the box of an instrument sends now.
func (w *world) say(ins int, send func([]byte)) { w.speak(talker{ins: ins}, send) }

func (w *world) speak(k talker, send func([]byte)) {
	b := &w.box[w.s.wiring.box(k.ins)]
	b.over(w.t)
	w.line = w.message(w.line[:0], k)
	if b.fault == "over" || b.fault == "nan" {
		b.instead = w.special(b.instead[:0], b.fault)
		if isCell(k.ins) {
			b.instead = append(b.instead[:0], w.line...)
		}
	}
	b.say(w.t, w.line, send)
}

// message is what an instrument has to say, but for what its box makes of it.
func (w *world) message(dst []byte, k talker) []byte {
	switch {
	case k.ins == portLine:
		return appendLine(dst, w.count())
	case isCell(k.ins):
		return w.cellSays(dst, k.ins)
	case k.ins != portLoad:
		return w.sentence(dst, k.form)
	}
	shown := w.box[portLoad].shows(w.t, w.feels())
	box := w.loadBoxNow()
	switch w.s.wiring.kind {
	case boxOneLine:
		if _, over := box.digitsOf(shown); over {
			return w.restOfLine(append(append(dst, "OL"...), box.tail...))
		}
		return w.restOfLine(bytes.TrimSuffix(box.append(dst, shown), lineFeed))
	case boxFrames:
		v, over := box.number(shown)
		if over {
			v = w.s.box.unit.In(w.s.box.top)
		}
		return w.frame(dst, v, over)
	}
	return box.append(dst, shown)
}

// feels is what the load cell's box takes the tension for, before its own faults.
func (w *world) feels() trial.Force {
	return w.carries(w.s.wiring.sits()) + w.zero + w.s.Noise*trial.Force(w.noise.NormFloat64())
}

// loadBoxNow is the box as it is set now: a button may have changed its unit.
func (w *world) loadBoxNow() *loadBox {
	b := &w.box[portLoad]
	if b.fault != "unit" {
		return &w.s.box
	}
	box := w.s.box
	box.unit, _ = trial.ForceUnitNamed(b.word) // the pattern has seen to it
	if box.tail == " "+w.s.box.unit.Name {
		box.tail = " " + b.word
	}
	box.step = 0
	return &box
}

// shown is the number in the load cell's registers now, in its box's unit.
func (w *world) shown() float64 {
	b := &w.box[portLoad]
	v, over := w.loadBoxNow().number(b.shows(w.t, w.feels()))
	switch {
	case b.fault == "nan":
		return math.NaN()
	case over || b.fault == "over":
		return w.s.box.unit.In(w.s.box.top)
	}
	return v
}

// special is what a box says that is over range, or whose arithmetic has failed.
func (w *world) special(dst []byte, fault string) []byte {
	v, text := math.NaN(), "NaN"+w.s.box.tail
	if fault == "over" {
		v, text = w.s.box.unit.In(w.s.box.top), "OL"
	}
	switch w.s.wiring.kind {
	case boxFrames:
		return w.frame(dst, v, fault == "over")
	case boxOneLine:
		if fault == "over" {
			text += w.s.box.tail // the rest of the line stands where it stood
		}
		return w.restOfLine(append(dst, text...))
	}
	return append(append(dst, text...), "\r\n"...)
}

// restOfLine is what follows the tension in a line with several values.
func (w *world) restOfLine(dst []byte) []byte {
	dst = append(dst, " N "...)
	dst = appendNumber(dst, w.count(), true, 7, 0)
	dst = append(dst, " D "...)
	dst = strconv.AppendFloat(dst, float64(w.depth()), 'f', 1, 64)
	return append(dst, "\r\n"...)
}

func (w *world) frame(dst []byte, v float64, over bool) []byte {
	return w.frameOf(dst, v, over, w.count())
}

func (w *world) frameOf(dst []byte, v float64, over bool, count int64) []byte {
	at := len(dst)
	flags := byte(0)
	if over {
		flags = frameOver
	}
	w.framed++
	dst = append(dst, 0xAA, 0x55, flags, w.framed)
	dst = binary.LittleEndian.AppendUint32(dst, math.Float32bits(float32(v)))
	dst = binary.BigEndian.AppendUint32(dst, uint32(int32(count)))
	return append(dst, checksum(dst[at:])...)
}

// count is what the line box shows.
func (w *world) count() int64 {
	n := w.counter.at(w.x)
	if b := &w.box[portLine]; w.s.wiring.box(portLine) != portLine { // its faults are not its box's
		if b.over(w.t); b.fault == "stuck" {
			return b.held0
		}
	}
	if w.rises {
		w.risen += max(n-w.risenAt, w.risenAt-n)
		w.risenAt = n
		return w.risen
	}
	return n
}

// depth is the water's: what the scenario says, and the tide on top.
func (w *world) depth() trial.Length {
	g := &w.s.wiring
	if g.tide == 0 {
		return w.s.Depth
	}
	return w.s.Depth + g.tide*trial.Length(min(float64(w.t-w.t0)/float64(g.tideIn), 1))
}
