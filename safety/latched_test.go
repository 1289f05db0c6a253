package safety

import (
	"math"
	"strings"
	"testing"
	"time"

	"hawse/trial"
)

func (r *rig) latch(l Latched) {
	r.t.Helper()
	if !r.g.Latch(r.now, l, &r.ev) {
		r.t.Fatalf("%+v is not latched", l)
	}
	r.take()
}

func TestLatchedWithItsOwnCause(t *testing.T) {
	const kept = "LOAD UNCHANGED"
	haul := func(r *rig, kN float64) { // 6 s of hauling, with a live cell
		r.play(6*time.Second, func(s float64) (float64, float64) { return kN + live(s), r.x + 0.05*s })
	}
	for _, tt := range []struct {
		name   string
		l      Latched
		kN     float64
		do     func(r *rig)
		into   trial.Stage
		refuse string // "" re-armed
	}{
		{"tension still there", Latched{Cause: TensionLimit, There: 1 << TensionLimit, Value: 8100, Limit: 8000}, 8.1, nil, trial.Pull, "at or above the stop limit of pull"},
		{"tension under the stage left, above the one entered", Latched{Cause: TensionLimit, There: 1 << TensionLimit}, 6, nil, trial.Recover, "at or above the stop limit of recover"},
		{"tension gone", Latched{Cause: TensionLimit, There: 1 << TensionLimit}, 2, nil, trial.Pull, ""},
		{"nothing heard since", Latched{Cause: TensionLimit, There: 1 << TensionLimit}, 2, func(r *rig) { r.noLoad = true }, trial.Pull, "sent nothing valid"},
		{"a number that stays", Latched{Cause: LoadUnchanged, There: 1 << LoadUnchanged}, 2, nil, trial.Pull, kept},
		{"that changes again", Latched{Cause: LoadUnchanged, There: 1 << LoadUnchanged}, 2, func(r *rig) { haul(r, 2.01) }, trial.Pull, ""},
		{"a later cause that stays", Latched{Cause: TensionLimit, Later: LoadUnchanged, There: 1 << LoadUnchanged}, 2, nil, trial.Pull, kept},
		{"one gone before the end", Latched{Cause: TensionLimit, Later: LoadUnchanged}, 2, nil, trial.Pull, ""},
		{"over range", Latched{Cause: LoadOverRange, There: 1 << LoadOverRange}, 2, nil, trial.Pull, ""},
		{"the line jumped", Latched{Cause: LineJumped, There: 1 << LineJumped}, 2, nil, trial.Ease, "LINE COUNT JUMPED"},
		{"and was said again", Latched{Cause: LineJumped, There: 1 << LineJumped}, 2, func(r *rig) { r.g.Said(r.now, lineAt(0), &r.ev) }, trial.Pull, ""},
		{"the vessel moves, seen for 10 s", Latched{Cause: VesselMoves, There: 1 << VesselMoves}, 2, func(r *rig) { r.run(10 * time.Second) }, trial.Pull, "TENSION RISING, NO HAUL"},
		{"seen for 14 s", Latched{Cause: VesselMoves, There: 1 << VesselMoves}, 2, func(r *rig) { r.run(14 * time.Second) }, trial.Pull, ""},
		{"rises all the time", Latched{Cause: VesselMoves, There: 1 << VesselMoves}, 2, func(r *rig) {
			r.play(20*time.Second, func(s float64) (float64, float64) { return 2 + 0.1*s, 0 })
		}, trial.Pull, "TENSION RISING, NO HAUL"},
		{"stop output lost, none fitted now", Latched{Cause: StopOutLost, There: 1 << StopOutLost}, 2, nil, trial.Pull, ""},
		{"hauled on", Latched{Cause: HaulsOn, There: 1 << HaulsOn}, 2, nil, trial.Pull, ""},
		{"a call", Latched{Cause: PersonStop, By: Watcher, There: 1 << PersonStop}, 2, nil, trial.Pull, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := newRig(t, testConfig())
			r.latch(tt.l)
			s := r.g.State()
			if s.Stop.Kind != Trip || s.Stop.Cause != tt.l.Cause || s.Stop.Later != tt.l.Later || !s.Stop.Taken || s.Stop.Acked || s.Order != OrderStop {
				t.Fatalf("stop %+v, order %v; want that of the log before", s.Stop, s.Order)
			}
			if a := s.Alarms[tt.l.Cause]; !a.Unseen() || a.Value != tt.l.Value {
				t.Errorf("alarm %+v, want it to wait to be seen", a)
			}
			if want := tt.l.Cause != PersonStop; s.EverArmed != want {
				t.Errorf("once armed: %v, want %v", s.EverArmed, want)
			}
			r.kN = tt.kN
			if tt.name != "nothing heard since" && !strings.HasPrefix(tt.name, "the line") {
				r.run(time.Second)
			}
			if tt.do != nil {
				tt.do(r)
				r.take()
			}
			if strings.HasPrefix(tt.name, "the line") {
				r.run(time.Second)
				r.g.Fault(r.now, LineJumped, true, 2, 1, &r.ev)
			}
			if refused := r.do(Rearm, tt.into, Director); !strings.Contains(refused, "not acknowledged") {
				t.Errorf("re-armed unseen: %q", refused)
			}
			r.must(Ack, 0)
			switch refused := r.do(Rearm, tt.into, Director); {
			case tt.refuse == "" && refused != "":
				t.Errorf("not re-armed: %s\n%s", refused, story(r.said, 0))
			case !strings.Contains(refused, tt.refuse) || (refused == "") != (tt.refuse == ""):
				t.Errorf("re-arm refused with %q, want one that says %q", refused, tt.refuse)
			}
			if s := r.g.State(); tt.refuse == "" && (s.Stop != Stop{} || s.Permit || s.Armed) {
				t.Errorf("re-armed: stop %+v, permit %v, armed %v; want none", s.Stop, s.Permit, s.Armed)
			}
		})
	}
}

