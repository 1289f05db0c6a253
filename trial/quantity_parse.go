package trial

import (
	"fmt"
	"math"
	"math/big"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// QuantityError is a text that is not the quantity wanted.
type QuantityError struct {
	Text   string   // what was given
	Kind   string   // what was wanted: "force", "length", ...
	Reason string   // what is wrong with it
	Units  []string // the units accepted
	Eg     string   // an example that would be accepted
}

// Error names the fault, the units accepted and an example.
func (e *QuantityError) Error() string { return e.Reason + "; " + e.Want() }

// Want is what to write instead.
func (e *QuantityError) Want() string {
	return fmt.Sprintf("write a number and one of %s, such as %q", strings.Join(e.Units, ", "), e.Eg)
}

// ParseForce reads a force such as "2000 lbf": N, kN, lbf, kgf or tf. lb and
// kg are mass and are refused. As with all quantities but angles and the
// weight of line, a negative one is refused, and so are NaN and Inf. The
// result is the exact value rounded once.
func ParseForce(s string) (Force, error) {
	v, _, err := forceUnits.parse(s)
	return Force(v), err
}

// ParseLoadForce reads a working load limit or another figure from a load
// cell's plate or a shackle, where lb, kg and t stand for lbf, kgf and tf.
// The note says so when that happened; it is empty otherwise.
func ParseLoadForce(s string) (f Force, note string, err error) {
	v, d, err := loadUnits.parse(s)
	if err == nil && d.force != "" {
		note = fmt.Sprintf("%s taken as %s", d.name, d.force)
	}
	return Force(v), note, err
}

// ParseLength reads a length such as "60 m": m, mm, ft, in or fathom.
func ParseLength(s string) (Length, error) {
	v, _, err := lengthUnits.parse(s)
	return Length(v), err
}

// ParseSpeed reads a speed such as "2.4 m/min": m/s, m/min, ft/min or kn.
func ParseSpeed(s string) (Speed, error) {
	v, _, err := speedUnits.parse(s)
	return Speed(v), err
}

// ParseMass reads a mass such as "16 kg": kg, lb or t.
func ParseMass(s string) (Mass, error) {
	v, _, err := massUnits.parse(s)
	return Mass(v), err
}

// ParseAngle reads an angle such as "45 deg": deg or rad. It may be negative.
func ParseAngle(s string) (Angle, error) {
	v, _, err := angleUnits.parse(s)
	return Angle(v), err
}

// ParseLineWeight reads the weight of line in water such as "12 N/m": N/m,
// lbf/ft or kgf/m. It is negative for line that floats.
func ParseLineWeight(s string) (LineWeight, error) {
	v, _, err := lineWeightUnits.parse(s)
	return LineWeight(v), err
}

// ParseRate reads a rate such as "10 Hz".
func ParseRate(s string) (Rate, error) {
	v, _, err := rateUnits.parse(s)
	return Rate(v), err
}

// ParsePerLength reads counts of line such as "1000 /m": /m, /ft, counts/m or
// counts/ft. The result is per metre.
func ParsePerLength(s string) (float64, error) {
	v, _, err := perLengthUnits.parse(s)
	return v, err
}

// A day of work is hours; this bound keeps every sum of times inside int64.
const maxDuration = 10000 * time.Hour

// ParseDuration reads a time such as "50 ms", "2 s" or "15 min": ms, s, min
// or h, rounded to the nanosecond and at most 10000 h.
func ParseDuration(s string) (time.Duration, error) {
	r, _, err := timeUnits.exact(s)
	if err != nil {
		return 0, err
	}
	if r.Cmp(new(big.Rat).SetFrac64(int64(maxDuration), int64(time.Second))) > 0 {
		return 0, timeUnits.err(s, fmt.Sprintf("%s is too long", shown(s)))
	}
	ns, _ := new(big.Rat).Mul(r, big.NewRat(int64(time.Second), 1)).Float64()
	d := time.Duration(math.Round(ns))
	if d == 0 && r.Sign() != 0 {
		return 0, timeUnits.err(s, fmt.Sprintf("%s is too short", shown(s)))
	}
	return d, nil
}

func (t *unitTable) err(text, reason string) error {
	names := make([]string, len(t.defs))
	for i, d := range t.defs {
		names[i] = d.name
	}
	return &QuantityError{Text: text, Kind: t.kind, Reason: reason, Units: names, Eg: t.eg}
}

// maxQuantityText and the three digits of exponent keep the exact arithmetic
// small whatever is typed.
const maxQuantityText = 64

var quantityText = regexp.MustCompile(`^([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?)[ ]*(.*)$`)

// parse reads "number unit" and rounds the exact SI value once.
func (t *unitTable) parse(s string) (float64, unitDef, error) {
	r, d, err := t.exact(s)
	if err != nil {
		return 0, d, err
	}
	v, _ := r.Float64()
	switch {
	case math.IsInf(v, 0):
		return 0, d, t.err(s, shown(s)+" is too large for any "+t.kind)
	case v == 0 && r.Sign() != 0:
		return 0, d, t.err(s, shown(s)+" is too small to tell from 0")
	}
	return v, d, nil
}

func (t *unitTable) exact(s string) (*big.Rat, unitDef, error) {
	fail := func(format string, a ...any) (*big.Rat, unitDef, error) {
		return nil, unitDef{}, t.err(s, fmt.Sprintf(format, a...))
	}
	text := strings.Trim(s, " ")
	switch {
	case text == "":
		return fail("it is empty")
	case len(text) > maxQuantityText:
		return fail("%s is too long for a quantity", shown(s))
	}
	m := quantityText.FindStringSubmatch(text)
	if m == nil {
		return fail("%s does not begin with a number", shown(s))
	}
	number, unit := m[1], m[2]
	if strings.HasPrefix(unit, ",") || strings.HasPrefix(unit, "_") {
		return fail("%s: write the number with a decimal point and nothing between its digits", shown(s))
	}
	if unit == "" {
		return fail("%s has no unit", shown(s))
	}
	d, ok := t.find(unit)
	if !ok {
		return fail("%s", t.strayUnit(s, unit))
	}
	r, ok := new(big.Rat).SetString(number)
	if !ok {
		return fail("%s does not begin with a number", shown(s))
	}
	if r.Sign() < 0 && !t.signed {
		return fail("%s is negative, which no %s here can be", shown(s), t.kind)
	}
	return r.Mul(r, d.exact), d, nil
}

// strayUnit says what a unit that is not accepted is instead.
func (t *unitTable) strayUnit(s, unit string) string {
	for _, d := range t.defs {
		if strings.EqualFold(d.name, unit) {
			return fmt.Sprintf("%s: unit %s is written %s", shown(s), shown(unit), d.name)
		}
	}
	for _, other := range allUnits {
		if _, ok := other.find(unit); ok {
			return fmt.Sprintf("%s: %s is a unit of %s, not of %s", shown(s), unit, other.kind, t.kind)
		}
	}
	return fmt.Sprintf("%s: %s is no unit of %s", shown(s), shown(unit), t.kind)
}

// shown quotes a text from outside so that it is safe to print anywhere:
// control and invisible characters as escapes, and cut when long.
func shown(s string) string {
	s, dots := clip(s)
	return strconv.Quote(s) + dots
}

// visible is shown without its quotes, for names that stand in a sentence.
func visible(s string) string {
	s, dots := clip(s)
	return escaped(s) + dots
}

// escaped makes control and invisible characters visible and cuts nothing.
func escaped(s string) string {
	plain := func(c rune) bool {
		return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '_' || c == '-'
	}
	if strings.TrimFunc(s, plain) == "" {
		return s // as nearly every key is
	}
	q := strconv.Quote(s)
	return q[1 : len(q)-1]
}

func clip(s string) (short, dots string) {
	const most = 60
	if len(s) <= most {
		return s, ""
	}
	cut := most
	for cut > most-4 && !utf8.RuneStart(s[cut]) {
		cut--
	}
	return s[:cut], "..."
}
