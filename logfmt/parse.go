package logfmt

import (
	"bytes"
	"fmt"
	"hash/crc32"
	"strings"
	"sync"
)

// A LineError says why a line is not a record.
type LineError struct {
	At   int    // byte in the line, from 0
	What string // what is wrong there
	Ours bool   // the line looks as if it had once been a record
}

func (e *LineError) Error() string {
	return fmt.Sprintf("logfmt: byte %d of the line: %s", e.At, e.What)
}

// The ends of every line, in bytes.
const (
	crcTail  = len(" crc=") + 8
	prevTail = len(" prev=") + 8
)

// ParseLine reads one line, with its LF or without. It proves the crc first and
// then demands the one written form: [AppendRecord] of rec and prev gives the
// same bytes back. The error is a [*LineError].
//
// The record shares nothing with line.
func ParseLine(line []byte) (rec Record, prev, crc uint32, err error) {
	p := parsers.Get().(*parser)
	defer parsers.Put(p)
	if n := len(line); n > 0 && line[n-1] == '\n' {
		line = line[:n-1]
	}
	if err := p.parse(line); err != nil {
		return Record{}, 0, 0, err
	}
	return p.record(), p.prev, p.crc, nil
}

var parsers = sync.Pool{New: func() any { return new(parser) }}

// A parser holds one parsed line: what it proved, and where in the line the
// fields stand. It allocates nothing but its list; the cost of making a
// record is paid when record is called.
type parser struct {
	t         int64
	n         uint64
	kind      Kind
	prev, crc uint32
	line      []byte // the caller's
	fields    []fieldSpan
}

// A fieldSpan says where a field stands in its line.
type fieldSpan struct {
	key, keyEnd int
	val, valEnd int // without its quotes
	size        int // of the value itself, less than it takes if it has escapes
}

// parse reads a line without its LF.
func (p *parser) parse(line []byte) *LineError {
	body := len(line) - crcTail
	if body < 0 || string(line[body:body+5]) != " crc=" {
		return &LineError{At: max(body, 0), What: "no crc= at its end", Ours: looksOurs(line)}
	}
	want, ok := scanHex8(line[body+5:])
	if !ok {
		return &LineError{At: body + 5, What: "crc= is not eight digits 0-9 a-f", Ours: looksOurs(line)}
	}
	if got := crc32.Checksum(line[:body], castagnoli); got != want {
		return &LineError{At: body + 5, What: fmt.Sprintf("crc=%08x, its bytes give %08x", want, got), Ours: looksOurs(line)}
	}
	p.crc = want

	// From here a fault is not damage: whoever wrote this knew the crc but not
	// the format.
	end := body - prevTail
	if end < 0 || string(line[end:end+6]) != " prev=" {
		return &LineError{At: max(end, 0), What: "no prev= before crc="}
	}
	if p.prev, ok = scanHex8(line[end+6 : body]); !ok {
		return &LineError{At: end + 6, What: "prev= is not eight digits 0-9 a-f"}
	}
	p.line = line[:end]
	p.fields = p.fields[:0]
	at, fault := p.parseStart()
	for fault == nil && at < end {
		at, fault = p.parseField(at)
	}
	return fault
}

// parseStart reads t, n and k, and returns where the fields begin.
func (p *parser) parseStart() (int, *LineError) {
	t, at, ok := word(p.line, 0, "t=")
	if ok {
		p.t, ok = scanNs(t)
	}
	if !ok {
		return 0, &LineError{At: 0, What: "want t= and seconds with nine decimal places"}
	}
	n, next, ok := word(p.line, at, " n=")
	if ok {
		p.n, ok = scanUint(n)
	}
	if !ok {
		return 0, &LineError{At: at, What: "want n= and a number after t="}
	}
	at = next
	k, next, ok := word(p.line, at, " k=")
	if !ok || !isName(k) {
		return 0, &LineError{At: at, What: "want k= and a name a-z 0-9 _ after n="}
	}
	p.kind = kindOf(k)
	return next, nil
}

// word returns what stands after key and before the next space.
func word(line []byte, at int, key string) (val []byte, end int, ok bool) {
	from := at + len(key)
	if from > len(line) || string(line[at:from]) != key {
		return nil, at, false
	}
	for end = from; end < len(line) && line[end] != ' '; end++ {
	}
	return line[from:end], end, true
}

// parseField reads " key=value" and returns where the next one begins.
func (p *parser) parseField(at int) (int, *LineError) {
	line := p.line
	if line[at] != ' ' {
		return 0, &LineError{At: at, What: "want a space between two fields"}
	}
	f := fieldSpan{key: at + 1}
	for at = f.key; at < len(line) && class[line[at]]&inName != 0; at++ {
	}
	f.keyEnd = at
	key := line[f.key:f.keyEnd]
	if at == len(line) || line[at] != '=' || len(key) == 0 || class[key[0]]&inNameFirst == 0 || reserved(key) {
		return 0, &LineError{At: f.key, What: "want key=value; a key is a-z 0-9 _, none of t n k prev crc"}
	}
	f.val = at + 1
	if f.val < len(line) && line[f.val] == '"' {
		f.val++
		return p.parseQuoted(f)
	}
	for at = f.val; at < len(line) && class[line[at]]&inPlain != 0; at++ {
	}
	f.valEnd, f.size = at, at-f.val
	switch {
	case at == f.val, at < len(line) && line[at] != ' ':
		return 0, &LineError{At: f.val, What: "value needs quotes"}
	case string(key) == "raw":
		return 0, &LineError{At: f.val, What: "raw= needs quotes"}
	}
	p.fields = append(p.fields, f)
	return at, nil
}

