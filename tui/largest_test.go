package tui

import (
	"math"
	"testing"

	"hawse/acquire/session"
	"hawse/trial"
)

// Beside the largest tension of all cells stands which of them it is without.
func TestLargestOf(t *testing.T) {
	cell := func(src string, v float64, over bool) session.CellShot {
		return session.CellShot{Stream: session.Stream{Src: src}, Tension: trial.Force(v), Over: over}
	}
	nan := math.NaN()
	tests := []struct {
		cells []session.CellShot
		want  string
	}{
		{[]session.CellShot{cell("load2", 100, false)}, "largest cell"},
		{[]session.CellShot{cell("load2", nan, false)}, "without load2"},
		{[]session.CellShot{cell("load2", nan, true)}, "largest cell"},
		{[]session.CellShot{cell("load2", nan, false), cell("load3", nan, false)}, "without load2 load3"},
	}
	for _, tt := range tests {
		s := session.Snapshot{Trial: &trial.Trial{LargerGuards: true}, Cells: tt.cells}
		if got := atMost(&s); got != tt.want {
			t.Errorf("%+v: %q, want %q", tt.cells, got, tt.want)
		}
	}
}
