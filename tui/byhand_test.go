package tui

import (
	"math"
	"strings"
	"testing"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// A digit that is not taken leaves another number behind: none is left.
func TestANumberWithAKeyNotTakenIsBegunAnew(t *testing.T) {
	b := newBench(t, "pull")
	b.press("d", "1")
	b.change(func(s *session.Snapshot) { tripped(s, safety.TensionLimit, 8000, 8000, safety.OrderStop) })
	if b.m.dlg.kind != depthDialog {
		t.Fatal("the question about the depth is closed")
	}
	b.strike("0")
	if !strings.Contains(b.text(), "write the whole number") {
		t.Errorf("the screen does not say that the number is begun anew:\n%s", b.text())
	}
	b.now = b.now.Add(quietAfter)
	before := len(b.view.did())
	b.strike("0")
	b.strike("y")
	for _, a := range b.view.did()[before:] {
		if a.Value == "10 m" || a.Value == "1 m" {
			t.Errorf("%v taken: what was typed before is still in it", a)
		}
	}
}

// A stage that hauls is entered unarmed too; the question says that nothing comes in.
func TestNextStageSaysThatItIsNotArmed(t *testing.T) {
	b := newBench(t, "pull")
	for _, armed := range []bool{true, false} {
		b.change(func(s *session.Snapshot) { s.Guard.Stage, s.Guard.Armed = trial.Soak, armed })
		b.press("n")
		if got := strings.Contains(b.text(), "Not armed: nothing is hauled"); got == armed {
			t.Errorf("armed %v, the question says so: %v\n%s", armed, got, b.text())
		}
		b.press("esc")
	}
}

// TestListAsksForTheDepth: with nothing against arming but no water depth the list says
// what the stage pull will be refused for.
func TestListAsksForTheDepth(t *testing.T) {
	for _, tt := range []struct {
		depth bool
		scope float64
		want  string
	}{{false, 4, "d first"}, {true, 4, "Nothing is left to do"}, {false, 0, "Nothing is left to do"}} {
		c := &safety.Config{}
		c.Limits[trial.Pull].ScopeMin = tt.scope
		s := &session.Snapshot{Config: c, Checklist: []safety.CheckItem{{Check: safety.CheckZero, State: safety.CheckPassed}}}
		s.Haul.DepthOK = tt.depth
		if got := nextText(s); !strings.Contains(got, tt.want) {
			t.Errorf("depth known %v, least scope %v: %q, want %q", tt.depth, tt.scope, got, tt.want)
		}
	}
}

// TestCellShows: of a pin the crew judges what it feels, as zero and known weight do.
func TestCellShows(t *testing.T) {
	s := &session.Snapshot{Tension: session.Tension{Known: true, Now: 500}}
	if got := cellShows(s); got != 500 {
		t.Errorf("a cell in the rode shows %v, want 500 N", got)
	}
	s.Tension.Pin = &session.Pin{Felt: 245}
	if got := cellShows(s); got != 245 {
		t.Errorf("a pin shows %v, want the 245 N it feels", got)
	}
	s.Tension.Pin.Felt = trial.Force(math.NaN())
	if got := cellShows(s); got != 500 {
		t.Errorf("a pin that feels nothing known shows %v, want 500 N", got)
	}
}

// TestFormSaysThatTheRodeIsOnTheCell: a reading above slack is no zero of a free cell.
func TestFormSaysThatTheRodeIsOnTheCell(t *testing.T) {
	b := newBench(t, "pull")
	for _, tt := range []struct {
		big  trial.Force
		want bool
	}{{2800, true}, {1, false}} {
		b.change(func(s *session.Snapshot) {
			s.Tension.Now, s.Tension.Big = tt.big, tt.big
		})
		m := b.m
		m.dlg = dialog{kind: formDialog}
		for m.questionOf(m.dlg.form) != askZero {
			m.dlg.form.at++
		}
		_, body, _ := m.formLines()
		if got := strings.Contains(strings.Join(body, " "), "take the rode off it first"); got != tt.want {
			t.Errorf("%v on the cell: says so %v, want %v: %q", tt.big, got, tt.want, body)
		}
	}
}
