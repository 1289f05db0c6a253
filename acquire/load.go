package acquire

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"

	"hawse/trial"
)

// ReadingKind tells what a frame was worth.
type ReadingKind uint8

// The kinds of reading. The zero value is Garbled, so that a forgotten reading
// is never taken for a good one.
const (
	Garbled   ReadingKind = iota // does not match, or holds no usable number
	Good                         // a number, possibly NaN
	OverRange                    // the box says so, or the number is at or past the cell's range
)

// String is the kind in one or two words.
func (k ReadingKind) String() string {
	switch k {
	case Good:
		return "good"
	case OverRange:
		return "over range"
	}
	return "garbled"
}

// LoadReading is one line of the load cell's box. For Garbled both forces are
// NaN; for OverRange they are NaN when the line held no number.
type LoadReading struct {
	Kind      ReadingKind
	Indicated trial.Force     // as the box shows it, N
	Tension   trial.Force     // with the calibration, N
	Unit      trial.ForceUnit // of the number in the line
	Why       string          // empty for a good reading; text from outside in it is made visible
}

// LoadDecoder reads the frames of a load cell's box. Decode is a pure function of
// the frame; the decoder remembers a unit to save work, so it belongs to one
// goroutine.
type LoadDecoder struct {
	line     *pattern // of text; nil where the box sends binary numbers
	bin      *packed  // nil for text
	overRaw  []float64
	comma    bool
	declared trial.ForceUnit // N 0: none
	over     [][]byte
	limit    trial.Force
	cal      []float64
	calUnit  trial.ForceUnit

	seenText string // the last unit read in a frame
	seen     trial.ForceUnit
}

// NewLoadDecoder checks what the trial file says of the load cell. The line
// pattern must match a whole line and have the group value; unit and status are
// optional. A decimal comma is read only if the value group allows a comma and
// no point. The unit in a line goes before the declared one; one of the two must
// exist. Binary numbers have the declared unit, and the words of over are then
// the numbers that mean it, before their factor. Errors begin with the key at
// fault.
func NewLoadDecoder(c trial.LoadCell) (*LoadDecoder, error) {
	d := &LoadDecoder{bin: newPacked(c.Wire), limit: c.Range, cal: slices.Clone(c.Cal), calUnit: c.CalUnit}
	if d.bin == nil {
		var err error
		if d.line, err = newPattern(c.Line, "value", "unit", "status", "counts", "depth"); err != nil {
			return nil, err
		}
		d.comma = decimalComma(c.Line, "value")
	}
	if c.Unit != "" {
		u, ok := trial.ForceUnitNamed(c.Unit)
		if !ok {
			return nil, fmt.Errorf("unit: %s is no unit of force; give N, kN, lbf, kgf, tf, lb, kg or t", quoted(c.Unit))
		}
		d.declared = u
	} else if d.line == nil || d.line.group["unit"] == 0 {
		return nil, errors.New("unit: none given and the line pattern has no group unit; say in what unit the box sends its numbers")
	}
	if !(c.Range > 0) || math.IsInf(float64(c.Range), 0) {
		return nil, fmt.Errorf("range: %v is not above zero; give the top of the box's range", c.Range)
	}
	for _, w := range c.Over {
		b := trimBlanks([]byte(w))
		if len(b) == 0 {
			return nil, errors.New(`over: an empty word would match every line; give what the box sends when over range, such as "OL"`)
		}
		d.over = append(d.over, b)
		if d.bin != nil {
			v, err := parseValue(b, false)
			if err != nil {
				return nil, fmt.Errorf("over: %s is no number; for a binary one give the numbers that mean over range", quoted(w))
			}
			d.overRaw = append(d.overRaw, v)
		}
	}
	if len(d.cal) > 0 && !(d.calUnit.N > 0) {
		return nil, errors.New("calibration: its unit is missing; say in what unit the coefficients are")
	}
	for i, k := range d.cal {
		if math.IsNaN(k) || math.IsInf(k, 0) {
			return nil, fmt.Errorf("calibration: coefficient c%d is %v; give a finite number", i, k)
		}
	}
	return d, nil
}

// Decode reads one frame from a [Framer].
func (d *LoadDecoder) Decode(frame []byte) LoadReading {
	if d.bin != nil {
		return d.decodeBinary(frame)
	}
	word := d.overWord(frame)
	m := d.line.match(frame)
	if m == nil {
		if word != nil {
			return none(OverRange, "the box says "+quoted(string(word)))
		}
		return none(Garbled, "does not match the line pattern")
	}
	r := d.number(frame, m)
	switch {
	case word != nil:
		if r.Kind == Garbled {
			r = none(OverRange, "")
		}
		r.Kind, r.Why = OverRange, "the box says "+quoted(string(word))
	default:
		d.judgeRange(&r)
	}
	return r
}

