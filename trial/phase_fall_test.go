package trial

import (
	"math"
	"slices"
	"testing"
)

// fallOf makes a pull to a plateau of 3 kN and lets it fall.
func fallOf(stiff float64, fall func(h *deckhand)) (*PhaseDetector, *deckhand) {
	h, d := &deckhand{stage: Pull, stiff: stiff}, newPhases()
	h.move(2, 2.4, 80, 80)
	h.move(4, 2.4, 80, 3000)
	h.move(6, 2.4, 3000, 3000)
	fall(h)
	h.feed(d)
	return d, h
}

// What a fall by half was is told by what comes after it.
func TestCauseOfAFall(t *testing.T) {
	surge := func(h *deckhand) { // scenario 17, back to 2.9 kN within 0.6 m
		h.move(0.24, 2.4, 3000, 800)
		h.move(0.6, 2.4, 800, 2900)
		h.move(2, 2.4, 3000, 3000)
	}
	tests := []struct {
		name  string
		stiff float64 // N/m
		fall  func(h *deckhand)
		mark  float64 // s after the fall began; 0 none
		want  []string
		cause Cause // of the segment
	}{
		{"scenario 17, stiffness not known", 0, surge, 0, []string{"fall undecided"}, Undecided},
		{"scenario 17", 8900, surge, 0, []string{"fall undecided"}, Undecided},
		{"scenario 17, a rode of 4 kN/m: back along it", 4000, surge, 0, []string{"fall vessel"}, VesselMoved},
		{"back along 9 kN/m, in 0.24 m", 8900, func(h *deckhand) {
			h.move(0.24, 2.4, 3000, 800)
			h.move(0.24, 2.4, 800, 2950)
			h.move(2, 2.4, 3000, 3000)
		}, 0, []string{"fall vessel"}, VesselMoved},
		{"back with the winch standing", 0, func(h *deckhand) {
			h.move(0.24, 2.4, 3000, 800)
			h.stand(3, 800, 800)
			h.stand(6, 800, 3000)
			h.move(2, 2.4, 3000, 3000)
		}, 0, []string{"fall vessel"}, VesselMoved},
		{"scenario 17, a thruster mark before", 0, surge, -8, []string{"fall vessel"}, VesselMoved},
		{"scenario 17, a thruster mark in it", 0, surge, 4, []string{"fall vessel"}, VesselMoved},
		{"scenario 17, a thruster mark 40 s later", 0, surge, 40, []string{"fall undecided"}, Undecided},
		{"scenario 18, slow and back in 0.8 m", 0, func(h *deckhand) {
			h.move(1, 2.4, 3000, 500)
			h.move(0.8, 2.4, 500, 2900)
			h.move(3, 2.4, 2900, 2900)
		}, 0, []string{"breakout undecided", "re-set undecided"}, Undecided},
		{"scenario 18 with a thruster mark", 0, func(h *deckhand) {
			h.move(1, 2.4, 3000, 500)
			h.move(0.8, 2.4, 500, 2900)
			h.move(3, 2.4, 2900, 2900)
		}, 20, []string{"fall vessel"}, VesselMoved},
		{"scenario 4, at once", 0, func(h *deckhand) {
			h.move(0.016, 2.4, 3000, 600)
			h.move(5, 2.4, 600, 1800)
		}, 0, []string{"breakout anchor"}, AnchorMoved},
		{"at once, and stays down under a thruster mark", 0, func(h *deckhand) {
			h.move(0.016, 2.4, 3000, 600)
			h.move(5, 2.4, 600, 1800)
		}, 2, []string{"breakout anchor"}, Undecided},
		{"slow, and stays down", 0, func(h *deckhand) {
			h.move(0.5, 2.4, 3000, 600)
			h.move(4, 2.4, 600, 700)
		}, 0, []string{"breakout undecided"}, AnchorMoved},
		{"slow, and the winch is stopped", 0, func(h *deckhand) {
			h.move(0.5, 2.4, 3000, 600)
			h.stand(60, 600, 550)
		}, 0, []string{"breakout undecided"}, Undecided},
		{"at once, and back in 0.3 m: taken back", 0, func(h *deckhand) {
			h.move(0.016, 2.4, 3000, 600)
			h.move(0.1, 2.4, 600, 600)
			h.move(0.3, 2.4, 600, 2950)
			h.move(2, 2.4, 3000, 3000)
		}, 0, []string{"breakout anchor", "fall undecided"}, Undecided},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			h, d := &deckhand{stage: Pull, stiff: tt.stiff}, newPhases()
			h.move(2, 2.4, 80, 80)
			h.move(4, 2.4, 80, 3000)
			h.move(6, 2.4, 3000, 3000)
			began := h.t
			tt.fall(h)
			at := began + int64(tt.mark*1e9)
			for _, p := range h.points {
				if tt.mark != 0 && p.T > at && p.T-100e6 <= at {
					d.Mark(at, true)
					d.Mark(at, false)
				}
				d.Add(p)
			}
			events := d.Events(nil)
			if got := stamps(events); !slices.Equal(got, tt.want) {
				t.Fatalf("events %q, want %q", got, tt.want)
			}
			e := events[0]
			if math.Abs(float64(e.T-began)) > 3e9 && e.Kind != EventBreakout || e.SaidT < e.T || float64(e.From) < 2600 || float64(e.To) > 900 {
				t.Errorf("event %+v; want it dated back to %d, from about 3 kN", e, began)
			}
			found := false
			for _, s := range d.Segments() {
				if s.Fell {
					found = true
					if s.Cause != tt.cause || (s.Phase == Breakout) != (tt.want[len(tt.want)-1][:4] != "fall") {
						t.Errorf("segment %+v; want cause %v", s, tt.cause)
					}
				}
			}
			if !found {
				t.Errorf("no segment of the fall: %+v", d.Segments())
			}
		})
	}
}

