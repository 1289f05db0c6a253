package safety

import (
	"strings"
	"testing"
	"time"

	"hawse/trial"
)

// The whole of a pull that ends as planned: counted down, one act to go on.
func TestPlannedEnd(t *testing.T) {
	r := armed(t, trial.Pull)
	first := r.g.State().Session
	r.run(time.Second)
	start := r.now
	r.toScope()
	if a := r.g.State().Alarms[MinimumScope]; a.State != Normal {
		t.Errorf("a planned end is no alarm, but %+v", a)
	}
	if refused := r.do(NextStage, trial.Hold, Director); !strings.Contains(refused, "MINIMUM SCOPE") {
		t.Errorf("hold has the same least scope: refused %q, want it to name MINIMUM SCOPE", refused)
	}
	if refused := r.do(NextStage, trial.Pull, Director); !strings.Contains(refused, "minimum scope of pull is reached") {
		t.Errorf("pull again: refused %q, want it to say that the scope is reached", refused)
	}
	if refused := r.do(Rearm, trial.Recover, Director); !strings.Contains(refused, "next stage") {
		t.Errorf("a planned end needs no re-arming: refused %q, want it to say next stage", refused)
	}
	r.must(NextStage, trial.Ease)
	r.must(NextStage, trial.Recover)
	r.wantStory(start, `
		0.200 STOP: minimum scope 3.99 reached (limit 4.0)
		0.200 haul not permitted
		0.200 order: STOP
		0.200 stop lifted by director, it was: minimum scope
		0.200 no stop in force
		0.200 stage: ease
		0.200 stage: recover
		0.200 haul permitted, relay session 7
	`)
	s := r.g.State()
	if !s.Permit || s.Session == first || s.RelayOn {
		t.Errorf("in recover: permit %v, session %d (was %d), relay %v; want a fresh session, relay not yet heard", s.Permit, s.Session, first, s.RelayOn)
	}
	r.x = 55 // neither line hauled nor scope exist in recover
	r.run(time.Second)
	if s := r.g.State(); s.Stop.Kind != NoStop {
		t.Errorf("in recover at scope 0.7: stop %+v, want none", s.Stop)
	}
}

func TestLineHauledCountsFromItsStage(t *testing.T) {
	r := armed(t, trial.StandBy)
	r.x = 3
	r.run(time.Second)
	r.must(NextStage, trial.Preset)
	r.x = 7.9
	r.run(time.Second)
	if s := r.g.State(); s.Stop.Kind != NoStop {
		t.Fatalf("4.9 m hauled in preset: stop %+v, want none", s.Stop)
	}
	r.x = 8
	r.run(200 * time.Millisecond)
	if s := r.g.State(); s.Stop.Cause != LineHauled || s.Stop.Kind != PlannedEnd || s.Stop.Value != 5 {
		t.Errorf("5 m hauled in preset: stop %+v, want LINE HAULED at 5", s.Stop)
	}
	if refused := r.do(NextStage, trial.Preset, Director); !strings.Contains(refused, "line hauled of preset is reached") {
		t.Errorf("preset again: refused %q, want it to say that the line is hauled", refused)
	}
	r.must(NextStage, trial.Soak)
	r.must(NextStage, trial.Pull)
	if x, ok := r.g.s.Hauled(); x != 0 || !ok || !r.g.State().Permit {
		t.Errorf("entering pull: hauled %v %v, permit %v; want 0 known, permit", x, ok, r.g.State().Permit)
	}
}

// Saying the rode out again moves the zero of X, not the line.
func TestSaidKeepsLineHauled(t *testing.T) {
	r := armed(t, trial.Pull)
	r.x = 20
	r.run(time.Second)
	r.g.Said(r.now, Line{X: 0, RodeOut: 39, Scope: 39 / 7.5, HasX: true, HasS: true}, &r.ev)
	r.g.Count(r.now+50*ms, Line{X: 1, RodeOut: 38, Scope: 38 / 7.5, HasX: true, HasS: true}, &r.ev)
	if x, ok := r.g.s.Hauled(); x != 21 || !ok {
		t.Errorf("20 m, rode out said anew, 1 m more: hauled %v %v, want 21", x, ok)
	}
}

