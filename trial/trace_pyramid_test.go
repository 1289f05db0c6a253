package trial

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

const chunkBytes = 20 << chunkBits

func (tr *Trace) bytes() int {
	return (tr.time.chunks+tr.haul.chunks)*chunkBytes + 16*(cap(tr.time.gaps)+cap(tr.haul.gaps))
}

// Memory goes by chunks, so ten hours at a point a second hold what ten hours at
// a hundred a second do. A week, a counter gone wild and a rattling plug stay
// under the same bound.
func TestTraceMemoryIsBounded(t *testing.T) {
	const bound = 16e6
	tests := []struct {
		name     string
		add      func(tr *Trace, i int)
		n        int
		wantBase int
	}{
		{"10 h", func(tr *Trace, i int) {
			tr.Add(Point{T: int64(i) * 1e9, Tension: Force(i), X: Length(i) / 400, Stage: Pull})
		}, 36000, 0},
		{"a week, sparse", func(tr *Trace, i int) {
			tr.Add(Point{T: int64(i) * 30e9, Tension: Force(i), X: Length(math.NaN())})
		}, 7 * 2880, 2},
		{"wild counter", func(tr *Trace, i int) {
			tr.Add(Point{T: int64(i), Tension: Force(i), X: Length(i*7919%1000003) * 900, Stage: Pull})
		}, 20000, 0},
		{"wild clock", func(tr *Trace, i int) {
			tr.Add(Point{T: int64(i) * 1e14, Tension: Force(i), X: Length(math.NaN())})
		}, 20000, 10},
		{"rattling plug", func(tr *Trace, i int) {
			tr.Gap(int64(i)*1e9 + 2e8)
			tr.Add(Point{T: int64(i)*1e9 + 8e8, Tension: 1, X: Length(i) / 20, Stage: Pull})
		}, 40000, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var tr Trace
			for i := range tt.n {
				tt.add(&tr, i)
				if i%1000 == 0 && tr.bytes() > bound {
					t.Fatalf("after %d points %d bytes, want at most %g", i, tr.bytes(), bound)
				}
			}
			t.Logf("%d bytes, finest level by time %d, by haul %d", tr.bytes(), tr.time.base, tr.haul.base)
			if tr.bytes() > bound || tr.time.base > tt.wantBase {
				t.Errorf("%d bytes, finest level by time %d; want at most %g and %d", tr.bytes(), tr.time.base, bound, tt.wantBase)
			}
			last := tr.Span().Last
			high := Force(0)
			for _, c := range tr.ByTime(0, last+1, 160, nil) {
				high = max(high, c.Hi)
			}
			if want := tr.Span().Greatest; high != want {
				t.Errorf("greatest column reaches %v N, want the greatest sample %v N", high, want)
			}
		})
	}
	if got := (timeChunks+haulChunks+2)*chunkBytes + 2*16*2*maxGaps; got > bound {
		t.Errorf("the bounds themselves add up to %d bytes, want at most %g", got, bound)
	}
}

func TestPyramidWithoutItsFinestLevels(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var full, short pyramid
		for range rapid.IntRange(1, 100).Draw(t, "values") {
			cell := rapid.Int64Range(-50000, 50000).Draw(t, "cell")
			v := rapid.Float64Range(-1, 1).Draw(t, "value")
			full.add(cell, v, math.MaxInt)
			short.add(cell, v, 60)
		}
		width := int64(1) << (2 * short.base)
		a := rapid.Int64Range(-50, 50).Draw(t, "a") * width
		b := a + rapid.Int64Range(1, 50).Draw(t, "cells")*width
		brief, whole := short.reader(1), full.reader(1)
		if got, want := brief.column(a, b, false), whole.column(a, b, false); got != want {
			t.Fatalf("cells %d to %d without the %d finest levels: %+v, want %+v", a, b, short.base, got, want)
		}
	})
}

func TestGapsAgainstATwin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var p pyramid
		lost := map[int64]bool{}
		for range rapid.IntRange(0, 30).Draw(t, "gaps") {
			a := rapid.Int64Range(-60, 60).Draw(t, "a")
			b := a + rapid.Int64Range(1, 9).Draw(t, "n")
			p.addGap(a, b)
			for c := a; c < b; c++ {
				lost[c] = true
			}
		}
		for a := int64(-70); a < 75; a++ {
			if got := p.gapIn(a, a+1); got != lost[a] {
				t.Fatalf("cell %d lost: %v, want %v; ranges %v", a, got, lost[a], p.gaps)
			}
			if got, want := p.gapIn(a, a+3), lost[a] || lost[a+1] || lost[a+2]; got != want {
				t.Fatalf("cells %d to %d lost: %v, want %v; ranges %v", a, a+3, got, want, p.gaps)
			}
		}
	})
}

func TestFullGapListForgetsNoLoss(t *testing.T) {
	var p pyramid
	for i := range int64(maxGaps) {
		p.addGap(i*10, i*10+2)
	}
	for _, a := range []int64{-7, 5, 10*maxGaps - 3, 10*maxGaps + 50} {
		p.addGap(a, a+1)
		if !p.gapIn(a, a+1) {
			t.Errorf("gap at %d forgotten by a full list", a)
		}
	}
	if len(p.gaps) > maxGaps {
		t.Errorf("%d gaps kept, want at most %d", len(p.gaps), maxGaps)
	}
	for i := 1; i < len(p.gaps); i++ {
		if p.gaps[i-1].b > p.gaps[i].a {
			t.Fatalf("ranges %d and %d overlap: %v %v", i-1, i, p.gaps[i-1], p.gaps[i])
		}
	}
}
