package trial

import (
	"math"
	"slices"
	"testing"
)

// A rode that makes most of the dead-weight level: 40 m of chain or so.
var heavyLevels = Levels{BareRode: 570, DeadWeight: 640, Known: true}

// In a heavy rode a breakout takes little off the tension at the deck: the rode's
// own stays. It is one all the same, and so is the re-set after it.
func TestBreakoutInAHeavyRode(t *testing.T) {
	s := shape{{0, 200}, {1, 200}, {2, 600}, {5, 1600}, {9, 1620}, {9.02, 860}, {11, 1400}, {16, 1420}}
	for _, how := range []sampling{{10, 2.4, true, 1}, {10, 1, true, 2}, {2, 2.4, true, 3}, {100, 5, true, 4}} {
		d := NewPhaseDetector(heavyLevels, DefaultPhaseRules())
		phasesOf(d, how.points(s))
		if got, want := stamps(d.Events(nil)), []string{"breakout undecided", "re-set undecided"}; !slices.Equal(got, want) {
			if want[0] = "breakout anchor"; !slices.Equal(got, want) {
				t.Errorf("%v: events %q, want %q", how, got, want)
			}
		}
	}
	// The same fall with next to no rode is not by half.
	d := NewPhaseDetector(Levels{BareRode: 50, DeadWeight: 120, Known: true}, DefaultPhaseRules())
	phasesOf(d, sampling{10, 2.4, true, 1}.points(s))
	if got := d.Events(nil); len(got) > 0 {
		t.Errorf("a light rode: events %+v, want none", got)
	}
}

// What an anchor holds in a heavy rode is twice its weight long before the tension
// is twice D.
func TestSetInAHeavyRode(t *testing.T) {
	heavy := Levels{BareRode: 830, DeadWeight: 1090, Known: true}
	rising := shape{{0, 300}, {1, 300}, {2, 1100}, {9, 2200}}
	low := shape{{0, 300}, {1, 300}, {2, 1080}, {12, 1100}}
	for _, tt := range []struct {
		name  string
		shape shape
		unset bool
	}{{"it rises", rising, false}, {"it drags", low, true}} {
		d := NewPhaseDetector(heavy, DefaultPhaseRules())
		phasesOf(d, sampling{10, 2.4, true, 1}.points(tt.shape))
		unset := slices.ContainsFunc(d.Events(nil), func(e PhaseEvent) bool { return e.Kind == EventNotSet })
		if unset != tt.unset {
			t.Errorf("%s: not set said: %v, want %v", tt.name, unset, tt.unset)
		}
	}
}

func TestWeights(t *testing.T) {
	r := DefaultPhaseRules()
	for _, tt := range []struct{ k, bare, dead, want float64 }{
		{2, 120, 250, 500},        // under half of D: k times D
		{1.5, 0, 250, 375},        // not known
		{2, 600, 800, 1600 - 300}, // 0.75 of the 400 beyond half, once
		{1, 600, 800, 800},        // D is D
		{2, 900, 800, 1600 - 600}, // never under D
		{8, 600, 800, 6400 - 7*0.75*400},
	} {
		if got := r.weights(tt.k, tt.bare, tt.dead); math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("%g times D of %g N with B %g N: %g N, want %g", tt.k, tt.dead, tt.bare, got, tt.want)
		}
	}
}

// Far above what a weight gives, less length is a set: none from 8 D on, 2 m at 6 D.
func TestEngagedAfter(t *testing.T) {
	d := newPhases()
	d.bare, d.dead = 120, 250
	for _, tt := range []struct{ peak, want float64 }{{500, 2}, {1300, 2}, {1500, 2}, {1750, 1}, {1999, 0.002 * 2}, {2000, 0}, {9000, 0}} {
		if got := d.engagedAfter(tt.peak); math.Abs(got-tt.want) > 1e-3 {
			t.Errorf("with a peak of %g N a set takes %g m, want %g", tt.peak, got, tt.want)
		}
	}
}
