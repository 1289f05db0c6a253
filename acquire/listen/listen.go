// Package listen finds out what a box nobody knows sends: where its lines end,
// which number in them is the reading, in which unit, how often, how finely; and
// what a trial file would say of it.
//
// It is pure: bytes with their times come in. It only ever proposes. A reading
// whose unit was guessed is checked by a known weight.
package listen

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"hawse/acquire"
	"hawse/trial"
)

// Line is one line as it arrived, without its end.
type Line struct {
	T    int64 // ns, of its last byte
	Text []byte
}

// mostLines bounds what is looked at.
const mostLines = 5000

// Lines cuts a stream as the program does when it captures. bad counts what is no
// line: too long, or with NUL bytes where a driver puts parity errors.
type Lines struct {
	framer acquire.Framer
	All    []Line
	Bad    int
	begun  bool // the first line may be half of one
}

// Feed takes the next bytes, read at t.
func (l *Lines) Feed(t int64, raw []byte) {
	l.framer.Feed(raw, func(frame []byte, bad string) {
		switch {
		case !l.begun:
			l.begun = true
		case bad != "":
			l.Bad++
		case len(l.All) < mostLines:
			l.All = append(l.All, Line{t, bytes.Clone(frame)})
		}
	})
}

// Legible says what share of the bytes is text; 1 for none.
func Legible(raw []byte) float64 {
	good := 0
	for _, c := range raw {
		if c >= 0x20 && c < 0x7f || c == '\r' || c == '\n' || c == '\t' || c == 0x02 || c == 0x03 {
			good++
		}
	}
	if len(raw) == 0 {
		return 1
	}
	return float64(good) / float64(len(raw))
}

// Kinds of box.
const (
	Load   = "load"
	Counts = "line"
)

// Shape is what the lines have in common.
type Shape struct {
	Kind    string // Load or Counts
	Pattern string // for the trial file's line=
	Unit    string // of a load, as the box writes it; empty: it does not
	Units   []string
	Fits    int // lines that fit the pattern, of Of
	Of      int
	Over    []string // what it says in place of a number
	Others  []string // lines of another shape, some of them, made visible
	Status  []string // status words seen

	Values []float64 // in order
	Rate   float64   // lines a second, Hz; 0: not known
	Step   float64   // of the display, in its unit; 0: it never changed
	Noise  float64   // standard deviation from one reading to the next over sqrt 2
	Notes  []string
}

type kind byte

const (
	blank kind = iota
	number
	word
	sum // "*4E" at the end
	other
)

type token struct {
	kind kind
	text string
}

// tokenText finds, in this order: blanks, a number with its sign, a word.
var (
	pointNumber = regexp.MustCompile(`^[+-]?[ \t]*[0-9]+(?:\.[0-9]+)?`)
	commaNumber = regexp.MustCompile(`^[+-]?[ \t]*[0-9]+(?:,[0-9]+)?`)
	sumText     = regexp.MustCompile(`^\*[0-9A-Fa-f]{2}$`)
)

func alnum(c byte) bool {
	return c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z'
}

func tokens(line []byte, num *regexp.Regexp) (out []token) {
	for i := 0; i < len(line); {
		rest := line[i:]
		k, n := other, 1
		switch c := rest[0]; {
		case c == ' ' || c == '\t':
			for k = blank; n < len(rest) && (rest[n] == ' ' || rest[n] == '\t'); n++ {
			}
		case c == '*' && sumText.Match(rest):
			k, n = sum, len(rest)
		case c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z':
			for k = word; n < len(rest) && alnum(rest[n]) && !(rest[n] >= '0' && rest[n] <= '9'); n++ {
			}
		default:
			if m := num.Find(rest); m != nil {
				k, n = number, len(m)
			}
		}
		out = append(out, token{k, string(rest[:n])})
		i += n
	}
	return out
}

const aNumber = "\x01"

// signature is what lines of one shape share: blanks are not looked at, for a
// number is padded. Its marks are bytes that a quoted byte has not in it.
func signature(ts []token) string {
	var b strings.Builder
	for _, t := range ts {
		switch t.kind {
		case blank:
		case number:
			b.WriteString(aNumber)
		case word:
			b.WriteString("\x02")
		case sum:
			b.WriteString("\x03")
		default:
			b.WriteString(strconv.Quote(t.text))
		}
	}
	return b.String()
}

var oneComma = regexp.MustCompile(`^[^.,]*[0-9],([0-9]+)[^.,]*$`)

// commas says that the box writes a comma for the decimal point: no point
// anywhere, one comma a line, between digits, and what is behind it changes.
func commas(lines []Line) bool {
	n, behind := 0, map[string]bool{}
	for _, l := range lines {
		if m := oneComma.FindSubmatch(l.Text); m != nil {
			n++
			behind[string(m[1])] = true
		}
	}
	return n > len(lines)*8/10 && len(behind) > 1
}

// Find works out the shape. as is Load, Counts, or empty to be found out. The
// error says why there is none.
func Find(lines []Line, as string) (*Shape, error) {
	if len(lines) < 3 {
		return nil, fmt.Errorf("%d whole lines: too few to see what they share; listen longer, or ask the box if it waits to be asked", len(lines))
	}
	num := pointNumber
	if commas(lines) {
		num = commaNumber
	}
	split := make([][]token, len(lines))
	count := map[string]int{}
	for i, l := range lines {
		split[i] = tokens(l.Text, num)
		if s := signature(split[i]); strings.Contains(s, aNumber) {
			count[s]++
		}
	}
	best := ""
	for s, n := range count {
		if n > count[best] || n == count[best] && s < best {
			best = s
		}
	}
	if best == "" {
		return nil, fmt.Errorf("no number in any of %d lines: it is text, or the speed is wrong", len(lines))
	}
	if count[best]*2 <= len(lines) && count[best] < 5 {
		return nil, fmt.Errorf("%d lines and no two of one shape: the speed is wrong, or several boxes are on the port", len(lines))
	}
	s := &Shape{Of: len(lines)}
	var rows [][]token
	var times []int64
	for i, ts := range split {
		if signature(ts) == best {
			rows, times = append(rows, ts), append(times, lines[i].T)
		} else {
			s.notShaped(lines[i].Text, ts)
		}
	}
	s.Fits = len(rows)
	cols := columns(rows)
	at := s.choose(cols, as)
	s.write(cols, at)
	s.measure(cols[at], times, num == commaNumber)
	return s, nil
}

