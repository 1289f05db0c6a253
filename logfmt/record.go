package logfmt

import (
	"fmt"
	"math"
	"strconv"
)

// MaxLine is the greatest number of bytes of a line with its LF. The reader
// refuses a longer one, so the writer does not write it.
const MaxLine = 1 << 20

// A Kind says what a record is about. It is a name as a key is: see [ValidName].
type Kind string

// The kinds of records. All but [Say] are inputs: what came from outside. A
// reader meets kinds it does not know in logs of later versions.
const (
	Head      Kind = "head"  // what the log is: format, trial, values in force
	PortEvent Kind = "port"  // a port was opened, lost, found again
	Rx        Kind = "rx"    // bytes that a port gave
	Tx        Kind = "tx"    // bytes that a port was given
	Tick      Kind = "tick"  // time passed and nothing came
	Clock     Kind = "clock" // the wall clock's time at t
	Act       Kind = "act"   // a person did or said something
	End       Kind = "end"   // the seal
	Say       Kind = "say"   // output: what the program derived and told
)

// A Field is one key and its value in a record.
type Field struct {
	Key string // a name ([ValidName]), none of t n k prev crc
	Val string // any bytes
}

// A Record is one line of a log.
type Record struct {
	T      int64  // time since the log's start, nanoseconds, monotonic
	N      uint64 // number of the record, from 1
	Kind   Kind
	Fields []Field // in the order of the line
}

// Get returns the value of the first field with that key, and whether there is
// one.
func (r *Record) Get(key string) (string, bool) {
	for i := range r.Fields {
		if r.Fields[i].Key == key {
			return r.Fields[i].Val, true
		}
	}
	return "", false
}

// Str returns the value of the first field with that key, "" if there is none.
func (r *Record) Str(key string) string {
	val, _ := r.Get(key)
	return val
}

// Int returns the field's value as a decimal whole number. It is false if there
// is no such field or its value is not one in the range of an int64.
func (r *Record) Int(key string) (int64, bool) {
	val, ok := r.Get(key)
	if !ok {
		return 0, false
	}
	i, err := strconv.ParseInt(val, 10, 64)
	return i, err == nil
}

// Float returns the field's value as a number, as [FormatFloat] writes it: NaN
// and the infinities are numbers here and have to be asked for by the caller.
// It is false if there is no such field or its value is not a number.
func (r *Record) Float(key string) (float64, bool) {
	val, ok := r.Get(key)
	if !ok {
		return 0, false
	}
	switch val {
	case "NaN":
		return math.NaN(), true
	case "+Inf":
		return math.Inf(1), true
	case "-Inf":
		return math.Inf(-1), true
	}
	for i := range len(val) {
		// ParseFloat takes hexadecimal, underscores and "infinity" too, which
		// no log has.
		c := val[i]
		if (c < '0' || c > '9') && c != '.' && c != '-' && c != '+' && c != 'e' && c != 'E' {
			return 0, false
		}
	}
	f, err := strconv.ParseFloat(val, 64)
	if err != nil {
		return 0, false
	}
	return f, true
}

// Ns returns the field's value, decimal seconds with nine places, as
// nanoseconds. It is false if there is no such field or its value is not of
// that form.
func (r *Record) Ns(key string) (int64, bool) {
	val, ok := r.Get(key)
	if !ok {
		return 0, false
	}
	return scanNs(val)
}

// FormatNs writes nanoseconds as decimal seconds with nine places, exactly.
func FormatNs(ns int64) string {
	return string(appendNs(make([]byte, 0, 24), ns))
}

// ParseNs reads what [FormatNs] writes, and only that: one number has one text.
func ParseNs(s string) (int64, error) {
	ns, ok := scanNs(s)
	if !ok {
		return 0, fmt.Errorf("logfmt: %s is not a time; want seconds with nine decimal places, as 12.345678901, within 292 years", quoteShort([]byte(s)))
	}
	return ns, nil
}

// FormatFloat writes the shortest decimal text that gives the same float back
// through [Record.Float]; NaN, +Inf and -Inf by name. The bits inside a NaN are
// not kept.
func FormatFloat(f float64) string {
	return strconv.FormatFloat(f, 'g', -1, 64)
}

const nsPerSecond = 1e9

func appendNs(dst []byte, ns int64) []byte {
	u := uint64(ns)
	if ns < 0 {
		dst = append(dst, '-')
		u = -u // right for the least int64 too
	}
	dst = strconv.AppendUint(dst, u/nsPerSecond, 10)
	frac := uint32(u % nsPerSecond)
	digits := [10]byte{0: '.'}
	for i := 8; i > 0; i -= 2 { // two digits at a time: this is half of a writer's work on numbers
		pair := frac % 100
		digits[i], digits[i+1] = byte('0'+pair/10), byte('0'+pair%10)
		frac /= 100
	}
	digits[1] = byte('0' + frac)
	return append(dst, digits[:]...)
}

// scanNs reads the one written form of a time.
func scanNs[T string | []byte](s T) (int64, bool) {
	digits := s
	neg := len(digits) > 0 && digits[0] == '-'
	if neg {
		digits = digits[1:]
	}
	point := len(digits) - 10
	// 10 digits of seconds hold every int64 of nanoseconds.
	if point < 1 || point > 10 || digits[point] != '.' || digits[0] == '0' && point > 1 {
		return 0, false
	}
	var u uint64 // at most 19 digits: no overflow
	for i := range len(digits) {
		if i == point {
			continue
		}
		c := digits[i] - '0'
		if c > 9 {
			return 0, false
		}
		u = u*10 + uint64(c)
	}
	switch {
	case neg && u >= 1 && u <= 1<<63:
		return int64(-u), true
	case !neg && u <= math.MaxInt64:
		return int64(u), true
	}
	return 0, false
}

// scanUint reads the one written form of a number.
func scanUint(s []byte) (uint64, bool) {
	if len(s) == 0 || len(s) > 20 || s[0] == '0' && len(s) > 1 {
		return 0, false
	}
	var u uint64
	for _, c := range s {
		d := uint64(c - '0')
		if d > 9 || u > (math.MaxUint64-d)/10 {
			return 0, false
		}
		u = u*10 + d
	}
	return u, true
}

// hexValue is the value of a lower-case hexadecimal digit, 255 for all else.
var hexValue = func() (t [256]uint8) {
	for c := range t {
		t[c] = 255
	}
	for i, c := range []byte(hexDigits) {
		t[c] = uint8(i)
	}
	return t
}()

// scanHex8 reads eight lower-case hexadecimal digits.
func scanHex8(s []byte) (uint32, bool) {
	if len(s) != 8 {
		return 0, false
	}
	var u uint32
	bad := uint8(0)
	for _, c := range s {
		d := hexValue[c]
		bad |= d
		u = u<<4 | uint32(d&15)
	}
	return u, bad <= 15
}

// quoteShort makes bytes from outside fit for a message: quoted, all but plain
// characters escaped, and cut after some 40 bytes.
func quoteShort(b []byte) string {
	const most = 40
	if len(b) > most {
		return strconv.QuoteToASCII(string(b[:most])) + "..."
	}
	return strconv.QuoteToASCII(string(b))
}
