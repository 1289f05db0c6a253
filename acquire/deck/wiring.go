package deck

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"hawse/trial"
)

// The ways in which the load cell's and the line counter's box speak.
const (
	boxLines   = "lines"
	boxShared  = "shared"
	boxOneLine = "one-line"
	boxAsked   = "asked"
	boxModbus  = "modbus"
	boxFrames  = "frames"
	boxNMEA    = "nmea" // besides one of the others
)

// Listed is something the deck offers by name, and what it is.
type Listed struct{ Name, Does string }

// BoxKinds are the ways in which the boxes can speak, as [Scenario.With] takes
// them.
var BoxKinds = []Listed{
	{boxLines, "a line of each box on its own port, of its own accord"},
	{boxShared, "the lines of both boxes mixed on one port"},
	{boxOneLine, "one line with tension, count and depth, on one port"},
	{boxAsked, "a line of each box when it is asked, on its own port"},
	{boxModbus, "two Modbus RTU units on one two-wire port"},
	{boxFrames, "tension and count in one binary frame with a checksum, on one port"},
	{boxNMEA, "besides: sounder, satellite receiver, compass and clock in NMEA 0183, mixed on port depth"},
	{boxPin, "besides: the load cell is a pin in the roller; it feels what the bent line presses on it"},
	{boxOutboard, "besides: another load cell, outboard of the roller; it speaks as the first, on a port of its own, or as a Modbus unit on the same"},
	{boxInboard, "besides: another load cell, inboard of the roller: its friction on top"},
}

// wiring is how the boxes of a deck speak. The zero value sends lines.
type wiring struct {
	kind    string // empty: boxLines
	nmea    bool
	pin     bool     // the load cell is a pin in the roller
	cells   []string // where further load cells sit, by their number
	roller  roller
	regs    trial.Registers // of the load cell's unit; its address is 1
	latency time.Duration   // from a question's last byte to the answer's first
	baud    int
	tide    trial.Length // by which the water rises in tideIn from the beginning
	tideIn  time.Duration
}

// The Modbus units of the deck. Addresses are as on the wire.
const (
	loadUnit, loadRegister = 1, 10
	lineUnit, lineRegister = 2, 0
	lineFunction           = 3
)

// transducer is how deep the sounder is under the water line.
const transducer = trial.Length(0.6)

func newWiring() wiring {
	return wiring{roller: roller{usualLead, usualFriction}, latency: 4 * time.Millisecond, baud: 9600, regs: trial.Registers{Function: 4, Number: trial.Number{Holds: "float32", Order: "CDAB"}}}
}

// asks says whether the two boxes speak only when they are asked.
func (w *wiring) asks() bool { return w.kind == boxAsked || w.kind == boxModbus }

// bitsPerSecond is the speed of the boxes.
func (w *wiring) bitsPerSecond() int {
	if w.kind == boxModbus && len(w.cells) > 0 {
		return max(w.baud, cellsBaud)
	}
	return w.baud
}

// host is the port on which an instrument is.
func (w *wiring) host(ins int) int {
	switch {
	case ins == portLine && (w.kind == boxShared || w.kind == boxOneLine || w.kind == boxModbus || w.kind == boxFrames):
		return portLoad
	case isCell(ins) && w.kind == boxModbus:
		return portLoad
	case ins >= insPosition:
		return portDepth
	}
	return ins
}

// box is whose box makes an instrument's message: one that has both numbers in
// it is the load cell's.
func (w *wiring) box(ins int) int {
	if ins == portLine && (w.kind == boxOneLine || w.kind == boxFrames) {
		return portLoad
	}
	return ins
}

// ownPattern says whether the boxes send something that no pattern of lines fits
// but the one made for it.
func (w *wiring) ownPattern() bool {
	return w.kind == boxOneLine || w.kind == boxModbus || w.kind == boxFrames
}

func (w *wiring) has(port int) bool {
	return w.host(port) == port && (port != portDepth || w.nmea) && (!isCell(port) || w.cellOf(port) >= 0)
}

// talker says something of its own accord, again and again.
type talker struct {
	ins   int
	form  string  // of a sentence
	hz    float64 // lines a second
	phase float64 // of a period
}

