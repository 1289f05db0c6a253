package safety

import (
	"strings"
	"testing"
	"time"

	"hawse/trial"
)

// Without rode out nobody knows what comes to the fairlead, so nothing hauls.
func TestNoHaulWithRodeOutUnknown(t *testing.T) {
	for _, stage := range []trial.Stage{trial.Preset, trial.Pull, trial.Recover} {
		r := newRig(t, testConfig())
		r.g.cfg.Limits[stage].Haul, r.g.cfg.Limits[stage].ScopeMin = 0, 0
		r.g.setLimits()
		r.noLine = true
		for range 30 {
			r.run(100 * time.Millisecond)
			r.g.Count(r.now, Line{}, &r.ev)
		}
		r.checkAll()
		r.must(NextStage, stage)
		r.g.Count(r.now, Line{}, &r.ev)
		if refused := r.do(Arm, 0, Director); !strings.Contains(refused, "rode out is unknown") {
			t.Errorf("%v: refused %q, want it to say that rode out is unknown", stage, refused)
		}
	}
}

// The rule for a rise without haul holds at every rate at which the load cell
// is not silent.
func TestRiseAtEveryRate(t *testing.T) {
	for _, every := range []time.Duration{20, 100, 300, 500, 700, 900, 1000, 1100, 1300, 1500} {
		every *= time.Millisecond
		c := testConfig()
		for i := range c.Limits {
			c.Limits[i].SilentWarn, c.Limits[i].SilentStop = 3*time.Second, 5*time.Second
		}
		r := armedWith(t, c, trial.Hold)
		start, next := r.now, r.now
		for r.now < start+20*sec && r.g.State().Order != OrderEase {
			r.now += 20 * ms
			r.g.Advance(r.now, &r.ev)
			r.g.Count(r.now, lineAt(0), &r.ev)
			if r.now >= next {
				next += int64(every)
				kN := 4 + 0.16*max(0, seconds(r.now-start)-5) // still for 5 s, then 4 kN in 25 s
				r.g.Sample(r.now, trial.Force(kN*1000), false, &r.ev)
			}
			r.take()
		}
		if at := seconds(r.now-start) - 5; r.g.State().Order != OrderEase || at > 10 {
			t.Errorf("a sample each %v: order %v after %.1f s, want EASE within 10 s", every, r.g.State().Order, at)
		}
	}
}

// A load cell that has become slow guards no further pull unasked.
func TestSlowedCellIsNotRearmed(t *testing.T) {
	r := armed(t, trial.Pull)
	for range 30 {
		for range 9 {
			r.tick(100 * time.Millisecond)
			r.g.Count(r.now, lineAt(0), &r.ev)
		}
		r.sample(100*time.Millisecond, 1)
	}
	r.do(CallStop, 0, Director)
	r.must(Ack, 0)
	if refused := r.do(Rearm, trial.Pull, Director); !strings.Contains(refused, "too slow to guard") {
		t.Errorf("at 1 Hz: %q, want a refusal", refused)
	}
}

// A relay that stays closed under a stop is told, and nothing is re-armed
// before it has opened.
func TestRelayStuck(t *testing.T) {
	r := armed(t, trial.Pull)
	r.welded = true
	r.do(CallStop, 0, Director)
	says := func() {
		r.g.Relay(r.now, true, r.g.s.Session, &r.ev)
		r.take()
	}
	r.run(900 * time.Millisecond)
	says()
	if a := r.g.State().Alarms[RelayStuck]; a.State != Normal {
		t.Fatalf("0.9 s after a stop: %+v, want nothing yet", a)
	}
	r.run(100 * time.Millisecond)
	says()
	s := r.g.State()
	if a := s.Alarms[RelayStuck]; a.State != Unacknowledged || a.Priority != Emergency {
		t.Fatalf("closed 1 s after a stop: %+v, want an emergency", a)
	}
	r.must(Ack, 0)
	if refused := r.do(Rearm, trial.Pull, Director); !strings.Contains(refused, "RELAY STAYS CLOSED") {
		t.Errorf("re-arming: %q, want it refused", refused)
	}
	r.g.Relay(r.now, false, s.Session, &r.ev)
	r.take()
	if refused := r.do(Rearm, trial.Pull, Director); refused != "" {
		t.Errorf("after it has opened: %q", refused)
	}
}

// A winch that hauls on without its permit is told, each half metre anew.
func TestHaulsOn(t *testing.T) {
	for _, stage := range []trial.Stage{trial.Pull, trial.Hold, trial.Stopped, trial.Ease, trial.Recover} {
		r := armed(t, stage)
		r.do(CallStop, 0, Director)
		r.run(2200 * time.Millisecond) // the winch has run on
		r.said = nil
		for range 120 {
			r.x += 0.01
			r.run(100 * time.Millisecond)
		}
		n := 0
		for _, e := range r.said {
			if e.What == AlarmUp && e.Cause == HaulsOn && e.Priority == Emergency {
				n++
			}
		}
		if n != 2 {
			t.Errorf("%v: 1.2 m hauled under a stop is told %d times, want 2\n%s", stage, n, story(r.said, 0))
		}
	}
	r := armed(t, trial.Ease)
	r.x = 10
	for range 300 { // paid out and in again by less than half a metre
		r.x += 0.01 * float64(1-2*(r.now/sec/3%2))
		r.run(100 * time.Millisecond)
	}
	if a := r.g.State().Alarms[HaulsOn]; a.State != Normal {
		t.Errorf("surging by 0.3 m in ease: %+v, want nothing", a)
	}
}

