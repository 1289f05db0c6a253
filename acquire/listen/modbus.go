package listen

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"

	"hawse/acquire"
	"hawse/trial"
)

// Traffic is Modbus RTU as it is overheard on a line: questions of a master and
// answers of its units.
type Traffic struct {
	Units  []*Unit // in order of address, function, register
	Frames int     // with a checksum that fits
	Writes int     // of them, that write: somebody changes registers
	Share  float64 // of all bytes, that lie in such frames
	Orphan int     // answers whose question was not heard
	Own    bool    // the questions were asked by ourselves: there is no other master

	buf     []byte
	inside  int // bytes in frames
	all     int
	pending trial.Registers
	count   int // registers of it; 0 none stands
}

// Unit is what one question asks of one unit.
type Unit struct {
	Address, Function, First, Count int

	Asked   int
	Rows    [][]byte // of each answer, its registers
	T       []int64  // ns
	Refused int
	Why     string // of the last refusal
}

// What is kept of a line; more would say nothing new.
const (
	mostUnits   = 256
	mostSought  = 64 // of them, in which numbers are looked for
	mostAnswers = 2000
	longest     = 256 // bytes of a frame. Source: MODBUS over Serial Line V1.02, 2.5.1, from memory
	likely      = 0.5 // share of bytes in frames from which it is Modbus: a checksum fits by chance in one of 65,536
)

// The functions of Modbus that a line carries: reading coils, inputs and
// registers, writing them. Source: MODBUS Application Protocol V1.1b3, section 6,
// from memory.
const (
	fnHolding = 3
	fnInput   = 4
)

func reads(fn byte) bool  { return fn >= 1 && fn <= 4 }
func writes(fn byte) bool { return fn == 5 || fn == 6 || fn == 15 || fn == 16 }

// Feed takes the next bytes of the line, read at t.
func (m *Traffic) Feed(t int64, raw []byte) {
	m.buf = append(m.buf, raw...)
	p := m.buf
	for len(p) >= 4 {
		n, open := frameAt(p)
		if n == 0 && open && len(p) < longest {
			break
		}
		if n == 0 {
			p = p[1:]
			m.all++
			continue
		}
		m.take(t, p[:n])
		m.all, m.inside = m.all+n, m.inside+n
		p = p[n:]
	}
	m.buf = m.buf[:copy(m.buf, p)]
	m.Share = 0
	if m.all > 0 {
		m.Share = float64(m.inside) / float64(m.all)
	}
}

// frameAt is how long the frame is that begins there: 0 for none. open says that
// more bytes may make it one.
func frameAt(p []byte) (n int, open bool) {
	address, fn := p[0], p[1]
	if address > 247 {
		return 0, false
	}
	var may [2]int
	switch {
	case reads(fn):
		may[0] = 8
		if k := int(p[2]); k > 0 && k <= 250 && (fn < fnHolding || k%2 == 0) {
			may[1] = 5 + k
		}
	case writes(fn):
		may[0] = 8
		if fn > 6 && len(p) > 6 {
			may[1] = 9 + int(p[6])
		}
	case fn&0x80 != 0 && (reads(fn&^0x80) || writes(fn&^0x80)):
		may[0] = 5
	}
	for _, k := range may {
		switch {
		case k == 0:
		case k > len(p):
			open = true
		case acquire.ModbusFits(p[:k]):
			return k, false
		}
	}
	return 0, open
}

// take is one whole frame. A question and its answer cannot be mixed up: an answer
// of registers has an odd number of bytes.
func (m *Traffic) take(t int64, f []byte) {
	m.Frames++
	address, fn := int(f[0]), int(f[1])
	switch {
	case writes(f[1]):
		m.Writes++
		m.count = 0
	case fn != fnHolding && fn != fnInput && fn != fnHolding|0x80 && fn != fnInput|0x80:
		m.count = 0
	case fn&0x80 == 0 && len(f) == 8:
		first, count := int(f[2])<<8|int(f[3]), int(f[4])<<8|int(f[5])
		m.pending, m.count = trial.Registers{Address: address, Function: fn, Register: first}, count
		if count < 1 || count > trial.MaxRegisters {
			m.count = 0
			return
		}
		if u := m.unit(address, fn, first, count); u != nil {
			u.Asked++
		}
	case m.count == 0 || m.pending.Address != address || m.pending.Function != fn&^0x80:
		m.orphan(t, f)
	case fn&0x80 != 0:
		if u := m.unit(address, fn&^0x80, m.pending.Register, m.count); u != nil {
			u.Refused, u.Why = u.Refused+1, acquire.ModbusRefusal(f[2])
		}
		m.count = 0
	case len(f) == 5+2*m.count:
		if u := m.unit(address, fn, m.pending.Register, m.count); u != nil {
			u.add(t, f[3:len(f)-2])
		}
		m.count = 0
	default:
		m.orphan(t, f)
	}
}

