package trial

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"
)

// goesOn is a detector that goes on from d in another log: its clock begins anew.
func goesOn(t *testing.T, d *PhaseDetector, h *deckhand) *PhaseDetector {
	t.Helper()
	came, ok := d.Came()
	if !ok {
		t.Fatal("nothing to go on from")
	}
	next := newPhases()
	next.GoOn(came)
	if again, ok := next.Came(); !ok || again != came {
		t.Errorf("handed on before it went on: %+v, %v; want %+v", again, ok, came)
	}
	h.t = 0
	stage := h.stage
	h.stage = StandBy
	h.stand(5, float64(h.tension()), float64(h.tension()))
	h.stage = stage
	return next
}

func (h *deckhand) tension() Force {
	if len(h.points) == 0 {
		return 3000
	}
	return h.points[len(h.points)-1].Tension
}

// fallsOf are events as stamps has them, with the tension they begin at to 50 N.
func fallsOf(events []PhaseEvent) (out []string) {
	for i, s := range stamps(events) {
		out = append(out, fmt.Sprintf("%s, from %.0f", s, 50*math.Round(float64(events[i].From)/50)))
	}
	return out
}

// A pull that breaks off in its plateau, or after its breakout, goes on in another
// log as if nothing had been: the same is said of what comes then, held against the
// peak there was. Without what is carried none of it is.
func TestPhasesGoOn(t *testing.T) {
	begin := func(h *deckhand) {
		h.move(2, 2.4, 80, 80)
		h.move(4, 2.4, 80, 3800)
		h.move(1, 2.4, 3800, 3000)
		h.move(6, 2.4, 3000, 3000)
	}
	falls := func(h *deckhand) {
		h.move(0.016, 2.4, 3000, 600)
		h.move(1.5, 2.4, 600, 600)
	}
	climbs := func(h *deckhand) {
		h.move(4, 2.4, 600, 2400) // past 0.7 x (3000 - 120) + 120 = 2136 N, that of the plateau
		h.move(2, 2.4, 2400, 2800)
		h.move(2, 2.4, 2800, 2800) // past 0.7 x (3800 - 120) + 120 = 2696 N, that of the peak
	}
	goesOnThenFalls := func(h *deckhand) {
		h.move(1, 2.4, 3000, 3000)
		falls(h)
	}
	lightly := func(h *deckhand) {
		h.move(2, 2.4, 80, 80)
		h.move(2, 2.4, 80, 700)
		h.move(6, 2.4, 700, 700)
	}
	nothing := func(*deckhand) {}
	for _, tt := range []struct {
		name                 string
		before, after, later func(*deckhand)
		want                 []string // in the log that goes on
		without              []string // of a detector that takes nothing over
	}{
		{"in the plateau", begin, goesOnThenFalls, climbs, []string{"breakout anchor, from 3000", "re-set undecided, from 3800"}, []string{"breakout anchor, from 3000", "re-set undecided, from 3000"}},
		{"in a plateau little above a weight", lightly, func(h *deckhand) {
			h.move(0.4, 2.4, 700, 700)
			h.move(0.016, 2.4, 700, 200)
			h.move(1.5, 2.4, 200, 200)
		}, nothing, []string{"breakout undecided, from 700"}, nil},
		{"after the breakout", func(h *deckhand) { begin(h); falls(h) }, nothing, climbs, []string{"re-set undecided, from 3800"}, nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			one, h := newPhases(), &deckhand{stage: Pull}
			tt.before(h)
			h.feed(one)
			said := fallsOf(one.Events(nil))
			at, x := h.t, h.x
			two := goesOn(t, one, h)
			tt.after(h)
			tt.later(h)
			fresh := newPhases()
			for _, p := range h.points {
				two.Add(p)
				fresh.Add(p)
			}
			got := two.Events(nil)
			if !slices.Equal(fallsOf(got), tt.want) {
				t.Fatalf("events %q, want %q", fallsOf(got), tt.want)
			}
			if lost := fallsOf(fresh.Events(nil)); !slices.Equal(lost, tt.without) {
				t.Errorf("a detector that takes nothing over says %q", lost)
			}

			whole, h := newPhases(), &deckhand{stage: Pull}
			tt.before(h)
			h.stand(5, 3000, 3000)
			h.points = h.points[:len(h.points)-50]
			if h.t != at+5e9 || h.x != x {
				t.Fatal("another pull")
			}
			tt.after(h)
			tt.later(h)
			h.feed(whole)
			all := whole.Events(nil)
			if want := append(said, tt.want...); !slices.Equal(fallsOf(all), want) {
				t.Fatalf("unbroken: %q, want %q", fallsOf(all), want)
			}
			for i, e := range all[len(said):] {
				if g := got[i]; g.X != e.X || g.From != e.From || g.To != e.To || g.T != e.T-at {
					t.Errorf("%v at %v s, %v m, from %v to %v N; unbroken %v s, %v m, from %v to %v N",
						g.Kind, float64(g.T)/1e9, g.X, g.From, g.To, float64(e.T-at)/1e9, e.X, e.From, e.To)
				}
			}
		})
	}
}

