package trial

import (
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"
)

// wireOf is what is asked of a wire besides: which kinds there are for the
// instrument, the first the default, and which groups its pattern has.
type wireOf struct {
	kinds   []string
	eg      string // the port, as an example
	whole   bool   // the number is a count: no fractions, no factor
	pattern ask
	needed  string
	groups  []string
}

// others are the groups of other instruments that may stand in one line.
var others = []string{"value", "unit", "status", "counts", "depth"}

// readWire reads how an instrument speaks: its port or the table whose port it
// is on, its kind, and what the kind asks for.
func (r *fileReader) readWire(v *fileTable, of wireOf) (p Port, line string, w Wire) {
	on := ask{name: "on", what: "the table of the instrument on whose port this one is too", eg: `"load"`, optional: true}
	if w.On = v.text(on, maxName); w.On == "" {
		p = r.readPort(v, of.eg)
	} else {
		for _, k := range []string{"port", "baud", "frame"} {
			if n := v.n.vals[k]; n != nil {
				v.asked = append(v.asked, k)
				r.fail(n.line, v.key(k), "is given besides on = "+shown(w.On)+", whose port it is", "take one of the two out")
			}
		}
	}
	kind := ask{name: "kind", what: "how it speaks, " + orList(of.kinds), eg: `"` + of.kinds[0] + `"`, optional: true}
	switch s := v.text(kind, maxName); {
	case s == "" || slices.Contains(of.kinds, s):
		w.Kind = s
	default:
		v.fail(kind, shown(s)+" is none of them")
	}
	if w.Kind == "" {
		w.Kind = of.kinds[0]
	}
	switch w.Kind {
	case WireLines, WireAsked:
		a := of.pattern
		a.optional = w.On != "" && v.n.vals[a.name] == nil // the line of the other one may have this one's group
		line = r.pattern(v, a, of.needed, append(of.groups, others...)...)
		if w.Kind == WireAsked {
			if at := v.table("asked", "the question, and how long its answer may take", false); at != nil {
				w.Asked = r.readAsked(at)
			}
		}
	case WireModbus:
		if at := v.table("modbus", "where its number stands", false); at != nil {
			w.Registers = r.readRegisters(at, of.whole)
		}
	case WireFrames:
		if at := v.table("frames", "how a frame is made and where the number stands", false); at != nil {
			w.Frames = r.readFrames(at, of.whole, w.On != "")
		}
	case WireNMEA:
		talker := ask{name: "talker", what: "the two letters after the $ that only this box sends", eg: `"SD"`, optional: true}
		if w.Talker = v.text(talker, maxName); w.Talker != "" && (len(w.Talker) != 2 || strings.ContainsFunc(w.Talker, notUpper)) {
			v.fail(talker, shown(w.Talker)+" is not two capital letters")
		}
	}
	if w.Kind == WireLines {
		w.Kind = "" // what was not said and what is the default are the same
	}
	return p, line, w
}

func notUpper(c rune) bool { return c < 'A' || c > 'Z' }

func orList(words []string) string {
	quoted := make([]string, len(words))
	for i, w := range words {
		quoted[i] = `"` + w + `"`
	}
	if len(quoted) == 1 {
		return quoted[0]
	}
	return strings.Join(quoted[:len(quoted)-1], ", ") + " or " + quoted[len(quoted)-1]
}

// Times of asking where the file says none: common practice, no source. Half a
// second without an answer is no warning yet.
const (
	defaultWait = 100 * time.Millisecond
	defaultLate = 500 * time.Millisecond
)

func (r *fileReader) readTimes(v *fileTable) (wait, late time.Duration) {
	wait, late = defaultWait, defaultLate
	if d := v.duration(ask{name: "wait", what: "how long the answer may take", eg: `"100 ms"`, optional: true}, 10*time.Millisecond, 2*time.Second); d != 0 {
		wait, late = d, max(late, 2*d)
	}
	a := ask{name: "late", what: "how long an answer that was given up may still come", eg: `"500 ms"`, optional: true}
	if d := v.duration(a, 10*time.Millisecond, 10*time.Second); d != 0 {
		if late = d; late < wait {
			v.fail(a, fmt.Sprintf("%s is less than wait, %s", FormatDuration(late), FormatDuration(wait)))
		}
	}
	return wait, late
}

