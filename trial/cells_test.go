package trial

import (
	"math"
	"testing"
)

// TestCellsApart: friction of 0.2 at scope 3 and a level lead is 7 % between the
// two sides of the roller, and 37 % up and down, the larger one inboard while
// hauling (e^(0.2 x angle), worked out by hand).
func TestCellsApart(t *testing.T) {
	const out, in = -1, +1
	scope3 := Angle(math.Asin(1. / 3))
	for _, tt := range []struct {
		name        string
		a           Force
		sideA       int
		b           Force
		sideB       int
		bend        Angle
		way         int
		least, most Force
	}{
		{"hauling, inboard 7 % more", 1000, out, 1070, in, scope3, 1, 0, 0},
		{"hauling, inboard less", 1000, out, 930, in, scope3, 1, 70, 70},
		{"paying out, inboard 6 % less", 1000, out, 935, in, scope3, -1, 0, 0},
		{"paying out, inboard more", 1000, out, 1070, in, scope3, -1, 70, 70},
		{"standing, either", 1000, out, 1070, in, scope3, 0, 0, 0},
		{"the outboard one second", 1070, in, 1000, out, scope3, 1, 0, 0},
		{"hauling, far more than friction makes", 1000, out, 1300, in, scope3, 1, 225, 235},
		{"up and down it may be 37 %", 1000, out, 1365, in, math.Pi / 2, 1, 0, 0},
		{"two of one side", 1000, out, 1070, out, scope3, 1, 70, 70},
		{"where it sits is not said", 1000, 0, 940, in, scope3, 1, 0, 0},
	} {
		got := CellsApart(tt.a, tt.sideA, tt.b, tt.sideB, rollerSlip, tt.bend, tt.way)
		if got < tt.least-1e-9 || got > tt.most+1e-9 {
			t.Errorf("%s: %v and %v are %v apart, want %v to %v", tt.name, tt.a, tt.b, got, tt.least, tt.most)
		}
	}
}
