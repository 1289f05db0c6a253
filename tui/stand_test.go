package tui

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/google/go-cmp/cmp"

	"hawse/acquire/session"
	"hawse/safety"
)

// standSizes are the terminals a layout is meant for, the last one a telephone
// held upright.
var standSizes = [][2]int{{80, 24}, {100, 30}, {120, 40}, {160, 50}, {250, 70}, {50, 60}, {40, 12}}

// standKeys are the keys that lead to the views.
var standKeys = map[Stand]string{StandOperator: "1", StandDirector: "4", StandLogger: "7", StandAll: "0", StandFigures: "g"}

// standScenes are what each view is looked at in.
var standScenes = []string{"pull", "standby", "warning", "stop-soon", "trip-ease", "planned-end", "load-silent", "stalled", "checks-half", "ended", "replay", "instruments"}

func (sc scene) from(s Stand) scene {
	sc.keys = append([]string{standKeys[s]}, sc.keys...)
	return sc
}

// TestGoldenStands is every view at every size it is meant for; one file a view
// and scene.
func TestGoldenStands(t *testing.T) {
	for s := range numStands {
		for _, name := range standScenes {
			t.Run(s.String()+"-"+name, func(t *testing.T) {
				var got strings.Builder
				for _, size := range standSizes {
					m, _ := sceneNamed(name).from(s).screen(t, size[0], size[1])
					fmt.Fprintf(&got, "=== %dx%d\n%s", size[0], size[1], cells(m.View(), size[0], size[1]))
				}
				golden(t, filepath.Join("stands", s.String()+"-"+name+".txt"), got.String())
			})
		}
	}
}

// golden holds got against a file under testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(got), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v; run the test with -update, then read the file", err)
	}
	if d := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(got, "\n")); d != "" {
		t.Errorf("%s has changed (-want +got):\n%s", name, d)
	}
}

// The operator reads from two metres: at 80x24 the digits take a third of the
// screen or more, in every scene that shows them.
func TestOperatorsDigitsAreAThirdOfTheScreen(t *testing.T) {
	for _, sc := range allScenes() {
		m, _ := sc.screen(t, 80, 24)
		m.stand, m.w, m.h = StandOperator, 80, 24
		if l := m.layout(); 3*l.number.h < l.h || l.number.h != l.figure.height() {
			t.Errorf("%s: the digits take %d of %d rows, want a third at least", sc.name, l.number.h, l.h)
		}
	}
}

// What every view must show: STOP, the order or that none is known, and the
// alarm that is not acknowledged.
func TestEveryStandShowsStopOrderAndAlarm(t *testing.T) {
	for s := range numStands {
		for _, size := range standSizes {
			m, _ := sceneNamed("trip-ease").from(s).screen(t, size[0], size[1])
			text, _, _ := strings.Cut(cells(m.View(), size[0], size[1]), "---")
			for _, want := range []string{"SPACE STOP", "TENSION LIMIT"} {
				if !strings.Contains(text, want) {
					t.Errorf("%v at %v: no %q on the screen:\n%s", s, size, want, text)
				}
			}
			l := m.layout()
			order := l.order
			if s == StandOperator || s == StandLogger || s == StandFigures {
				order = l.band
			}
			if order.h == 0 || l.alarms.h == 0 {
				t.Errorf("%v at %v: order %+v, alarms %+v: no room", s, size, order, l.alarms)
			}
		}
	}
}

func TestStandKeys(t *testing.T) {
	b := newBench(t, "pull")
	for s, key := range standKeys {
		b.press(key)
		if b.m.stand != s {
			t.Errorf("%s shows the view %v, want %v", key, b.m.stand, s)
		}
		if got, err := ParseStand(s.String()); got != s || err != nil {
			t.Errorf("ParseStand(%q) = %v, %v", s.String(), got, err)
		}
	}
	if _, err := ParseStand("cook"); err == nil || !strings.Contains(err.Error(), "operator") {
		t.Errorf("ParseStand of a wrong name: %v", err)
	}
	b.press("1", "n", "r", "a", "s", "k", "d", "!")
	if len(b.view.did()) > 1 || b.m.dlg.kind != noDialog { // the take-over of the demo
		t.Errorf("the winch operator's view took a key of the director's: %v, dialog %d", b.view.did(), b.m.dlg.kind)
	}
	b.press(" ")
	if acts := b.view.did(); len(acts) == 0 || acts[len(acts)-1].What != "stop" {
		t.Errorf("STOP from the winch operator's view: %v", acts)
	}
}