// What is no trip is not latched, and no second one over a first.
func TestNotLatched(t *testing.T) {
	for _, c := range []Cause{NoCause, LineHauled, ZeroDue, NumCauses, 255} {
		g := New(testConfig())
		if g.Latch(0, Latched{Cause: c, There: math.MaxUint64}, nil) || g.State().Stop.Kind != NoStop {
			t.Errorf("%v (%d) was latched: %+v", c, c, g.State().Stop)
		}
	}
	r := newRig(t, testConfig())
	r.latch(Latched{Cause: LineJumped, Value: math.NaN(), Limit: math.Inf(1), By: 99, Order: 99, Later: 99})
	if s := r.g.State(); s.Stop.Value != 0 || s.Stop.Limit != 0 || s.Stop.By != Nobody || s.Order != OrderStop || s.Stop.Later != NoCause {
		t.Errorf("odd values: %+v, order %v", s.Stop, s.Order)
	}
	if r.g.Latch(r.now, Latched{Cause: TensionLimit}, &r.ev) {
		t.Error("latched a second time")
	}
}

// What a guard says of a trip is what it latches again.
func TestLatchedReadsBack(t *testing.T) {
	was := armed(t, trial.Pull)
	was.kN, was.drift = 8.2, haulsOn
	was.run(300 * time.Millisecond)
	was.g.Fault(was.now, LineJumped, true, 2, 1, &was.ev)
	was.run(4 * time.Second) // so that the order is EASE
	before, l := was.g.State(), Latched{}
	l, ok := before.Latched()
	if !ok || l.Cause != TensionLimit || l.Later != LineJumped || l.There != 1<<TensionLimit|1<<LineJumped || l.Order != OrderEase || !l.Armed || l.Value < 8200 || l.Limit != 8000 {
		t.Fatalf("%+v, %v", l, ok)
	}
	r := newRig(t, testConfig())
	r.latch(l)
	s := r.g.State()
	if again, _ := s.Latched(); again != l {
		t.Errorf("latched again: %+v, want %+v", again, l)
	}
	r.wantStory(0, `
		0.000 EMERGENCY: TENSION LIMIT 8.20 kN (limit 8.0 kN), taken over
		0.000 STOP: tension limit 8.20 kN (limit 8.0 kN), taken over
		0.000 ALARM: LINE COUNT JUMPED, taken over
		0.000 order: EASE
	`)
	if none := New(testConfig()); func() bool { s := none.State(); _, ok := s.Latched(); return ok }() {
		t.Error("a trip where there is none")
	}
}

// A latched trip hides nothing: what comes later trips too, though nobody has
// armed in this log.
func TestLaterTripAfterLatch(t *testing.T) {
	r := newRig(t, testConfig())
	r.latch(Latched{Cause: LineJumped})
	r.run(time.Second)
	r.must(Ack, 0)
	r.kN = 8.5
	r.run(300 * time.Millisecond)
	if s := r.g.State(); s.Stop.Later != TensionLimit || s.Stop.Acked || s.Order != OrderEase {
		t.Errorf("8.5 kN under a stop that was taken over: %+v, order %v; want it added, and EASE", s.Stop, s.Order)
	}
}
