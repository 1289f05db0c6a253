package logfmt

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"hash"
	"io"
)

// A Reader returns the records of a log one by one:
//
//	r := logfmt.NewReader(file)
//	for r.Next() {
//		rec := r.Record()
//		...
//	}
//	if err := r.Err(); err != nil { ... } // the file could not be read further
//	for _, d := range r.Damage() { ... }  // what of it is not as it was written
//
// Every record that proves itself by its crc is returned, in the order of the
// file, whatever stands between. So after damage, numbers may jump, and in a
// file whose lines were moved they may fall. A record that is there twice is
// returned once. The memory used does not grow with the file.
//
// A log that is still being written ends with Next false; the line that is just
// being written then counts as torn.
type Reader struct {
	lines lineReader
	p     parser
	order order
	rec   Record
	built bool // rec is the record of p

	line  int     // number of the current line, from 1
	raw   rawLine // the current line
	parts []part  // still to be read, of a line that holds several records

	sum   hash.Hash // of the bytes given out; nil: the seal is not checked
	count uint64    // records returned, if it is
	seal  Seal
}

// A part of a line that holds several records or one with something before it.
type part struct {
	bytes []byte
	off   int64
}

// NewReader returns a reader of the log in r.
func NewReader(r io.Reader) *Reader {
	return &Reader{lines: lineReader{src: r}}
}

// CheckSeal has the reader hold the log's end against what stands before it,
// for [Reader.Seal] and [Reader.SHA256]. It is called before the first Next.
func (r *Reader) CheckSeal() {
	r.sum = sha256.New()
	r.lines.used = func(b []byte) { r.sum.Write(b) }
}

// Next goes to the next record. It returns false at the end of the log, or when
// it cannot be read further.
func (r *Reader) Next() bool {
	if !r.next() {
		return false
	}
	if r.sum != nil {
		if r.p.kind == End && !r.seal.There {
			r.lines.tellBefore(r.order.at)
			end := r.Record()
			r.seal = sealOf(&end, r.count, r.order.at, r.SHA256())
		}
		r.count++
	}
	return true
}

func (r *Reader) next() bool {
	r.built = false
	for {
		for len(r.parts) > 0 {
			if r.takePart() {
				return true
			}
		}
		var ok bool
		if r.raw, ok = r.lines.next(); !ok {
			return false
		}
		r.line++
		if r.takeLine() {
			return true
		}
	}
}

// Record returns the record that Next went to. It shares nothing with the
// reader: keep it as long as you like.
func (r *Reader) Record() Record {
	if !r.built {
		r.rec, r.built = r.p.record(), true
	}
	return r.rec
}

// Line returns where the record that Next went to stands: the line's number
// from 1, and the byte it begins at.
func (r *Reader) Line() (number int, offset int64) { return r.line, r.order.at }

// Seal returns what the first end that Next went to says of the log up to it.
func (r *Reader) Seal() Seal { return r.seal }

// SHA256 returns, once Next returned false, the SHA-256 of all bytes that were
// read, 64 digits 0-9 a-f.
func (r *Reader) SHA256() string { return fmt.Sprintf("%x", r.sum.Sum(nil)) }

// Err returns the fault that ended reading, nil at the end of the log. Damage
// is no error.
func (r *Reader) Err() error {
	if r.lines.err == nil || r.lines.err == io.EOF {
		return nil
	}
	return fmt.Errorf("logfmt: reading stopped at byte %d: %w", r.lines.off, r.lines.err)
}

// Damage returns what was found up to now, in the order of the file. It may
// change as more is read: what looked missing may turn up later.
func (r *Reader) Damage() []Damage { return r.order.damage() }

const byteOrderMark = "\xEF\xBB\xBF"

