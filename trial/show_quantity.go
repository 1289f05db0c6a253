package trial

import (
	"math"
	"strconv"
	"strings"
)

// InUnit is how a quantity's SI unit is shown: divided by so much, then the word,
// "" for a ratio. Angles are in degrees, work in kJ.
func (s Show) InUnit(unit string) (by float64, word string) {
	switch unit {
	case "N":
		if s.Tension.N > 0 {
			return s.Tension.N, s.Tension.Name
		}
		return 1, "N"
	case "m":
		if s.Length.M > 0 {
			return s.Length.M, s.Length.Name
		}
		return 1, "m"
	case "m/s":
		if s.Speed.MPS > 0 {
			return s.Speed.MPS, s.Speed.Name
		}
		return 1, "m/s"
	case "rad":
		return math.Pi / 180, "deg"
	case "J":
		return 1000, "kJ"
	case "s":
		return 1, "s"
	case "1/s":
		return 1, "/s"
	}
	return 1, ""
}

// Quantity writes a value that is known, three digits at most and ">" before a
// lower bound, and its expanded uncertainty (k = 2): "" where it has none. Both are
// in the unit that [Show.InUnit] names.
func (s Show) Quantity(unit string, v Value, bound Bound) (value, u string) {
	if unit == "count" {
		return strconv.FormatFloat(v.V, 'f', -1, 64), ""
	}
	by, _ := s.InUnit(unit)
	x, wide := v.V/by, bearing*v.U/by
	digits := Rounded(x, wide)
	value = ToPlaces(x, digits)
	if bound != "" {
		value = "> " + value
	}
	switch {
	case !(wide > 0):
	case ToPlaces(wide, digits) == ToPlaces(0, digits):
		u = "<" + ToPlaces(math.Pow(10, float64(-digits)), digits)
	default:
		u = ToPlaces(wide, digits)
	}
	return value, u
}

// ToPlaces writes a number to so many decimals, six at most; negative ones round
// before the point. There is no minus zero.
func ToPlaces(v float64, digits int) string {
	if digits < 0 {
		step := math.Pow(10, float64(-digits))
		v, digits = math.Round(v/step)*step, 0
	}
	text := strconv.FormatFloat(v, 'f', min(digits, 6), 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return text
}
