package acquire

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"regexp"
	"regexp/syntax"
	"slices"
	"strconv"
	"strings"
)

// pattern is one box's line: a regular expression that must match the whole
// line, so that a tail or a line with rubbish around it is not read as a number.
type pattern struct {
	re    *regexp.Regexp
	group map[string]int
}

// newPattern compiles a line pattern. must is the group it cannot do without,
// may are the others it can have. Errors name the key of the trial file.
func newPattern(text, must string, may ...string) (*pattern, error) {
	if strings.TrimSpace(text) == "" {
		return nil, fmt.Errorf("line: no pattern; give a regular expression with the group (?P<%s>...)", must)
	}
	if _, err := regexp.Compile(text); err != nil {
		return nil, fmt.Errorf("line: %s is no regular expression: %w", quoted(text), err)
	}
	re, err := regexp.Compile(`\A(?:` + text + `)\z`)
	if err != nil {
		return nil, fmt.Errorf("line: %s is no regular expression: %w", quoted(text), err)
	}
	p := &pattern{re, map[string]int{}}
	for i, name := range re.SubexpNames() {
		switch {
		case name == "":
		case name == must || slices.Contains(may, name):
			p.group[name] = i
		default:
			return nil, fmt.Errorf("line: group %s is not known; groups are %s",
				quoted(name), strings.Join(append([]string{must}, may...), ", "))
		}
	}
	if p.group[must] == 0 {
		return nil, fmt.Errorf("line: %s has no group for the number; put it in (?P<%s>...)", quoted(text), must)
	}
	return p, nil
}

// match returns the group positions, nil if the line does not match.
func (p *pattern) match(frame []byte) []int { return p.re.FindSubmatchIndex(frame) }

// part is the text of one group, nil if it is not in the pattern or took no part.
func (p *pattern) part(frame []byte, m []int, name string) []byte {
	i := p.group[name]
	if i == 0 || m[2*i] < 0 {
		return nil
	}
	return frame[m[2*i]:m[2*i+1]]
}

// decimalComma reports whether the pattern says that its number has a decimal
// comma: the group can hold a comma and cannot hold a point. A group that can
// hold both leaves open whether "1,234" is one or a thousand.
func decimalComma(text, group string) bool {
	re, err := syntax.Parse(text, syntax.Perl)
	if err != nil {
		return false
	}
	g := capture(re, group)
	return g != nil && canHold(g, ',') && !canHold(g, '.')
}

func capture(re *syntax.Regexp, name string) *syntax.Regexp {
	if re.Op == syntax.OpCapture && re.Name == name {
		return re
	}
	for _, sub := range re.Sub {
		if found := capture(sub, name); found != nil {
			return found
		}
	}
	return nil
}

func canHold(re *syntax.Regexp, r rune) bool {
	switch re.Op {
	case syntax.OpAnyChar, syntax.OpAnyCharNotNL:
		return true
	case syntax.OpLiteral:
		return slices.Contains(re.Rune, r)
	case syntax.OpCharClass:
		for i := 0; i+1 < len(re.Rune); i += 2 {
			if re.Rune[i] <= r && r <= re.Rune[i+1] {
				return true
			}
		}
		return false
	}
	return slices.ContainsFunc(re.Sub, func(sub *syntax.Regexp) bool { return canHold(sub, r) })
}

// maxDigits bounds the text of a number. 17 digits hold any float64.
const maxDigits = 40

var (
	errNoNumber = errors.New("no number where the pattern has one")
	errComma    = errors.New("the number has a comma; a pattern that means a decimal comma allows a comma and no point in its value")
	errLongNum  = errors.New("the number is too long")
)

// parseValue reads a number as boxes write them: blanks between sign and digits
// are allowed, "nan" and "inf" are numbers, hexadecimal and underscores are not.
// Beyond the range of float64 it is infinite.
func parseValue(text []byte, comma bool) (float64, error) {
	text = trimBlanks(text)
	var sign float64 = 1
	if len(text) > 0 && (text[0] == '-' || text[0] == '+') {
		if text[0] == '-' {
			sign = -1
		}
		text = bytes.TrimLeft(text[1:], " \t")
	}
	switch {
	case len(text) > maxDigits:
		return 0, errLongNum
	case bytes.EqualFold(text, []byte("nan")):
		return math.NaN(), nil
	case bytes.EqualFold(text, []byte("inf")), bytes.EqualFold(text, []byte("infinity")):
		return math.Inf(int(sign)), nil
	}
	var buf [maxDigits]byte
	digits := false
	for i, c := range text {
		switch {
		case c >= '0' && c <= '9':
			digits = true
		case c == '.' && !comma:
		case c == ',' && comma:
			c = '.'
		case c == ',':
			return 0, errComma
		case digits && (c == 'e' || c == 'E'):
		case (c == '-' || c == '+') && i > 0 && (text[i-1] == 'e' || text[i-1] == 'E'):
		default:
			return 0, errNoNumber
		}
		buf[i] = c
	}
	if !digits {
		return 0, errNoNumber
	}
	v, err := strconv.ParseFloat(string(buf[:len(text)]), 64)
	if err != nil && !math.IsInf(v, 0) {
		return 0, errNoNumber
	}
	return sign * v, nil
}

var errCounts = errors.New("the count does not fit in 64 bits")

// parseCounts reads a whole number, blanks between sign and digits allowed.
func parseCounts(text []byte) (int64, error) {
	text = trimBlanks(text)
	var buf [maxDigits]byte
	n := 0
	if len(text) > 0 && (text[0] == '-' || text[0] == '+') {
		buf[0], n = text[0], 1
		text = bytes.TrimLeft(text[1:], " \t")
	}
	if len(text) == 0 {
		return 0, errNoNumber
	}
	if len(text)+n > maxDigits {
		return 0, errLongNum
	}
	for _, c := range text {
		if c < '0' || c > '9' {
			return 0, errNoNumber
		}
	}
	n += copy(buf[n:], text)
	v, err := strconv.ParseInt(string(buf[:n]), 10, 64)
	if err != nil {
		return 0, errCounts
	}
	return v, nil
}

func trimBlanks(p []byte) []byte { return bytes.Trim(p, " \t") }

func quoted(s string) string { return `"` + Visible([]byte(s)) + `"` }
