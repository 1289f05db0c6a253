package tui

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/x/ansi"
	"github.com/google/go-cmp/cmp"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// bench is a screen with a clock that a test moves.
type bench struct {
	t    *testing.T
	m    model
	view *fakeView
	term *quietTerminal
	now  time.Time
}

func newBench(t *testing.T, name string) *bench {
	t.Helper()
	b := &bench{t: t, now: sceneStart, term: &quietTerminal{}}
	sc := sceneNamed(name)
	v, f := sc.view()
	b.view = f
	o := Options{Width: 80, Height: 24, Now: func() time.Time { return b.now }, FPS: 12, Name: "screen", Seat: safety.Director, Out: &bytes.Buffer{}}
	if sc.earlier != nil {
		o.Earlier = func() *session.EarlierPulls { return sc.earlier }
	}
	b.m = newModel(v, o,
		b.term, func(reason string, stack []byte) { t.Fatalf("screen lost: %s\n%s", reason, stack) })
	b.tick()
	return b
}

// tick is a frame, with the snapshot fresh.
func (b *bench) tick() tea.Cmd {
	s := *b.view.snap
	s.Made = b.now
	b.view.snap = &s
	next, cmd := b.m.Update(frameMsg{})
	b.m = next.(model)
	return cmd
}

// press types keys, far enough apart to be presses of their own.
func (b *bench) press(keys ...string) tea.Cmd {
	var cmd tea.Cmd
	for _, k := range keys {
		b.now = b.now.Add(confirmAfter + time.Millisecond)
		cmd = b.strike(k)
	}
	return cmd
}

// strike types one key at once.
func (b *bench) strike(k string) tea.Cmd {
	msg := tea.KeyMsg{Type: tea.KeyRunes, Runes: []rune(k)}
	switch k {
	case " ":
		msg = tea.KeyMsg{Type: tea.KeySpace, Runes: []rune(" ")}
	case "right":
		msg = tea.KeyMsg{Type: tea.KeyRight}
	case "left":
		msg = tea.KeyMsg{Type: tea.KeyLeft}
	case "home":
		msg = tea.KeyMsg{Type: tea.KeyHome}
	case "end":
		msg = tea.KeyMsg{Type: tea.KeyEnd}
	case "esc":
		msg = tea.KeyMsg{Type: tea.KeyEscape}
	case "enter":
		msg = tea.KeyMsg{Type: tea.KeyEnter}
	case "tab":
		msg = tea.KeyMsg{Type: tea.KeyTab}
	case "backspace":
		msg = tea.KeyMsg{Type: tea.KeyBackspace}
	case "ctrl+c":
		msg = tea.KeyMsg{Type: tea.KeyCtrlC}
	case "ctrl+z":
		msg = tea.KeyMsg{Type: tea.KeyCtrlZ}
	}
	next, cmd := b.m.Update(msg)
	b.m = next.(model)
	return cmd
}

func (b *bench) change(f func(*session.Snapshot)) tea.Cmd {
	s := *b.view.snap
	f(&s)
	b.view.snap = &s
	return b.tick()
}

func (b *bench) text() string { return ansi.Strip(b.m.View()) }

func director(what string) session.Act {
	return session.Act{Who: safety.Director, Name: "screen", What: what}
}

// quits says whether a command ends the program; batches are looked into.
func quits(cmd tea.Cmd) bool {
	if cmd == nil {
		return false
	}
	done := make(chan tea.Msg, 1)
	go func() { done <- cmd() }()
	select {
	case msg := <-done:
		switch msg := msg.(type) {
		case tea.QuitMsg:
			return true
		case tea.BatchMsg:
			for _, c := range msg {
				if quits(c) {
					return true
				}
			}
		}
	case <-time.After(20 * time.Millisecond): // a tick
	}
	return false
}

