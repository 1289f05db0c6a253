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
		{"and the pull after it", Pull, 300, 3.1, true},
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
	hang.Gap(ErrNoTension)
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
	if math.Abs(float64(before-after)-1.5) > 1e-12 || math.Abs(float64(v)-math.Sqrt(square(float64(u))-square(vesselHeld)+square(0.3))) > 1e-12 {
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

// Rode out said anew moves the span at the knee as well: the anchor has not come
// for it. A depth said anew makes the travel uncertain instead.
func TestTravelWhenRodeOutOrDepthIsSaidAnew(t *testing.T) {
	tr := templateTrial(t)
	hang, travel := NewHang(tr), NewTravel(tr.Load)
	at := func(x, out, height Length) (Length, Length) {
		hang.Follow(3000, x, out, height)
		travel.Add(Pull, 3000, x, 250, hang)
		v, u, ok := travel.Now()
		if !ok {
			t.Fatalf("travel unknown at %v m", x)
		}
		return v, u
	}
	for x := Length(0); x < 6; x += 0.05 {
		at(x, 60-x, 7.5)
	}
	before, _ := at(6, 54, 7.5)
	after, u := at(6, 51, 7.5)
	if math.Abs(float64(after-before)) > 1e-9 {
		t.Errorf("rode out 3 m less: travel %v, was %v", after, before)
	}
	if further, _ := at(7, 50, 7.5); math.Abs(float64(further-before)-1) > 0.05 {
		t.Errorf("a metre on: %v, was %v", further, before)
	}
	_, v := at(7, 50, 9.5)
	if shift := math.Sqrt(49*49-7.5*7.5) - math.Sqrt(49*49-9.5*9.5); float64(v-u) < 0.5*shift {
		t.Errorf("2 m more depth at once: uncertainty %v, was %v; want the %.2f m it moves the span in it", v, u, shift)
	}
}

// Over range, or without a tension, nothing is known of the anchor; what was
// counted goes on when it is back.
func TestTravelOverRange(t *testing.T) {
	tr := templateTrial(t)
	s := NewStudy(tr, tr.Runs[2])
	add := func(x Length, over bool) {
		s.Add(&Reading{Point: Point{T: int64(float64(x) / 0.04 * 1e9), Tension: 3000, X: x, Stage: Pull, RodeOut: 60 - x, Height: 7.5}, Over: over})
	}
	for x := Length(0.1); x < 6; x += 0.05 {
		add(x, false)
	}
	was, _, ok := s.Travel().Now()
	if !ok {
		t.Fatal("no travel")
	}
	add(6, true)
	if _, known := s.Hang().State(); known {
		t.Error("statics known while over range")
	}
	if _, _, ok := s.Travel().Now(); ok {
		t.Error("travel known while over range")
	}
	add(6.1, false)
	if now, _, ok := s.Travel().Now(); !ok || math.Abs(float64(now-was)-0.15) > 0.1 {
		t.Errorf("travel %v, %v after it; was %v", now, ok, was)
	}
}

// A pull that breaks off goes on where it was, whether the rode out is counted on
// or said anew, and another stage begins anew.
func TestTravelGoesOn(t *testing.T) {
	tr := templateTrial(t)
	run := func(v *Travel, h *Hang, stage Stage, from, to, out Length) (Length, bool) {
		for x := from; x < to; x += 0.05 {
			h.Follow(3000, x, out-x, 7.5)
			v.Add(stage, 3000, x, 250, h)
		}
		got, _, ok := v.Now()
		return got, ok
	}
	for _, c := range []struct {
		name  string
		stage Stage
		out   Length
		want  Length
	}{{"counted on", Pull, 60, 8}, {"said anew", Pull, 57, 8}, {"another stage", Preset, 60, 2}} {
		before := NewTravel(tr.Load)
		whole, _ := run(before, NewHang(tr), Pull, 0, 6, 60)
		came, ok := before.Came()
		if !ok || math.Abs(float64(whole)-6) > 0.3 {
			t.Fatalf("before the break %v, %v", whole, ok)
		}
		after, h := NewTravel(tr.Load), NewHang(tr)
		after.GoOn(came)
		h.Follow(100, 6, c.out-6, 7.5)
		after.Add(StandBy, 100, 6, 250, h)
		got, ok := run(after, h, c.stage, 6, 8, c.out)
		if !ok || math.Abs(float64(got-c.want)) > 0.3 {
			t.Errorf("%s: %v, %v; want about %v", c.name, got, ok, c.want)
		}
	}
	bad := NewTravel(tr.Load)
	bad.GoOn(Came{Stage: Pull, At: [6]float64{math.NaN()}})
	if _, _, ok := bad.Now(); ok || bad.knee {
		t.Error("numbers that cannot be were taken over")
	}
}
