package trial

import (
	"fmt"
	"strings"
	"time"
)

// The kinds of stop output, and of horn.
const (
	StopText   = "text"   // words on the port's data line
	StopModbus = "modbus" // Modbus RTU: coils and registers
	StopPulse  = "pulse"  // a pulse train on RTS or DTR
	StopLevel  = "level"  // a level on RTS or DTR: the horn's only
)

// The modem lines a pulse or a level may be on.
const (
	LineRTS = "rts"
	LineDTR = "dtr"
)

// StopOutput is the port to the relay that takes haul away from the winch.
type StopOutput struct {
	Port   Port
	Kind   string        // [StopText], [StopModbus] or [StopPulse]
	Beat   time.Duration // between two heartbeats, default 50 ms
	Window time.Duration // the relay opens after this long without one, default 300 ms
	Modbus Modbus        // of StopModbus
	Line   string        // of StopPulse: [LineRTS] or [LineDTR]
}

// Answers says whether the relay tells if it is open: one on a pulse train has
// no way to.
func (o StopOutput) Answers() bool { return o.Kind != StopPulse }

// Modbus is where in a Modbus unit the stop relay is reached. Addresses are
// those on the wire, from 0.
type Modbus struct {
	Unit    int // 1 to 247
	Coil    int // on: close, once and with a fresh session; off: open. Reads back what the relay is
	Session int // first of two holding registers: the session number, high word first
	Beat    int // holding register that takes the heartbeats
}

// DefaultModbus is where the relay is looked for if the file does not say.
var DefaultModbus = Modbus{Unit: 1, Coil: 0, Session: 0, Beat: 2}

// Horn is the second output: a horn that sounds for an alarm nobody has seen,
// and a lamp that is lit while a stop is in force.
type Horn struct {
	Port Port
	Kind string // also StopLevel: unlike the relay it may be a plain level
	// Of StopModbus: the unit and the two coils.
	Unit, Coil, LampCoil int
	// Of StopLevel and StopPulse: the line the horn is on; the lamp is on the other.
	Line string
}

func (h *Horn) names() []string {
	if h == nil {
		return nil
	}
	return h.Port.Names
}

// The stop output's times where the file says none.
const (
	defaultBeat   = 50 * time.Millisecond
	defaultWindow = 300 * time.Millisecond
)

func (r *fileReader) readStop(t *Trial, v *fileTable) {
	o := StopOutput{Beat: defaultBeat, Window: defaultWindow}
	o.Port = r.readQuietPort(v, `"./deck/stop"`)
	o.Kind = r.readKind(v, stopKindAsk, StopText, StopModbus, StopPulse)
	beat := ask{name: "beat", what: "the time between two heartbeats", eg: `"50 ms"`, optional: true}
	window := ask{name: "window", what: "the time without a heartbeat after which the relay opens", eg: `"300 ms"`, optional: true}
	if d := v.duration(beat, 10*time.Millisecond, 500*time.Millisecond); d != 0 {
		o.Beat = d
	}
	if d := v.duration(window, 50*time.Millisecond, 2*time.Second); d != 0 {
		o.Window = d
	}
	switch o.Kind {
	case StopModbus:
		o.Modbus = r.readModbus(v)
	case StopPulse:
		o.Line = r.readModemLine(v, "the line the pulse train is on")
	}
	v.done()
	t.Stop = o
	r.checkStop(o)
}

// checkStop: three beats to a window, so that one heartbeat late on a busy
// machine is not yet a stop; twice as many where the relay does not get them
// all. A Modbus unit may go three beats without one while it is asked how it
// stands, and of a pulse train every other beat makes the edge that counts.
func (r *fileReader) checkStop(o StopOutput) {
	if !r.sound("stop.beat", "stop.window", "stop.kind") {
		return
	}
	beats, word := time.Duration(3), "three"
	if o.Kind != StopText {
		beats, word = 6, "six"
	}
	if o.Window < beats*o.Beat {
		r.failAt("stop.window", fmt.Sprintf("%s is less than %s times beat, %s",
			FormatDuration(o.Window), word, FormatDuration(o.Beat)), "lengthen window or shorten beat")
	}
	if o.Kind != StopModbus || !r.sound("stop.baud") {
		return
	}
	if need := ModbusTurn(o.Port.Baud); need > o.Beat {
		r.failAt("stop.baud", fmt.Sprintf("at %d bits a second a question and its answer take up to %s, longer than beat, %s",
			o.Port.Baud, FormatDuration(need.Round(time.Millisecond)), FormatDuration(o.Beat)), "raise baud, in the relay too, or lengthen beat and window")
	}
}

// ModbusTurn is how long the longest question to a Modbus relay and its answer
// take: 13 and 8 characters of 11 bits, a silence of three and a half after
// each, and 5 ms for the unit to think (common practice, no source). Source of
// the silences: MODBUS over Serial Line V1.02, 2.5.1.1, from memory.
func ModbusTurn(baud int) time.Duration {
	const characters, think = 13 + 8 + 2*3.5, 5 * time.Millisecond
	return think + time.Duration(characters*11*float64(time.Second)/float64(max(baud, 1)))
}