func TestStopFromEveryState(t *testing.T) {
	states := map[string]func(*bench){
		"at rest": func(b *bench) {},
		"arm":     func(b *bench) { b.press("a") },
		"next":    func(b *bench) { b.press("n") },
		"stage":   func(b *bench) { b.press("s") },
		"re-arm":  func(b *bench) { b.press("r") },
		"depth":   func(b *bench) { b.press("d", "7", ".") },
		"out":     func(b *bench) { b.press("o") },
		"mark":    func(b *bench) { b.press("m") },
		"leave":   func(b *bench) { b.press("q") },
		"help":    func(b *bench) { b.press("?") },
		"list before arming": func(b *bench) {
			b.change(func(s *session.Snapshot) { s.Guard.Armed, s.Checklist = false, checklist(1) })
			b.press("a")
		},
		"writing a reason": func(b *bench) {
			b.change(func(s *session.Snapshot) { s.Guard.Armed, s.Checklist = false, checklist(1) })
			b.press("a", "v", "2", "n", "o")
		},
		"limits read out": func(b *bench) {
			b.change(func(s *session.Snapshot) { s.Guard.Armed, s.Checklist = false, checklist(1) })
			b.press("a", "l")
		},
		"more":           func(b *bench) { b.press("x") },
		"lower":          func(b *bench) { b.press("x", "3", "1", "7") },
		"abandon":        func(b *bench) { b.press("!") },
		"alarms":         func(b *bench) { b.press("l") },
		"cell off":       func(b *bench) { b.change(func(s *session.Snapshot) { s.Guard.Cell = safety.CellOff }) },
		"last help page": func(b *bench) { b.press("?", "?") },
		"new alarm": func(b *bench) {
			b.change(func(s *session.Snapshot) {
				s.Guard.Alarms[safety.LineSilent] = safety.Alarm{State: safety.Unacknowledged, Priority: safety.Warning, Since: s.T}
			})
		},
		"stopped": func(b *bench) {
			b.change(func(s *session.Snapshot) { tripped(s, safety.TensionLimit, 8000, 8000, safety.OrderStop) })
		},
		"stalled":   func(b *bench) { b.now = b.now.Add(5 * time.Second); b.m.at = b.now },
		"ended":     func(b *bench) { b.m.stay = true; b.change(func(s *session.Snapshot) { s.Ended = true }) },
		"too small": func(b *bench) { b.m.w, b.m.h = 10, 3 },
		"no size":   func(b *bench) { b.m.w, b.m.h = 0, 0 },
		"no data":   func(b *bench) { b.m.snap = nil },
		"by time":   func(b *bench) { b.press("t") },
	}
	keys := map[string]tea.KeyMsg{
		"space":               {Type: tea.KeySpace, Runes: []rune(" ")},
		"alt-space":           {Type: tea.KeySpace, Runes: []rune(" "), Alt: true},
		"ctrl-space":          {Type: tea.KeyCtrlAt},
		"space among letters": {Type: tea.KeyRunes, Runes: []rune("xy n")},
		"space in a paste":    {Type: tea.KeyRunes, Runes: []rune("some text"), Paste: true},
	}
	for state, get := range states {
		for key, msg := range keys {
			t.Run(state+"/"+key, func(t *testing.T) {
				b := newBench(t, "pull")
				get(b)
				next, _ := b.m.Update(msg)
				stops := 0
				for _, a := range b.view.did() {
					if a.What == session.ActStop {
						stops++
						if a.Who != safety.Director || a.Name != "screen" {
							t.Errorf("stop called by %v %q, want the director's screen", a.Who, a.Name)
						}
					}
				}
				if stops != 1 {
					t.Errorf("%d stops handed over, want 1", stops)
				}
				if m := next.(model); m.helpPage != 0 || m.dlg.kind != noDialog {
					t.Errorf("help page %d, dialog %d are still open after STOP", m.helpPage, m.dlg.kind)
				}
			})
		}
	}
}

