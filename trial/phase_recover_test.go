package trial

import (
	"math"
	"slices"
	"testing"
)

// Recovery from deep mud, scenario 14: steps with waits, tension sinking in each.
func TestPhaseOfRecovery(t *testing.T) {
	deep := func(swell bool) (*PhaseDetector, []Phase) {
		h, d := &deckhand{stage: Recover, out: 30, height: 7.5}, newPhases()
		h.move(18, 12, 100, 110)
		h.move(3.1, 2.4, 120, 330) // L 8.9: up and down
		h.stand(60, 330, 330)
		for _, step := range []float64{1200, 2500, 3700} {
			h.move(0.12, 2.4, h.last(), step)
			h.stand(180, step, 0.87*step)
		}
		h.move(0.1, 2.4, h.last(), 4400)
		h.move(0.02, 2.4, 4400, 200)
		for range 40 {
			h.stand(3, 150, 300)
			h.stand(3, 300, 150)
		}
		if swell {
			h.points = swelling(h.points, 60)
		}
		return d, h.feed(d)
	}
	for _, swell := range []bool{false, true} {
		d, got := deep(swell)
		want := []Phase{Slack, ShortStay, UpAndDown, BreakingOut, Aweigh}
		if swell {
			got = slices.DeleteFunc(got, func(p Phase) bool { return p == Unclear })
		}
		if !slices.Equal(got, want) {
			t.Errorf("swell %v: got %v, want %v", swell, got, want)
		}
		events := d.Events(nil)
		if len(events) != 1 || events[0].Kind != EventAweigh || math.Abs(float64(events[0].From)-4400) > 250 || events[0].To > 800 {
			t.Errorf("swell %v: events %+v; want one, aweigh from 4.4 kN", swell, events)
		}
		for _, s := range d.Segments() {
			if s.Phase == UpAndDown && (s.RodeOut < 8.6 || s.RodeOut > 9.2) {
				t.Errorf("up and down with %v out, want about 8.9 m", s.RodeOut)
			}
		}
	}
}

func (h *deckhand) last() float64 { return float64(h.points[len(h.points)-1].Tension) }

// Where the fairlead is below the line out, geometry alone tells.
func TestRecoveryByGeometry(t *testing.T) {
	h, d := &deckhand{stage: Recover, out: 30, height: 7.5}, NewPhaseDetector(Levels{}, DefaultPhaseRules())
	h.move(25, 6, 200, 200)
	if got, want := h.feed(d), []Phase{ShortStay, UpAndDown, Aweigh}; !slices.Equal(got, want) {
		t.Errorf("without levels: got %v, want %v", got, want)
	}
	h, d = &deckhand{stage: Recover}, newPhases()
	h.move(25, 6, 200, 200)
	if got := h.feed(d); len(got) > 0 {
		t.Errorf("without rode out and height: got %v, want unclear", got)
	}
}

// It grips again, and line is given out again: back a phase.
func TestRecoveryGoesBack(t *testing.T) {
	h, d := &deckhand{stage: Recover, out: 10, height: 7.5}, newPhases()
	h.move(1, 2.4, 200, 3000)
	h.move(0.02, 2.4, 3000, 400)
	h.stand(6, 400, 400)
	h.move(0.1, 2.4, 400, 2800)
	if got, want := h.feed(d), []Phase{ShortStay, UpAndDown, BreakingOut, Aweigh, BreakingOut}; !slices.Equal(got, want) {
		t.Errorf("grips again: got %v, want %v", got, want)
	}
	h.out += 20
	h.stand(3, 100, 100)
	if got, want := h.feed(d), []Phase{Slack}; !slices.Equal(got[max(len(got)-1, 0):], want) {
		t.Errorf("20 m given out: got %v, want slack", got)
	}
}

func TestBurial(t *testing.T) {
	ft := 0.3048
	tests := []struct {
		name             string
		out, height, not Length
		least, most      float64
		resolved         bool
	}{
		// About 20 ft more line than the fairlead's height: a burial of 15 to 20 ft
		// (common practice, no source); the shank here is 3 ft.
		{"deep mud", Length(48 * ft), Length(28 * ft), Length(3 * ft), 15 * ft, 20 * ft, true},
		{"scenario 14", 8.9, 7.5, 0, 1.39, 1.41, true},
		{"scenario 14 less a shank of 1 m", 8.9, 7.5, 1, 0.39, 0.41, false},
		{"sand", 7.8, 7.5, 0, 0.29, 0.31, false},
		{"less than up and down", 7, 7.5, 0, -0.51, -0.49, false},
		{"nothing known", 0, 7.5, 0, 0, 0, false},
		{"not a number", Length(math.NaN()), 7.5, 0, 0, 0, false},
	}
	for _, tt := range tests {
		b := BurialAtUpAndDown(tt.out, tt.height, tt.not, DefaultBurialError)
		if !(float64(b.Depth) >= tt.least && float64(b.Depth) <= tt.most) || b.Resolved != tt.resolved || math.Abs(float64(b.Band)-0.41) > 0.01 {
			t.Errorf("%s: %+v; want %.2f to %.2f m within 0.41 m, resolved %v", tt.name, b, tt.least, tt.most, tt.resolved)
		}
	}
}