func (r *fileReader) readAsked(v *fileTable) (out Asked) {
	a := ask{name: "ask", what: "the question with its line end, a character for each byte", eg: `"W\r"`}
	if n := v.get(a); n != nil {
		out.Ask = v.bytesOf(a, n)
	}
	out.Wait, out.Late = r.readTimes(v)
	v.done()
	return out
}

// maxAsk is the longest question, in bytes.
const maxAsk = 64

// bytesOf reads a text that stands for bytes: one for each character.
func (t *fileTable) bytesOf(a ask, n *fileNode) []byte {
	if n.kind != aString {
		t.fail(a, "is "+n.kind.String()+", not a text")
		return nil
	}
	var out []byte
	for _, c := range n.text {
		if c > unicode.MaxLatin1 {
			t.fail(a, shown(n.text)+" has a character that is no single byte")
			return nil
		}
		out = append(out, byte(c))
	}
	if len(out) == 0 || len(out) > maxAsk {
		t.fail(a, fmt.Sprintf("is %d bytes long, not 1 to %d", len(out), maxAsk))
		return nil
	}
	return out
}

func (r *fileReader) readRegisters(v *fileTable, whole bool) (out Registers) {
	out.Address = v.address(ask{name: "address", what: "the Modbus address of the unit", eg: "1"}, 1, 1, 247)
	out.Function = v.address(ask{name: "function", what: "3 for holding registers, 4 for input registers", eg: "3"}, 3, 3, 4)
	out.Register = v.whole(ask{name: "register", what: "the first register of the number, from 0", eg: "0"}, 0, 65535)
	out.Number = r.readNumber(v, whole, "int16", "uint16", "int32", "uint32", "float32")
	scale := ask{name: "scale_register", what: "the register that says how many decimals the number has, from 0", eg: "4", optional: true}
	if v.n.vals[scale.name] != nil {
		out.Scale, out.HasScale = v.whole(scale, 0, 65535), true
		if whole {
			v.fail(scale, "is given for a count, which has no decimals")
		}
	} else {
		v.asked = append(v.asked, scale.name)
	}
	out.Wait, out.Late = r.readTimes(v)
	v.done()
	if _, n := out.Span(); n > MaxRegisters && r.sound(v.path) {
		v.fail(scale, fmt.Sprintf("lies so far from register that one question would read %d registers, more than the %d there may be", n, MaxRegisters))
	}
	if first, n := out.Span(); first+n > 65536 && r.sound(v.path) {
		r.failAt(v.key("register"), fmt.Sprintf("%d leaves no room for its %s", out.Register, out.Number.Holds), "write a register up to 65534")
	}
	return out
}

var byteOrders = map[int][]string{1: {"A"}, 2: {"AB", "BA"}, 4: {"ABCD", "CDAB", "BADC", "DCBA"}}

func (r *fileReader) readNumber(v *fileTable, whole bool, holds ...string) (n Number) {
	if whole {
		holds = slices.DeleteFunc(slices.Clone(holds), func(h string) bool { return h == "float32" })
	}
	a := ask{name: "holds", what: "what kind of number stands there, " + orList(holds), eg: `"int16"`}
	if n.Holds = v.text(a, maxName); n.Holds != "" && !slices.Contains(holds, n.Holds) {
		v.fail(a, shown(n.Holds)+" is none of them")
		n.Holds = ""
	}
	orders := byteOrders[n.Bytes()]
	if orders == nil {
		orders = byteOrders[4]
	}
	order := ask{name: "order", what: "its bytes in the order in which they come, A the most significant, " + orList(orders),
		eg: `"` + orders[0] + `"`, optional: true}
	if n.Order = v.text(order, maxName); n.Order == "" {
		n.Order = orders[0]
	} else if n.Holds != "" && !slices.Contains(orders, n.Order) {
		v.fail(order, shown(n.Order)+" is none of them")
	}
	n.Factor = 1
	factor := ask{name: "factor", what: "by what the number is to be multiplied, negative for a reversed sign", eg: "0.1", optional: true}
	if whole && v.n.vals[factor.name] == nil {
		return n
	}
	if f, has := v.plain(factor, bounds{least: -1e9, leastSay: "-1e9", most: 1e9, mostSay: "1e9"}); has {
		n.Factor = f
		switch {
		case whole:
			v.fail(factor, "is given for a count; scale says what a count is worth")
		case f == 0:
			v.fail(factor, "is 0, which would make every number 0")
		}
	}
	return n
}