// Depth said by a person ends the pull at once if the scope then is too small.
func TestSaidJudgesScope(t *testing.T) {
	r := armed(t, trial.Pull)
	r.g.Said(r.now, Line{X: 0, RodeOut: 60, Scope: 3.9, HasX: true, HasS: true}, &r.ev)
	if s := r.g.State(); s.Stop.Cause != MinimumScope {
		t.Errorf("depth said, scope 3.9: stop %+v, want MINIMUM SCOPE", s.Stop)
	}
}

func TestDuration(t *testing.T) {
	r := armed(t, trial.Soak)
	start := r.now
	r.run(10*time.Minute - 100*time.Millisecond)
	if s := r.g.State(); s.Stop.Kind != NoStop {
		t.Fatalf("before the time is up: stop %+v", s.Stop)
	}
	r.run(200 * time.Millisecond)
	if s := r.g.State(); s.Stop.Cause != StageDuration || s.Stop.Kind != PlannedEnd || s.Stop.At != start+600*sec {
		t.Errorf("stop %+v, want STAGE DURATION at 10 min to the nanosecond", s.Stop)
	}
}

// After a planned end by a count that proves wrong the pull may go on, with its
// line counted on.
func TestPlannedEndThatWasNone(t *testing.T) {
	r := armed(t, trial.Pull)
	r.x = 10
	r.run(time.Second)
	r.x = 31
	r.run(200 * time.Millisecond)
	r.x = 10
	r.run(100 * time.Millisecond)
	r.must(NextStage, trial.Pull)
	s := r.g.State()
	if x, _ := s.Hauled(); !s.Permit || x != 10 {
		t.Errorf("after a false end: permit %v, hauled %v; want a permit and 10 m still counted", s.Permit, x)
	}
	r.toScope()
	if s := r.g.State(); s.Stop.Cause != MinimumScope {
		t.Errorf("the real end: stop %+v, want MINIMUM SCOPE", s.Stop)
	}
}

// A planned end lifted within the deadband must come again.
func TestDeadbandHidesNoEnd(t *testing.T) {
	r := armed(t, trial.Pull)
	r.toScope()
	r.x = 29.9 // scope 4.013, inside the deadband
	r.run(200 * time.Millisecond)
	r.must(NextStage, trial.Pull)
	r.toScope()
	if s := r.g.State(); s.Stop.Cause != MinimumScope || s.Permit {
		t.Errorf("scope 4.013, lifted, then 3.99: stop %+v, permit %v; want the planned end again", s.Stop, s.Permit)
	}
	r = armed(t, trial.Pull)
	r.kN = 8.1
	r.run(200 * time.Millisecond)
	r.kN = 7.95
	r.run(time.Second)
	r.must(Ack, 0)
	r.must(Rearm, trial.Pull)
	r.kN = 8.05
	r.run(200 * time.Millisecond)
	if s := r.g.State(); s.Stop.Cause != TensionLimit || s.Permit {
		t.Errorf("7.95 kN, re-armed, then 8.05: stop %+v, permit %v; want the trip again", s.Stop, s.Permit)
	}
}

// An alarm that stood within its deadband when the director armed must trip
// when it comes again.
func TestDeadbandBeforeArmingHidesNoTrip(t *testing.T) {
	r := newRig(t, testConfig())
	r.checks()
	r.kN = 8.1
	r.run(time.Second)
	r.kN = 7.9
	r.run(time.Second)
	r.must(Arm, 0)
	r.kN = 8.1
	r.run(200 * time.Millisecond)
	if s := r.g.State(); s.Stop.Cause != TensionLimit {
		t.Errorf("8.1 kN, 7.9, armed, 8.1: stop %+v, want TENSION LIMIT", s.Stop)
	}
}