// talkers are what speaks. The line box speaks half a period after the load box.
func (s *Scenario) talkers() (out []talker) {
	switch s.wiring.kind {
	case boxAsked, boxModbus:
	case boxOneLine, boxFrames:
		out = append(out, talker{ins: portLoad, hz: s.LoadHz})
	default:
		out = append(out, talker{ins: portLoad, hz: s.LoadHz}, talker{ins: portLine, hz: s.LineHz, phase: 0.5})
	}
	if s.wiring.nmea {
		for i, form := range sentences {
			out = append(out, talker{ins: sentenceOf[form], form: form, hz: 1, phase: (float64(i) + 0.4) / float64(len(sentences))})
		}
	}
	if !s.wiring.asks() {
		for i := range s.wiring.cells {
			out = append(out, talker{ins: cellPorts[i], hz: s.cellHz(), phase: 0.25 * float64(i+1)})
		}
	}
	return out
}

// With is the scenario with other boxes and more faults: what a person asks for
// on the command line. boxes is a list of [BoxKinds] with commas, "" as the script
// has it; a fault is as [ParseFault] takes it. s stays as it is.
func (s *Scenario) With(boxes string, faults []string) (*Scenario, error) {
	c := *s
	c.faults = slices.Clone(s.faults)
	if boxes != "" {
		c.wiring.kind, c.wiring.nmea, c.wiring.pin, c.wiring.cells = "", false, false, nil
		for kind := range strings.SplitSeq(boxes, ",") {
			known := slices.ContainsFunc(BoxKinds, func(k Listed) bool { return k.Name == kind })
			switch {
			case Besides(kind):
				c.wiring.besides(kind)
			case !known:
				return nil, fmt.Errorf("boxes: %s is not known; write one of %s", quoted(kind), names(BoxKinds))
			case c.wiring.kind != "":
				return nil, fmt.Errorf("boxes: %s besides %s; only nmea, pin, outboard and inboard go with another", quoted(kind), c.wiring.kind)
			default:
				c.wiring.kind = kind
			}
		}
	}
	if c.wiring.sits() != "" {
		if _, err := c.statics(); err != nil {
			return nil, fmt.Errorf("boxes: %w", err)
		}
	}
	for _, text := range faults {
		f, err := s.ParseFault(text)
		if err != nil {
			return nil, err
		}
		c.faults = append(c.faults, f)
	}
	for _, f := range c.faults {
		if why := c.misfit(f); why != "" {
			return nil, fmt.Errorf("fault %s: %s", f.kind, why)
		}
	}
	return &c, nil
}

func names(list []Listed) string {
	var out []string
	for _, l := range list {
		out = append(out, l.Name)
	}
	return strings.Join(out, ", ")
}

// setsLine says whether the script has its own pattern of a load line.
func (s *Scenario) setsLine() bool {
	return slices.ContainsFunc(s.Trial, func(set Setting) bool { return set.Table == "load" && set.Key == "line" })
}

// edit is a text of a trial file on its way to another.
type edit struct{ lines []string }

func (e *edit) set(table, key, value string) {
	e.lines = Setting{Table: table, Key: key, Value: value}.put(e.lines)
}

func (e *edit) drop(table string, keys ...string) {
	at := ""
	e.lines = slices.DeleteFunc(e.lines, func(l string) bool {
		l = strings.TrimSpace(l)
		if strings.HasPrefix(l, "[") {
			head, _, _ := strings.Cut(l, "#")
			at = strings.Trim(strings.TrimSpace(head), "[]")
			return false
		}
		key, _, ok := strings.Cut(l, "=")
		return ok && at == table && slices.Contains(keys, strings.TrimSpace(key))
	})
}

// onLoad puts an instrument on the load cell's port.
func (e *edit) onLoad(table string) {
	e.drop(table, "port", "baud", "frame")
	e.set(table, "on", `"load"`)
}