func TestKeysBecomeActs(t *testing.T) {
	stage := func(what string, st trial.Stage) session.Act {
		a := director(what)
		a.Stage = st
		return a
	}
	value := func(what, v string) session.Act {
		a := director(what)
		a.Value = v
		return a
	}
	tests := []struct {
		name string
		keys []string
		want []session.Act
	}{
		{"arm", []string{"a", "y"}, []session.Act{director(session.ActArm)}},
		{"arm, capital letters", []string{"A", "Y"}, []session.Act{director(session.ActArm)}},
		{"arm, not confirmed", []string{"a", "n"}, nil},
		{"arm, the same key does not confirm", []string{"a", "a"}, nil},
		{"arm, escape", []string{"a", "esc", "y"}, nil},
		{"next", []string{"n", "y"}, []session.Act{stage(session.ActStage, trial.Hold)}},
		{"next, not confirmed", []string{"n", "n", "y"}, nil},
		{"stage by digit", []string{"s", "6"}, []session.Act{stage(session.ActStage, trial.Ease)}},
		{"stage, y is no answer", []string{"s", "y"}, nil},
		{"acknowledge", []string{"k"}, []session.Act{director(session.ActAck)}},
		{"re-arm into this stage", []string{"r", "y"}, []session.Act{stage(session.ActRearm, trial.Pull)}},
		{"re-arm into recover", []string{"r", "7"}, []session.Act{stage(session.ActRearm, trial.Recover)}},
		{"re-arm, not confirmed", []string{"r", "r"}, nil},
		{"depth as planned", []string{"d", "y"}, []session.Act{value(session.ActDepth, "6 m")}},
		{"depth written", []string{"d", "6", ".", "8", "y"}, []session.Act{value(session.ActDepth, "6.8 m")}},
		{"depth corrected", []string{"d", "7", "3", "backspace", "1", "y"}, []session.Act{value(session.ActDepth, "71 m")}},
		{"depth, second point ignored", []string{"d", "7", ".", ".", "2", "y"}, []session.Act{value(session.ActDepth, "7.2 m")}},
		{"depth, nothing written", []string{"d", "backspace", "y"}, nil},
		{"rode out as planned", []string{"o", "y"}, []session.Act{value(session.ActPayout, "60 m")}},
		{"mark", []string{"m", "2"}, []session.Act{value(session.ActMark, "line taut")}},
		{"doubt", []string{"m", "0"}, []session.Act{value(session.ActMark, "doubt: do not trust this bit")}},
		{"mark, no", []string{"m", "x"}, nil},
		{"leave", []string{"q", "y"}, []session.Act{value(session.ActEnd, "ended at the screen")}},
		{"leave, stays", []string{"q", "q"}, nil},
		{"ctrl-c asks too", []string{"ctrl+c", "y"}, []session.Act{value(session.ActEnd, "ended at the screen")}},
		{"ctrl-z does nothing", []string{"ctrl+z"}, nil},
		{"a key of no meaning", []string{"z", "!", "right", "p", "+"}, nil},
		{"help swallows one key", []string{"?", "k"}, nil},
		{"keys read together", []string{"sk"}, nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := newBench(t, "trip-ease")
			b.press(tt.keys...)
			if d := cmp.Diff(tt.want, b.view.did()); d != "" {
				t.Errorf("keys %q: acts differ (-want +got):\n%s", tt.keys, d)
			}
		})
	}
}

// Text typed into no field calls STOP by its space; what follows in the same
// burst gives no order, however it is cut into messages.
func TestTypedTextOnlyStops(t *testing.T) {
	stop := director(session.ActStop)
	for _, text := range [][]string{{"25 kg"}, {"2", "5", " ", "k", "g"}, {"2", "5 k", "g"}, {"wet, 2nd try: aye"}} {
		for _, scene := range []string{"warning", "trip-ease"} {
			b := newBench(t, scene)
			var want []session.Act
			for _, s := range text {
				b.now = b.now.Add(66 * time.Microsecond)
				b.strike(s)
				for range strings.Count(s, " ") {
					want = append(want, stop)
				}
			}
			if d := cmp.Diff(want, b.view.did()); d != "" {
				t.Errorf("%s, %q typed: acts differ (-want +got):\n%s", scene, text, d)
			}
			if b.m.dlg.kind != noDialog {
				t.Errorf("%s, %q typed: dialog %d is open", scene, text, b.m.dlg.kind)
			}
			b.tick()
			if !strings.Contains(b.text(), "key not taken: it came together") {
				t.Errorf("%s, %q typed: the screen does not say that a key was refused:\n%s", scene, text, b.text())
			}
			b.strike(" ")
			b.now = b.now.Add(quietAfter)
			b.strike("k")
			want = append(want, stop, director(session.ActAck))
			if d := cmp.Diff(want, b.view.did()); d != "" {
				t.Errorf("%s, %q: SPACE at once, k after the quiet time: acts differ (-want +got):\n%s", scene, text, d)
			}
		}
	}
}

func TestConfirmNeedsASecondPress(t *testing.T) {
	b := newBench(t, "pull")
	b.press("a")
	b.strike("y") // in the same instant, as a bouncing key or a paste
	b.strike("y")
	for _, a := range b.view.did() {
		if a.What == session.ActArm {
			t.Fatal("armed by a y that came together with the a")
		}
	}
	b.press("y")
	if got := b.view.did(); len(got) == 0 || got[len(got)-1].What != session.ActArm {
		t.Errorf("acts = %v, want an arm at the end: the question was still open", got)
	}
}