// A mark that comes after an undecided fall was told betters its cause.
func TestLateMark(t *testing.T) {
	d, h := fallOf(0, func(h *deckhand) {
		h.move(0.24, 2.4, 3000, 800)
		h.move(0.24, 2.4, 800, 2950)
	})
	first := d.Events(nil)
	d.Mark(h.t+int64(2e9), true)
	second := d.Events(nil)
	if len(first) != 1 || first[0].Cause != Undecided || len(second) != 1 || second[0].T != first[0].T || second[0].Cause != VesselMoved {
		t.Errorf("events %+v, then after a mark %+v; want the same fall, undecided, then the vessel's", first, second)
	}
	d.Mark(h.t+int64(3e9), true)
	if more := d.Events(nil); len(more) > 0 {
		t.Errorf("a second mark: %+v, want nothing new", more)
	}
}

// Twice in and out: an event each, and no more.
func TestOneEventPerBreakout(t *testing.T) {
	d, _ := fallOf(0, func(h *deckhand) {
		for range 3 {
			h.move(0.016, 2.4, 3000, 500)
			h.move(4, 2.4, 500, 3000)
			h.move(3, 2.4, 3000, 3000)
		}
	})
	want := []string{"breakout anchor", "re-set undecided", "breakout anchor", "re-set undecided", "breakout anchor", "re-set undecided"}
	if got := stamps(d.Events(nil)); !slices.Equal(got, want) {
		t.Errorf("events %q, want %q", got, want)
	}
}

// Anchor not moving needs no travel, a snag 1 m of it.
func TestSnagNeedsTravel(t *testing.T) {
	for _, tt := range []struct {
		travel float64
		want   Phase
	}{{math.NaN(), NotMoving}, {0, NotMoving}, {0.9, NotMoving}, {1, Snagged}, {12, Snagged}} {
		points := told(sampling{10, 2.4, true, 1}.points(snagged), 100)
		for i := range points {
			points[i].Travel = Length(tt.travel)
		}
		d := newPhases()
		phasesOf(d, points)
		if d.Phase() != tt.want {
			t.Errorf("dead straight at the rode's stiffness, travel %g m: %v, want %v", tt.travel, d.Phase(), tt.want)
		}
	}
}
