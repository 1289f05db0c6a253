package safety

import (
	"bytes"
	"testing"
	"time"

	"hawse/trial"
)

// Each sample leaves other bits, and a copy has the same.
func TestAppendBits(t *testing.T) {
	r := armed(t, trial.Pull)
	was := r.g.s.AppendBits(nil)
	if again := r.g.State(); !bytes.Equal(again.AppendBits(nil), was) {
		t.Error("a copy of the state has other bits")
	}
	r.sample(100*time.Millisecond, 1.5)
	if bytes.Equal(r.g.s.AppendBits(nil), was) {
		t.Error("another sample leaves the same bits")
	}
}

func BenchmarkAppendBits(b *testing.B) {
	d := newDeck(b)
	buf := d.g.s.AppendBits(nil)
	b.ReportMetric(float64(len(buf)), "B-of-bits")
	for b.Loop() {
		buf = d.g.s.AppendBits(buf[:0])
	}
}
