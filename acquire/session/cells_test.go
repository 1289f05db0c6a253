package session

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hawse/logfmt"
	"hawse/safety"
)

// secondCell is another cell, outboard, of an invented deck whose first is inboard.
const secondCell = `
[load2]
port = "./deck/load2"
baud = 9600
frame = "8N1"
line = '^(?P<value>[+-]?\d+(\.\d+)?) (?P<unit>lbf)$'
unit = "lbf"
range = "2000 lbf"
over = ["OL"]
rate = "10 Hz"
place = "link outboard, invented"
sits = "outboard"
serial = "invented-02"
filter = "none"
[load2.calibration]
unit = "lbf"
coefficients = [0.0, 1.0]
source = "invented"
`

func twoCells(t *testing.T, edits ...string) *hand {
	h := byHand(t, append([]string{"\n# The line counter's box.", secondCell + "\n# The line counter's box.", "range = \"1000 kgf\"", "range = \"1000 kgf\"\nsits = \"inboard\""}, edits...)...)
	h.d.Port(0, "load2", "open", "")
	return h
}

// both lets time pass with both cells sending, in newtons.
func both(h *hand, first, second float64, d time.Duration) {
	h.load = fmt.Sprintf("%+07.1f kgf", first/kgf)
	for end := h.at + int64(d); h.at < end; {
		h.run(100 * time.Millisecond)
		if second >= 0 {
			h.d.Rx(h.at, "load2", fmt.Appendf(nil, "%+07.1f lbf\r\n", second/4.4482216152605))
		}
		if h.at/1e9 != (h.at-1e8)/1e9 {
			h.d.Clock(h.at, time.Unix(0, h.at))
		}
	}
}

// TestSecondCellIsTold: it is decoded, zeroed with the first, shown, and does not
// guard: neither when it is high nor when the guarding one falls silent.
func TestSecondCellIsTold(t *testing.T) {
	h := twoCells(t)
	both(h, 20, 40, 3*time.Second)
	h.must(safety.Logger, ActZero, "")
	s := h.d.Snapshot()
	if len(s.Cells) != 1 || !s.Cells[0].Zero.Known || s.Cells[0].Src != "load2" || s.Cells[0].Sits != "outboard" {
		t.Fatalf("cells %+v; want load2, zeroed", s.Cells)
	}
	if z := float64(s.Cells[0].Zero.Force); z < 39 || z > 41 {
		t.Errorf("load2 zeroed at %v N, want 40", z)
	}
	h.counts = 0
	h.pulling()
	both(h, 1020, 1040, time.Second)
	if s := h.d.Snapshot(); float64(s.Cells[0].Tension) < 999 || float64(s.Cells[0].Tension) > 1001 {
		t.Errorf("load2 tells %v, want 1000 N", s.Cells[0].Tension)
	}
	both(h, 1020, 8500, time.Second)
	if g := h.d.State(); g.Stop.Kind != safety.NoStop {
		t.Errorf("load2 at 8.5 kN: %v; want it told, not guarding", g.Stop.Cause)
	}
	h.load = ""
	for range 30 {
		h.run(100 * time.Millisecond)
		h.d.Rx(h.at, "load2", []byte("+0230.0 lbf\r\n"))
	}
	if g := h.d.State(); g.Stop.Cause != safety.LoadSilent || g.TensionKnown() {
		t.Errorf("the guarding cell silent, the other one live: stop %v, known %v; want a stop, and tension unknown", g.Stop.Cause, g.TensionKnown())
	}
	h.end()
}

// TestCellsDisagree: friction explains 7 % at this scope while hauling, and the
// inboard one must then be the larger.
func TestCellsDisagree(t *testing.T) {
	for _, tt := range []struct {
		name          string
		first, second float64
		up            bool
	}{{"alike", 3000, 3000, false}, {"friction", 3050, 3000, false}, {"far apart", 3000, 2000, true}, {"the other way", 3000, 3600, true}} {
		h := twoCells(t)
		both(h, 0, 0, 3*time.Second)
		h.must(safety.Logger, ActZero, "")
		h.must(safety.Director, ActDepth, "6 m")
		h.must(safety.Director, ActPayout, "60 m") // until then the rode may be up and down, and friction explains 37 %
		both(h, tt.first, tt.second, 6*time.Second)
		a := h.d.State().Alarms[safety.CellsDisagree]
		if a.Standing() != tt.up {
			t.Errorf("%s: alarm %+v, want it %v", tt.name, a, tt.up)
		}
		both(h, 3000, 3000, 6*time.Second)
		if a := h.d.State().Alarms[safety.CellsDisagree]; a.Standing() {
			t.Errorf("%s: alike again: %+v", tt.name, a)
		}
		both(h, 3000, -1, 5*time.Second)
		silent := false
		for _, r := range h.d.Records {
			silent = silent || r.Kind == logfmt.Say && r.Str("what") == "cells" && r.Str("state") == "silent"
		}
		if !silent {
			t.Errorf("%s: load2 silent and nobody told", tt.name)
		}
		h.end()
	}
}