// What has been taken in counts as out again once so much rode is out, and
// nothing far out can be said to be in.
func TestClearedIsNotForGood(t *testing.T) {
	c := testConfig()
	c.Things, c.KeepOut = []trial.Joint{{Name: "load cell", At: 20}, {Name: "anchor"}}, 1
	c.Limits[trial.Recover].ScopeMin = 0
	r := armedWith(t, c, trial.Recover)
	if refused := r.do(Clear, 0, Director); !strings.Contains(refused, "load cell is still 39.00 m") {
		t.Errorf("60 m out: %q, want it refused", refused)
	}
	haulTo := func(x float64) { r.x = x; r.run(300 * time.Millisecond) }
	haulTo(39)
	if s := r.g.State(); s.Stop.Cause != AtFairlead {
		t.Fatalf("21 m out: stop %+v, want the cell at the fairlead", s.Stop)
	}
	r.must(Clear, 0)
	r.must(NextStage, trial.PayOut)
	haulTo(20)
	if s := r.g.State(); s.Cleared != 0 {
		t.Errorf("paid out to 40 m: cleared %b, want the cell to count as out again", s.Cleared)
	}
	r.must(NextStage, trial.Recover)
	haulTo(39)
	if s := r.g.State(); s.Stop.Cause != AtFairlead {
		t.Errorf("hauled to 21 m again: stop %+v, want the cell at the fairlead", s.Stop)
	}
}

// A lane has one end, however often the pull is interrupted.
func TestLaneGoesOn(t *testing.T) {
	c := testConfig()
	c.Limits[trial.Pull].ScopeMin = 0
	r := armedWith(t, c, trial.Pull)
	haul := func(to float64) {
		for r.drift = 0.05; r.x < to; {
			r.run(100 * time.Millisecond)
		}
		r.drift = 0
	}
	haul(20)
	r.do(CallStop, 0, Director)
	r.must(NextStage, trial.Ease)
	r.x -= 2
	r.run(time.Second)
	r.must(Ack, 0)
	r.must(Rearm, trial.Pull)
	if x, _ := r.hauled(); x < 17.9 || x > 18.2 {
		t.Errorf("re-armed after 20 m hauled and 2 m eased: hauled %.2f m in the stage, want 18", x)
	}
	haul(32.2)
	if s := r.g.State(); s.Stop.Cause != LineHauled {
		t.Fatalf("32 m of the lane: stop %+v, want its end", s.Stop)
	}
	r.must(NextStage, trial.Ease)
	if refused := r.do(NextStage, trial.Pull, Director); !strings.Contains(refused, "line hauled of pull is reached") {
		t.Errorf("pull again at the lane's end: %q, want it refused", refused)
	}
	r.must(NextStage, trial.PayOut)
	r.x = 0
	r.run(time.Second)
	if refused := r.do(NextStage, trial.Pull, Director); refused != "" {
		t.Errorf("a new lane after pay out: %q", refused)
	}
	if x, _ := r.hauled(); x != 0 {
		t.Errorf("a new lane begins with %.2f m hauled", x)
	}
}

func (r *rig) hauled() (float64, bool) {
	s := r.g.State()
	x, ok := s.Hauled()
	return float64(x), ok
}

// In ease a rise sets no stop, but one in force is raised to EASE again.
func TestRisesAgainInEase(t *testing.T) {
	r := armed(t, trial.Hold)
	r.do(CallStop, 0, Director)
	r.must(NextStage, trial.Ease)
	r.run(5 * time.Second)
	for range 120 {
		r.kN += 0.016
		r.run(100 * time.Millisecond)
	}
	if s := r.g.State(); s.Order != OrderEase {
		t.Errorf("1.9 kN in 12 s with nothing hauled: order %v, want EASE\n%s", s.Order, story(r.said, 0))
	}
}

// A stop lowered under its warning is warned of all the same.
func TestLoweredStopIsWarnedOf(t *testing.T) {
	r := armed(t, trial.Pull)
	if refused := r.g.Do(r.now, Act{What: Lower, Who: Director, Limit: LimitTensionStop, Value: 5000}, &r.ev); refused != "" {
		t.Fatal(refused)
	}
	r.drift = haulsOn
	r.kN = 4.1
	r.run(500 * time.Millisecond)
	if a := r.g.State().Alarms[TensionLimit]; a.Priority != Warning || a.Limit != 4000 {
		t.Errorf("4.1 kN under a stop lowered to 5 kN: %+v, want a warning at 4 kN", a)
	}
}

// After the load cell was lost its zero wants checking, until it is checked.
func TestZeroDue(t *testing.T) {
	r := armed(t, trial.Pull)
	r.noLoad = true
	r.run(2500 * time.Millisecond)
	r.noLoad = false
	r.run(time.Second)
	if a := r.g.State().Alarms[ZeroDue]; a.State != Unacknowledged || a.Priority != Caution {
		t.Fatalf("the cell is back after 2.5 s: %+v, want a caution to check its zero", a)
	}
	r.must(Ack, 0)
	r.must(NextStage, trial.Ease)
	r.check(CheckZero, CheckPassed, Logger)
	if a := r.g.State().Alarms[ZeroDue]; a.State != Normal {
		t.Errorf("zero checked: %+v, want it gone", a)
	}
}