var stopKindAsk = ask{name: "kind", what: `how the relay is spoken to, "text", "modbus" or "pulse"`, eg: `"text"`, optional: true}

// readKind reads the kind of an output; the first is the default.
func (r *fileReader) readKind(v *fileTable, a ask, kinds ...string) string {
	s := v.text(a, maxName)
	for _, k := range kinds {
		if s == k {
			return k
		}
	}
	switch s {
	case "":
	case StopLevel:
		v.r.failAt(v.key(a.name), "a level is refused as the stop output: it stays up, and the winch hauls on, when this program hangs",
			`write kind = "pulse" with a relay that falls when the pulses end, or "text" or "modbus"`)
	default:
		v.fail(a, shown(s)+" is none of them")
	}
	return kinds[0]
}

// readQuietPort reads a port that is opened with both modem lines down. Where
// only the lines are used, bits a second and frame mean nothing and may be
// left out.
func (r *fileReader) readQuietPort(v *fileTable, eg string) Port {
	kind := v.n.vals["kind"]
	if kind == nil || kind.text != StopPulse && kind.text != StopLevel {
		p := r.readPort(v, eg)
		p.LinesDown = true
		return p
	}
	p := Port{Baud: 9600, Frame: "8N1", LinesDown: true,
		Names: v.texts(ask{name: "port", what: "the port, or a list of it and the names under which it may come back", eg: eg}, true, false, 200)}
	for _, have := range []string{"baud", "frame"} {
		if v.n.vals[have] != nil {
			v.asked = append(v.asked, have)
		}
	}
	return p
}

func (r *fileReader) readModbus(v *fileTable) Modbus {
	m := DefaultModbus
	m.Unit = v.address(unitAsk, m.Unit, 1, 247)
	m.Coil = v.address(ask{name: "coil", what: "the coil that closes the relay, from 0", eg: "0"}, m.Coil, 0, 65535)
	m.Session = v.address(ask{name: "session_register", what: "the first of the two holding registers of the session number, from 0", eg: "0"}, m.Session, 0, 65534)
	m.Beat = v.address(ask{name: "beat_register", what: "the holding register of the heartbeats, from 0", eg: "2"}, m.Beat, 0, 65535)
	if at := v.key("beat_register"); r.sound(at, v.key("session_register")) && (m.Beat == m.Session || m.Beat == m.Session+1) {
		r.failAt(at, fmt.Sprintf("%d is one of the two session registers, %d and %d", m.Beat, m.Session, m.Session+1), "give it a register of its own")
	}
	return m
}

var unitAsk = ask{name: "unit", what: "the relay's Modbus unit address", eg: "1"}

// address reads an optional whole number.
func (t *fileTable) address(a ask, otherwise int, least, most int64) int {
	a.optional = true
	if t.n.vals[a.name] == nil {
		t.asked = append(t.asked, a.name)
		return otherwise
	}
	return t.whole(a, least, most)
}

func (r *fileReader) readModemLine(v *fileTable, what string) string {
	a := ask{name: "line", what: what + `, "rts" or "dtr"`, eg: `"rts"`}
	s := v.text(a, maxName)
	if s != "" && s != LineRTS && s != LineDTR {
		if low := strings.ToLower(s); low == LineRTS || low == LineDTR {
			return low
		}
		v.fail(a, shown(s)+" is neither")
		return ""
	}
	return s
}

var hornKindAsk = ask{name: "kind", what: `how horn and lamp are switched, "text", "modbus", "level" or "pulse"`, eg: `"text"`, optional: true}

func (r *fileReader) readHorn(t *Trial, v *fileTable) {
	h := &Horn{Port: r.readQuietPort(v, `"./deck/horn"`), Kind: r.readKind(v, hornKindAsk, StopText, StopModbus, StopLevel, StopPulse)}
	switch h.Kind {
	case StopModbus:
		h.Unit = v.address(unitAsk, 1, 1, 247)
		h.Coil = v.address(ask{name: "coil", what: "the coil of the horn, from 0", eg: "0"}, 0, 0, 65535)
		h.LampCoil = v.address(ask{name: "lamp_coil", what: "the coil of the lamp, from 0", eg: "1"}, 1, 0, 65535)
		if r.sound("horn.coil", "horn.lamp_coil") && h.Coil == h.LampCoil {
			r.failAt("horn.lamp_coil", fmt.Sprintf("%d is the coil of the horn too", h.LampCoil), "give each its own coil")
		}
	case StopLevel, StopPulse:
		h.Line = r.readModemLine(v, "the line the horn is on; the lamp is on the other")
	}
	v.done()
	t.Horn = h
}