// overWords are what boxes say when a load is past their range: common practice,
// no source.
var overWords = []string{"OL", "OVL", "OVER", "OF", "OVR", "OVERLOAD"}

func (s *Shape) notShaped(text []byte, ts []token) {
	for _, t := range ts {
		over := t.kind == word && slices.Contains(overWords, strings.ToUpper(t.text))
		if over && !slices.Contains(s.Over, t.text) {
			s.Over = append(s.Over, t.text)
		}
		if over {
			return
		}
	}
	if dashes := strings.Trim(string(text), " \t"); len(dashes) >= 3 && strings.Trim(dashes, "-") == "" {
		if !slices.Contains(s.Over, dashes) {
			s.Over = append(s.Over, dashes)
			s.Notes = append(s.Notes, "dashes in place of a number: over range, or no cell connected? try it")
		}
		return
	}
	if v := acquire.Visible(text); len(s.Others) < 5 && !slices.Contains(s.Others, v) {
		s.Others = append(s.Others, v)
	}
}

// column is one token of the shape over all lines, with the blanks before it.
type column struct {
	kind        kind
	texts       []string // of each line
	different   []string
	blankBefore bool // in any line
	always      bool // in every line as much
	blanks      string
	trailing    bool // the end of the line: blanks only
}

// decimal says that a number has a fraction in any line.
func (c *column) decimal() bool {
	return slices.ContainsFunc(c.texts, func(t string) bool { return strings.ContainsAny(t, ".,") })
}

func columns(rows [][]token) (cols []*column) {
	for r, ts := range rows {
		i, before := 0, ""
		put := func(t token) {
			if r == 0 {
				cols = append(cols, &column{kind: t.kind, always: true, blanks: before, trailing: t.kind == blank})
			}
			c := cols[i]
			c.texts = append(c.texts, t.text)
			if !slices.Contains(c.different, t.text) {
				c.different = append(c.different, t.text)
			}
			c.blankBefore = c.blankBefore || before != ""
			c.always = c.always && before == c.blanks
			i, before = i+1, ""
		}
		for _, t := range ts {
			if t.kind == blank {
				before = t.text
				continue
			}
			put(t)
		}
		put(token{blank, ""}) // what blanks there are at the end
	}
	return cols
}

// choose finds the column of the reading: the number before a unit of force, or
// the one that changes most.
func (s *Shape) choose(cols []*column, as string) int {
	best, unit := -1, -1
	score := func(c *column) (n int) {
		n = len(c.different)
		if c.decimal() {
			n += len(c.texts) // a decimal is no address and no count
		}
		return n
	}
	for i, c := range cols {
		if c.kind == number && (best < 0 || score(c) > score(cols[best])) {
			best = i
		}
	}
	for i, c := range cols {
		if c.kind != word || !allUnits(c.different) || labels(cols, i) {
			continue
		}
		for back := i - 1; back >= 0 && back >= i-2; back-- {
			if cols[back].kind == number && (cols[back] == cols[best] || len(cols[back].different) > 1 || len(cols[best].different) == 1) {
				best, unit = back, i
				break
			}
		}
		if unit >= 0 {
			break
		}
	}
	if unit < 0 { // a unit before the number: "kg 12.3"
		for i := 0; i < best; i++ {
			// "N 123" may be a name and a count as well as newtons: whole numbers are
			// taken for counts, unless a person says otherwise.
			decimal := cols[best].decimal()
			if cols[i].kind == word && allUnits(cols[i].different) && i >= best-2 && !labels(cols, i) && (decimal || as == Load) {
				unit = i
			}
		}
	}
	whole := !cols[best].decimal()
	switch {
	case as != "":
		s.Kind = as
	case unit < 0 && whole:
		s.Kind = Counts
		s.Notes = append(s.Notes, "whole numbers without a unit: taken for a line counter; say --as load if it is none")
	default:
		s.Kind = Load
	}
	if s.Kind == Load && unit >= 0 {
		s.Units = cols[unit].different
		s.Unit = s.Units[len(s.Units)-1] // the one it sends now
		cols[unit].kind = unitColumn
		if len(s.Units) > 1 {
			s.Notes = append(s.Notes, fmt.Sprintf("the unit changed while listening: %s; somebody pressed a button?", strings.Join(s.Units, ", ")))
		}
	}
	if s.Kind == Load && unit < 0 {
		s.Notes = append(s.Notes, "the box sends no unit: read it off its display, and hang a known weight on it")
	}
	return best
}

const unitColumn kind = 100

// labels says that a word names what comes, as T does in T=12.
func labels(cols []*column, i int) bool {
	return i+1 < len(cols) && (cols[i+1].texts[0] == "=" || cols[i+1].texts[0] == ":")
}

func allUnits(texts []string) bool {
	return !slices.ContainsFunc(texts, func(t string) bool { _, ok := trial.ForceUnitNamed(t); return !ok })
}
