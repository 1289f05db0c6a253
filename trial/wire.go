package trial

import (
	"slices"
	"time"

	"hawse/trial/rode"
)

// The kinds of wire: how the numbers of an instrument come.
const (
	WireLines  = "lines"  // it sends lines of its own accord
	WireAsked  = "asked"  // it sends a line when it is asked
	WireModbus = "modbus" // Modbus RTU: its registers are read
	WireFrames = "frames" // binary frames of one length
	WireNMEA   = "nmea"   // NMEA 0183 sentences
)

// The tables of the instruments, which name them in [Wire.On].
const (
	TableLoad     = "load"
	TableLine     = "line"
	TableDepth    = "depth"
	TablePosition = "position"
	TableHeading  = "heading"
	TableClock    = "clock"
)

// otherTables are those of load cells beside the one in [load].
var otherTables = []string{"load2", "load3"}

// OtherTables are the names there are for them.
func OtherTables() []string { return slices.Clone(otherTables) }

// OtherCell is a load cell beside the one that guards: decoded, compared and told.
type OtherCell struct {
	Table string
	LoadCell
}

// Other finds a load cell beside the one in [load] by its table.
func (t *Trial) Other(table string) (i int, ok bool) {
	i = slices.IndexFunc(t.Others, func(c OtherCell) bool { return c.Table == table })
	return i, i >= 0
}

// Wire is how an instrument speaks. The zero value sends lines on a port of its
// own.
type Wire struct {
	Kind string // empty: [WireLines]
	// On is the table of the instrument on whose port this one is too; then it
	// has no port of its own. Empty: it has.
	On        string
	Asked     Asked     // of WireAsked
	Registers Registers // of WireModbus
	Frames    Frames    // of WireFrames
	Talker    string    // of WireNMEA: the two letters it sends; empty: any
}

// Polled says whether the instrument speaks only when it is asked.
func (w Wire) Polled() bool { return w.Kind == WireAsked || w.Kind == WireModbus }

// Asked is a question in bytes, and what is known of its answer.
type Asked struct {
	Ask  []byte
	Wait time.Duration // for the answer, from the question on
	// Late is how long an answer that was given up may still come. Nothing is
	// asked in that time, so that it is not taken for the next one.
	Late time.Duration
}

// Registers is where in a Modbus unit a number stands. Addresses are those on
// the wire, from 0.
type Registers struct {
	Address  int // of the unit, 1 to 247
	Function int // 3: holding registers, 4: input registers
	Register int // the first of the number
	Number   Number
	// Scale is a register that says how many decimals the number has; it holds
	// only if HasScale.
	Scale    int
	HasScale bool
	Wait     time.Duration // for the answer, over what the line itself takes
	Late     time.Duration // as of [Asked]
}

// The most registers one question may read. Source: MODBUS Application Protocol
// V1.1b3, 6.3, from memory.
const MaxRegisters = 125

// Span is the first register a question reads, and how many: the number and its
// scale come in one answer, so that they belong together.
func (r Registers) Span() (first, count int) {
	first, last := r.Register, r.Register+max(r.Number.Bytes()/2, 1)-1
	if r.HasScale {
		first, last = min(first, r.Scale), max(last, r.Scale)
	}
	return first, last - first + 1
}

// Number is how a number stands in bytes.
type Number struct {
	Holds  string  // "int16", "uint16", "int32", "uint32", "float32"; in frames also "int8", "uint8"
	Order  string  // its bytes as they come, A the most significant: "ABCD", "CDAB", "BADC", "DCBA", "AB", "BA", "A"
	Factor float64 // the number is so many times what stands there; negative for a reversed sign
}

// Bytes is how many it takes, 0 for a kind nobody knows.
func (n Number) Bytes() int {
	switch n.Holds {
	case "int8", "uint8":
		return 1
	case "int16", "uint16":
		return 2
	case "int32", "uint32", "float32":
		return 4
	}
	return 0
}

// The checksums of a binary frame.
const (
	SumNone  = "none"
	SumXor8  = "xor8"  // one byte: all bytes before it, exclusive or
	SumAdd8  = "sum8"  // one byte: their sum, the low eight bits
	SumCRC16 = "crc16" // two bytes, low first: the checksum of Modbus RTU
)

// Frames are binary frames of one length. All positions count from 0 at the
// first sync byte; the checksum is the end of the frame.
type Frames struct {
	Sync     []byte // every frame begins so
	Length   int    // of the whole frame, bytes
	Checksum string
	SumFrom  int // the first byte the checksum covers

	At     int // of the number
	Number Number
	// Flags is a byte of which one bit of Over means over range; only if HasFlags.
	Flags, Over int
	HasFlags    bool
}

// SumBytes is how many bytes the checksum takes.
func (f Frames) SumBytes() int {
	switch f.Checksum {
	case SumXor8, SumAdd8:
		return 1
	case SumCRC16:
		return 2
	}
	return 0
}

// Sounder tells the depth of the water.
type Sounder struct {
	Port Port
	Line string // of WireLines and WireAsked: the group depth
	Wire Wire
	Unit LengthUnit // of the numbers, where the sentence does not say
	Rate Rate
	// Transducer is its depth under the water line, m: added where the sounder
	// does not send an offset to the water line itself.
	Transducer Length
}

// Positioner tells where its antenna is.
type Positioner struct {
	Port Port
	Wire Wire
	// Aft and Starboard are where the antenna is, seen from the fairlead, m;
	// negative ahead and to port.
	Aft, Starboard Length
	// Uncertain is the standard uncertainty of how far two positions of one pull
	// lie apart, in any one direction, m.
	Uncertain Length
	Lead      Angle // of the rode at the fairlead, clockwise from the bow, rad
}

// Compass tells the true heading.
type Compass struct {
	Port   Port
	Wire   Wire
	Offset Angle // added to what it sends, rad
}

// SatClock tells the time of satellites.
type SatClock struct {
	Port Port
	Wire Wire
}

// Drum is the winch drum the encoder sits on.
type Drum struct {
	rode.Drum
	PerTurn float64 // counts a turn, positive
	Holds   Length  // line on the drum, in layers, when none is out, m
}

// LayerScale is the counts a metre from a length of rode out on.
type LayerScale struct {
	From     Length  // rode out, m
	PerMetre float64 // counts a metre, positive
}

// Instrument is a table of an instrument with its port and wire.
type Instrument struct {
	Table string
	Port  Port
	Wire  Wire
	Rate  Rate
}

// Instruments are the instruments the file has, load and line first.
func (t *Trial) Instruments() []Instrument {
	out := []Instrument{{TableLoad, t.Load.Port, t.Load.Wire, t.Load.Rate}, {TableLine, t.Line.Port, t.Line.Wire, t.Line.Rate}}
	if s := t.Sounder; s != nil {
		out = append(out, Instrument{TableDepth, s.Port, s.Wire, s.Rate})
	}
	if p := t.Positioner; p != nil {
		out = append(out, Instrument{TablePosition, p.Port, p.Wire, 0})
	}
	if c := t.Compass; c != nil {
		out = append(out, Instrument{TableHeading, c.Port, c.Wire, 0})
	}
	if c := t.SatClock; c != nil {
		out = append(out, Instrument{TableClock, c.Port, c.Wire, 0})
	}
	for _, c := range t.Others {
		out = append(out, Instrument{c.Table, c.Port, c.Wire, c.Rate})
	}
	return out
}
