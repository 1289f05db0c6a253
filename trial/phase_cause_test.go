package trial

import (
	"math"
	"slices"
	"testing"
)

// A vessel's way ahead and astern of 0.5 m, and the 0.5 m an anchor that lets go
// throws the vessel the other way.
func TestPositionOfTheVessel(t *testing.T) {
	fall := func(h *deckhand) { // back in 0.5 m, less than the rode's stiffness gives
		h.move(0.24, 2.4, 3000, 800)
		h.move(0.5, 2.4, 800, 2900)
		h.move(2, 2.4, 3000, 3000)
	}
	stays := func(h *deckhand) {
		h.move(0.24, 2.4, 3000, 800)
		h.move(4, 2.4, 800, 900)
	}
	ahead := func(s float64) float64 { // by s after the fall began, m
		return 0.5 * max(0, min(s/6, 1, (18-s)/6))
	}
	tests := []struct {
		name string
		fall func(h *deckhand)
		by   func(s float64) float64
		u    float64 // m; 0 nobody measures it
		want []string
	}{
		{"nobody measures it", fall, ahead, 0, []string{"fall undecided"}},
		{"it went ahead, known to 5 cm", fall, ahead, 0.05, []string{"fall vessel"}},
		{"it went ahead, known to 0.3 m", fall, ahead, 0.3, []string{"fall undecided"}},
		{"it lay still", fall, func(float64) float64 { return 0.1 }, 0.05, []string{"fall undecided"}},
		{"it went astern as the anchor let go", stays, func(s float64) float64 { return -ahead(s) }, 0.05, []string{"breakout undecided"}},
	}
	for _, tt := range tests {
		h, d := &deckhand{stage: Pull, stiff: 8900}, newPhases()
		h.move(2, 2.4, 80, 80)
		h.move(4, 2.4, 80, 3000)
		h.move(6, 2.4, 3000, 3000)
		began := h.t
		tt.fall(h)
		for _, p := range h.points {
			if tt.u > 0 {
				d.Moved(Length(2+tt.by(float64(p.T-began)/1e9)), Length(tt.u))
			}
			d.Add(p)
		}
		if got := stamps(d.Events(nil)); !slices.Equal(got, tt.want) {
			t.Errorf("%s: %q, want %q", tt.name, got, tt.want)
		}
	}
}

// In a stiff rode a vessel lets half of the tension go in a second: what it may have
// done is not said to be a breakout at once.
func TestFastFallOfTheVessel(t *testing.T) {
	for _, tt := range []struct {
		name  string
		stiff float64 // N/m
		back  bool
		want  []string
	}{
		{"8 kN/m, 0.3 m in a second", 8000, false, []string{"breakout anchor"}},
		{"60 kN/m, 0.04 m in a second, and stays down", 60e3, false, []string{"breakout undecided"}},
		{"60 kN/m, and back", 60e3, true, []string{"fall undecided"}},
		{"not known", 0, false, []string{"breakout anchor"}},
	} {
		d, _ := fallOf(tt.stiff, func(h *deckhand) {
			h.move(0.04, 2.4, 3000, 500)
			h.move(0.2, 2.4, 500, 500)
			if tt.back {
				h.move(0.1, 2.4, 500, 3000)
			}
			h.move(3, 2.4, h.last(), h.last())
		})
		if got := stamps(d.Events(nil)); !slices.Equal(got, tt.want) {
			t.Errorf("%s: %q, want %q", tt.name, got, tt.want)
		}
	}
}

// A rode is soft where it hangs and stiff where it is taut. What hauling gives is at
// the stiffness it had on the way, and not at that of the end.
func TestBackAlongARodeThatStiffens(t *testing.T) {
	stiffness := func(tension float64) float64 { return 500 + 3*tension } // N/m
	pull := func(embeds bool) []string {
		h, d := &deckhand{stage: Pull}, newPhases()
		put := func(dx, tension float64) float64 {
			h.t, h.x, h.stiff = h.t+100e6, h.x+dx, stiffness(tension)
			h.put(tension)
			return tension
		}
		for i := range 3000 {
			put(0.004, min(80+float64(i)*3, 3000))
		}
		tension := 3000.0
		for tension > 300 { // the vessel goes ahead, or the anchor lets go by and by
			tension = put(0.004, tension-40)
		}
		for range 100 { // 0.4 m against an anchor that stays, or the less against one that comes
			rises := stiffness(tension) * 0.004 * 2
			if embeds {
				rises = 4
			}
			tension = put(0.004, min(tension+rises, 3000))
		}
		for range 500 {
			tension = put(0.004, tension)
		}
		phasesOf(d, h.points)
		return stamps(d.Events(nil))
	}
	if got, want := pull(false), []string{"fall vessel"}; !slices.Equal(got, want) {
		t.Errorf("back along the rode's own stiffness, and the vessel astern: %q, want %q", got, want)
	}
	if got, want := pull(true), []string{"breakout undecided"}; !slices.Equal(got, want) {
		t.Errorf("embedding: %q, want %q", got, want)
	}
}

// A thousand metres of way that nobody believes, and none: nothing follows from it.
func TestMovedIsNoNumber(t *testing.T) {
	d, _ := fallOf(8900, func(h *deckhand) {})
	for _, v := range []float64{math.NaN(), math.Inf(1), -1, 0} {
		d.Moved(Length(v), Length(v))
		d.Add(Point{T: d.heard + 1e8, Tension: 3000, X: Length(d.x), Stage: Pull})
	}
	if e := d.Events(nil); len(e) > 0 {
		t.Errorf("%+v", e)
	}
}
