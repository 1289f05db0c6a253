package deck

import (
	"fmt"
	"strings"
	"testing"

	"hawse/trial"
)

// TestTrialFilesFit: for all boxes, with and without the vessel's instruments, the
// trial file can be read, and has its instruments on the ports the deck has.
func TestTrialFilesFit(t *testing.T) {
	for _, name := range []string{"cobble-neck", "wrong-unit", "slow-cell"} {
		base, err := Load(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, k := range BoxKinds {
			for _, more := range []string{"", ",nmea"} {
				if k.Name == boxNMEA && more != "" {
					continue
				}
				s, err := base.With(k.Name+more, []string{"rename@9 s"})
				if err != nil {
					t.Fatal(err)
				}
				tr, err := trial.ParseTrial("trial.toml", []byte(s.TrialFileOn("./else")))
				if err != nil {
					t.Errorf("%s, %s: %v", name, s.Boxes(), err)
					continue
				}
				var ports []string
				for _, ins := range tr.Instruments() {
					if ins.Wire.On == "" {
						ports = append(ports, strings.TrimPrefix(ins.Port.Names[0], "./else/"))
					}
				}
				ports = append(ports, "stop")
				want := s.Ports()
				if len(ports) != len(want) {
					t.Errorf("%s, %s: the trial file has ports %v, the deck %v", name, s.Boxes(), ports, want)
				}
				for _, p := range want {
					if !strings.Contains(strings.Join(ports, " "), p) {
						t.Errorf("%s, %s: the trial file has ports %v, the deck %v", name, s.Boxes(), ports, want)
					}
				}
				if len(tr.Load.Port.Names) != 2 {
					t.Errorf("%s, %s: load is to come back under another name, the trial file knows %v", name, s.Boxes(), tr.Load.Port.Names)
				}
			}
		}
	}
}

// TestFaultsFit: each fault goes with the boxes its list says, and with no other.
func TestFaultsFit(t *testing.T) {
	base, err := Load("cobble-neck")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range FaultKinds {
		for _, k := range BoxKinds {
			_, err := base.With(k.Name, []string{f.Name + "@1 s"})
			fits := f.On == "" || strings.Contains(" "+f.On+" ", " "+k.Name+" ") || f.Name == "nan"
			if f.Name == "bit-errors" && k.Name == boxNMEA {
				fits = false // of the load cell: of the sounder it must be said
			}
			if (err == nil) != fits {
				t.Errorf("%s on %s: %v, want it to fit: %v", f.Name, k.Name, err, fits)
			}
		}
	}
	if _, err := base.With("nmea", []string{"bit-errors depth 100 % 5 s@1 s"}); err != nil {
		t.Error(err)
	}
}

// TestWithBadInput: what a person may get wrong on a command line is told with
// what to do, and never raw.
func TestWithBadInput(t *testing.T) {
	base, err := Load("cobble-neck")
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		boxes, fault, want string
	}{
		{"tin", "", `"tin" is not known; write one of lines, shared`},
		{"lines,modbus", "", "only nmea, pin, outboard and inboard go with another"},
		{"\x1b[31m", "", `"\x1b[31m" is not known`},
		{"", "unplug", "has no name or no time"},
		{"", "@90s", "has no name or no time"},
		{"", "explode@90s", "'hawse deck --list' names all"},
		{"", "unplug@dawn", "dawn"},
		{"", "unplug@90", "has no unit"},
		{"", "unplug@step nowhere", "no step"},
		{"", "unplug radio 3 s@90s", "radio"},
		{"", "silence load 3 h@90s", "up to 60 min"},
		{"", "late@90s", "boxes asked or modbus"},
		{"asked", "refuse@90s", "boxes modbus"},
		{"", "no-fix@90s", "boxes nmea"},
		{"", "\x1b[2Junplug x@90s", `\x1b`},
	} {
		var faults []string
		if tt.fault != "" {
			faults = []string{tt.fault}
		}
		_, err := base.With(tt.boxes, faults)
		if err == nil || !strings.Contains(err.Error(), tt.want) || strings.Contains(err.Error(), "\x1b") {
			t.Errorf("boxes %q, fault %q: %v; want %q", tt.boxes, tt.fault, err, tt.want)
		}
	}
	if fmt.Sprint(base.Faults()) != "[]" || base.Boxes() != boxLines {
		t.Errorf("the scenario itself was changed: %v, %s", base.Faults(), base.Boxes())
	}
}

