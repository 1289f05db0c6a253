package tui

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

func TestKeysOfTheGuardBecomeActs(t *testing.T) {
	act := func(who safety.Who, what, value string) session.Act {
		return session.Act{Who: who, Name: "screen", What: what, Value: value}
	}
	const dir = safety.Director
	tests := []struct {
		name, scene string
		keys        []string
		want        []session.Act
	}{
		{"zero", "checks-half", []string{"a", "z", "y"}, []session.Act{act(dir, session.ActZero, "")}},
		{"zero, not confirmed", "checks-half", []string{"a", "z", "z"}, nil},
		{"known weight", "checks-half", []string{"a", "w", "2", "5", ".", "0", "y"}, []session.Act{act(dir, session.ActWeight, "25.0 kg")}},
		{"known weight as a force", "checks-half", []string{"a", "w", "u", "u", "2", "y"}, []session.Act{act(dir, session.ActWeight, "2 kN")}},
		{"known weight, nothing written", "checks-half", []string{"a", "w", "y"}, nil},
		{"horn", "checks-half", []string{"a", "h", "y"}, []session.Act{act(dir, session.ActHorn, "")}},
		{"slow cell", "checks-half", []string{"a", "s", "y"}, []session.Act{act(dir, session.ActAccept, "slow cell")}},
		{"limits", "checks-half", []string{"a", "l", "y"}, []session.Act{act(dir, session.ActRead, "")}},
		{"the three are ready", "checks-half", []string{"a", "1", "y", "2", "y", "3", "y"}, []session.Act{
			act(safety.Logger, session.ActReady, "logging, all live"),
			act(safety.WinchOperator, session.ActReady, "winch ready, line clear"),
			act(dir, session.ActReady, "people in their places, deck clear"),
		}},
		{"winch not ready, a reason that is there", "checks-half", []string{"a", "2", "n", "2", "enter"}, []session.Act{act(safety.WinchOperator, session.ActNotReady, "line not clear")}},
		{"not ready needs a reason", "checks-half", []string{"a", "2", "n", "enter"}, nil},
		{"reason in own words", "checks-half", []string{"a", "v", "1", "w", "e", "t", "tab", "y", "2", "x", "backspace", "enter"}, []session.Act{act(dir, session.ActWaive, "zero wet y2")}},
		{"known weight waived", "checks-half", []string{"a", "v", "2", "1", "enter"}, []session.Act{act(dir, session.ActWaive, "weight no weight on board")}},
		{"known weight waived by its letter", "checks-half", []string{"a", "v", "w", "1", "enter"}, []session.Act{act(dir, session.ActWaive, "weight no weight on board")}},
		{"zero waived by its letter", "checks-half", []string{"a", "v", "z", "w", "e", "t", "enter"}, []session.Act{act(dir, session.ActWaive, "zero wet")}},
		{"a letter of what cannot be waived", "checks-half", []string{"a", "v", "l", "w", "e", "t", "enter"}, nil},
		{"reason, escape", "checks-half", []string{"a", "v", "2", "1", "esc"}, nil},
		{"correct, no weight failed", "checks-half", []string{"a", "c", "1"}, nil},
		{"correct the sign", "checks-weight-failed", []string{"a", "c", "1"}, []session.Act{act(dir, session.ActCorrect, "sign")}},
		{"correct the unit", "checks-weight-failed", []string{"a", "c", "5"}, []session.Act{act(dir, session.ActCorrect, "unit lbf")}},
		{"depth from the list", "checks-half", []string{"a", "d", "y"}, []session.Act{act(dir, session.ActDepth, "6 m")}},
		{"taken over, all confirmed", "checks-taken-over", []string{"a", "t", "y"}, []session.Act{act(dir, session.ActCarry, "all")}},
		{"taken over, all dropped", "checks-taken-over", []string{"a", "T", "4", "n"}, []session.Act{act(dir, session.ActDrop, "all")}},
		{"taken over, one dropped", "checks-taken-over", []string{"a", "t", "4", "y"}, []session.Act{
			act(dir, session.ActDrop, "zero 0.131 kN"), act(dir, session.ActCarry, "stage pull"),
			act(dir, session.ActCarry, "haul rode out 41.2 m at count 1880"), act(dir, session.ActCarry, "lower tension_stop 6 kN"),
		}},
		{"taken over, dropped and back", "checks-taken-over", []string{"a", "t", "4", "4", "y"}, []session.Act{act(dir, session.ActCarry, "all")}},
		{"taken over, a digit of none that is open", "checks-taken-over", []string{"a", "t", "2", "9", "y"}, []session.Act{act(dir, session.ActCarry, "all")}},
		{"taken over, not answered", "checks-taken-over", []string{"a", "t", "t", "esc"}, nil},
		{"taken over, under a stop the stage waits", "checks-stop-taken-over", []string{"a", "t", "5", "y"}, []session.Act{
			act(dir, session.ActDrop, "zero 0.131 kN"),
			act(dir, session.ActCarry, "haul rode out 41.2 m at count 1880"), act(dir, session.ActCarry, "lower tension_stop 6 kN"),
		}},
		{"nothing was taken over", "checks-half", []string{"a", "t", "y"}, nil},
		{"not all done", "checks-half", []string{"a", "x", "a", "y"}, nil},
		{"abandon", "ease-vessel-moves", []string{"!", "y"}, []session.Act{act(dir, session.ActAbandon, "")}},
		{"abandon, not confirmed", "ease-vessel-moves", []string{"!", "!"}, nil},
		{"the unit was right", "unit-changed", []string{"x", "9", "2", "1", "enter"}, []session.Act{act(dir, session.ActWaive, "weight the tension leapt: a breakout")}},
		{"rode mark as proposed", "ease-vessel-moves", []string{"x", "1", "y"}, []session.Act{act(dir, session.ActPass, "45 m")}},
		{"rode mark written", "ease-vessel-moves", []string{"x", "1", "4", "0", "y"}, []session.Act{act(dir, session.ActPass, "40 m")}},
		{"taken in", "fairlead-end", []string{"c", "y"}, []session.Act{act(dir, session.ActClear, "chain shackle")}},
		{"tension stop lowered", "at-fairlead", []string{"x", "3", "1", "7", "y"}, []session.Act{act(dir, session.ActLower, "tension_stop 7 kN")}},
		{"scope raised", "at-fairlead", []string{"x", "3", "4", "4", ".", "5", "y"}, []session.Act{act(dir, session.ActLower, "scope_min 4.5")}},
		{"cell off", "at-fairlead", []string{"x", "4", "y"}, []session.Act{act(dir, session.ActCellOff, "")}},
		{"cell on", "cell-off", []string{"x", "4", "y"}, []session.Act{act(dir, session.ActCellOn, "")}},
		{"zero while armed", "cell-off", []string{"x", "5", "y"}, []session.Act{act(dir, session.ActZero, "")}},
		{"alarm list acknowledges", "first-up", []string{"l", "k"}, []session.Act{act(dir, session.ActAck, "")}},
		{"alarm list only looks", "first-up", []string{"l", "y"}, nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := newBench(t, tt.scene)
			b.press(tt.keys...)
			if d := cmp.Diff(tt.want, b.view.did()); d != "" {
				t.Errorf("keys %q: acts differ (-want +got):\n%s", tt.keys, d)
			}
		})
	}
}

