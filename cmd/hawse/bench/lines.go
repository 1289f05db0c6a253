package bench

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"hawse/trial"
)

// The two instruments of a bench, as indexes.
const (
	loadCell = iota
	encoder
	instruments
)

// sources are their names in the raw log.
var sources = [instruments]string{"load", "line"}

// numberMarks stands before the number of a line, another for each instrument,
// so that a line tells whose it is wherever it is found.
var numberMarks = [instruments]byte{'#', '@'}

const (
	numberDigits = 8
	lineEnd      = "\r\n"
)

// instrument makes the lines of one box. Every line is a function of its
// number alone, so that what arrives can be compared byte by byte.
type instrument struct {
	which int
	// counts of line hauled: num a line each den lines, no more than most.
	num, den, most int64
}

// floodSpan is what is hauled while sending, m: not enough to end the lane.
const floodSpan = 20

// newBoxes are a load cell and an encoder at rate lines a second, while the
// winch hauls span metres in the given time and then stands.
func newBoxes(rate int, span float64, in time.Duration) [instruments]instrument {
	mm := int64(span * 1000)
	line := instrument{which: encoder, num: mm, den: max(int64(float64(rate)*in.Seconds()), 1), most: mm}
	return [instruments]instrument{{which: loadCell}, line}
}

// append adds the line as the instrument reads at line at, carrying number. A
// line that is not counted has number 0.
func (b instrument) append(dst []byte, at, number int) []byte {
	if b.which == encoder {
		dst = append(dst, "N +"...)
		dst = appendDigits(dst, min(int64(at)*b.num/b.den, b.most), 7)
	} else {
		// A saw-tooth between 100 and 500 kgf: no warning, no slack.
		tenths := 1000 + int64(at%4000)
		dst = append(dst, '+')
		dst = appendDigits(dst, tenths/10, 4)
		dst = append(dst, '.', byte('0'+tenths%10))
		dst = append(dst, " kgf"...)
	}
	dst = append(dst, ' ', numberMarks[b.which])
	dst = appendDigits(dst, int64(number), numberDigits)
	return append(dst, lineEnd...)
}

func appendDigits(dst []byte, v int64, width int) []byte {
	at := len(dst)
	for range width {
		dst = append(dst, '0')
	}
	for i := at + width - 1; i >= at; i-- {
		dst[i] = byte('0' + v%10)
		v /= 10
	}
	return dst
}

// numberAfter reads the number that stands in p after mark; what is marked and
// has no eight digits is passed over.
func numberAfter(p []byte, mark byte) (number int, ok bool) {
	for {
		i := bytes.IndexByte(p, mark)
		if i < 0 {
			return 0, false
		}
		p = p[i+1:]
		if len(p) < numberDigits {
			return 0, false
		}
		n := 0
		for _, c := range p[:numberDigits] {
			if c < '0' || c > '9' {
				n = -1
				break
			}
			n = n*10 + int(c-'0')
		}
		if n >= 0 {
			return n, true
		}
	}
}

// trialFile is the trial file of a bench: the template's invented campaign on
// the given ports, with room for a number in each line, and no planned end
// that a long measurement could reach.
func trialFile(rate int, load, line, stop string) (string, error) {
	text := trial.Template()
	quoted := func(s string) string { return "'" + s + "'" }
	for _, r := range []struct {
		from, to string
		times    int
	}{
		{`"./deck/load"`, quoted(load), 1},
		{`"./deck/line"`, quoted(line), 1},
		{`"./deck/stop"`, quoted(stop), 1},
		{`'^(?P<value>[+-]?\d+(\.\d+)?) (?P<unit>kgf)$'`, `'^(?P<value>[+-]?\d+(\.\d+)?) (?P<unit>kgf) #(\d+)$'`, 1},
		{`'^N (?P<counts>[+-]?\d+)$'`, `'^N (?P<counts>[+-]?\d+) @(\d+)$'`, 1},
		{`rate = "10 Hz"`, fmt.Sprintf(`rate = "%d Hz"`, rate), 2},
		{`baud = 9600`, `baud = 115200`, 3},
		{`duration = "20 min"`, `duration = "200 h"`, 1},
	} {
		if n := strings.Count(text, r.from); n < r.times {
			return "", fmt.Errorf("the trial file's template has %d of %s, want %d: the bench must follow it", n, r.from, r.times)
		}
		text = strings.ReplaceAll(text, r.from, r.to)
	}
	if _, err := trial.ParseTrial("trial.toml", []byte(text)); err != nil {
		return "", fmt.Errorf("the bench's trial file: %w", err)
	}
	return text, nil
}