// orphan is an answer whose question was not heard, as where only one pair of a
// four-wire line is tapped: which registers it holds nobody can say.
func (m *Traffic) orphan(t int64, f []byte) {
	m.Orphan++
	if f[1]&0x80 != 0 {
		return
	}
	if u := m.unit(int(f[0]), int(f[1]), -1, (len(f)-5)/2); u != nil {
		u.add(t, f[3:len(f)-2])
	}
}

func (u *Unit) add(t int64, row []byte) {
	if len(u.Rows) < mostAnswers {
		u.Rows, u.T = append(u.Rows, bytes.Clone(row)), append(u.T, t)
	}
}

func (m *Traffic) unit(address, fn, first, count int) *Unit {
	key := func(u *Unit) [4]int { return [4]int{u.Address, u.Function, u.First, u.Count} }
	want := &Unit{Address: address, Function: fn, First: first, Count: count}
	i, have := slices.BinarySearchFunc(m.Units, want, func(a, b *Unit) int {
		x, y := key(a), key(b)
		return slices.Compare(x[:], y[:])
	})
	if have {
		return m.Units[i]
	}
	if len(m.Units) == mostUnits {
		return nil
	}
	m.Units = slices.Insert(m.Units, i, want)
	return want
}

// Is says that the line carries Modbus RTU.
func (m *Traffic) Is() bool { return m.Frames >= 4 && m.Share >= likely }

// Register is a number found in a unit.
type Register struct {
	Unit *Unit
	Found
}

// Find is the numbers that moved, the one that took most values first.
func (m *Traffic) Find() (out []Register) {
	for _, u := range m.Units[:min(len(m.Units), mostSought)] {
		for _, f := range findNumbers(u.Rows, 2, make([]bool, 2*u.Count)) {
			out = append(out, Register{u, f})
		}
	}
	slices.SortStableFunc(out, func(a, b Register) int { return b.Different - a.Different })
	return out
}

// Register is its address on the wire, from 0; false where the question was not
// heard.
func (r Register) Register() (int, bool) { return r.Unit.First + r.At/2, r.Unit.First >= 0 }

// Rate is how often a second the unit answers; 0 not known.
func (u *Unit) Rate() float64 {
	n := len(u.T)
	if n < 2 || u.T[n-1] <= u.T[0] {
		return 0
	}
	return float64(n-1) / (float64(u.T[n-1]-u.T[0]) / 1e9)
}

// Notes is what is to be known before the block is used.
func (m *Traffic) Notes() (out []string) {
	if !m.Own {
		out = append(out, "another master asks on this line: two on one line break each other's frames; take it off, or let it pass the values on, before a trial file asks here")
	}
	if m.Writes > 0 {
		out = append(out, fmt.Sprintf("%d frames write: somebody changes what is in the units", m.Writes))
	}
	if m.Orphan > 0 {
		out = append(out, fmt.Sprintf("%d answers without their question: which registers they hold is not known; tap the other pair of wires too", m.Orphan))
	}
	for _, u := range m.Units {
		if u.Refused > 0 && len(u.Rows) == 0 && !m.Own {
			out = append(out, fmt.Sprintf("unit %d, function %d, register %d: %s", u.Address, u.Function, u.First, u.Why))
		}
	}
	return out
}

// ModbusBlock is the table of a trial file that reads a number.
func ModbusBlock(kind, port string, baud int, frame string, r Register) string {
	var b strings.Builder
	say := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	say("[%s]\nport = %q\nbaud = %d\nframe = %q\nkind = \"modbus\"", kind, port, baud, frame)
	rest(&b, kind, r.Unit.Rate())
	at, known := r.Register()
	say("[%s.modbus]\naddress = %d\nfunction = %d", kind, r.Unit.Address, r.Unit.Function)
	if known {
		say("register = %d", at)
	} else {
		say("register =      # %d after the first one asked for, which was not heard", r.At/2)
	}
	say("holds = %q\norder = %q", r.Number.Holds, r.Number.Order)
	if kind == Load {
		say("factor = 1      # by the display: 0.1 if it shows one decimal, negative if the sign is reversed")
	}
	return b.String()
}

// rest is what only a person can say of a box whose wire is known.
func rest(b *strings.Builder, kind string, rate float64) {
	say := func(format string, a ...any) { fmt.Fprintf(b, format+"\n", a...) }
	if rate >= 1 {
		rate = math.Round(rate)
	}
	rate = math.Round(rate*10) / 10
	if kind == Counts {
		say("scale = \"\"   # counts for each metre: hawse calibrate says it from marks\nhaul = \"\"    # \"counts rise\" or \"counts fall\" while hauling")
		say("rate = \"%g Hz\"", rate)
		return
	}
	say("unit = \"\"    # of the number, from the display or the box's manual\nrange = \"\"   # the most the box can show, from its plate\nover = []")
	say("rate = \"%g Hz\"\nplace = \"\"\nserial = \"\"\nfilter = \"\"   # as it is set in the box", rate)
}
