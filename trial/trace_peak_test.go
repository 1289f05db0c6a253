package trial

import (
	"math"
	"testing"
)

func TestPeak(t *testing.T) {
	nan := Force(math.NaN())
	tests := []struct {
		name     string
		tensions []Force
		want     Force
		at       int64
		left     bool // by 10 %
	}{
		{"nothing", nil, 0, 0, false},
		{"one sample", []Force{3100}, 3100, 0, false},
		{"still rising", []Force{1000, 2000, 8000}, 8000, 2, false},
		{"fallen by 9.9 %", []Force{1000, 2000, 1802}, 2000, 1, false},
		{"fallen by 10 %", []Force{1000, 2000, 1800}, 2000, 1, true},
		{"left, and risen again below it", []Force{2000, 1000, 1999}, 2000, 0, true},
		{"left, then passed", []Force{2000, 1000, 2001}, 2001, 2, false},
		{"reached twice: the first", []Force{2000, 1900, 2000}, 2000, 0, false},
		{"not numbers", []Force{nan, 2000, Force(math.Inf(1)), nan, Force(math.Inf(-1))}, 2000, 1, false},
		{"below zero", []Force{-10, -20}, -10, 0, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var k Peak
			for i, f := range tt.tensions {
				before := k
				if raised := k.Add(Point{T: int64(i), Tension: f, X: Length(i) / 2}); raised != (k.T != before.T || k.Known != before.Known) {
					t.Errorf("sample %d: raised %v, but %+v became %+v", i, raised, before, k)
				}
			}
			if k.Tension != tt.want || k.T != tt.at || k.X != Length(tt.at)/2 || k.Known != (len(tt.tensions) > 0) || k.Left(0.1) != tt.left {
				t.Errorf("%v: got %+v, left %v; want %v at %d, left %v", tt.tensions, k, k.Left(0.1), tt.want, tt.at, tt.left)
			}
			if k.Left(0) || k.Left(math.NaN()) || k.Left(-1) {
				t.Errorf("%v: left by no share at all", tt.tensions)
			}
		})
	}
}

// A peak beside which the cell was over range is a lower bound, however far the
// tension falls afterwards.
func TestPeakOverRange(t *testing.T) {
	nan := Force(math.NaN())
	tests := []struct {
		name string
		over Force
		want Force
	}{
		{"the top of the range is the most that is known", 9810, 9810},
		{"not even that is known", nan, 9700},
		{"less than the peak", 5000, 9700},
	}
	for _, tt := range tests {
		var k Peak
		k.Add(Point{T: 1, Tension: 9700})
		k.AddOver(Point{T: 2, Tension: tt.over})
		k.Add(Point{T: 3, Tension: 100})
		if k.Tension != tt.want || k.Left(0.1) {
			t.Errorf("%s: %v, left %v; want %v, a lower bound", tt.name, k.Tension, k.Left(0.1), tt.want)
		}
		k.Add(Point{T: 4, Tension: 20000})
		k.Add(Point{T: 5, Tension: 0})
		if k.Tension != 20000 || k.Left(0.1) {
			t.Errorf("%s: passed afterwards: %+v, want it still a lower bound", tt.name, k)
		}
	}
}
