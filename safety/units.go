package safety

import (
	"fmt"
	"math"
)

// What units of force are to each other, in newtons: lbf and kgf exact by
// definition, as [trial.ForceUnitNamed] has them.
const (
	newtonsKgf = 9.80665
	newtonsLbf = 4.4482216152605
)

// slip is a slip of unit: a number is read factor times too large, or too small.
type slip struct {
	factor       float64
	large, small string // what is taken for what then
}

// slips are those that units of force, and a button of a box, make.
var slips = [...]slip{
	{newtonsKgf, "newtons are taken for kgf", "kgf are taken for newtons"},
	{newtonsLbf, "newtons are taken for lbf", "lbf are taken for newtons"},
	{newtonsKgf / newtonsLbf, "lb are taken for kg", "kg are taken for lb"},
	{1000, "N are taken for kN, or kg for t", "kN are taken for N, or t for kg"},
	{1000 / newtonsKgf, "kgf are taken for kN", "kN are taken for kgf"},
	{1000 / newtonsLbf, "lbf are taken for kN", "kN are taken for lbf"},
	{1000 * newtonsLbf / newtonsKgf, "kgf are taken for 1000 lbf", "1000 lbf are taken for kgf"},
	{1000 * newtonsKgf / newtonsLbf, "lb are taken for t", "t are taken for lb"},
	{1000 * newtonsLbf, "newtons are taken for 1000 lbf", "1000 lbf are taken for newtons"},
	{1000 * newtonsKgf, "newtons are taken for t", "t are taken for newtons"},
}

// slipOf is the slip of unit that explains, within a share of itself, that a
// number is ratio times what it should be: its factor, below 1 where the number
// is too small; 0: none does.
func slipOf(ratio, within float64) float64 {
	for _, s := range slips {
		for _, f := range [...]float64{s.factor, 1 / s.factor} {
			if math.Abs(ratio/f-1) <= within {
				return f
			}
		}
	}
	return 0
}

// slipWhy says what is taken for what where a number is factor times what it
// should be, such as "newtons are taken for kgf"; "" for no slip of unit.
func slipWhy(factor float64) string {
	for _, s := range slips {
		switch {
		case math.Abs(factor/s.factor-1) < 1e-6:
			return s.large
		case math.Abs(factor*s.factor-1) < 1e-6:
			return s.small
		}
	}
	return ""
}

// SuspectUnit says what unit is taken for what where a reading is ratio times
// what it should be, within a share, such as "newtons are taken for kgf"; "" where
// no unit explains it.
func SuspectUnit(ratio, within float64) string { return slipWhy(slipOf(ratio, within)) }

// timesText is a factor of units in words: "rose to 4.448 times" or "fell to 1/4.448".
func timesText(factor float64) string {
	if factor < 1 {
		return fmt.Sprintf("fell to 1/%.4g", 1/factor)
	}
	return fmt.Sprintf("rose to %.4g times", factor)
}
