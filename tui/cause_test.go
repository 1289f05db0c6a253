package tui

import (
	"fmt"
	"strings"
	"testing"

	"github.com/charmbracelet/x/ansi"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// TestOrderNamesItsCauses: as long as a stop is in force, acknowledged or not,
// what stands with the order names its cause and the later one, at every size.
func TestOrderNamesItsCauses(t *testing.T) {
	sizes := [][2]int{{80, 24}, {40, 12}, {40, 13}, {59, 12}, {60, 20}, {76, 22}, {90, 30}, {120, 40}, {200, 60}}
	var causes []safety.Cause
	for c := safety.NoCause + 1; c < safety.NumCauses; c++ {
		if c.Trips() || c.Planned() {
			causes = append(causes, c)
		}
	}
	named := func(text string, c safety.Cause) bool {
		return strings.Contains(text, c.Title()) || strings.Contains(text, shortTitle(c))
	}
	n := 0
	for _, units := range []string{"kN", "lbf"} {
		for _, caption := range []string{"", "Invented data: a made-up pull"} {
			for _, order := range []safety.Order{safety.OrderStop, safety.OrderEase, safety.OrderAbandon} {
				base, _ := sceneNamed("ease-vessel-moves").screen(t, 80, 24)
				for _, size := range sizes {
					for _, cause := range causes {
						for _, later := range append([]safety.Cause{safety.NoCause}, causes...) {
							if n++; n%7 != 0 { // no count of the loops divides by it
								continue
							}
							m, s := base, *base.snap
							s.Caption = caption
							if units == "lbf" {
								s.Trial = sceneNamed("no-levels").snap.Trial
							}
							s.Guard.Order = order
							s.Guard.Stop = safety.Stop{Kind: safety.Trip, Cause: cause, Later: later, Acked: true, By: safety.WinchOperator, Value: 12345, Limit: 12000}
							s.Guard.Alarms = [safety.NumCauses]safety.Alarm{}
							m.snap, m.w, m.h, m.st = &s, size[0], size[1], &styles{}
							l := m.layout()
							c := newCanvas(m.w, m.h)
							m.drawOrder(c, l)
							text := ansi.Strip(c.render(m.st))
							if !named(text, cause) || later != safety.NoCause && !named(text, later) {
								t.Fatalf("%dx%d, %s, caption %q, order %v for %v, then %v: the order does not name both:\n%s",
									m.w, m.h, units, caption, order, cause, later, strings.TrimSpace(text))
							}
						}
					}
				}
			}
		}
	}
}

// TestAcknowledgedStopIsStillNamed looks at the whole screen once the alarms are
// gone from it.
func TestAcknowledgedStopIsStillNamed(t *testing.T) {
	for _, tt := range []struct {
		later safety.Cause
		want  string
	}{
		{safety.NoCause, "call the helm, then ease: RISING, NO HAUL"},
		{safety.TensionLimit, "TENSION RISING, NO HAUL 0.91 kN of 0.80 kN; then TENSION LIMIT"},
	} {
		b := newBench(t, "ease-vessel-moves")
		b.change(func(s *session.Snapshot) {
			s.Guard.Stop.Acked, s.Guard.Stop.Later = true, tt.later
			s.Guard.Alarms = [safety.NumCauses]safety.Alarm{}
		})
		for _, want := range []string{tt.want, "call the helm, then ease"} {
			if !strings.Contains(b.text(), want) {
				t.Errorf("the screen does not say %q:\n%s", want, b.text())
			}
		}
	}
}

// TestNoMarginWithoutATension: nothing is left to a limit that nobody watches.
func TestNoMarginWithoutATension(t *testing.T) {
	for _, name := range []string{"ended", "stalled"} {
		for _, size := range [][2]int{{80, 24}, {40, 12}, {120, 40}, {200, 60}} {
			m, _ := sceneNamed(name).screen(t, size[0], size[1])
			s := *m.snap
			s.Guard.Alarms[safety.LimitSoon] = safety.Alarm{State: safety.Unacknowledged, Priority: safety.Warning, Since: s.T, Value: 2.9, Limit: 3}
			s.Guard.Alarms[safety.TensionLimit] = safety.Alarm{State: safety.Unacknowledged, Priority: safety.Warning, Since: s.T, Value: 6420, Limit: 6400}
			s.Margins = []safety.Margin{
				{Cause: safety.TensionLimit, Now: 6543, Warn: 6400, Limit: 8000, Left: 1457, Share: 0.81, In: 2.4},
				{Cause: safety.MinimumScope, Now: 5.23, Warn: 4.5, Limit: 4, Left: 1.23, Share: 0.3, In: 35},
			}
			m.snap = &s
			m = m.measure()
			text := ansi.Strip(m.draw())
			for _, number := range []string{"1.46", "1.23", "2.4 s", " left", "end in"} {
				if strings.Contains(text, number) {
					t.Errorf("%s at %s: the screen says %q:\n%s", name, fmt.Sprint(size), number, text)
				}
			}
		}
	}
	replay, _ := sceneNamed("replay").screen(t, 80, 24)
	s := *replay.snap
	s.Ended, s.Guard.Stage = true, trial.Pull
	replay.snap = &s
	if text := ansi.Strip(replay.measure().draw()); !strings.Contains(text, "nearest") {
		t.Errorf("the end of a replay shows its last margins no more:\n%s", text)
	}
}
