package trial

import (
	"math"

	"hawse/trial/rode"
)

// CellSide is what a cell that sits so feels, for two of them held against each
// other: -1 the part outboard of the roller, +1 the one inboard, 0 either.
func CellSide(sits string) int {
	switch sits {
	case SitsOutboard, SitsRoller: // a pin's tension is told of the outboard part
		return -1
	case SitsInboard:
		return +1
	}
	return 0
}

// CellsApart is by how much two cells at one rode differ beyond what the roller's
// friction explains, N; 0: not at all. Between its two parts the tension grows by
// e^(mu bend) the way the line runs (belt friction, Euler and Eytelwein; from
// memory): inboard it is the larger while hauling, way +1, the smaller while paying
// out, -1, and either while the winch stands, 0.
func CellsApart(a Force, sideA int, b Force, sideB int, mu float64, bend Angle, way int) Force {
	least, most := 1.0, 1.0 // of b over a
	grows := rode.Capstan(mu, math.Max(float64(bend), 0))
	switch {
	case sideA == sideB && sideA != 0: // the same part of the rode
	case sideA == 0 || sideB == 0 || way == 0:
		least, most = 1/grows, grows
	case (sideB > sideA) == (way > 0):
		most = grows
	default:
		least = 1 / grows
	}
	lo, hi := Force(least)*a, Force(most)*a
	if a < 0 {
		lo, hi = hi, lo
	}
	return max(lo-b, b-hi, 0)
}

// RollerSlip is the most the roller's friction may be, as the file says it or, where
// it does not, as plain fairleads have it: common practice, no source.
func (t *Trial) RollerSlip() float64 {
	if t.Vessel.RollerFriction > 0 {
		return t.Vessel.RollerFriction
	}
	return rollerSlip
}
