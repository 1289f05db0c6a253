package session

import (
	"testing"
	"time"

	"hawse/safety"
)

// A depth by hand that is about twice or half the one in force is asked about while
// the pull is armed, before it stops anything, and taken when it is said again.
func TestDoubledDepthByHandIsAskedAbout(t *testing.T) {
	h := byHand(t)
	h.run(2 * time.Second)
	h.must(safety.Director, ActDepth, "3 m")
	h.must(safety.Director, ActDepth, "6 m") // not armed: at once
	h.must(safety.Logger, ActZero, "")
	h.pulling()
	still := func(what string) {
		t.Helper()
		if s := h.d.Snapshot(); s.Haul.Depth != 6 || !s.Guard.Permit || s.Guard.Stop.Kind != safety.NoStop {
			t.Errorf("%s: depth %v, permit %v, stop %+v; want nothing changed", what, s.Haul.Depth, s.Guard.Permit, s.Guard.Stop)
		}
	}
	h.refused(safety.Director, ActDepth, "13.0 m", "depth not taken yet: 13.00 m is about twice the 6.00 m in force; if it is so, say it again within 60 s")
	still("13 m once")
	h.refused(safety.Director, ActDepth, "3.0 m", "about half the 6.00 m")
	h.refused(safety.Director, ActDepth, "13.0 m", "about twice") // it was asked about another in between
	h.run(61 * time.Second)
	h.refused(safety.Director, ActDepth, "13.0 m", "about twice") // too late
	still("13 m, and a minute later")
	h.refused(safety.WinchOperator, ActDepth, "13.0 m", "ask the director")
	h.must(safety.Director, ActDepth, "6.5 m")
	h.must(safety.Director, ActDepth, "6 m")
	h.haul(3000, 8) // 57 m out: scope 3.93 at 13 m
	h.refused(safety.Director, ActDepth, "13.0 m", "about twice")
	still("hauled")
	h.must(safety.Logger, ActDepth, "13 m")
	if s := h.d.Snapshot(); s.Haul.Depth != 13 || s.Guard.Stop.Kind != safety.PlannedEnd || s.Guard.Stop.Cause != safety.MinimumScope {
		t.Errorf("said again: depth %v, stop %+v; want it taken, and the end by scope", s.Haul.Depth, s.Guard.Stop)
	}
	h.end()
}

// A log from before anybody was asked is folded as it was recorded.
func TestDepthOfAnOlderLog(t *testing.T) {
	h := byHand(t)
	h.run(2 * time.Second)
	h.must(safety.Logger, ActZero, "")
	h.pulling()
	if h.do(safety.Director, ActDepth, "13.0 m") == "" {
		t.Fatal("not asked")
	}
	var core Core
	var step Step
	for _, r := range h.d.Records {
		if r.Str("part") == "log" {
			r.Fields = r.Fields[:len(r.Fields)-1]
		}
		if err := core.Apply(&r, &step); err != nil {
			t.Fatal(err)
		}
	}
	if core.haul.depth != 13 {
		t.Errorf("depth %v, want the 13 m that were said", core.haul.depth)
	}
}