// TestRegistersInAnyOrder: what a unit answers holds the shown number, whatever
// kind and order the script says; outside its registers it refuses by the code of
// the standard.
func TestRegistersInAnyOrder(t *testing.T) {
	for _, tt := range []struct{ registers, answer string }{
		{"4 float32 ABCD", "01 04 04 41 22 66 66"}, // 10.15 in IEEE 754 binary32 would be 41226666
		{"4 float32 CDAB", "01 04 04 66 66 41 22"},
		{"3 int32 DCBA", "01 03 04 66 00 00 00"}, // 102 tenths: 10.15 shown as 10.2
		{"3 uint16 AB", "01 03 02 00 66"},
		{"3 int16 BA", "01 03 02 66 00"},
	} {
		text := strings.Replace(least, "[tension]", "boxes modbus\nregisters "+tt.registers+"\n[tension]", 1)
		if strings.Contains(tt.registers, "float32") {
			text = strings.Replace(text, "[tension]", `load-line "+0000.00 kgf"`+"\n[tension]", 1)
		}
		s := mustParse(t, text)
		w := newWorld(s, 0, 1)
		w.cell, w.hung = "hook", trial.Force(10.15)*kgf
		r := s.wiring.regs
		q := []byte{loadUnit, byte(r.Function), 0, loadRegister, 0, byte(r.Number.Bytes() / 2)}
		got := w.answerModbus(nil, question{ins: portLoad, raw: append(q, checksum(q)...)})
		if text := fmt.Sprintf("% x", got[:len(got)-2]); text != tt.answer || !sound(got) {
			t.Errorf("registers %s: % x, want %s and its checksum", tt.registers, got, tt.answer)
		}
	}
	w := newWorld(mustParse(t, strings.Replace(least, "[tension]", "boxes modbus\n[tension]", 1)), 0, 1)
	for _, tt := range []struct {
		q    []byte
		want byte
	}{
		{[]byte{loadUnit, 3, 0, loadRegister, 0, 2}, badFunction},
		{[]byte{loadUnit, 4, 0, 0, 0, 2}, badAddress},
		{[]byte{loadUnit, 4, 0, loadRegister, 0, 3}, badAddress},
		{[]byte{loadUnit, 4, 0, loadRegister, 0, 0}, badValue},
		{[]byte{loadUnit, 4, 0, loadRegister, 0, 200}, badValue},
	} {
		got := w.answerModbus(nil, question{ins: portLoad, raw: append(tt.q, checksum(tt.q)...)})
		if len(got) != 5 || got[1] != tt.q[1]|refused || got[2] != tt.want || !sound(got) {
			t.Errorf("asked % x: % x, want code %d", tt.q, got, tt.want)
		}
	}
}

// TestSpoiledBytes: what a receiver at half the speed, or one with its wires
// swapped, makes of characters, worked out by hand from their bits.
func TestSpoiledBytes(t *testing.T) {
	// 'U' is 0x55: on the wire 0 1010 1010 1. Behind the start bit every second of
	// these is 0 0 0 0, and then rest. Turned over they are 1 0101 0101 0: a start bit
	// follows at once, and 1 0101 010 behind it. '0' is 0x30, on the wire 0 0000 1100 1,
	// turned over 1 1111 0011 0: behind the first low bit 0 1 1 0, and then low.
	for _, tt := range []struct {
		fault string
		in    string
		want  string
	}{
		{"baud", "U", "f0"},
		{"swapped", "U", "55"},
		{"swapped", "0", "06"},
		{"turn-round", "+0312", "31 32"},
		{"one-address", "\x0f\xf0", "0f 00 f0"},
	} {
		got := fmt.Sprintf("% x", spoil(nil, tt.fault, 0, []byte(tt.in), nil))
		if got != tt.want {
			t.Errorf("%s of % x: %s, want %s", tt.fault, tt.in, got, tt.want)
		}
	}
}

// TestVesselsSentences: the tide, the vessel's way and a second echo are in what is
// said; every checksum is right.
func TestVesselsSentences(t *testing.T) {
	s := mustParse(t, strings.Replace(least, "[tension]", "boxes nmea\ntide 1.2 m in 10 min\n[tension]", 1)+
		"[faults]\nat 0 s: drift 20 m in 60 s\nat 300 s: double-depth depth 20 s\n")
	m := NewSim(s, 1)
	last := map[string]string{}
	say := func(port string, at int64, raw []byte) {
		if port != "depth" {
			return
		}
		text := strings.TrimSuffix(string(raw), "\r\n")
		sum := byte(0)
		for _, c := range []byte(text[1 : len(text)-3]) {
			sum ^= c
		}
		if want := fmt.Sprintf("*%02X", sum); !strings.HasSuffix(text, want) {
			t.Errorf("%s: want the checksum %s", text, want)
		}
		last[text[3:6]] = text
	}
	m.Advance(61e9, say)
	north := func() (lat float64) { _, _ = fmt.Sscanf(strings.Split(last["GGA"], ",")[2], "%f", &lat); return lat }
	first := north()
	if !strings.HasPrefix(last["VTG"], "$GPVTG,35.0") && !strings.HasPrefix(last["VTG"], "$GPVTG,215.0") {
		t.Error(last["VTG"])
	}
	m.Advance(310e9, say)
	depth := float64(s.Depth) + 0.6 - float64(transducer) // half of the tide
	if want := fmt.Sprintf("$SDDPT,%.1f", 2*depth); !strings.HasPrefix(last["DPT"], want) {
		t.Errorf("%s, want a second echo of about %.1f m", last["DPT"], depth)
	}
	m.Advance(700e9, say)
	if want := fmt.Sprintf("$SDDPT,%.2f,0.6*", float64(s.Depth)+1.2-float64(transducer)); !strings.HasPrefix(last["DPT"], want) {
		t.Errorf("%s, want %s: high water", last["DPT"], want)
	}
	if !strings.HasPrefix(last["ZDA"], "$GPZDA,0911") {
		t.Error(last["ZDA"])
	}
	// 20 m astern of a heading of 215 degrees is 16.4 m north: 0.0088 minutes.
	if d := first - (placeLat-47)*60 - 4700; d < 0.0080 || d > 0.0097 {
		t.Errorf("20 m astern the latitude is %v, %v minutes north of the place", first, d)
	}
}
