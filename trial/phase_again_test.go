package trial

import (
	"slices"
	"testing"
)

// pulled is a detector after a shape, with the levels of a heavy rode: its own drag
// is most of what a weight gives.
func pulled(s shape, l Levels) (*PhaseDetector, []PhaseEvent) {
	d := NewPhaseDetector(l, DefaultPhaseRules())
	for _, p := range (sampling{rate: 20, speed: 2}).points(s) {
		d.Add(p)
	}
	return d, d.Events(nil)
}

func eventsOf(list []PhaseEvent, k EventKind) (out []PhaseEvent) {
	for _, e := range list {
		if e.Kind == k {
			out = append(out, e)
		}
	}
	return out
}

// TestResetLeavesTheRodeOut: 0.7 of the peak is read over what the rode itself drags
// with: 0.7 x (3000 - 500) + 500 = 2250 N, where 0.7 of all would be 2100 N.
func TestResetLeavesTheRodeOut(t *testing.T) {
	heavy := Levels{BareRode: 500, DeadWeight: 700, Known: true}
	begin := shape{{0, 300}, {1, 500}, {2, 700}, {6, 3000}, {9, 3000}, {9.02, 700}, {10, 700}}
	_, events := pulled(append(slices.Clone(begin), knot{12, 2180}, knot{15, 2180}), heavy)
	if len(eventsOf(events, EventBreakout)) != 1 || len(eventsOf(events, EventReset)) != 0 {
		t.Errorf("at 2180 N of 2250: %v", events)
	}
	_, events = pulled(append(begin, knot{12, 2300}, knot{15, 2300}), heavy)
	if len(eventsOf(events, EventReset)) != 1 {
		t.Errorf("at 2300 N of 2250: %v", events)
	}
}

// TestNotSetOnce: a "not set" that something interrupts is said once.
func TestNotSetOnce(t *testing.T) {
	s := shape{{0, 60}, {1, 120}, {2, 250}, {6, 250}, {6.05, 490}, {7.3, 490}, {7.4, 250}, {12, 250}, {12.05, 490}, {13.3, 490}, {13.4, 250}, {20, 250}}
	_, events := pulled(s, scenarioLevels)
	if n := len(eventsOf(events, EventNotSet)); n != 1 {
		t.Errorf("%d times not set, want once: %v", n, events)
	}
}

// TestDraggedIsNotSlack: a heavy rode with the anchor dragging behind it is under
// 1.5 times the bare rode's level, and no slack.
func TestDraggedIsNotSlack(t *testing.T) {
	d := NewPhaseDetector(Levels{BareRode: 500, DeadWeight: 600, Known: true}, DefaultPhaseRules())
	for _, p := range (sampling{rate: 20, speed: 2}).points(shape{{0, 300}, {1, 500}, {2, 600}, {6, 3000}, {9, 3000}, {9.02, 600}, {18, 600}}) {
		if now, changed := d.Add(p); changed && now == Slack && p.X > 3 {
			t.Errorf("slack said at %.2f m, after the breakout", p.X)
		}
	}
	if events := d.Events(nil); len(eventsOf(events, EventBreakout)) != 1 {
		t.Fatalf("%v", events)
	}
	if d.Phase() != Dragging {
		t.Errorf("%v in the end, want dragging", d.Phase())
	}
}

// TestSetThroughASurge: two stays above the engaged level, with the vessel's fall of
// 0.5 m between, are one: what falls after them is a breakout, and not "not set".
func TestSetThroughASurge(t *testing.T) {
	for _, tt := range []struct {
		name     string
		gap      float64
		breakout int
	}{{"0.5 m", 0.5, 1}, {"1.5 m", 1.5, 0}} {
		s := shape{{0, 60}, {1, 120}, {2, 250}, {2.8, 700}, {3.9, 1200}, {4, 250}, {4 + tt.gap - 0.1, 250}, {4 + tt.gap, 1200}, {5.2 + tt.gap, 1300}, {5.22 + tt.gap, 200}, {14, 200}}
		_, events := pulled(s, scenarioLevels)
		if n := len(eventsOf(events, EventBreakout)); n != tt.breakout {
			t.Errorf("%s under the level: %d breakouts, want %d: %v", tt.name, n, tt.breakout, events)
		}
	}
}

// TestSawToothWithRoundShoulders: teeth of 20 % that hang at their height before they
// let go are teeth, and a sine as large is none.
func TestSawToothWithRoundShoulders(t *testing.T) {
	climb := shape{{0, 60}, {1, 120}, {2, 250}, {6, 2000}}
	teeth, waves := slices.Clone(climb), allOf(climb, wavy(6.01, 16, 2000, 200, 0.7))
	for x := 6.0; x < 16; x += 0.7 { // up, a shoulder that sinks a little, and down at once
		teeth = append(teeth, knot{x + 0.2, 2200}, knot{x + 0.55, 2130}, knot{x + 0.57, 1800}, knot{x + 0.68, 1790})
	}
	_, events := pulled(teeth, scenarioLevels)
	if len(eventsOf(events, EventSawTooth)) != 1 || len(eventsOf(events, EventBreakout)) != 0 {
		t.Errorf("teeth: %v", events)
	}
	if _, events = pulled(waves, scenarioLevels); len(eventsOf(events, EventSawTooth)) != 0 {
		t.Errorf("waves: %v", events)
	}
}
