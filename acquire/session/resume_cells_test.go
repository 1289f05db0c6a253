package session

import (
	"slices"
	"strings"
	"testing"
	"time"

	"hawse/safety"
)

// TestZeroOfAnotherCellIsCarried: after a crash the zero of a further cell is proposed,
// bars arming until a person confirms it, leaves it behind or zeroes anew, and is then
// in force; a cell that is set otherwise has none to carry.
func TestZeroOfAnotherCellIsCarried(t *testing.T) {
	edits := []string{"\n# The line counter's box.", secondCell + "\n# The line counter's box.", "range = \"1000 kgf\"", "range = \"1000 kgf\"\nsits = \"inboard\""}
	was := twoCells(t)
	both(was, 20, 40, 3*time.Second)
	was.must(safety.Logger, ActZero, "")
	zero := was.d.Snapshot().Cells[0].Zero
	both(was, 20, 40, time.Second)
	path := was.broken(t, "A1-1.log")

	begin := func(edits ...string) *hand {
		h := after(t, path, edits...)
		h.d.Port(0, "load2", "open", "")
		both(h, 20, 40, 2*time.Second)
		return h
	}
	state := func(h *hand) CarryState {
		for _, c := range h.d.Snapshot().Carried {
			if c.Item == "zero load2" {
				return c.State
			}
		}
		return ""
	}
	for _, tt := range []struct {
		act, value string
		want       CarryState
		known      bool
	}{{ActCarry, "all", CarryTaken, true}, {ActCarry, "zero load2", CarryTaken, true}, {ActDrop, "zero load2", CarryDropped, false}, {ActZero, "", CarrySaid, true}, {ActWaive, "zero rode is loaded", CarrySaid, false}} {
		h := begin(edits...)
		if got := state(h); got != CarryOpen || h.d.Snapshot().Cells[0].Zero.Known {
			t.Fatalf("zero load2 is %q, and in force %v; want it open and not in force", got, h.d.Snapshot().Cells[0].Zero.Known)
		}
		h.must(safety.Director, tt.act, tt.value)
		got := h.d.Snapshot().Cells[0].Zero
		if state(h) != tt.want || got.Known != tt.known || tt.act == ActCarry && got.Force != zero.Force {
			t.Errorf("%s %s: %s, zero %+v; want %s, known %v, %v", tt.act, tt.value, state(h), got, tt.want, tt.known, zero.Force)
		}
		h.end()
	}
	h := begin(edits...)
	h.must(safety.Director, ActCarry, "zero")
	h.refused(safety.Director, ActArm, "", "zero load2")
	h.end()
	other := slices.Clone(edits)
	other[1] = strings.Replace(other[1], `range = "2000 lbf"`, `range = "1500 lbf"`, 1)
	if h := begin(other...); state(h) != "" {
		t.Errorf("a cell of another range: zero load2 is %q, want none", state(h))
	}
}
