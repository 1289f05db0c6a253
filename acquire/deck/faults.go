package deck

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"hawse/trial"
)

// FaultKind is something that can go wrong on the deck.
type FaultKind struct {
	Name string // as a person names it
	Says string // as it stands in a script: what the name alone means
	Does string
	On   string // the kinds of boxes it can happen to; empty: all
}

// FaultKinds are all that can go wrong, in the order of cable, box, line counter,
// what is asked, instruments of the vessel, and vessel.
var FaultKinds = []FaultKind{
	{"unplug", "unplug load 14 s", "the port goes away and comes back under its own name", ""},
	{"gone", "unplug load 4 min", "the adapter is gone for minutes", ""},
	{"rename", "rename load 14 s", "the port goes away and comes back under another name", ""},
	{"hub-reset", "hub-reset 3 s", "every port goes away at once, and all come back", ""},
	{"half-open", "half-open load 60 s", "the port is open and gives nothing until it is opened anew", ""},
	{"silence", "silence load 5 s", "the box says nothing; the port stays", ""},
	{"half-line", "half line load 5 s", "half a line, then nothing", ""},
	{"burst", "burst load 3 s", "lines are held back, then all come at once", ""},
	{"baud", "baud load 5 s", "read at half its speed: bytes, but no line", ""},
	{"swapped", "swapped load 5 s", "A and B of RS-485 swapped: every bit is turned over", ""},
	{"garbage", "garbage load 5 s", "noise bytes", ""},
	{"bit-errors", "bit-errors load 100 % 5 s", "in this share of what is sent one bit is wrong", "modbus frames nmea"},
	{"wet", "wet load 30 s", "a wet plug: rising noise, the zero wanders, then silence", ""},
	{"stuck", "stuck load 10 s", "the same number again and again", ""},
	{"over-range", "over range load 3 s", "beyond the top of the cell's box", ""},
	{"nan", "nan load 3 s", "the box says that it has no number", "lines shared one-line asked modbus frames"},
	{"peak-hold", "peak-hold load 10 min", "peak hold left on in the box: it only ever rises", ""},
	{"sign", "sign load 10 s", "the sign is reversed", ""},
	{"unit", "unit load lb 10 s", "a button of the box changes its unit", ""},
	{"zero-moved", "zero 0.18 kN", "the zero of the cell has moved", ""},
	{"slow", "slow load 2 Hz 20 s", "fewer lines a second than the box is set to", ""},
	{"reset", "reset count", "the line counter begins at 0", ""},
	{"wrap", "wrap count", "its 16 bits overflow: the count falls by 65536", ""},
	{"reverse", "reverse line", "its count goes the other way from here", ""},
	{"one-way", "one-way line", "a channel of the encoder is gone: the count only rises", ""},
	{"slip", "slip line 8 %", "the measuring wheel turns so much too little", ""},
	{"late", "late load 250 ms 20 s", "answers come so late that they look like the next one's", "asked modbus"},
	{"drop", "drop load 50 % 20 s", "this share of the questions is not answered", "asked modbus"},
	{"refuse", "refuse load 6 5 s", "a Modbus exception in place of an answer: 6 is busy", "modbus"},
	{"echo", "echo load 20 s", "the adapter hears its own question: a two-wire line", "asked modbus"},
	{"turn-round", "turn-round load 5 s", "the line turns round too late: the head of the answer is cut off", "asked modbus"},
	{"one-address", "one-address load 5 s", "two units with one address answer at once", "modbus"},
	{"depth-silent", "silence depth 40 s", "the sounder says nothing", "nmea"},
	{"no-bottom", "no-bottom depth 40 s", "the sounder has lost the bottom: empty fields", "nmea"},
	{"double-depth", "double-depth depth 5 s", "the sounder hears the second echo", "nmea"},
	{"no-fix", "no-fix position 20 s", "the receiver has no fix: its time goes on", "nmea"},
	{"time-step", "time-step clock 3600 s", "the receiver's time steps ahead by so much, for good", "nmea"},
	{"cell-gone", "unplug load2 14 s", "the port of the other load cell goes away and comes back", "outboard inboard"},
	{"cell-silent", "silence load2 10 s", "the box of the other load cell says nothing", "outboard inboard"},
	{"cell-stuck", "stuck load2 60 s", "it says the same line again and again", "outboard inboard"},
	{"cell-over", "over range load2 5 s", "the other load cell is over range", "outboard inboard"},
	{"cell-drift", "zero load2 0.8 kN in 20 s", "its zero wanders so far in that time, and stays", "outboard inboard"},
	{"wake", "wake 7 kN 1 s", "the vessel is jerked", ""},
	{"surge", "surge 1 m in 20 s", "the vessel goes astern and comes back", ""},
	{"snag", "snag", "the anchor no longer comes", ""},
	{"weld", "weld relay", "the relay's contact welds closed", ""},
}

