package acquire

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
)

// Sentence is one NMEA 0183 sentence of `$ talker type , fields * checksum`.
// Fields count from 1, as the descriptions do; an empty or missing one is
// unknown. Source of the fields: the gpsd project's "NMEA Revealed", edition of
// 12 July 2025; the sentences of testdata/nmea0183-sentences.csv.
type Sentence struct {
	Talker string // two letters; P for one that is a maker's own
	Type   string // three letters
	fields []string
}

// Why a sentence is not read.
var (
	errNoSentence  = errors.New("is no NMEA 0183 sentence")
	errNMEASum     = errors.New("its checksum does not fit")
	errNMEASumText = errors.New("its checksum is not two hexadecimal digits")
)

// ParseSentence reads one line. Boxes of old send no checksum; one that is there
// must fit.
func ParseSentence(line []byte) (Sentence, error) {
	if len(line) < 6 || line[0] != '$' && line[0] != '!' || noisy(line) {
		return Sentence{}, errNoSentence
	}
	body := string(line[1:])
	if i := strings.IndexByte(body, '*'); i >= 0 {
		want, ok := hexByte(strings.TrimRight(body[i+1:], " "))
		if !ok {
			return Sentence{}, errNMEASumText
		}
		body = body[:i]
		if got := xorSum([]byte(body)); got != want {
			return Sentence{}, fmt.Errorf("%w: it says %02X, the line has %02X", errNMEASum, want, got)
		}
	}
	fields := strings.Split(body, ",")
	head := fields[0]
	if len(head) < 5 || strings.ContainsFunc(head, notAddress) {
		return Sentence{}, errNoSentence
	}
	if head[0] == 'P' {
		return Sentence{Talker: "P", Type: head[1:], fields: fields}, nil
	}
	if len(head) != 5 {
		return Sentence{}, errNoSentence
	}
	return Sentence{Talker: head[:2], Type: head[2:], fields: fields}, nil
}

func notAddress(c rune) bool { return (c < 'A' || c > 'Z') && (c < '0' || c > '9') }

func hexByte(s string) (v byte, ok bool) {
	if len(s) != 2 {
		return 0, false
	}
	for _, c := range []byte(s) {
		v <<= 4
		switch {
		case c >= '0' && c <= '9':
			v |= c - '0'
		case c >= 'A' && c <= 'F':
			v |= c - 'A' + 10
		case c >= 'a' && c <= 'f':
			v |= c - 'a' + 10
		default:
			return 0, false
		}
	}
	return v, true
}

func (s Sentence) field(n int) string {
	if n < len(s.fields) {
		return s.fields[n]
	}
	return ""
}

// reader takes fields out of a sentence and keeps the first thing wrong.
type reader struct {
	s   Sentence
	err error
}

func (r *reader) bad(n int, what string) {
	if r.err == nil {
		r.err = fmt.Errorf("field %d, %s, is no %s", n, quoted(r.s.field(n)), what)
	}
}

// num is NaN where the field is empty. The numbers of a sentence are plain.
func (r *reader) num(n int) float64 {
	text := r.s.field(n)
	if text == "" {
		return math.NaN()
	}
	v, err := parseValue([]byte(text), false)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || strings.ContainsAny(text, "eE \t") {
		r.bad(n, "number")
		return math.NaN()
	}
	return v
}

// within is num that must lie from least to most.
func (r *reader) within(n int, least, most float64) float64 {
	v := r.num(n)
	if v < least || v > most {
		r.bad(n, fmt.Sprintf("number from %g to %g", least, most))
		return math.NaN()
	}
	return v
}

// whole is -1 where the field is empty.
func (r *reader) whole(n, least, most int) (v int, has bool) {
	text := r.s.field(n)
	if text == "" {
		return 0, false
	}
	c, err := parseCounts([]byte(text))
	if err != nil || c < int64(least) || c > int64(most) || strings.ContainsAny(text, " \t") {
		r.bad(n, fmt.Sprintf("whole number from %d to %d", least, most))
		return 0, false
	}
	return int(c), true
}

// unit looks whether a field is the letter it must be, or empty.
func (r *reader) unit(n int, want string) {
	if f := r.s.field(n); f != "" && f != want {
		r.bad(n, "unit "+want)
	}
}

// clock is hhmmss with decimals, as time since midnight; -1 unknown.
func (r *reader) clock(n int) time.Duration {
	text := r.s.field(n)
	if text == "" {
		return -1
	}
	whole, frac, dot := strings.Cut(text, ".")
	if len(whole) != 6 || dot && frac == "" || len(frac) > 9 || !digits(whole+frac) {
		r.bad(n, "time hhmmss")
		return -1
	}
	two := func(at int) time.Duration { return time.Duration(10*(whole[at]-'0') + whole[at+1] - '0') }
	h, m, s := two(0), two(2), two(4)
	if h > 23 || m > 59 || s > 60 { // 60: a leap second
		r.bad(n, "time of day")
		return -1
	}
	ns := time.Duration(0)
	for i := range 9 {
		ns *= 10
		if i < len(frac) {
			ns += time.Duration(frac[i] - '0')
		}
	}
	return h*time.Hour + m*time.Minute + s*time.Second + ns
}

func digits(s string) bool {
	return !strings.ContainsFunc(s, func(c rune) bool { return c < '0' || c > '9' })
}

// degrees reads ddmm.mm and the letter after it, north or east positive.
func (r *reader) degrees(n, whole int, plus, minus string, most float64) float64 {
	text, side := r.s.field(n), r.s.field(n+1)
	if text == "" && side == "" || text == "" {
		return math.NaN()
	}
	if len(text) < whole+2 || !digits(text[:whole+2]) || len(text) > whole+2 && (text[whole+2] != '.' || !digits(text[whole+3:])) {
		r.bad(n, "position")
		return math.NaN()
	}
	d, _ := parseValue([]byte(text[:whole]), false)
	m, err := parseValue([]byte(text[whole:]), false)
	v := d + m/60
	if err != nil || m >= 60 || v > most {
		r.bad(n, "position")
		return math.NaN()
	}
	switch side {
	case plus:
		return v
	case minus:
		return -v
	}
	r.bad(n+1, plus+" or "+minus)
	return math.NaN()
}
