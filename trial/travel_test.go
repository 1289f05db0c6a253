package trial

import (
	"math"
	"testing"

	"hawse/trial/rode"
)

// An anchor that comes through the ground as it is told to, at the end of a rode
// that stretches and hangs: the travel found is the travel made, whatever the
// tension does on the way.
func TestTravelFindsWhatTheAnchorDid(t *testing.T) {
	tr := templateTrial(t)
	r, err := tr.Statics(7.5)
	if err != nil {
		t.Fatal(err)
	}
	hang, travel := NewHang(tr), NewTravel(tr.Load)
	cell := Force(0)
	out, counted, was := 60.0, 0.0, 60.0 // unstretched, and what the counter has seen
	start := 0.0                         // span when the anchor begins to come
	knee := math.NaN()
	worst := 0.0
	for i := range 4000 {
		x := float64(i) * 0.005 // unstretched line taken in
		out = 60 - x
		// Still until 2.5 kN, then coming a centimetre for each taken in, with a grab every 3 m.
		if err := r.SetOut(out); err != nil {
			t.Fatal(err)
		}
		span := 59.0
		if i > 100 {
			span = start - 0.97*(x-0.5) + 0.04*math.Sin(2*math.Pi*(x-0.5)/3)
		}
		s, err := r.AtSpan(span)
		if err != nil {
			t.Fatal(err)
		}
		if i == 100 {
			start = span
		}
		counted += (was - out) * (1 + (s.T+float64(cell))/2/400e3)
		was, cell = out, Force(s.T)
		hang.Follow(cell, Length(counted), Length(60-counted), 7.5)
		travel.Add(Pull, cell, Length(counted), 250, hang)
		got, u, ok := travel.Now()
		if !ok {
			continue
		}
		if math.IsNaN(knee) {
			knee = span
			if cell < 250 {
				t.Errorf("the knee is at %v N, under the dead weight", cell)
			}
		}
		worst = max(worst, math.Abs(float64(got)-(knee-span)))
		if !(u > 0 && u < 0.5) {
			t.Fatalf("travel %v with an uncertainty of %v m", got, u)
		}
	}
	if math.IsNaN(knee) || worst > 0.01 {
		t.Errorf("knee at span %v m; travel off by up to %v m, want a centimetre at most", knee, worst)
	}
}

func TestTravelNotYet(t *testing.T) {
	tr := templateTrial(t)
	hang, travel := NewHang(tr), NewTravel(tr.Load)
	add := func(stage Stage, tension Force, x Length) (Length, bool) {
		hang.Follow(tension, x, 60-x, 7.5)
		travel.Add(stage, tension, x, 250, hang)
		v, _, ok := travel.Now()
		return v, ok
	}
	for _, c := range []struct {
		why     string
		stage   Stage
		tension Force
		x       Length
		ok      bool
	}{
		{"under the dead weight", Pull, 200, 1, false},
		{"the knee", Pull, 300, 2, true},
		{"since", Pull, 100, 3, true},
		{"a hold goes on", Hold, 300, 3, true},
		{"eased", Ease, 100, 2, false},
		{"a new pull", Pull, 200, 2, false},
		{"its knee", Pull, 400, 2.1, true},
		{"recovery", Recover, 400, 2.2, false},
	} {
		v, ok := add(c.stage, c.tension, c.x)
		if ok != c.ok || ok == math.IsNaN(float64(v)) {
			t.Errorf("%s: travel %v, %v; want known %v", c.why, v, ok, c.ok)
		}
	}
	// A slack rode says nothing of distance, whatever the level.
	travel = NewTravel(LoadCell{})
	hang.Gap()
	travel.Add(Pull, 3000, 1, 0, hang)
	if _, _, ok := travel.Now(); ok {
		t.Error("a travel from a rode whose statics are unknown")
	}
}

// The vessel's own way towards the anchor is no travel of the anchor.
func TestTravelLessTheVessel(t *testing.T) {
	tr := templateTrial(t)
	hang, travel := NewHang(tr), NewTravel(tr.Load)
	for x := Length(0); x < 5; x += 0.01 {
		hang.Follow(1000, x, 60-x, 7.5)
		travel.Add(Pull, 1000, x, 250, hang)
	}
	before, u, _ := travel.Now()
	travel.Moved(1.5, 0.3)
	after, v, _ := travel.Now()
	if math.Abs(float64(before-after)-1.5) > 1e-12 || math.Abs(float64(v)-math.Hypot(float64(u), 0.3)) > 1e-12 {
		t.Errorf("travel %v ± %v, less 1.5 ± 0.3 of the vessel: %v ± %v", before, u, after, v)
	}
}

// Span between two solutions is the span that solving anew would give.
func TestHangSpanBetweenSolutions(t *testing.T) {
	tr := templateTrial(t)
	for _, tension := range []Force{300, 1000, 3000, 7000} {
		h := NewHang(tr)
		h.Follow(tension, 20, 40, 7.5)
		if h.Follow(tension*1.015, 20.04, 39.96, 7.5) {
			t.Fatalf("%v: solved anew", tension)
		}
		got, perN, ok := h.Span()
		r, err := tr.Statics(7.5)
		if err != nil {
			t.Fatal(err)
		}
		if err := r.SetOut(float64(h.Out())); err != nil {
			t.Fatal(err)
		}
		var s rode.State
		if s, err = r.AtTension(float64(tension * 1.015)); err != nil {
			t.Fatal(err)
		}
		if !ok || math.Abs(float64(got)-s.Span) > 1e-4 || !(perN > 0) {
			t.Errorf("%v: span %v, %v; solved anew %v", tension, got, ok, s.Span)
		}
	}
}
