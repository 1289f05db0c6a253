package tui

import (
	"strings"
	"testing"

	"hawse/acquire/session"
	"hawse/safety"
)

// TestMissingCellInTheList: a load cell that is missing is a line of its own with what
// to do, one gone without is never among those that are done, and only a missing one
// is offered to be gone without.
func TestMissingCellInTheList(t *testing.T) {
	const text = "load2 tells no tension, and the limits count with it: see its cable, box and port, or go without it"
	for _, tt := range []struct {
		state safety.CheckState
		row   string
		offer int
	}{{safety.CheckFailed, "FAILED", 3}, {safety.CheckWaived, "waived", 2}, {safety.CheckPassed, "", 2}} {
		s := &session.Snapshot{Checklist: []safety.CheckItem{{Check: safety.CheckGear, State: safety.CheckPassed}, {Check: safety.CheckCells, State: tt.state, Text: text}}}
		row := ""
		for _, r := range checkRows(s, true) {
			if r.name == "other load cells" {
				row = r.state
			}
		}
		if row != tt.row || len(waivable(s)) != tt.offer {
			t.Errorf("%v: stands as %q, %d offered to be gone without; want %q and %d", tt.state, row, len(waivable(s)), tt.row, tt.offer)
		}
		if next := nextText(s); tt.state == safety.CheckFailed && (!strings.Contains(next, "load2 tells no tension") || !strings.HasSuffix(next, "(v)")) {
			t.Errorf("next is %q", next)
		}
	}
}
