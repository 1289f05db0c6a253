package trial

import (
	"math"
	"slices"
	"testing"
)

// Figures from the work itself, all common practice, no source. In pounds-force
// and feet, as they were told.
const (
	lbf  = 4.4482216152605
	foot = 0.3048
)

// A rode of 20 ft of chain and 230 ft of cable dragged alone reads 20 to 70 lbf,
// 55 to 60 in the mean; with a lump of 45 lb about 136 lbf.
var crewLevels = Levels{BareRode: 57.5 * lbf, DeadWeight: 136 * lbf, Known: true}

// inFeet is a shape given in feet and pounds-force.
func inFeet(s shape) (out shape) {
	for _, k := range s {
		out = append(out, knot{k.x * foot, k.t * lbf})
	}
	return out
}

func TestPhasesOfTheWork(t *testing.T) {
	touch := allOf(shape{{0, 20}, {3, 20}, {6, 57}})
	for x := 8.0; x < 40; x += 4 {
		touch = append(touch, knot{x, 130}, knot{x + 1.8, 110}, knot{x + 2, 180}, knot{x + 2.2, 140})
	}
	moment := shape{{0, 20}, {3, 20}, {9, 200}, {10, 300}, {10.6, 300}, {12, 240}, {35, 240}, {37, 136}, {55, 136}}
	tests := []struct {
		name  string
		shape shape
		has   []Phase
		not   []Phase
		last  Phase
	}{
		{"the rode alone", allOf(shape{{0, 20}, {2, 20}, {3, 57}}, scratchyFeet(4, 40, 45, 70)), []Phase{NotSet}, []Phase{Plateau, WeakEngagement, Breakout, SawTooth}, NotSet},
		{"with a lump of 45 lb", allOf(shape{{0, 20}, {2, 20}, {6, 136}}, scratchyFeet(6, 40, 120, 150)), []Phase{NotSet}, []Phase{Plateau, WeakEngagement, Breakout, SawTooth}, NotSet},
		{"touches 150 to 180 lbf at moments", touch, []Phase{NotSet}, []Phase{Plateau, WeakEngagement, Breakout, SawTooth}, NotSet},
		{"a moment at 300, long at 240, then down", moment, []Phase{WeakEngagement, Dragging}, []Phase{Plateau, NotSet, Breakout}, Dragging},
	}
	for _, tt := range tests {
		for _, how := range []sampling{{10, 2.4, true, 1}, {10, 2.4, true, 2}, {4, 2.86, true, 3}, {20, 1, true, 4}} {
			got := phasesOf(NewPhaseDetector(crewLevels, DefaultPhaseRules()), how.points(inFeet(tt.shape)))
			for _, p := range tt.has {
				if !got.has(p) {
					t.Errorf("%s, %v: %v; want %v", tt.name, how, got, p)
				}
			}
			for _, p := range tt.not {
				if got.has(p) {
					t.Errorf("%s, %v: %v; want no %v", tt.name, how, got, p)
				}
			}
			if got[len(got)-1].phase != tt.last {
				t.Errorf("%s, %v: %v; want %v at last", tt.name, how, got, tt.last)
			}
		}
	}
}

func scratchyFeet(seed uint64, feet, low, high float64) shape {
	s := scratchy(seed, 8, feet, low, high)
	return s
}

// A winch that takes in 2.5 ft in 16 s takes 6 to 7 ft in 40 s. From 500 to 90 lbf
// and back to 480 in 40 s, the rise in 16 s: a breakout and a re-set by shape, the
// cause left open.
func TestFallOfFortySeconds(t *testing.T) {
	speed := 2.5 * foot / 16 * 60 // m/min
	if in40 := speed * 40 / 60 / foot; in40 < 6 || in40 > 7 {
		t.Fatalf("%.2f ft in 40 s, want 6 to 7", in40)
	}
	s := inFeet(shape{{0, 20}, {6, 20}, {18, 500}, {28, 500}, {28 + 3.75, 90}, {28 + 6.25, 480}, {50, 480}})
	for _, how := range []sampling{{10, speed, false, 0}, {10, speed, true, 1}, {50, speed, true, 2}, {2, speed, true, 3}} {
		d := NewPhaseDetector(crewLevels, DefaultPhaseRules())
		phasesOf(d, how.points(s))
		events := d.Events(nil)
		if got, want := stamps(events), []string{"breakout undecided", "re-set undecided"}; !slices.Equal(got, want) {
			t.Errorf("%v: events %q, want %q", how, got, want)
			continue
		}
		if from := float64(events[0].From) / lbf; math.Abs(from-500) > 30 {
			t.Errorf("%v: fell from %.0f lbf, want about 500", how, from)
		}
		for _, seg := range d.Segments() {
			if seg.Phase == Breakout && seg.Cause != Undecided {
				t.Errorf("%v: cause %v, want it left open", how, seg.Cause)
			}
		}
	}
}

// A rise to double with nothing hauled is the vessel, not the anchor; what follows
// it down is relaxing, and no breakout.
func TestRiseWithNothingHauled(t *testing.T) {
	h, d := &deckhand{stage: Pull}, NewPhaseDetector(crewLevels, DefaultPhaseRules())
	h.move(3, 2.4, 20*lbf, 20*lbf)
	h.move(5, 2.4, 20*lbf, 500*lbf)
	h.move(4, 2.4, 500*lbf, 500*lbf)
	h.stand(15, 500*lbf, 490*lbf)
	h.feed(d)
	h.stand(25, 490*lbf, 1000*lbf)
	rise := h.feed(d)
	h.stand(10, 1000*lbf, 300*lbf)
	fall := h.feed(d)
	if !slices.Equal(rise, []Phase{Unclear}) || !slices.Equal(fall, []Phase{Relaxing}) {
		t.Errorf("the rise reads %v, the fall %v; want unclear, then relaxing", rise, fall)
	}
	if e := d.Events(nil); len(e) > 0 {
		t.Errorf("events %+v, want none", e)
	}
}

// About 20 ft more line out than the fairlead is above the bottom, when the line is
// up and down: the anchor lies 15 to 20 ft deep, by what of it is roller and shank.
func TestBurialOfTheWork(t *testing.T) {
	height := Length(30 * foot)
	for _, between := range []float64{0, 2.5, 5} { // ft
		b := BurialAtUpAndDown(height+20*foot, height, Length(between*foot), DefaultBurialError)
		if deep := float64(b.Depth) / foot; !b.Resolved || deep < 15-1e-9 || deep > 20+1e-9 {
			t.Errorf("%g ft of it no burial: %.1f ft deep, resolved %v; want 15 to 20 ft", between, deep, b.Resolved)
		}
	}
}