// Stopped at 4 kN, yet the tension comes to its limit: the latched stop hides
// nothing, and stopping the winch has not helped.
func TestStopToEase(t *testing.T) {
	r := armed(t, trial.Pull)
	r.drift = haulsOn // it is not the rule for no haul that asks for EASE
	r.kN = 4
	r.run(time.Second)
	start := r.now
	r.do(CallStop, 0, WinchOperator)
	for r.kN < 8.2 {
		r.kN += 0.04
		r.run(100 * time.Millisecond)
	}
	r.kN = 1.2
	r.run(11 * time.Second)
	r.wantStory(start, `
		0.000 EMERGENCY: STOP CALLED by winch operator
		0.000 STOP: called by winch operator
		0.000 haul not permitted
		0.000 order: STOP
		6.100 WARNING: TENSION LIMIT 6.44 kN (warning at 6.4 kN)
		10.100 EMERGENCY: TENSION LIMIT 8.04 kN (limit 8.0 kN)
		10.100 STOP stays, now also: tension limit 8.04 kN (limit 8.0 kN)
		10.100 order: EASE
		12.600 order: STOP
		18.700 EMERGENCY: HAULS WITHOUT PERMIT 0.50 m (limit 0.5 m)
		18.700 STOP stays, now also: hauls without permit 0.50 m (limit 0.5 m)
		20.700 TENSION LIMIT: back to normal
	`)
}

// A snag: the winch is stopped by tension and the tension stays.
func TestTensionStays(t *testing.T) {
	r := armed(t, trial.Pull)
	r.drift = haulsOn // the winch runs on
	r.kN = 8.1
	r.run(200 * time.Millisecond)
	at := r.g.State().Stop.At
	r.run(2900 * time.Millisecond)
	if s := r.g.State(); s.Order != OrderStop {
		t.Errorf("2.9 s after the stop: order %v, want STOP", s.Order)
	}
	r.run(200 * time.Millisecond)
	if s := r.g.State(); s.Order != OrderEase || s.OrderSince != at+3*sec {
		t.Errorf("tension still at the limit: order %v since %v, want EASE 3 s after %v", s.Order, s.OrderSince, at)
	}
	// Silence is not slack: EASE stays.
	r.kN = 1
	r.run(500 * time.Millisecond)
	r.noLoad = true
	r.run(5 * time.Second)
	if s := r.g.State(); s.Order != OrderEase {
		t.Errorf("eased for 0.5 s, then nothing heard: order %v, want EASE", s.Order)
	}
	r.must(NextStage, trial.Ease)
	r.run(5 * time.Second)
	if s := r.g.State(); s.Order != OrderEase {
		t.Errorf("in ease with the load unknown: order %v, want EASE", s.Order)
	}
}

func TestOverRangeAfterStopIsEase(t *testing.T) {
	r := armed(t, trial.Pull)
	r.do(CallStop, 0, Director)
	r.now += 50 * ms
	r.g.Sample(r.now, 0, true, &r.ev)
	r.take()
	if s := r.g.State(); s.Order != OrderEase || s.Stop.Later != LoadOverRange || !s.Load.Over {
		t.Errorf("over range after a call: order %v, stop %+v; want EASE, later LOAD OVER RANGE", s.Order, s.Stop)
	}
}

func TestTripOverPlannedEnd(t *testing.T) {
	r := armed(t, trial.Pull)
	r.toScope()
	r.noLoad = true
	r.run(3 * time.Second)
	if s := r.g.State(); s.Stop.Kind != Trip || s.Stop.Cause != LoadSilent || s.Order != OrderStop {
		t.Errorf("silent after a planned end: stop %+v, order %v; want a trip by LOAD SILENT, STOP", s.Stop, s.Order)
	}
	if refused := r.do(NextStage, trial.Recover, Director); refused == "" {
		t.Error("recover was entered over a trip without re-arming; want a refusal")
	}
	r.must(NextStage, trial.Ease) // always open, also with the load unknown
}

