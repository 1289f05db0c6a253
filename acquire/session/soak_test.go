package session

import (
	"math"
	"strings"
	"testing"
	"time"

	"hawse/safety"
)

// The tide comes in under a soak, from 6.0 to 6.8 m with 60 m out: what is to go out
// is told at each 3 %, 6.4 m in the end, and no longer once it is out.
func TestSoakTellsWhatToPayOut(t *testing.T) {
	h := aboard(t)
	h.run(2 * time.Second)
	h.must(safety.Logger, ActZero, "")
	h.pulling()
	h.must(safety.Director, ActStage, "soak")
	for d := 6.0; d < 6.85; d += 0.1 {
		h.sound(d, 12)
	}
	h.run(100 * time.Millisecond)
	told := h.told("when the soak began")
	if len(told) != 3 || !strings.Contains(told[0], "scope 7.74, it was 8.00 when the soak began: pay out 2.00 m") {
		t.Errorf("told %q, want three, at 6.25 m first", told)
	}
	s := h.d.Snapshot()
	if s.Guard.Stop.Kind != safety.NoStop || math.Abs(float64(s.Haul.PayOut)-6.4) > 1e-9 || s.Haul.SoakScope != 8 {
		t.Errorf("stop %v, to pay out %v for %v; want no stop, 6.4 m for 8", s.Guard.Stop.Kind, s.Haul.PayOut, s.Haul.SoakScope)
	}
	h.must(safety.Director, ActStage, "pay out")
	if out := h.d.Snapshot().Haul.PayOut; out != 0 {
		t.Errorf("outside the soak %v is to be paid out", out)
	}
	h.haul(-6400, 4)
	h.must(safety.Director, ActStage, "soak")
	h.sound(6.8, 2)
	if s := h.d.Snapshot(); s.Haul.PayOut != 0 || math.Abs(s.Haul.Scope-8) > 1e-9 || len(h.told("when the soak began")) != 3 {
		t.Errorf("paid out: scope %v, %v to go, %q", s.Haul.Scope, s.Haul.PayOut, h.told("when the soak began"))
	}
	h.end()
}

// More than the rode is told as that, and a depth that falls is not told.
func TestSoakOnAShortRode(t *testing.T) {
	h := aboard(t)
	h.run(time.Second)
	h.must(safety.Director, ActPayout, "70 m")
	h.must(safety.Director, ActDepth, "6 m")
	h.must(safety.Director, ActStage, "soak")
	h.must(safety.Director, ActDepth, "5.5 m")
	h.must(safety.Director, ActDepth, "6.0 m")
	if got := h.told("when the soak began"); len(got) != 0 {
		t.Errorf("told %q", got)
	}
	h.must(safety.Director, ActDepth, "9.0 m")
	rode := h.d.core.length(h.d.core.head.Trial.RodeLength())
	if got := h.told("when the soak began"); len(got) != 1 || !strings.Contains(got[0], "it takes 98.00 m out to be there again, and the rode is "+rode) {
		t.Errorf("told %q, want that the rode of %s is too short", got, rode)
	}
	h.end()
}