// ofBoxes is where the trial file differs because of how the boxes speak.
func (s *Scenario) ofBoxes(e *edit) {
	w := &s.wiring
	text := func(v string) string { return strconv.Quote(v) }
	if baud := w.bitsPerSecond(); baud != newWiring().baud {
		e.set("load", "baud", strconv.Itoa(baud))
		e.set("line", "baud", strconv.Itoa(baud))
	}
	switch w.kind {
	case boxShared:
		e.onLoad("line")
	case boxOneLine:
		tail := regexp.QuoteMeta(s.box.tail)
		if unit, ok := strings.CutPrefix(s.box.tail, " "); ok {
			if _, known := trial.ForceUnitNamed(unit); known {
				tail = " (?P<unit>" + regexp.QuoteMeta(unit) + ")"
			}
		}
		e.set("load", "line", `'^(?P<value>[+-]?\d+(\.\d+)?|OL|NaN)`+tail+` N (?P<counts>[+-]?\d+) D (?P<depth>\d+\.\d+)$'`)
		e.onLoad("line")
		e.drop("line", "line")
		if !w.nmea {
			e.set("depth", "transducer", `"0 m"`) // the box has added it
			e.set("depth", "unit", `"m"`)
			e.set("depth", "kind", `"lines"`)
			e.onLoad("depth")
		}
	case boxAsked:
		// Of an answer whose head is cut off the rest must not pass for a number.
		if s.box.plus && !s.setsLine() {
			e.set("load", "line", fmt.Sprintf(`'^(?P<value>[+-]\d{%d,}%s) (?P<unit>kgf)$'`, s.box.digits, map[bool]string{true: fmt.Sprintf(`\.\d{%d}`, s.box.decimals)}[s.box.decimals > 0]))
			e.set("line", "line", `'^N (?P<counts>[+-]\d{7,})$'`)
		}
		for _, b := range [...]struct{ table, ask string }{{"load", askLoad}, {"line", askLine}} {
			e.set(b.table, "kind", text(boxAsked))
			e.set(b.table+".asked", "ask", text(b.ask))
		}
	case boxModbus:
		e.drop("load", "line")
		e.set("load", "over", "[]")
		e.set("load", "kind", text(boxModbus))
		s.ofUnit(e, "load", loadUnit, &s.box)
		e.onLoad("line")
		e.drop("line", "line")
		e.set("line", "kind", text(boxModbus))
		for _, kv := range [...][2]string{{"holds", `"int32"`}, {"register", strconv.Itoa(lineRegister)},
			{"function", strconv.Itoa(lineFunction)}, {"address", strconv.Itoa(lineUnit)}} {
			e.set("line.modbus", kv[0], kv[1])
		}
	case boxFrames:
		e.drop("load", "line")
		e.set("load", "over", "[]")
		e.set("load", "kind", text(boxFrames))
		ofFrames(e, "load")
		e.onLoad("line")
		e.drop("line", "line")
		e.set("line", "kind", text(boxFrames))
		e.set("line.frames", "holds", `"int32"`)
		e.set("line.frames", "at", "8")
	}
	if (w.kind == boxOneLine || w.kind == boxFrames) && s.LoadHz != s.LineHz { // the count comes in the load box's message
		e.set("line", "rate", text(strconv.FormatFloat(s.LoadHz, 'g', -1, 64)+" Hz"))
	}
	if w.nmea {
		for _, kv := range [...][2]string{{"transducer", fmt.Sprintf(`"%v m"`, float64(transducer))}, {"kind", `"nmea"`}, {"frame", `"8N1"`}, {"baud", "4800"}, {"port", `"./deck/depth"`}} {
			e.set("depth", kv[0], kv[1])
		}
		for _, table := range []string{"position", "heading", "clock"} {
			e.set(table, "on", `"depth"`)
		}
	}
	s.ofRoller(e)
	for _, f := range s.faults {
		if f.kind == "rename" {
			name := portNames[w.host(f.port)]
			e.set(name, "port", fmt.Sprintf(`["./deck/%s", "./deck/%s%s"]`, name, name, secondName))
		}
	}
}

// secondName ends the name under which a port comes back that was renamed.
const secondName = "-2"

// perCount is what a whole number in a register counts in, of the box's unit.
func (b *loadBox) perCount() float64 { return math.Pow10(b.decimals) }

// Boxes says how the boxes speak.
func (s *Scenario) Boxes() string {
	kind := s.wiring.kind
	if kind == "" {
		kind = boxLines
	}
	if s.wiring.nmea {
		kind += "," + boxNMEA
	}
	if s.wiring.pin {
		kind += "," + boxPin
	}
	for _, sits := range s.wiring.cells {
		kind += "," + sits
	}
	return kind
}

// Ports are the names of the ports the deck has.
func (s *Scenario) Ports() (out []string) {
	for i, name := range portNames {
		if s.wiring.has(i) {
			out = append(out, name)
		}
	}
	return out
}

// Faults says what goes wrong, and when, a line each.
func (s *Scenario) Faults() (out []string) {
	for _, f := range s.faults {
		switch f.when {
		case "x":
			out = append(out, fmt.Sprintf("at %g m hauled: %s", f.at, f.text))
		case "step":
			out = append(out, fmt.Sprintf("at step %s: %s", f.step, f.text))
		default:
			out = append(out, fmt.Sprintf("at %g s: %s", f.at, f.text))
		}
	}
	return out
}