func TestKeysOnTheirWayWhenAnAlarmComesAreNoOrders(t *testing.T) {
	b := newBench(t, "pull")
	b.press("n")
	b.change(func(s *session.Snapshot) { tripped(s, safety.TensionLimit, 8000, 8000, safety.OrderStop) })
	if b.m.dlg.kind != noDialog {
		t.Error("the question about the next stage is still open after a stop")
	}
	before := len(b.view.did())
	b.strike("y")
	b.strike("k")
	if got := b.view.did()[before:]; len(got) != 0 {
		t.Errorf("acts %v taken as the alarm came, want none", got)
	}
	b.tick()
	if !strings.Contains(b.text(), "key not taken") {
		t.Errorf("the screen does not say that a key was not taken:\n%s", b.text())
	}
	b.now = b.now.Add(quietAfter)
	b.strike("k")
	if got := b.view.did()[before:]; len(got) != 1 || got[0].What != session.ActAck {
		t.Errorf("acts %v after the quiet time, want one acknowledge", got)
	}
}

func TestAQuestionClosesWhenTheStageChanges(t *testing.T) {
	b := newBench(t, "pull")
	b.press("n")
	b.change(func(s *session.Snapshot) { s.Guard.Stage = trial.Hold })
	before := len(b.view.did())
	b.press("y")
	if got := b.view.did()[before:]; len(got) != 0 {
		t.Errorf("acts %v, want none: the stage asked about is over", got)
	}
}

func TestAPersonTakesOverFromTheDemo(t *testing.T) {
	b := newBench(t, "pull") // mode demo
	b.press("t", "?", "?")
	if got := b.view.did(); len(got) != 0 {
		t.Errorf("acts %v from keys that only look, want none", got)
	}
	b.press("esc", "n", "y", "k")
	var whats []string
	for _, a := range b.view.did() {
		whats = append(whats, a.What)
	}
	if d := cmp.Diff([]string{session.ActNote, session.ActStage, session.ActAck}, whats); d != "" {
		t.Errorf("acts differ (-want +got):\n%s", d)
	}
}

func TestAStopThatIsNotTakenUpIsTold(t *testing.T) {
	b := newBench(t, "pull")
	b.press(" ")
	b.tick()
	if !strings.Contains(b.text(), "STOP called") {
		t.Errorf("the screen does not say that STOP was called:\n%s", b.text())
	}
	b.now = b.now.Add(stopTakes + time.Millisecond)
	b.tick()
	if !strings.Contains(b.text(), "NOT IN FORCE YET") {
		t.Errorf("the screen does not say that the STOP is not in force:\n%s", b.text())
	}
	b.change(func(s *session.Snapshot) { tripped(s, safety.PersonStop, 0, 0, safety.OrderStop) })
	b.change(func(s *session.Snapshot) { s.Guard.Order, s.Guard.Stop = safety.NoOrder, safety.Stop{} })
	if strings.Contains(b.text(), "NOT IN FORCE") {
		t.Errorf("a stop that was in force is told as not:\n%s", b.text())
	}
}

func TestReplayKeys(t *testing.T) {
	b := newBench(t, "replay")
	p := b.m.player.(*fakePlayer)
	b.press("p")
	if p.paused {
		t.Error("p does not go on")
	}
	b.press("+")
	if p.speed != 16 {
		t.Errorf("+ gives speed %v, want 16", p.speed)
	}
	b.press("-", "-")
	if p.speed != 4 {
		t.Errorf("- - gives speed %v, want 4", p.speed)
	}
	b.press("right")
	if p.steps != 1 || !p.paused {
		t.Errorf("→ made %d steps, paused %v; want 1, true", p.steps, p.paused)
	}
	b.press("a", "n", "k", "s", "6")
	if got := b.view.did(); len(got) != 0 {
		t.Errorf("a replay hands over %v, want nothing", got)
	}
	b.press(" ")
	b.tick()
	if !strings.Contains(b.text(), "nothing to stop") {
		t.Errorf("the screen does not say that a replay has nothing to stop:\n%s", b.text())
	}
	b.now = b.now.Add(quietAfter)
	if !quits(b.press("q")) {
		t.Error("q does not leave a replay at once")
	}
}

func TestLeaving(t *testing.T) {
	b := newBench(t, "pull")
	if quits(b.press("q")) || quits(b.press("y")) {
		t.Fatal("the screen left before the capture had ended: the guard may refuse the end")
	}
	if quits(b.tick()) {
		t.Fatal("the screen left although the capture goes on")
	}
	if !quits(b.change(func(s *session.Snapshot) { s.Ended = true })) {
		t.Error("the screen stays though the capture has ended as asked")
	}

	b = newBench(t, "pull")
	b.m.stay = true
	if quits(b.change(func(s *session.Snapshot) { s.Ended = true })) {
		t.Error("the screen leaves by itself though it was told to stay")
	}
	if !strings.Contains(b.text(), "nothing is watched now") {
		t.Errorf("the screen does not say that nothing is watched:\n%s", b.text())
	}
	if !quits(b.press("q")) {
		t.Error("q does not leave after the end")
	}
}

