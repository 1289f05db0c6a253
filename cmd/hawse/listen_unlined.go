package main

import (
	"fmt"
	"io"
	"strings"

	"hawse/acquire"
	"hawse/acquire/listen"
	"hawse/cmd/hawse/cli"
	"hawse/trial"
)

// sure says that what came is Modbus, or binary frames whose checksum fits.
func (h *heard) sure() bool {
	return h.bus.Is() || h.binary != nil && h.binary.Form.Checksum != trial.SumNone
}

// otherDoc is `hawse listen --json` of what is no lines of a load or a count.
type otherDoc struct {
	Port    string        `json:"port"`
	Baud    int           `json:"baud"`
	Frame   string        `json:"frame"`
	Kind    string        `json:"kind"` // "nmea", "modbus" or "frames"
	Seen    []string      `json:"seen"` // in words
	Numbers []otherNumber `json:"numbers"`
	Notes   []string      `json:"notes"`
	Block   string        `json:"block"`

	head string // of the page
}

// otherNumber is a number that moved: of a register, or at a byte of a frame.
type otherNumber struct {
	Unit      int     `json:"unit,omitempty"`
	Function  int     `json:"function,omitempty"`
	At        int     `json:"at"` // register, or byte of the frame
	Holds     string  `json:"holds"`
	Order     string  `json:"order"`
	Different int     `json:"different"`
	Rough     float64 `json:"rough"` // 0 each value follows from the last, 1 as if drawn by lot
	Last      float64 `json:"last"`
}

// mostShown of a list on the page.
const mostShown = 20

// other is what came where it is no text of one box; nil where it is.
func (h *heard) other(port, as string) *otherDoc {
	d := &otherDoc{Port: port, Baud: h.baud, Frame: h.frame, Seen: []string{}, Numbers: []otherNumber{}, Notes: []string{}}
	if listen.Legible(h.raw) >= legible {
		v, ok := listen.FindNMEA(h.lines.All)
		if !ok {
			return nil
		}
		d.nmea(v)
		return d
	}
	switch {
	case h.bus.Is():
		d.modbus(&h.bus, as)
	case h.binary != nil:
		d.frames(h.binary, as)
	default:
		return nil
	}
	d.head += fmt.Sprintf("\n  %s", acquire.Visible(h.raw[:min(len(h.raw), shownHead)]))
	return d
}

func (d *otherDoc) nmea(v *listen.Vessel) {
	d.Kind, d.head = trial.WireNMEA, "NMEA 0183, the sentences of a vessel's instruments"
	for _, s := range v.Sentences {
		text := fmt.Sprintf("%s  %d, %.1f a second", s.Name, s.Count, s.Rate)
		if s.Use != "" {
			text += ", for [" + strings.ReplaceAll(s.Use, " ", "] and [") + "]"
		}
		if s.Last != "" {
			text += ": " + s.Last
		}
		d.Seen = append(d.Seen, text)
	}
	if v.Others > 0 {
		d.Seen = append(d.Seen, fmt.Sprintf("%d lines of another kind", v.Others))
	}
	d.Notes = append(d.Notes, v.Notes...)
	d.Block = v.Block(d.Port, d.Baud, d.Frame)
}

func kindOf(as string) string {
	if as == "" {
		return listen.Load
	}
	return as
}

// whole is the first number a count may be; of a load any.
func whole(as string, n trial.Number) bool { return as != listen.Counts || n.Holds != "float32" }

func (d *otherDoc) modbus(m *listen.Traffic, as string) {
	d.Kind, d.head = trial.WireModbus, fmt.Sprintf("Modbus RTU, %d frames, %.0f %% of the bytes", m.Frames, 100*m.Share)
	for _, u := range m.Units {
		at := fmt.Sprintf("registers %d to %d", u.First, u.First+u.Count-1)
		if u.First < 0 {
			at = fmt.Sprintf("%d registers", u.Count)
		}
		text := fmt.Sprintf("unit %d, function %d, %s: %d answers, %.1f a second", u.Address, u.Function, at, len(u.Rows), u.Rate())
		if u.Refused > 0 {
			text += fmt.Sprintf("; %d refused: %s", u.Refused, u.Why)
		}
		d.Seen = append(d.Seen, text)
	}
	d.Notes = append(d.Notes, m.Notes()...)
	for _, r := range m.Find() {
		at, known := r.Register()
		if !known {
			at = r.At / 2
		}
		d.Numbers = append(d.Numbers, otherNumber{r.Unit.Address, r.Unit.Function, at, r.Number.Holds, r.Number.Order, r.Different, r.Rough, r.Last()})
		if d.Block == "" && whole(as, r.Number) {
			d.Block = listen.ModbusBlock(kindOf(as), d.Port, d.Baud, d.Frame, r)
		}
	}
	d.end(as)
}