var checksums = []string{SumNone, SumXor8, SumAdd8, SumCRC16}

// readFrames: guest is an instrument on the port of another, whose frames they
// are; it says only where its own number stands.
func (r *fileReader) readFrames(v *fileTable, whole, guest bool) (f Frames) {
	const most = 250
	f.Length = most
	if !guest {
		sync := ask{name: "sync", what: "the bytes every frame begins with, in hexadecimal", eg: `"AA 55"`}
		if s := v.text(sync, maxName); s != "" {
			b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
			if f.Sync = b; err != nil || len(b) == 0 || len(b) > 8 {
				v.fail(sync, shown(s)+" is not 1 to 8 bytes in hexadecimal")
			}
		}
		if n := v.whole(ask{name: "length", what: "the length of the whole frame, in bytes", eg: "12"}, 3, most); n != 0 {
			f.Length = n
		}
		sum := ask{name: "checksum", what: "the checksum at the end of the frame, " + orList(checksums), eg: `"crc16"`}
		if f.Checksum = v.text(sum, maxName); f.Checksum != "" && !slices.Contains(checksums, f.Checksum) {
			v.fail(sum, shown(f.Checksum)+" is none of them")
		} else if f.Checksum == SumNone && len(f.Sync) == 1 {
			v.fail(sum, "is none, and one sync byte alone would be found anywhere")
		}
		f.SumFrom = v.address(ask{name: "checksum_from", what: "the first byte the checksum covers, from 0", eg: "0"}, 0, 0, most-1)
		if r.sound(v.path) && f.Checksum != SumNone && f.SumFrom >= f.Length-f.SumBytes() {
			r.failAt(v.key("checksum_from"), fmt.Sprintf("%d leaves nothing for the checksum to cover", f.SumFrom), "write a smaller number")
		}
	}
	at := ask{name: "at", what: "where the number begins, in bytes from 0", eg: "4"}
	f.At = v.whole(at, 0, most-1)
	f.Number = r.readNumber(v, whole, "int8", "uint8", "int16", "uint16", "int32", "uint32", "float32")
	body := f.Length - f.SumBytes()
	if r.sound(v.path) && f.At+f.Number.Bytes() > body {
		v.fail(at, fmt.Sprintf("%d leaves no room for its %s before the checksum", f.At, f.Number.Holds))
	}
	flags := ask{name: "flags_at", what: "where a byte of flags stands, from 0", eg: "3", optional: true}
	over := ask{name: "flags_over", what: "the bits of that byte that mean over range", eg: "1"}
	if v.n.vals[flags.name] == nil {
		v.asked = append(v.asked, flags.name)
		return f.end(v)
	}
	f.Flags, f.Over, f.HasFlags = v.whole(flags, 0, most-1), v.whole(over, 1, 255), true
	if r.sound(v.path) && f.Flags >= body {
		v.fail(flags, fmt.Sprintf("%d is past the end of the frame", f.Flags))
	}
	return f.end(v)
}

func (f Frames) end(v *fileTable) Frames {
	v.done()
	return f
}

// checkWires: what shares a port must be told apart by it. It fills in what one
// instrument has from the other.
func (r *fileReader) checkWires(t *Trial) {
	all := t.Instruments()
	for i, ins := range all {
		key := ins.Table + ".on"
		if ins.Wire.On == "" {
			r.checkPace(ins, all)
			continue
		}
		at := slices.IndexFunc(all, func(o Instrument) bool { return o.Table == ins.Wire.On })
		switch {
		case !r.sound(ins.Table):
		case at < 0:
			r.failAt(key, shown(ins.Wire.On)+" is no instrument of this file", "write the table of one that has a port")
		case at == i || all[at].Wire.On != "":
			r.failAt(key, shown(ins.Wire.On)+" has no port of its own", "write the table of one that has")
		case !together(ins.Wire.Kind, all[at].Wire.Kind):
			r.failAt(key, fmt.Sprintf("one is of kind %s and the other of kind %s, which one port cannot tell apart",
				shown(kindSaid(ins.Wire.Kind)), shown(kindSaid(all[at].Wire.Kind))), "give each a port of its own")
		default:
			r.share(t, ins, all[at])
		}
	}
}