func TestBellOnceForAStopAndAnEmergency(t *testing.T) {
	b := newBench(t, "pull")
	runCmd(b.change(func(s *session.Snapshot) { s.T += second }))
	if b.term.rings != 0 {
		t.Fatalf("%d bells with nothing new, want 0", b.term.rings)
	}
	runCmd(b.change(func(s *session.Snapshot) { tripped(s, safety.TensionLimit, 8000, 8000, safety.OrderStop) }))
	runCmd(b.change(func(s *session.Snapshot) { s.T += second }))
	if b.term.rings != 1 {
		t.Errorf("%d bells after one stop, want 1", b.term.rings)
	}
	runCmd(b.change(func(s *session.Snapshot) { s.Guard.Order = safety.OrderEase }))
	if b.term.rings != 2 {
		t.Errorf("%d bells after STOP rose to EASE, want 2", b.term.rings)
	}
	runCmd(b.change(func(s *session.Snapshot) {
		s.Guard.Alarms[safety.RecordFailing] = safety.Alarm{State: safety.Unacknowledged, Priority: safety.Warning, Since: s.T}
	}))
	if b.term.rings != 2 {
		t.Errorf("%d bells after a warning, want 2 still", b.term.rings)
	}
}

// runCmd runs a command, and what a batch holds; a tick is not waited for.
func runCmd(cmd tea.Cmd) {
	if cmd == nil {
		return
	}
	done := make(chan tea.Msg, 1)
	go func() { done <- cmd() }()
	select {
	case msg := <-done:
		if batch, ok := msg.(tea.BatchMsg); ok {
			for _, c := range batch {
				runCmd(c)
			}
		}
	case <-time.After(20 * time.Millisecond):
	}
}

func TestStalledDataBlanksTheTension(t *testing.T) {
	b := newBench(t, "warning")
	if !strings.Contains(b.text(), "0.1 s old") {
		t.Fatalf("no age on a fresh screen:\n%s", b.text())
	}
	b.now = b.now.Add(800 * time.Millisecond)
	next, _ := b.m.Update(frameMsg{}) // the same old snapshot
	b.m = next.(model)
	for _, want := range []string{"SCREEN DATA STALLED 0.8 s", "Tension unknown: treat as loaded.", "order unknown"} {
		if !strings.Contains(b.text(), want) {
			t.Errorf("stalled screen does not say %q:\n%s", want, b.text())
		}
	}
}

func TestNoticeText(t *testing.T) {
	tests := []struct {
		name string
		do   func(*session.Snapshot)
		want string
	}{
		{"slack", func(s *session.Snapshot) { s.Tension.Big = 700 }, "An aid to watching a pull. It does not make the pull safe."},
		{"at a tenth of the limit", func(s *session.Snapshot) { s.Tension.Big = 800 }, "An aid to watching a pull. It does not make the pull safe."},
		{"above a tenth", func(s *session.Snapshot) { s.Tension.Big = 801 }, "Line loaded: keep clear."},
		{"not a number", func(s *session.Snapshot) { s.Tension.Big = trial.Force(math.NaN()) }, "Line loaded: keep clear."},
		{"unknown", func(s *session.Snapshot) { s.Tension.Known = false }, "Tension unknown: treat as loaded."},
		{"no limits known", func(s *session.Snapshot) { s.Config = nil; s.Tension.Big = 1 }, "Line loaded: keep clear."},
		{"stopped and loaded", func(s *session.Snapshot) { tripped(s, safety.PersonStop, 0, 0, safety.OrderStop) }, "Stopped is not slack. Line loaded: keep clear."},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := newBench(t, "pull")
			b.change(tt.do)
			if got, _ := b.m.noticeText(); got != tt.want {
				t.Errorf("noticeText() = %q, want %q", got, tt.want)
			}
		})
	}
}

func TestEveryKeyIsBoundOnce(t *testing.T) {
	for _, at := range []where{live, played} {
		seen := map[string]string{}
		for _, b := range bindings {
			if b.where&at == 0 {
				continue
			}
			for _, k := range b.keys {
				if other, ok := seen[k]; ok {
					t.Errorf("key %q means both %q and %q", k, other, b.help)
				}
				seen[k] = b.help
			}
		}
	}
}