// No part of a view stands on another, and what must be there has room.
func TestStandPartsDoNotOverlap(t *testing.T) {
	stride := 3
	if raceOn || testing.Short() {
		stride = 17
	}
	for s := StandOperator; s < numStands; s++ {
		for w := minW; w <= 300; w += stride {
			for h := minH; h <= 100; h++ {
				for _, n := range []need{
					{stand: s, slots: "8.88", unit: "kN", limits: 5, margins: 7, streams: 3},
					{stand: s, slots: "88888", unit: "lbf", order: "ABANDON", caption: true, limits: 9, margins: 12, streams: 4, alarms: true, why: true},
				} {
					l := layoutFor(w, h, n)
					parts := map[string]rect{"head": l.head, "caption": l.caption, "number": l.number, "gauge": l.gauge, "unit": l.unit,
						"under": l.under, "notice": l.notice, "limits": l.limits, "figures": l.figures, "trace": l.trace, "alarms": l.alarms,
						"news": l.news, "status": l.status, "keys": l.keys, "band": l.band, "near": l.near, "steps": l.steps,
						"clock": l.clock, "ports": l.ports, "record": l.record, "strip": l.strip, "marks": l.marks, "sheet": l.sheet}
					for a, p := range parts {
						if p.w < 0 || p.h < 0 || p.x < 0 || p.y < 0 || p.w > 0 && p.h > 0 && (p.x+p.w > w || p.y+p.h > h) {
							t.Fatalf("%v %dx%d, order %q: %s is %+v, outside the screen", s, w, h, n.order, a, p)
						}
						for b, q := range parts {
							if a < b && overlap(p, q) {
								t.Fatalf("%v %dx%d, order %q: %s %+v and %s %+v overlap", s, w, h, n.order, a, p, b, q)
							}
						}
					}
					must := map[Stand][]string{
						StandOperator: {"number", "band", "near", "alarms", "keys"},
						StandDirector: {"number", "limits", "alarms", "keys"},
						StandLogger:   {"band", "ports", "alarms", "keys"},
						StandFigures:  {"band", "sheet", "alarms", "keys"},
					}
					for _, name := range must[s] {
						if parts[name].h == 0 {
							t.Fatalf("%v %dx%d, order %q: no room for %s", s, w, h, n.order, name)
						}
					}
				}
			}
		}
	}
}

// A replay is a workbench: each of its keys asks the player for one thing.
func TestReplayKeysJump(t *testing.T) {
	b := newBench(t, "replay")
	p := b.m.player.(*fakePlayer)
	b.press("e", "s", "m", "a", "b", "E", "S", "M", "A", "[", "]")
	if d := cmp.Diff([]string{"event false", "phase false", "mark false", "alarm false", "point true",
		"event true", "phase true", "mark true", "alarm true"}, p.jumps); d != "" {
		t.Errorf("jumps (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]int64{-scrubStep, scrubStep}, p.sought); d != "" {
		t.Errorf("scrubs (-want +got):\n%s", d)
	}
}

// A watching screen does nothing but STOP, and leaving it asks nothing.
func TestWatchingScreenOnlyStops(t *testing.T) {
	b := newBench(t, "trip-ease")
	b.m.watch, b.m.seat = true, safety.Watcher
	for _, bind := range bindings {
		if bind.in == callStop || bind.in == leave {
			continue
		}
		b.press(bind.keys[0])
		b.m.helpPage, b.m.dlg = 0, dialog{}
	}
	if acts := b.view.did(); len(acts) > 0 {
		t.Errorf("a watching screen did %v", acts)
	}
	b.press(" ")
	if acts := b.view.did(); len(acts) != 1 || acts[0].What != session.ActStop || acts[0].Who != safety.Watcher {
		t.Errorf("STOP from a watching screen: %v", acts)
	}
	b.now = b.now.Add(time.Second)
	if _, cmd := b.m.press("q"); cmd == nil {
		t.Error("q does not leave a watching screen")
	}
}

// A touch is STOP on its zones, and nothing anywhere else.
func TestTouchIsStopOrNothing(t *testing.T) {
	for s := range numStands {
		for y := range 24 {
			for _, x := range []int{0, 5, 40, 79} {
				b := newBench(t, "trip-ease")
				b.m.stand = s
				b.m = b.m.measure()
				next, _ := b.m.Update(tea.MouseMsg{X: x, Y: y, Action: tea.MouseActionPress, Button: tea.MouseButtonLeft})
				want := y == 23 || s == StandOperator && b.m.layout().band.has(x, y)
				acts := b.view.did()
				if got := len(acts) == 1 && acts[0].What == session.ActStop; got != want || len(acts) > 1 {
					t.Fatalf("%v: a touch at %d,%d did %v; want STOP %v", s, x, y, acts, want)
				}
				for _, other := range []tea.MouseMsg{{X: x, Y: y, Action: tea.MouseActionRelease, Button: tea.MouseButtonLeft},
					{X: x, Y: y, Action: tea.MouseActionMotion}, {X: x, Y: y, Action: tea.MouseActionPress, Button: tea.MouseButtonWheelUp}} {
					if next, _ = next.Update(other); len(b.view.did()) != len(acts) {
						t.Fatalf("%v: %+v did %v", s, other, b.view.did())
					}
				}
			}
		}
	}
}

// In a replay a key is taken at once, whatever has just come, and nothing offers a
// STOP that would stop nothing.
func TestReplayTakesKeysAtOnce(t *testing.T) {
	b := newBench(t, "replay")
	p := &fakePlayer{fakeView: b.view, speed: 1}
	b.m.player = p
	b.m.quiet = b.now.Add(time.Hour)
	b.press("]", "]", "e", "right")
	if len(p.sought) != 2 || len(p.jumps) != 1 || p.steps != 1 {
		t.Errorf("of ] ] e and a step: %v, %v, %d; note %q", p.sought, p.jumps, p.steps, b.m.note)
	}
	frame := func() string { return strings.Join(strings.Fields(cells(b.m.draw(), b.m.w, b.m.h)), " ") }
	if f := frame(); strings.Contains(f, "SPACE STOP") {
		t.Errorf("the key line offers STOP:\n%s", f)
	}
	b.press("?")
	for range b.m.helpPages() {
		if f := frame(); strings.Contains(f, "call STOP, at once") {
			t.Errorf("the help offers STOP:\n%s", f)
		}
		b.press("?")
	}
	b.press(" ")
	if !strings.Contains(b.m.note, "nothing to stop") {
		t.Errorf("a STOP all the same says %q", b.m.note)
	}
}
