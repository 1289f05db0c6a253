package trial

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Whatever is put in: the greatest and least tension stay, every sample is in one
// column, and the memory does not grow.
func TestEnvelopeKeepsWhatMatters(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := NewEnvelope(0.02)
		n, lo, hi := 0, math.Inf(1), math.Inf(-1)
		scale := rapid.SampledFrom([]float64{0.1, 5, 40, 3000, 1e9}).Draw(t, "scale")
		least, most := math.Inf(1), math.Inf(-1)
		for range rapid.IntRange(1, 300).Draw(t, "samples") {
			at := rapid.Float64Range(-scale, scale).Draw(t, "at")
			v := rapid.Float64Range(-1e5, 1e5).Draw(t, "tension")
			e.Add(at, Force(v))
			n++
			lo, hi, least, most = min(lo, v), max(hi, v), min(least, at), max(most, at)
		}
		if e.Len() != n || e.Least() != least || e.Most() != most || float64(e.Greatest()) != hi {
			t.Fatalf("%d samples from %v to %v, greatest %v; got %d from %v to %v, %v", n, least, most, hi, e.Len(), e.Least(), e.Most(), e.Greatest())
		}
		if len(e.cells) > envelopeCells || cap(e.cells) > envelopeCells {
			t.Fatalf("%d cells, room for %d; at most %d", len(e.cells), cap(e.cells), envelopeCells)
		}
		got := 0
		glo, ghi := math.Inf(1), math.Inf(-1)
		for _, c := range e.Columns(least-e.width, most+e.width, rapid.IntRange(1, 700).Draw(t, "cols"), nil) {
			if c.N > 0 {
				got, glo, ghi = got+c.N, min(glo, float64(c.Lo)), max(ghi, float64(c.Hi))
			}
		}
		if got != n || glo != lo || ghi != hi {
			t.Fatalf("drawn: %d samples between %v and %v; want %d between %v and %v", got, glo, ghi, n, lo, hi)
		}
	})
}

func TestEnvelopeGapsAndNonsense(t *testing.T) {
	e := NewEnvelope(1)
	e.Gap() // nothing was lost before the first
	e.Add(0.5, 10)
	e.Add(1.5, Force(math.NaN()))
	e.Add(math.Inf(1), 5)
	e.Add(1e300, 5)
	e.Add(3.5, 20)
	cols := e.Columns(0, 4, 4, make([]Col, 9))
	want := []Col{{Lo: 10, Hi: 10, N: 1}, {}, {}, {Lo: 20, Hi: 20, N: 1, Gap: true}}
	for i := range want {
		if cols[i] != want[i] {
			t.Errorf("column %d is %+v, want %+v", i, cols[i], want[i])
		}
	}
	if len(cols) != 4 {
		t.Errorf("%d columns, want 4", len(cols))
	}
	for _, c := range e.Columns(4, 0, 3, nil) {
		if c != (Col{}) {
			t.Errorf("a window turned round holds %+v", c)
		}
	}
	var none *Envelope
	if none.Len() != 0 || len(none.Columns(0, 1, 2, nil)) != 2 {
		t.Error("no envelope at all is not an empty one")
	}
}