// parseQuoted reads a value from behind its first quote to behind its last.
func (p *parser) parseQuoted(f fieldSpan) (int, *LineError) {
	line := p.line
	all := byte(inPlain) // stays if all its bytes are plain
	spared := 0          // bytes that escapes take more than what they stand for
	for at := f.val; at < len(line); {
		c := line[at]
		if class[c]&inQuotes != 0 {
			all &= class[c]
			at++
			continue
		}
		switch c {
		case '"':
			f.valEnd, f.size = at, at-f.val-spared
			if all != 0 && at > f.val && string(line[f.key:f.keyEnd]) != "raw" {
				return 0, &LineError{At: f.val - 1, What: "quotes around a value that needs none"}
			}
			p.fields = append(p.fields, f)
			return at + 1, nil
		case '\\':
			_, size := unescape(line[at:])
			if size == 0 {
				return 0, &LineError{At: at, What: `not an escape; want \" \\ \r \n \t or \xHH where one is needed`}
			}
			spared, all = spared+size-1, 0
			at += size
		default:
			return 0, &LineError{At: at, What: "byte in a quoted value that has to be escaped"}
		}
	}
	return 0, &LineError{At: len(line), What: "quoted value without its last quote"}
}

// unescape returns the byte that an escape at the start of s stands for, and
// the escape's size: 0 if it is none, or if the byte is written another way.
func unescape(s []byte) (c byte, size int) {
	if len(s) < 2 {
		return 0, 0
	}
	switch s[1] {
	case '"', '\\':
		return s[1], 2
	case 'r':
		return '\r', 2
	case 'n':
		return '\n', 2
	case 't':
		return '\t', 2
	case 'x':
		if len(s) < 4 {
			return 0, 0
		}
		hi, lo := hexValue[s[2]], hexValue[s[3]]
		if hi|lo > 15 {
			return 0, 0
		}
		c = hi<<4 | lo
		if c >= 0x20 && c <= 0x7E || c == '\r' || c == '\n' || c == '\t' {
			return 0, 0
		}
		return c, 4
	}
	return 0, 0
}

// record makes the record of the line parsed last, which must still be there:
// one string for all its keys and values, one slice for its fields, and nothing
// shared with the line.
func (p *parser) record() Record {
	rec := Record{T: p.t, N: p.n, Kind: p.kind}
	if len(p.fields) == 0 {
		return rec
	}
	// The text as it stands in the line, then the values that have escapes
	// there without them.
	base := p.fields[0].key
	size := len(p.line) - base
	for i := range p.fields {
		if f := &p.fields[i]; f.size < f.valEnd-f.val {
			size += f.size
		}
	}
	var b strings.Builder
	b.Grow(size)
	b.Write(p.line[base:])
	for i := range p.fields {
		if f := &p.fields[i]; f.size < f.valEnd-f.val {
			writeUnescaped(&b, p.line[f.val:f.valEnd])
		}
	}
	text := b.String()
	plain := text[len(p.line)-base:]
	rec.Fields = make([]Field, len(p.fields))
	for i, f := range p.fields {
		val := text[f.val-base : f.valEnd-base]
		if f.size < len(val) {
			val, plain = plain[:f.size], plain[f.size:]
		}
		rec.Fields[i] = Field{Key: text[f.key-base : f.keyEnd-base], Val: val}
	}
	return rec
}

// writeUnescaped writes what a quoted value that was proved right stands for.
func writeUnescaped(b *strings.Builder, val []byte) {
	for {
		i := bytes.IndexByte(val, '\\')
		if i < 0 {
			b.Write(val)
			return
		}
		c, size := unescape(val[i:])
		b.Write(val[:i])
		b.WriteByte(c)
		val = val[i+size:]
	}
}

// kindOf saves an allocation for the kinds of today.
func kindOf(k []byte) Kind {
	switch string(k) {
	case string(Rx):
		return Rx
	case string(Tick):
		return Tick
	case string(Say):
		return Say
	case string(Clock):
		return Clock
	case string(Tx):
		return Tx
	case string(PortEvent):
		return PortEvent
	case string(Act):
		return Act
	case string(Head):
		return Head
	case string(End):
		return End
	}
	return Kind(k)
}

// looksOurs tells whether a line that proves nothing was probably once a
// record: it still begins or ends as one.
func looksOurs(line []byte) bool {
	if startsRecord(line) {
		return true
	}
	n := len(line)
	return n >= crcTail+prevTail &&
		(string(line[n-crcTail:n-8]) == " crc=" || string(line[n-crcTail-prevTail:n-crcTail-8]) == " prev=")
}

// startsRecord tells whether line begins with "t=SECONDS.NANOSECONDS n=DIGIT".
func startsRecord(line []byte) bool {
	if !bytes.HasPrefix(line, []byte("t=")) {
		return false
	}
	const most = 2 + 21 + 4
	head := line[2:min(len(line), most)]
	space := bytes.IndexByte(head, ' ')
	if space < 0 || len(head) < space+4 {
		return false
	}
	if _, ok := scanNs(head[:space]); !ok {
		return false
	}
	return string(head[space:space+3]) == " n=" && head[space+3]-'0' <= 9
}
