package deck

import (
	"math"
	"strconv"

	"hawse/trial"
)

// A further load cell speaks as the first one does: lines, or answers in text, or
// frames on a port of its own, and as Modbus units on the line that is there.

// cellUnit is the Modbus address of further load cell i.
func cellUnit(i int) int { return lineUnit + 1 + i }

// cellsBaud is the least speed of a two-wire line with more units than two, bits/s:
// three of them would fill one of 9600.
const cellsBaud = 19200

// cellHz is how often a further load cell speaks, or is asked: on a line with other
// units half as often as the first.
func (s *Scenario) cellHz() float64 {
	if s.wiring.kind == boxModbus {
		return max(s.LoadHz/2, 1)
	}
	return s.LoadHz
}

// cellBox is the box of every further load cell; nothing changes it.
var cellBox = func() *loadBox {
	b := &loadBox{unit: trial.ForceUnit{Name: "kgf", N: float64(kgf)}, top: 1000 * kgf}
	_ = b.picture(defaultLoadLine) // a good one
	return b
}()

// cellShows is what the box of a further load cell shows. What hangs on a hook hangs
// on the first.
func (w *world) cellShows(i int) trial.Force {
	felt := trial.Force(0)
	if w.cell == "rode" {
		felt = w.carries(w.s.wiring.cells[i])
	}
	b := &w.box[cellPorts[i]]
	felt += w.zeros[i].now(w.t) + w.s.Noise*trial.Force(b.rng.NormFloat64())
	return b.shows(w.t, felt)
}

// cellSays is the message of a further load cell; that of one beyond its range, or
// without a number, where it has that fault.
func (w *world) cellSays(dst []byte, ins int) []byte {
	i := w.s.wiring.cellOf(ins)
	if i < 0 {
		return dst
	}
	shown := w.cellShows(i)
	if w.s.wiring.kind == boxFrames {
		v, over := w.cellNumber(ins, shown)
		return w.frameOf(dst, v, over, 0)
	}
	switch w.box[ins].fault {
	case "over":
		return append(dst, "OL\r\n"...)
	case "nan":
		return append(append(append(dst, "NaN"...), cellBox.tail...), "\r\n"...)
	}
	return cellBox.append(dst, shown)
}

// cellNumber is what such a box shows as a number, in its unit.
func (w *world) cellNumber(ins int, shown trial.Force) (v float64, over bool) {
	box := cellBox
	if w.box[ins].fault == "nan" {
		return math.NaN(), false
	}
	if v, over = box.number(shown); over || w.box[ins].fault == "over" {
		return box.unit.In(box.top), true
	}
	return v, false
}

// ofCell is what the trial file says of further load cell i.
func (s *Scenario) ofCell(e *edit, i int) {
	w, name := &s.wiring, portNames[cellPorts[i]]
	set := func(table string, kvs ...[2]string) {
		for _, kv := range kvs {
			e.set(table, kv[0], kv[1])
		}
	}
	text := strconv.Quote
	over := `["OL"]`
	if w.kind == boxModbus || w.kind == boxFrames {
		over = "[]"
	}
	set(name, [][2]string{{"filter", `"none"`}, {"serial", text("invented-0" + strconv.Itoa(i+2))},
		{"rate", text(strconv.FormatFloat(s.cellHz(), 'g', -1, 64) + " Hz")}, {"step", `"0.1 kgf"`}, {"over", over}, {"range", `"1000 kgf"`}, {"unit", `"kgf"`}}...)
	if w.kind != boxModbus {
		set(name, [][2]string{{"frame", `"8N1"`}, {"baud", "9600"}, {"port", text("./deck/" + name)}}...)
	}
	switch w.kind {
	case boxModbus:
		set(name, [2]string{"kind", text(boxModbus)}, [2]string{"on", text("load")})
		s.ofUnit(e, name, cellUnit(i), cellBox)
	case boxFrames:
		set(name, [2]string{"kind", text(boxFrames)})
		ofFrames(e, name)
	case boxAsked:
		// Of an answer whose head is cut off the rest must not pass for a number.
		set(name, [2]string{"kind", text(boxAsked)}, [2]string{"line", `'^(?P<value>[+-]\d{4,}\.\d) (?P<unit>kgf)$'`})
		e.set(name+".asked", "ask", text(askLoad))
	default:
		e.set(name, "line", `'^(?P<value>[+-]?\d+(\.\d+)?) (?P<unit>kgf)$'`)
	}
	set(name+".calibration", [][2]string{{"source", `"invented: box taken at its word"`}, {"coefficients", "[0.0, 1.0]"}, {"unit", `"kgf"`}}...)
}

// ofUnit is where the number of a load cell's Modbus unit stands.
func (s *Scenario) ofUnit(e *edit, table string, address int, b *loadBox) {
	n := s.wiring.regs.Number
	for _, kv := range [...][2]string{{"order", strconv.Quote(n.Order)}, {"holds", strconv.Quote(n.Holds)}, {"register", strconv.Itoa(loadRegister)},
		{"function", strconv.Itoa(s.wiring.regs.Function)}, {"address", strconv.Itoa(address)}} {
		e.set(table+".modbus", kv[0], kv[1])
	}
	if n.Holds != "float32" {
		e.set(table+".modbus", "factor", strconv.FormatFloat(1/b.perCount(), 'g', -1, 64))
	}
}

// ofFrames is how the frames of a load cell are made.
func ofFrames(e *edit, table string) {
	for _, kv := range [...][2]string{{"flags_over", strconv.Itoa(frameOver)}, {"flags_at", "2"}, {"order", `"DCBA"`}, {"holds", `"float32"`},
		{"at", "4"}, {"checksum", `"crc16"`}, {"length", strconv.Itoa(frameLength)}, {"sync", `"AA 55"`}} {
		e.set(table+".frames", kv[0], kv[1])
	}
}