// takeLine reads the current line and tells whether it is a record to return.
func (r *Reader) takeLine() bool {
	line, off := r.raw.bytes, r.raw.off
	if r.line == 1 && bytes.HasPrefix(line, []byte(byteOrderMark)) {
		line, off = line[len(byteOrderMark):], off+int64(len(byteOrderMark))
		r.order.note(Damage{Kind: Altered, Line: 1, Lines: 1, Text: "a UTF-8 byte order mark stands before the first line", Cost: "no record"})
	}
	if !r.raw.long {
		if r.parse(line, off, true) {
			return r.accept(off)
		}
		if r.parts = r.split(line, off); r.parts != nil {
			return false
		}
	}
	r.scrap(line, off, !r.raw.lf)
	return false
}

// takePart reads the next part of a line.
func (r *Reader) takePart() bool {
	p := r.parts[0]
	r.parts = r.parts[1:]
	last := len(r.parts) == 0
	if !r.parse(p.bytes, p.off, last) {
		r.scrap(p.bytes, p.off, last && !r.raw.lf)
		return false
	}
	if !last {
		r.order.note(Damage{Kind: Altered, Line: r.line, Lines: 1, Byte: p.off, Text: "the LF after the record is gone", Cost: "no record"})
	}
	return r.accept(p.off)
}

// parse leaves the record in r.p, if there is one. What was done to the line's
// end is damage but costs nothing.
func (r *Reader) parse(line []byte, off int64, last bool) bool {
	crlf := false
	if r.p.parse(line) != nil {
		n := len(line)
		if n == 0 || line[n-1] != '\r' || r.p.parse(line[:n-1]) != nil {
			return false
		}
		crlf = true
	}
	switch {
	case crlf && last:
		r.order.crlf(r.line, off)
	case last && !r.raw.lf:
		r.order.note(Damage{Kind: Cut, Line: r.line, Lines: 1, Byte: off, Text: "the last line is whole but for its LF", Cost: "no record"})
	}
	return true
}

func (r *Reader) accept(off int64) bool {
	return r.order.accept(place{line: r.line, off: off}, &r.p)
}

// maxParts bounds the work on a line full of what looks like records.
const maxParts = 16

// split finds records inside a line that as a whole is none: its LF may be
// gone, or something was put before it. nil: there are none.
func (r *Reader) split(line []byte, off int64) []part {
	var parts []part
	from, whole := 0, false
	cut := func(to int) {
		parts = append(parts, part{line[from:to], off + int64(from)})
		whole = whole || r.p.parse(bytes.TrimSuffix(line[from:to], []byte("\r"))) == nil
		from = to
	}
	for at := 1; at < len(line) && len(parts) < maxParts; at++ {
		i := bytes.Index(line[at:], []byte("t="))
		if i < 0 {
			break
		}
		if at += i; startsRecord(line[at:]) {
			cut(at)
		}
	}
	if from == 0 {
		return nil
	}
	cut(len(line))
	if !whole {
		return nil
	}
	return parts
}

// scrap notes a line, or a part of one, that is no record.
func (r *Reader) scrap(line []byte, off int64, torn bool) {
	s := scrap{place: place{line: r.line, off: off}, lines: 1, ours: looksOurs(line), torn: torn, size: int64(len(line))}
	if r.raw.long {
		s.size = r.raw.size
		if r.raw.lf {
			s.size--
		}
	}
	if torn && (string(line) == "t" || bytes.HasPrefix(line, []byte("t="))) {
		s.ours = true
	}
	switch {
	case r.raw.long && r.raw.nul, !r.raw.long && len(line) > 0 && allNUL(line):
		s.nul = true
		s.what = fmt.Sprintf("%d NUL bytes, as a power cut leaves them", s.size)
	case r.raw.long:
		s.what = fmt.Sprintf("%d bytes without a line's end; a line has at most %d", s.size, MaxLine)
	case len(line) == 0 || string(line) == "\r":
		s.what = "an empty line"
	case r.line == 1 && (bytes.HasPrefix(line, []byte("\xFF\xFE")) || bytes.HasPrefix(line, []byte("\xFE\xFF"))):
		s.what = "UTF-16 text; turn it back into plain bytes"
	case !s.ours:
		s.what = "not a line of a log: " + quoteShort(line)
	default:
		s.what = r.p.parse(line).What
	}
	r.order.scrap(s)
}