// atFault is NAME@WHEN: a name of [FaultKinds], or a fault as it stands in a
// script, and a time or a place.
var atFault = regexp.MustCompile(`^(.+)@([^@]+)$`)

// ParseFault reads a fault from a command line, such as "unplug@90s",
// "silence line 3 s@x 9 m" or "unplug@step aweigh".
func (s *Scenario) ParseFault(text string) (fault, error) {
	const want = `write it as "unplug@90s", "unplug@x 9 m", or with its own words as in a script: "silence line 3 s@90s"`
	m := atFault.FindStringSubmatch(strings.TrimSpace(text))
	if m == nil {
		return fault{}, fmt.Errorf("fault %s has no name or no time; %s", quoted(text), want)
	}
	what, when := strings.TrimSpace(m[1]), strings.TrimSpace(m[2])
	if i := slices.IndexFunc(FaultKinds, func(k FaultKind) bool { return k.Name == what }); i >= 0 {
		what = FaultKinds[i].Says
	} else if !strings.Contains(what, " ") && !slices.Contains(faultForms, what) {
		return fault{}, fmt.Errorf("fault %s is not known; 'hawse deck --list' names all", quoted(what))
	}
	p := &parser{file: "fault", s: &Scenario{}}
	toks, err := tokens("at " + when + ": " + what)
	if err != nil {
		return fault{}, fmt.Errorf("fault %s: %w", quoted(text), err)
	}
	p.fault(0, toks)
	if len(p.errs) > 0 {
		return fault{}, fmt.Errorf("fault %s: %s; %s", quoted(text), p.errs[0].What, p.errs[0].Do)
	}
	f := p.s.faults[0]
	if f.when == "step" && !slices.ContainsFunc(s.Winch, func(st Step) bool { return st.Verb == "step" && st.Args[0] == f.step }) {
		return fault{}, fmt.Errorf("fault %s: the winch's script has no step %s", quoted(text), quoted(f.step))
	}
	return f, nil
}

// misfit is why a fault cannot happen on this deck; "" it can.
func (s *Scenario) misfit(f fault) string {
	w := &s.wiring
	asked := w.asks()
	switch f.kind {
	case "late", "drop", "echo", "turn-round":
		if !asked {
			return "only boxes that are asked have it: boxes asked or modbus"
		}
	case "refuse", "one-address":
		if w.kind != boxModbus {
			return "only Modbus units have it: boxes modbus"
		}
	case "bit-errors":
		if (f.port < portStop || isCell(f.port)) && w.kind != boxModbus && w.kind != boxFrames {
			return "a line without a checksum does not show it: boxes modbus or frames"
		}
	case "nan":
		if w.kind == boxModbus && w.regs.Number.Holds != "float32" {
			return "whole numbers have no way to say it: registers with float32"
		}
	case "unit":
		// A number without its unit shows nothing of the button.
	}
	if isCell(f.port) {
		if w.cellOf(f.port) < 0 {
			return "this deck has no load cell there: boxes outboard or inboard"
		}
		return ""
	}
	if f.port > portStop && !w.nmea {
		return "this deck has no instruments of the vessel: boxes nmea"
	}
	return ""
}

// checkFaults complains about faults that cannot happen.
func (p *parser) checkFaults() {
	for _, f := range p.s.faults {
		if why := p.s.misfit(f); why != "" {
			p.fail(f.line, fmt.Sprintf("fault %s cannot happen here", f.kind), why)
		}
	}
}

// boxesFact reads the facts of how the boxes speak; ok is false for another fact.
func (p *parser) boxesFact(key string, line int, m match) (ok bool) {
	w := &p.s.wiring
	switch key {
	case "boxes":
		for _, kind := range m.args {
			if kind == boxNMEA {
				w.nmea = true
			} else {
				w.kind = kind
			}
		}
	case "registers":
		w.regs.Function = int(m.args[0][0] - '0')
		w.regs.Number.Holds, w.regs.Number.Order = m.args[1], m.args[2]
		if w.regs.Number.Bytes() != len(m.args[2]) {
			p.fail(line, fmt.Sprintf("%s has %d bytes, and the order %d", m.args[1], w.regs.Number.Bytes(), len(m.args[2])), "write for example: registers 3 int16 AB")
		}
	case "latency":
		w.latency = nsOf(m.si[0])
	case "baud":
		_, _ = fmt.Sscan(m.args[0], &w.baud) // digits only: the pattern has seen to it
		p.bound("baud", w.baud >= 1200 && w.baud <= 4_000_000, "is not from 1200 to 4000000", "write for example: baud 9600")
	case "tide":
		if w.tide, w.tideIn = trial.Length(m.si[0]), nsOf(m.si[1]); w.tideIn <= 0 {
			p.fail(line, "the tide takes no time", "write for example: tide 0.8 m in 40 min")
			w.tide = 0
		}
	default:
		return false
	}
	return true
}