// TestTheLargerOneGuards: where the trial file says so.
func TestTheLargerOneGuards(t *testing.T) {
	h := twoCells(t, "step = \"0.1 kgf\"", "guards = \"larger\"")
	both(h, 0, 0, 3*time.Second)
	h.pulling()
	both(h, 2000, 2100, 200*time.Millisecond)
	both(h, 7700, 8100, 400*time.Millisecond)
	g := h.d.State()
	if g.Stop.Cause != safety.TensionLimit {
		t.Errorf("7.7 and 8.1 kN: stopped for %v; want the tension limit", g.Stop.Cause)
	}
	h.end()
}

// TestTheLargerOneIsMissed: where the limits should act on the larger cell and the
// other one was never heard, or is heard no more, that they act without it is told and
// is a warning until it is back.
func TestTheLargerOneIsMissed(t *testing.T) {
	for _, heard := range []bool{false, true} {
		h := twoCells(t, "step = \"0.1 kgf\"", "guards = \"larger\"")
		if heard {
			both(h, 0, 0, 3*time.Second)
		}
		both(h, 0, -1, 5*time.Second)
		n := 0
		for _, r := range h.d.Records {
			if r.Kind == logfmt.Say && r.Str("state") == "silent" && strings.Contains(r.Str("text"), "load2 tells no tension") &&
				strings.HasSuffix(r.Str("text"), "the limits act without it") && r.Str("loud") == "1" {
				n++
			}
		}
		if n != 1 {
			t.Errorf("heard before %v: told %d times, want once", heard, n)
		}
		if a := h.d.State().Alarms[safety.CellMissing]; !a.Standing() || a.Priority != safety.Warning {
			t.Errorf("heard before %v: alarm %+v, want a warning that stands", heard, a)
		}
		both(h, 0, 0, 5*time.Second)
		if a := h.d.State().Alarms[safety.CellMissing]; a.Standing() {
			t.Errorf("heard again: alarm %+v", a)
		}
		h.end()
	}
}

// TestMissingCellBarsArming: where the largest guards, a cell that tells none bars
// arming with the one next thing in words, from the first moment; the director may go
// without it for a reason, until it is heard again. While armed its loss is a warning.
func TestMissingCellBarsArming(t *testing.T) {
	h := twoCells(t, "step = \"0.1 kgf\"", "guards = \"larger\"")
	item := func() safety.CheckItem {
		for _, c := range h.d.Snapshot().Checklist {
			if c.Check == safety.CheckCells {
				return c
			}
		}
		t.Fatal("the list before arming has no line for the other cell")
		return safety.CheckItem{}
	}
	both(h, 0, -1, 300*time.Millisecond)
	if c := item(); c.State != safety.CheckFailed || !strings.Contains(c.Text, "load2 tells no tension") {
		t.Errorf("never heard: %+v", c)
	}
	both(h, 0, 0, 3*time.Second)
	if c := item(); c.State != safety.CheckPassed {
		t.Errorf("heard: %+v", c)
	}
	h.refused(safety.Director, ActWaive, "cells its box is broken", "no load cell is missing")
	both(h, 0, -1, 4*time.Second)
	h.must(safety.Logger, ActZero, "")
	h.must(safety.Director, ActWaive, "weight none aboard")
	h.must(safety.Director, ActRead, "")
	h.must(safety.WinchOperator, ActReady, "")
	h.must(safety.Logger, ActReady, "")
	h.must(safety.Director, ActReady, "")
	h.must(safety.Director, ActDepth, "6 m")
	h.must(safety.Director, ActPayout, "60 m")
	both(h, 0, -1, time.Second)
	h.refused(safety.Director, ActArm, "", "not armed: other load cells: load2 tells no tension")
	h.refused(safety.Logger, ActWaive, "cells its box is broken", "ask the director")
	h.refused(safety.Director, ActWaive, "cells", "say the reason too")
	h.must(safety.Director, ActWaive, "cells its box is broken")
	if c := item(); c.State != safety.CheckWaived {
		t.Errorf("gone without: %+v", c)
	}
	both(h, 0, 0, 2*time.Second)
	both(h, 0, -1, 4*time.Second)
	h.refused(safety.Director, ActArm, "", "load2 tells no tension") // it was heard meanwhile
	h.must(safety.Director, ActWaive, "cells its box is broken")
	h.must(safety.Director, ActArm, "")
	if g := h.d.State(); !g.Armed || !g.Alarms[safety.CellMissing].Standing() {
		t.Errorf("armed %v without it, the warning is %+v", g.Armed, g.Alarms[safety.CellMissing])
	}
	h.end()
	var told []string
	for _, c := range resultOf(t, h.sealed(t, t.TempDir(), "a.log")).Checks {
		told = append(told, fmt.Sprintf("%s, %s by the %s: %s", c.Check, c.State, c.Who, c.Text))
	}
	gone := "other load cells, waived by the director: its box is broken"
	want := []string{"zero, done by the logger: ", "known weight, waived by the director: none aboard", gone, gone}
	if diff := cmp.Diff(want, told); diff != "" {
		t.Errorf("the results' checks (-want +got):\n%s", diff)
	}
}