func TestTheListComesBackUntilItArms(t *testing.T) {
	b := newBench(t, "checks-done")
	b.press("a", "3", "y")
	if b.m.dlg.kind != checkDialog {
		t.Fatalf("dialog %d after an answer, want the list again", b.m.dlg.kind)
	}
	b.press("y") // the second y of a double press
	b.strike("y")
	for _, a := range b.view.did() {
		if a.What == session.ActArm {
			t.Fatal("armed by a y that came right after the one before")
		}
	}
	b.now = b.now.Add(armAfter)
	b.press("y")
	if got := b.view.did(); got[len(got)-1].What != session.ActArm {
		t.Errorf("acts = %v, want an arm at the end", got)
	}
	if b.m.dlg.kind != noDialog {
		t.Errorf("dialog %d after arming, want none", b.m.dlg.kind)
	}
}

func TestTheListClosesOnAStopAndAStage(t *testing.T) {
	for name, do := range map[string]func(*session.Snapshot){
		"stop":  func(s *session.Snapshot) { tripped(s, safety.PersonStop, 0, 0, safety.OrderStop) },
		"stage": func(s *session.Snapshot) { s.Guard.Stage = trial.PayOut },
	} {
		b := newBench(t, "checks-done")
		b.press("a")
		b.change(do)
		if b.m.dlg.kind != noDialog {
			t.Errorf("%s: the list is still open", name)
		}
		b.now = b.now.Add(2 * time.Second)
		b.press("y")
		if got := b.view.did(); len(got) != 0 {
			t.Errorf("%s: acts %v, want none", name, got)
		}
	}
	b := newBench(t, "checks-half")
	b.press("a")
	b.change(func(s *session.Snapshot) {
		s.Guard.Alarms[safety.ZeroMoved] = safety.Alarm{State: safety.Unacknowledged, Priority: safety.Warning, Since: s.T}
	})
	if b.m.dlg.kind != checkDialog {
		t.Error("a warning has closed the list")
	}
}