// What was taken over goes on by its own stage alone, through a hold, and ends with
// any other: a stop or an ease ends a series, in one log as in two.
func TestPhasesGoOnByTheirStage(t *testing.T) {
	_, d := onPlateau(t)
	came, _ := d.Came()
	for _, tt := range []struct {
		stages []Stage
		want   bool
	}{
		{[]Stage{StandBy}, true}, {[]Stage{StandBy, Pull}, true}, {[]Stage{Hold, Pull}, true}, {[]Stage{StandBy, Preset}, false},
		{[]Stage{Recover}, false}, {[]Stage{Ease, Pull}, false}, {[]Stage{Stopped, Pull}, false}, {[]Stage{Pull, Ease}, false},
	} {
		next := newPhases()
		next.GoOn(came)
		for i, s := range tt.stages {
			next.Add(Point{T: int64(i+1) * 1e8, Tension: 100, X: 5, Stage: s, Travel: Length(math.NaN())})
		}
		got, ok := next.Came()
		if kept := ok && got == came; kept != tt.want {
			t.Errorf("%v: %+v, %v; taken over: want %v", tt.stages, got, ok, tt.want)
		}
	}
	if _, ok := newPhases().Came(); ok {
		t.Error("there is something to go on from before any series")
	}
	for _, bad := range []PhasesCame{
		{Stage: Pull, Tension: [4]float64{math.NaN()}}, {Stage: Pull, Tension: [4]float64{0, math.Inf(1)}}, {Stage: Pull, Tension: [4]float64{-1}},
		{Stage: Hold, Is: 4}, {Stage: Pull, Wave: -1, Is: 4}, {Stage: Pull, Wave: time.Hour, Is: 4}, {Stage: Pull, Is: 1 << 15},
	} {
		next := newPhases()
		next.GoOn(bad)
		if _, ok := next.Came(); ok || next.engaged || next.peak != 0 {
			t.Errorf("%+v was taken over", bad)
		}
	}
}

// In recovery it is known on what the anchor will have come off at.
func TestRecoveryGoesOn(t *testing.T) {
	one, h := newPhases(), &deckhand{stage: Recover, out: 8.9, height: 7.5}
	h.stand(10, 300, 4400)
	h.stand(60, 4400, 4000)
	h.feed(one)
	two := goesOn(t, one, h)
	h.stand(20, 3600, 3500)
	h.stand(0.5, 3500, 200)
	h.stand(20, 200, 200)
	h.feed(two)
	got := two.Events(nil)
	if len(got) != 1 || got[0].Kind != EventAweigh || math.Abs(float64(got[0].From)-4400) > 100 {
		t.Errorf("%+v, want that it is aweigh, from 4400 N", got)
	}
}