func TestAnybodyCallsStop(t *testing.T) {
	for who := Nobody; who <= Program; who++ {
		for stage := range trial.NumStages {
			r := armed(t, stage)
			if refused := r.do(CallStop, 0, who); refused != "" {
				t.Errorf("%v in %v: refused %q", who, stage, refused)
			}
			if s := r.g.State(); s.Stop.Cause != PersonStop || s.Stop.By != who || s.Permit || s.Order != OrderStop {
				t.Errorf("%v in %v: stop %+v, permit %v, order %v", who, stage, s.Stop, s.Permit, s.Order)
			}
		}
	}
	r := newRig(t, testConfig()) // before anything is armed, or even heard
	r.do(CallStop, 0, Watcher)
	if s := r.g.State(); s.Stop.Kind != Trip || s.Order != OrderStop {
		t.Errorf("before arming: stop %+v, order %v; want it latched", s.Stop, s.Order)
	}
	r.run(time.Second)
	if refused := r.do(Arm, 0, Director); !strings.Contains(refused, "STOP CALLED") {
		t.Errorf("arming over it: %q, want a refusal that names it", refused)
	}
	r.must(Ack, 0)
	r.must(Rearm, trial.StandBy)
	if s := r.g.State(); s.Stop.Kind != NoStop || s.Armed {
		t.Errorf("lifted: stop %+v, armed %v; want no stop, and nothing armed by it", s.Stop, s.Armed)
	}
	r.checks()
	r.run(100 * time.Millisecond)
	r.must(Arm, 0)
}

func TestStoodStill(t *testing.T) {
	r := newRig(t, testConfig())
	r.tick(10 * time.Second) // between first and second record it can stand still too
	if a := r.g.State().Alarms[StoodStill]; a.State != Unacknowledged || a.Value != 10 {
		t.Errorf("10 s between two records: %+v, want an alarm with 10 s", a)
	}
	r = newRig(t, testConfig())
	r.tick(250 * time.Millisecond)
	if a := r.g.State().Alarms[StoodStill]; a.State != Normal {
		t.Errorf("250 ms between two records: %+v, want none", a)
	}
	first := New(testConfig())
	first.Advance(3600*sec, nil)
	if s := first.State(); s.Alarms[StoodStill].State != Normal {
		t.Errorf("a late first record: %+v, want none", s.Alarms[StoodStill])
	}
	r = armed(t, trial.Pull)
	start := r.now
	r.tick(3 * time.Second)
	r.wantStory(start, `
		1.000 WARNING: LOAD SILENT 1.0 s (warning at 1.0 s)
		2.000 ALARM: LOAD SILENT 2.0 s (limit 2.0 s)
		2.000 STOP: load silent 2.0 s (limit 2.0 s)
		2.000 haul not permitted
		2.000 order: STOP
		2.000 WARNING: LINE SILENT 2.0 s (warning at 2.0 s)
		3.000 ALARM: PROGRAM STOOD STILL 3.0 s (limit 0.25 s)
		3.000 STOP stays, now also: program stood still 3.0 s (limit 0.25 s)
	`)
	r = armed(t, trial.Pull)
	r.tick(251 * time.Millisecond)
	if s := r.g.State(); s.Stop.Cause != StoodStill {
		t.Errorf("a stall of 251 ms while pulling: stop %+v, want PROGRAM STOOD STILL", s.Stop)
	}
}