// Fits says whether a frame is one of this box, on a port where others send too.
func (d *LoadDecoder) Fits(frame []byte) bool {
	return d.bin != nil || d.line.match(frame) != nil || d.overWord(frame) != nil
}

func (d *LoadDecoder) judgeRange(r *LoadReading) {
	if r.Kind == Good && math.Abs(float64(r.Indicated)) >= float64(d.limit) {
		r.Kind, r.Why = OverRange, fmt.Sprintf("%.6g %s is at or past the range of %.6g %s",
			r.Unit.In(r.Indicated), r.Unit.Name, r.Unit.In(d.limit), r.Unit.Name)
	}
}

func (d *LoadDecoder) decodeBinary(frame []byte) LoadReading {
	raw, v, over, why := d.bin.value(frame)
	if why != "" {
		return none(Garbled, why)
	}
	r := LoadReading{Kind: Good, Indicated: d.declared.Of(v), Tension: d.calibrated(v, d.declared), Unit: d.declared}
	switch {
	case over:
		r.Kind, r.Why = OverRange, "the box's flags say over range"
	case slices.Contains(d.overRaw, raw):
		r.Kind, r.Why = OverRange, fmt.Sprintf("the box sends %g, which means over range", raw)
	default:
		d.judgeRange(&r)
	}
	return r
}

func none(k ReadingKind, why string) LoadReading {
	nan := trial.Force(math.NaN())
	return LoadReading{Kind: k, Indicated: nan, Tension: nan, Why: why}
}

func (d *LoadDecoder) number(frame []byte, m []int) LoadReading {
	text := d.line.part(frame, m, "value")
	v, err := parseValue(text, d.comma)
	if err != nil {
		return none(Garbled, quoted(string(text))+": "+err.Error())
	}
	unit := d.declared
	if text := trimBlanks(d.line.part(frame, m, "unit")); len(text) > 0 {
		var ok bool
		if unit, ok = d.unitOf(text); !ok {
			return none(Garbled, "unit "+quoted(string(text))+" is no unit of force")
		}
	}
	if unit.N == 0 {
		return none(Garbled, "no unit in the line and none declared")
	}
	return LoadReading{Kind: Good, Indicated: unit.Of(v), Tension: d.calibrated(v, unit), Unit: unit}
}

// calibrated is the polynomial at v, by Horner.
func (d *LoadDecoder) calibrated(v float64, unit trial.ForceUnit) trial.Force {
	if len(d.cal) == 0 {
		return unit.Of(v)
	}
	x := v
	if unit.N != d.calUnit.N { // the same unit stays exact
		x = d.calUnit.In(unit.Of(v))
	}
	y := 0.0
	for i := len(d.cal) - 1; i >= 0; i-- {
		y = y*x + d.cal[i]
	}
	return d.calUnit.Of(y)
}

func (d *LoadDecoder) unitOf(text []byte) (trial.ForceUnit, bool) {
	if string(text) == d.seenText {
		return d.seen, true
	}
	for _, c := range text {
		if c >= 0x80 { // case folding has ASCII letters among its equals that no box sends
			return trial.ForceUnit{}, false
		}
	}
	u, ok := trial.ForceUnitNamed(string(text))
	if ok {
		d.seenText, d.seen = string(text), u
	}
	return u, ok
}

// overWord is the over-range word the frame holds, standing alone. In a frame
// with control characters other than STX and ETX it is taken for noise.
func (d *LoadDecoder) overWord(frame []byte) []byte {
	for _, w := range d.over {
		if holdsWord(frame, w) && !noisy(frame) {
			return w
		}
	}
	return nil
}

func noisy(frame []byte) bool {
	for _, c := range frame {
		if (c < 0x20 || c > 0x7e) && c != '\t' && c != 0x02 && c != 0x03 {
			return true
		}
	}
	return false
}

// holdsWord reports whether w stands in frame without a letter or digit grown on
// to one of its own.
func holdsWord(frame, w []byte) bool {
	for from := 0; ; {
		i := bytes.Index(frame[from:], w)
		if i < 0 {
			return false
		}
		i += from
		end := i + len(w)
		if !(i > 0 && alnum(frame[i-1]) && alnum(w[0])) &&
			!(end < len(frame) && alnum(frame[end]) && alnum(w[len(w)-1])) {
			return true
		}
		from = i + 1
	}
}

func alnum(c byte) bool {
	return c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z'
}
