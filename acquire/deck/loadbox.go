package deck

import (
	"fmt"
	"math"
	"regexp"
	"strconv"

	"hawse/trial"
)

// loadBox is what the load cell's box makes of a tension: the words it sends.
type loadBox struct {
	unit             trial.ForceUnit
	plus             bool // a plus sign stands before what is not below zero
	digits, decimals int
	tail             string      // after the number
	top              trial.Force // beyond it the box says OL
	step             trial.Force // of the display; 0: the last decimal
	reversed         bool
}

const kgf = trial.Force(9.80665) // exact: standard gravity times 1 kg

const defaultLoadLine = "+0000.0 kgf"

var loadLine = regexp.MustCompile(`^(\+?)(0{1,9})(?:\.(0{1,6}))?(| [!-~]{1,10})$`)

// picture reads what a line looks like, such as "+0000.0 kgf": a plus sign where
// one is sent, a 0 for each digit at least, and what follows the number.
func (b *loadBox) picture(text string) error {
	m := loadLine.FindStringSubmatch(text)
	if m == nil {
		return fmt.Errorf("%s is no picture of a load line", quoted(text))
	}
	b.plus, b.digits, b.decimals, b.tail = m[1] != "", len(m[2]), len(m[3]), m[4]
	return nil
}

// append is the box's line for a tension.
func (b *loadBox) append(dst []byte, t trial.Force) []byte {
	n, over := b.digitsOf(t)
	if over {
		return append(dst, "OL\r\n"...)
	}
	dst = appendNumber(dst, n, b.plus, b.digits, b.decimals)
	dst = append(dst, b.tail...)
	return append(dst, "\r\n"...)
}

// number is the number the box shows for a tension, in its unit.
func (b *loadBox) number(t trial.Force) (v float64, over bool) {
	n, over := b.digitsOf(t)
	return float64(n) / math.Pow10(b.decimals), over
}

// digitsOf is the number without its point.
func (b *loadBox) digitsOf(t trial.Force) (n int64, over bool) {
	scale := math.Pow10(b.decimals)
	v := math.Round(b.unit.In(t) * scale)
	if b.step > 0 {
		v = math.Round(math.Round(float64(t/b.step)) * b.unit.In(b.step) * scale)
	}
	if math.Abs(v) > math.Round(b.unit.In(b.top)*scale) {
		return 0, true
	}
	if b.reversed {
		v = -v
	}
	return int64(v), false
}

// appendNumber writes n, of whose digits the last are decimals, with at least
// so many digits before the point.
func appendNumber(dst []byte, n int64, plus bool, digits, decimals int) []byte {
	switch {
	case n < 0:
		dst, n = append(dst, '-'), -n
	case plus:
		dst = append(dst, '+')
	}
	var room [20]byte
	text := strconv.AppendInt(room[:0], n, 10)
	for range digits + decimals - len(text) {
		dst = append(dst, '0')
	}
	dst = append(dst, text...)
	if decimals > 0 {
		dst = append(dst, 0)
		at := len(dst) - 1 - decimals
		copy(dst[at+1:], dst[at:])
		dst[at] = '.'
	}
	return dst
}