func TestRelay(t *testing.T) {
	r := armed(t, trial.Pull)
	session := r.g.State().Session
	if !r.g.State().RelayOn {
		t.Fatal("the relay said closed for the session in force, RelayOn is false")
	}
	r.g.Relay(r.now, false, 0, &r.ev) // it lost its supply and has forgotten the session
	if s := r.g.State(); s.Stop.Cause != RelayOpened || s.RelayOn || s.Permit {
		t.Errorf("relay opened: stop %+v, relay %v, permit %v", s.Stop, s.RelayOn, s.Permit)
	}
	r.take()
	r.must(Ack, 0)
	r.must(Rearm, trial.Pull)
	s := r.g.State()
	if s.Session == session || s.RelayOn || !s.Permit {
		t.Errorf("re-armed: session %d (was %d), relay %v, permit %v; want a fresh one, relay not yet on", s.Session, session, s.RelayOn, s.Permit)
	}
	r.g.Relay(r.now, true, session, &r.ev) // late words about the old session
	r.g.Relay(r.now, false, session, &r.ev)
	if s := r.g.State(); s.RelayOn || s.Stop.Kind != NoStop {
		t.Errorf("late words of the old session: relay %v, stop %+v; want neither", s.RelayOn, s.Stop)
	}
	r.g.Relay(r.now, true, s.Session, &r.ev)
	r.toScope()
	r.g.Relay(r.now, false, s.Session, &r.ev)
	if s := r.g.State(); s.Stop.Kind != PlannedEnd || s.RelayOn {
		t.Errorf("the relay opens after a stop, as it should: stop %+v, relay %v", s.Stop, s.RelayOn)
	}
}

// What is lost while nothing has been armed is an alarm; afterwards it trips.
func TestPartsLost(t *testing.T) {
	tests := []struct {
		src      Source
		cause    Cause
		trips    bool
		priority Priority
	}{
		{StopOut, StopOutLost, true, AlarmPriority},
		{Screen, ScreenGone, true, AlarmPriority},
		{Record, RecordFailing, false, Warning},
		{Judge, JudgeGone, false, Caution},
	}
	for _, tt := range tests {
		before := newRig(t, testConfig())
		before.g.Port(0, tt.src, false, &before.ev)
		if s := before.g.State(); s.Stop.Kind != NoStop || s.Alarms[tt.cause].State != Unacknowledged {
			t.Errorf("%v lost before arming: stop %+v, alarm %+v; want the alarm alone", tt.src, s.Stop, s.Alarms[tt.cause])
		}
		r := armed(t, trial.Pull)
		r.g.Port(r.now, tt.src, false, &r.ev)
		s := r.g.State()
		if (s.Stop.Kind == Trip) != tt.trips || s.Permit == tt.trips || s.Alarms[tt.cause].Priority != tt.priority {
			t.Errorf("%v lost: stop %+v, permit %v, alarm %+v; want trip %v, %v", tt.src, s.Stop, s.Permit, s.Alarms[tt.cause], tt.trips, tt.priority)
		}
		r.take()
		r.must(Ack, 0)
		if tt.cause == ScreenGone {
			// Acknowledged, it is the director's choice to go on without.
			r.must(Rearm, trial.Pull)
			continue
		}
		if tt.trips {
			if refused := r.do(Rearm, trial.Ease, Director); !strings.Contains(refused, tt.cause.Title()) {
				t.Errorf("%v still lost: re-arming said %q, want a refusal that names it", tt.src, refused)
			}
		}
		r.g.Port(r.now, tt.src, true, &r.ev)
		r.take()
		if a := r.g.State().Alarms[tt.cause]; a.State != Normal {
			t.Errorf("%v back: alarm %+v, want normal", tt.src, a)
		}
		if tt.trips {
			r.must(Rearm, trial.Pull)
		}
	}
}

func TestAbandon(t *testing.T) {
	r := armed(t, trial.Pull)
	if refused := r.do(Abandon, 0, WinchOperator); refused == "" {
		t.Error("the winch operator abandoned; want a refusal")
	}
	r.must(Abandon, 0)
	r.kN = 9
	r.run(4 * time.Second)
	if s := r.g.State(); s.Order != OrderAbandon || s.Stop.Kind != Trip || s.Permit {
		t.Errorf("abandoned: order %v, stop %+v, permit %v; want ABANDON to stay", s.Order, s.Stop, s.Permit)
	}
}