func (d *otherDoc) frames(b *listen.Binary, as string) {
	f := b.Form
	d.Kind, d.head = trial.WireFrames, fmt.Sprintf("binary frames of %d bytes, %d of them, %.0f %% of the bytes, %.1f a second", f.Length, b.Fits, 100*b.Share, b.Rate)
	sum := "checksum none found"
	if f.Checksum != trial.SumNone {
		sum = fmt.Sprintf("checksum %s at the end, from byte %d on", f.Checksum, f.SumFrom)
	}
	d.Seen = append(d.Seen, fmt.Sprintf("begin with % X", f.Sync), sum)
	for _, at := range b.Counter {
		d.Seen = append(d.Seen, fmt.Sprintf("byte %d counts frames", at))
	}
	d.Notes = append(d.Notes, b.Notes...)
	for i, n := range b.Numbers {
		d.Numbers = append(d.Numbers, otherNumber{0, 0, n.At, n.Number.Holds, n.Number.Order, n.Different, n.Rough, n.Last()})
		if d.Block == "" && whole(as, n.Number) {
			b.Form.At, b.Form.Number, b.Numbers = n.At, n.Number, b.Numbers[i:]
			d.Block = b.Block(kindOf(as), d.Port, d.Baud, d.Frame)
		}
	}
	if d.Block == "" {
		b.Numbers = nil
		d.Block = b.Block(kindOf(as), d.Port, d.Baud, d.Frame)
	}
	d.end(as)
}

func (d *otherDoc) end(as string) {
	if len(d.Numbers) == 0 {
		if d.Kind == trial.WireModbus {
			d.Notes = append(d.Notes, "no number moved: hang something on the cell, or turn the drum, while it listens")
		}
		return
	}
	if as == "" {
		d.Notes = append(d.Notes, "which number is the load is a guess, the one that took most values; say --as line for a counter")
	}
}

// print writes the page or the JSON.
func (d *otherDoc) print(out io.Writer, asJSON bool) error {
	if asJSON {
		return cli.WriteJSON(out, d)
	}
	p := &limitsPage{}
	for l := range strings.SplitSeq(fmt.Sprintf("%s at %d %s: %s", visible(d.Port), d.Baud, d.Frame, d.head), "\n") {
		p.line(2, "%s", l)
	}
	p.WriteString("\n")
	for i, s := range d.Seen {
		if i == mostShown {
			p.line(2, "and %d more", len(d.Seen)-i)
			break
		}
		p.line(4, "%s", s)
	}
	for i, n := range d.Numbers {
		if i == 0 {
			p.WriteString("\nNUMBERS that moved\n")
		}
		if i == mostShown {
			p.line(2, "  and %d more", len(d.Numbers)-i)
			break
		}
		at := fmt.Sprintf("byte %d", n.At)
		if n.Unit > 0 {
			at = fmt.Sprintf("unit %d, function %d, register %d", n.Unit, n.Function, n.At)
		}
		p.line(4, "  %s: %s %s, last %.6g, %d values, %s", at, n.Holds, n.Order, n.Last, n.Different, steadiness(n.Rough))
	}
	for i, n := range d.Notes {
		if i == 0 {
			p.WriteString("\nNOTES\n")
		}
		p.line(4, "  %s", n)
	}
	if d.Block != "" {
		p.WriteString("\nFOR THE TRIAL FILE, proposed; \"\" is for you to say\n" + d.Block)
	}
	_, err := io.WriteString(out, p.String())
	return err
}

func steadiness(rough float64) string {
	if rough < 0.5 {
		return "each follows from the last"
	}
	return "they scatter"
}
