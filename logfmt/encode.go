package logfmt

import (
	"hash/crc32"
	"strconv"
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

const hexDigits = "0123456789abcdef"

// What a byte may be part of.
const (
	inPlain     = 1 << iota // a plain value
	inQuotes                // a quoted value, standing for itself
	inName                  // a name, after its first letter
	inNameFirst             // a name, as its first letter
)

var class = func() (t [256]uint8) {
	for c := 0x20; c <= 0x7E; c++ {
		t[c] = inQuotes
	}
	t['"'], t['\\'] = 0, 0
	for c := byte('a'); c <= 'z'; c++ {
		t[c] |= inPlain | inName | inNameFirst
		t[c-'a'+'A'] |= inPlain
	}
	for c := byte('0'); c <= '9'; c++ {
		t[c] |= inPlain | inName
	}
	t['_'] |= inPlain | inName
	for _, c := range []byte(".:+-/") {
		t[c] |= inPlain
	}
	return t
}()

// ValidName tells whether s can be a kind: a letter a-z, then a-z, 0-9 and "_".
func ValidName(s string) bool { return isName(s) }

// ValidKey tells whether s can be a field's key: a name, and none of t n k prev
// crc, which every line has.
func ValidKey(s string) bool { return isName(s) && !reserved(s) }

func isName[T string | []byte](s T) bool {
	if len(s) == 0 || class[s[0]]&inNameFirst == 0 {
		return false
	}
	for i := 1; i < len(s); i++ {
		if class[s[i]]&inName == 0 {
			return false
		}
	}
	return true
}

func reserved[T string | []byte](s T) bool {
	switch string(s) {
	case "t", "n", "k", "prev", "crc":
		return true
	}
	return false
}

func isPlain[T string | []byte](s T) bool {
	for i := range len(s) {
		if class[s[i]]&inPlain == 0 {
			return false
		}
	}
	return len(s) > 0
}

// AppendRecord appends the record's whole line with its LF to dst and returns
// it with the line's crc, which is the prev of the next line. prev is the crc
// of the line before, 0 for the first. It allocates nothing but what dst needs
// to grow.
//
// Every record can be written. A kind or key that is none ([ValidName],
// [ValidKey]) is a mistake of the program; rather than lose the record, the
// name is written as "x_" and its letters and digits, all else as "_".
func AppendRecord(dst []byte, r *Record, prev uint32) (line []byte, crc uint32) {
	start := len(dst)
	dst = append(dst, "t="...)
	dst = appendNs(dst, r.T)
	dst = append(dst, " n="...)
	dst = strconv.AppendUint(dst, r.N, 10)
	dst = append(dst, " k="...)
	if ValidName(string(r.Kind)) {
		dst = append(dst, r.Kind...)
	} else {
		dst = appendMendedName(dst, string(r.Kind))
	}
	for i := range r.Fields {
		f := &r.Fields[i]
		dst = append(dst, ' ')
		if ValidKey(f.Key) {
			dst = append(dst, f.Key...)
		} else {
			dst = appendMendedName(dst, f.Key)
		}
		dst = append(dst, '=')
		if f.Key != "raw" && isPlain(f.Val) {
			dst = append(dst, f.Val...)
		} else {
			dst = appendQuoted(dst, f.Val)
		}
	}
	dst = append(dst, " prev="...)
	dst = appendHex8(dst, prev)
	crc = crc32.Checksum(dst[start:], castagnoli)
	dst = append(dst, " crc="...)
	dst = appendHex8(dst, crc)
	return append(dst, '\n'), crc
}

func appendHex8(dst []byte, u uint32) []byte {
	return append(dst,
		hexDigits[u>>28], hexDigits[u>>24&15], hexDigits[u>>20&15], hexDigits[u>>16&15],
		hexDigits[u>>12&15], hexDigits[u>>8&15], hexDigits[u>>4&15], hexDigits[u&15])
}

func appendQuoted(dst []byte, val string) []byte {
	return append(AppendEscaped(append(dst, '"'), val), '"')
}

// AppendEscaped appends text as it stands in a log between its quotes.
func AppendEscaped(dst []byte, val string) []byte {
	from := 0 // bytes from here stand for themselves
	for i := range len(val) {
		c := val[i]
		if class[c]&inQuotes != 0 {
			continue
		}
		dst = append(dst, val[from:i]...)
		from = i + 1
		switch c {
		case '"', '\\':
			dst = append(dst, '\\', c)
		case '\r':
			dst = append(dst, '\\', 'r')
		case '\n':
			dst = append(dst, '\\', 'n')
		case '\t':
			dst = append(dst, '\\', 't')
		default:
			dst = append(dst, '\\', 'x', hexDigits[c>>4], hexDigits[c&15])
		}
	}
	return append(dst, val[from:]...)
}

func appendMendedName(dst []byte, name string) []byte {
	dst = append(dst, "x_"...)
	for i := range len(name) {
		c := name[i]
		if c >= 'A' && c <= 'Z' {
			c += 'a' - 'A'
		}
		if class[c]&inName == 0 {
			c = '_'
		}
		dst = append(dst, c)
	}
	return dst
}