func TestNotArmedWhileSomethingTakenOverIsOpen(t *testing.T) {
	b := newBench(t, "checks-taken-over")
	b.change(func(s *session.Snapshot) { s.Checklist = checklist(8) })
	b.press("a")
	b.now = b.now.Add(armAfter)
	b.press("y")
	if got := b.view.did(); len(got) != 0 || !strings.Contains(b.m.note, "not armed: taken over and not confirmed: rode out 41.2 m") {
		t.Errorf("acts %v, note %q, want none armed and why", got, b.m.note)
	}
	b.change(func(s *session.Snapshot) { // only the stage is left: arming says it
		s.Carried = append([]session.Carried(nil), s.Carried...)
		for i := range s.Carried[1:] {
			s.Carried[i+1].State = session.CarryTaken
		}
	})
	b.now = b.now.Add(armAfter)
	b.press("y")
	if d := cmp.Diff([]session.Act{director(session.ActArm)}, b.view.did()); d != "" {
		t.Errorf("with only the stage open (-want +got):\n%s", d)
	}

	b = newBench(t, "checks-taken-over")
	b.press("a", "t")
	b.strike("n") // came with the t
	if got := b.view.did(); len(got) != 0 || b.m.dlg.kind != carriedDialog {
		t.Errorf("acts %v, dialog %d; want a key that came at once not taken", got, b.m.dlg.kind)
	}
}

func TestOnlyTheDirectorSpeaksForOthers(t *testing.T) {
	b := newBench(t, "checks-half")
	b.m.seat = safety.Logger
	b.press("a", "2", "y")
	if got := b.view.did(); len(got) != 0 {
		t.Errorf("the logger's screen says for the winch: %v, want nothing", got)
	}
	b.press("esc", "a", "1", "y")
	if got := b.view.did(); len(got) != 1 || got[0].Who != safety.Logger || got[0].What != session.ActReady {
		t.Errorf("acts %v, want the logger's ready", got)
	}
}

func TestUnacknowledgedAlarmsFlash(t *testing.T) {
	m, _ := sceneNamed("first-up").screen(t, 80, 24)
	list := alarmsOf(&m.snap.Guard)
	now := m.snap.T
	seen := map[role]bool{}
	for i := range int64(4) {
		s := *m.snap
		s.T = now + i*second/2
		m.snap = &s
		seen[m.alarmStyle(list[0])] = true
		for _, a := range list[1:] {
			if st := m.alarmStyle(a); st == loud || st == flash {
				t.Errorf("%v, %v: style %d, want one that does not flash", a.cause, a.State, st)
			}
		}
	}
	if !seen[loud] || !seen[flash] || len(seen) != 2 {
		t.Errorf("styles of an unacknowledged emergency over two seconds: %v, want loud and flash", seen)
	}
}

func TestNoNumberWhileTheCellIsOff(t *testing.T) {
	for _, cell := range []safety.CellState{safety.CellOff, safety.CellBack} {
		b := newBench(t, "pull")
		b.change(func(s *session.Snapshot) { s.Guard.Cell = cell })
		if !b.m.blank() {
			t.Errorf("cell %v: a tension is shown", cell)
		}
		for _, want := range []string{"tension not measured:", "treat as loaded", "Tension not measured: treat as loaded.", "load cell " + cell.String()} {
			if !strings.Contains(b.text(), want) {
				t.Errorf("cell %v: the screen does not say %q:\n%s", cell, want, b.text())
			}
		}
	}
}

// What the screen holds a limit to be now is what the guard holds.
func TestLimitsNowAreTheGuards(t *testing.T) {
	cfg := &safety.Config{WLL: 10 * kN}
	cfg.Limits[trial.Pull] = trial.Limits{TensionWarn: 6 * kN, TensionStop: 8 * kN, Haul: 30, ScopeMin: 4}
	s := &session.Snapshot{Config: cfg}
	s.Guard.Lowered = safety.Lowered{TensionWarn: 5 * kN, TensionStop: 9 * kN, Haul: 25, ScopeMin: 4.5}
	want := trial.Limits{TensionWarn: 5 * kN, TensionStop: 8 * kN, Haul: 25, ScopeMin: 4.5}
	if d := cmp.Diff(want, limitsNow(s, trial.Pull)); d != "" {
		t.Errorf("limits of pull differ (-want +got):\n%s", d)
	}
	if d := cmp.Diff(trial.Limits{}, limitsNow(s, trial.Hold)); d != "" {
		t.Errorf("limits of hold, which has none, differ (-want +got):\n%s", d)
	}
}