func kindSaid(kind string) string {
	if kind == "" {
		return WireLines
	}
	return kind
}

// together: text lines of any meaning go together, else only the like.
func together(a, b string) bool {
	text := func(k string) bool { return k == "" || k == WireNMEA }
	return a == b || text(a) && text(b)
}

// share fills in what an instrument on another's port takes from it.
func (r *fileReader) share(t *Trial, ins, host Instrument) {
	hostLine := map[string]string{TableLoad: t.Load.Line, TableLine: t.Line.Line}[host.Table]
	if i, ok := t.Other(host.Table); ok {
		hostLine = t.Others[i].Line
	}
	take := func(line *string, w *Wire, group string) {
		if w.Kind == WireFrames {
			f := w.Frames
			f.Sync, f.Length, f.Checksum, f.SumFrom = host.Wire.Frames.Sync, host.Wire.Frames.Length, host.Wire.Frames.Checksum, host.Wire.Frames.SumFrom
			if w.Frames = f; f.At+f.Number.Bytes() > f.Length-f.SumBytes() || f.HasFlags && f.Flags >= f.Length-f.SumBytes() {
				r.failAt(ins.Table+".frames.at", fmt.Sprintf("is past the end of the frames of %s", host.Table), "write where the number begins in them")
			}
		}
		if line == nil || *line != "" || w.Kind != "" && w.Kind != WireAsked {
			return
		}
		if *line = hostLine; !strings.Contains(*line, "(?P<"+group+">") {
			r.failAt(ins.Table, fmt.Sprintf("has no line, and the line of %s has no group (?P<%s>...)", host.Table, group),
				"add a line, or that group there")
		}
	}
	switch ins.Table {
	case TableLoad:
		take(&t.Load.Line, &t.Load.Wire, "value")
	case TableLine:
		take(&t.Line.Line, &t.Line.Wire, "counts")
	case TableDepth:
		take(&t.Sounder.Line, &t.Sounder.Wire, "depth")
	default:
		if i, ok := t.Other(ins.Table); ok {
			take(&t.Others[i].Line, &t.Others[i].Wire, "value")
		}
	}
}

// checkPace: what is asked on a line must fit into its time, with some to spare
// for the units to think.
func (r *fileReader) checkPace(host Instrument, all []Instrument) {
	if host.Wire.Kind != WireModbus || !r.sound(host.Table) {
		return
	}
	const most = 0.9 // of the time: common practice, no source
	busy := 0.0
	for _, ins := range all {
		if (ins.Table == host.Table || ins.Wire.On == host.Table) && ins.Wire.Kind == WireModbus && r.sound(ins.Table) {
			_, n := ins.Wire.Registers.Span()
			busy += ReadTurn(host.Port.Baud, n).Seconds() * float64(ins.Rate)
		}
	}
	if busy > most {
		r.failAt(host.Table+".baud", fmt.Sprintf("at %d bits a second what is asked each second takes %.2f s on the line",
			host.Port.Baud, busy), "raise baud, in the boxes too, or lower rate")
	}
}

// ReadTurn is how long a question for count registers and its answer take on
// the line: 8 and 5 + 2 count characters of 11 bits, and a silence of three and
// a half after each, fixed at 1.75 ms above 19,200 bits a second. Source:
// MODBUS over Serial Line V1.02, 2.5.1.1, from memory.
func ReadTurn(baud, count int) time.Duration {
	char := 11 * float64(time.Second) / float64(max(baud, 1))
	return time.Duration(float64(8+5+2*count)*char) + 2*ModbusQuiet(baud)
}

// ModbusQuiet is the silence that ends a Modbus frame at that speed.
func ModbusQuiet(baud int) time.Duration {
	if baud > 19200 {
		return 1750 * time.Microsecond
	}
	return time.Duration(3.5 * 11 * float64(time.Second) / float64(max(baud, 1)))
}
