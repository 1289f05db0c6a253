package safety

import (
	"math"
	"strings"
	"testing"
	"time"

	"hawse/trial"
)

// Limits only become stricter, in every stage that has them.
func TestLower(t *testing.T) {
	tests := []struct {
		name  string
		stage trial.Stage
		who   Who
		key   LimitKey
		value float64
		want  string // part of the refusal; "": taken
	}{
		{"tension stop", trial.Pull, Director, LimitTensionStop, 7000, ""},
		{"tension warn", trial.Pull, Director, LimitTensionWarn, 6000, ""},
		{"haul", trial.Pull, Director, LimitHaul, 25, ""},
		{"scope", trial.Pull, Director, LimitScopeMin, 4.5, ""},
		{"the same again", trial.Pull, Director, LimitTensionStop, 8000, "already"},
		{"laxer", trial.Pull, Director, LimitTensionStop, 8000.1, "laxer than the 8.0 kN in force"},
		{"laxer scope", trial.Pull, Director, LimitScopeMin, 3.9, "laxer"},
		{"laxer haul", trial.Pull, Director, LimitHaul, 33, "laxer"},
		{"not the director", trial.Pull, Logger, LimitTensionStop, 7000, "only the director"},
		{"nothing", trial.Pull, Director, LimitTensionStop, 0, "above zero"},
		{"no number", trial.Pull, Director, LimitTensionStop, math.NaN(), "above zero"},
		{"no such limit", trial.Pull, Director, NoLimit, 5, "no such limit"},
		{"no such limit either", trial.Pull, Director, NumLimits, 5, "no such limit"},
		{"laxer than recovery's own, in recovery", trial.Recover, Director, LimitTensionStop, 7000, "laxer"},
		{"haul where the stage has none", trial.Recover, Director, LimitHaul, 25, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := armed(t, tt.stage)
			before := r.g.State()
			refused := r.g.Do(r.now, Act{What: Lower, Who: tt.who, Limit: tt.key, Value: tt.value}, &r.ev)
			if refused == "" != (tt.want == "") || !strings.Contains(refused, tt.want) {
				t.Errorf("refused %q, want %q", refused, tt.want)
			}
			if tt.want != "" && r.g.State() != before {
				t.Error("a refusal changed the state")
			}
		})
	}
	r := armed(t, trial.Pull)
	lower := func(key LimitKey, v float64) string {
		return r.g.Do(r.now, Act{What: Lower, Who: Director, Limit: key, Value: v}, &r.ev)
	}
	lower(LimitTensionStop, 4500)
	lower(LimitHaul, 25)
	if refused := lower(LimitTensionStop, 4600); !strings.Contains(refused, "laxer than the 4.5 kN in force") {
		t.Errorf("4.5 and then 4.6 kN: %q, want a refusal", refused)
	}
	if got := r.g.limits(trial.Recover); got.TensionStop != 4500 || got.Haul != 0 {
		t.Errorf("recover stops at %v, hauls %v; want 4500 N too, and no end by line given to it", got.TensionStop, got.Haul)
	}
	if got := r.g.limits(trial.Hold); got.TensionStop != 4500 || got.Haul != 0 || r.g.limits(trial.Preset).Haul != 5 {
		t.Errorf("hold %+v; want the tension, and preset's 5 m as they were", got)
	}
	// What is exceeded already trips at once.
	r = armed(t, trial.Pull)
	r.drift = haulsOn
	r.ramp(5, 10*time.Second)
	r.run(time.Second)
	at := r.now
	lower(LimitTensionStop, 4500)
	r.take()
	if s := r.g.State(); s.Stop.Cause != TensionLimit || s.Stop.At != at {
		t.Errorf("5 kN, stop lowered to 4.5: stop %+v, want TENSION LIMIT at once", s.Stop)
	}
}

// The load cell out of the rode: only under the slack level, its faults are
// suppressed, and it does not pull.
func TestCellOff(t *testing.T) {
	r := armed(t, trial.Ease)
	off := func(who Who) string { return r.do(TakeCellOff, 0, who) }
	if refused := off(Director); !strings.Contains(refused, "the rode counts as loaded") {
		t.Errorf("at 1 kN: %q, want a refusal", refused)
	}
	r.sample(100*time.Millisecond, 0.1) // one low sample is no slack rode
	if refused := off(Director); refused == "" {
		t.Error("cell off on one low sample; want a refusal")
	}
	r.kN = 0.1
	r.run(time.Second)
	if refused := off(Logger); !strings.Contains(refused, "only the director") {
		t.Errorf("by the logger: %q", refused)
	}
	if refused := r.do(TakeCellBack, 0, Director); refused == "" {
		t.Error("back before it was off; want a refusal")
	}
	r.g.BadFrame(r.now, Load, &r.ev)
	if refused := off(Director); refused != "" {
		t.Fatalf("slack: %s", refused)
	}
	s := r.g.State()
	if s.TensionKnown() || !s.Loaded(r.g.cfg) {
		t.Error("cell off: the tension is known, or the rode slack; want unknown and loaded")
	}
	r.noLoad = true
	r.run(30 * time.Second)
	r.g.Sample(r.now, 0, true, &r.ev)
	r.g.Sample(r.now, trial.Force(math.NaN()), false, &r.ev)
	s = r.g.State()
	if s.Stop.Kind != NoStop || s.Alarms[LoadSilent].State != Suppressed || s.Alarms[LoadOverRange].State != Suppressed {
		t.Errorf("cell off, silent for 30 s, over range: stop %+v, alarms %v, %v; want none, suppressed by design", s.Stop, s.Alarms[LoadSilent].State, s.Alarms[LoadOverRange].State)
	}
	for _, stage := range []trial.Stage{trial.Preset, trial.Pull} {
		if refused := r.do(NextStage, stage, Director); !strings.Contains(refused, "load cell is off") {
			t.Errorf("%v with the cell off: %q, want a refusal", stage, refused)
		}
	}
	r.must(NextStage, trial.Recover)
	r.must(TakeCellBack, 0)
	r.noLoad = false
	r.run(3 * time.Second)
	if s := r.g.State(); s.TensionKnown() || s.Cell != CellBack {
		t.Error("back and not zeroed: want the tension still unknown")
	}
	r.check(CheckZero, CheckPassed, Logger)
	r.run(200 * time.Millisecond)
	s = r.g.State()
	if !s.TensionKnown() || s.Alarms[LoadSilent].State != Normal || s.Cell != CellOn {
		t.Errorf("zeroed: known %v, alarm %v, cell %v; want it judged again", s.TensionKnown(), s.Alarms[LoadSilent].State, s.Cell)
	}
	r.noLoad = true
	r.run(3 * time.Second)
	if s := r.g.State(); s.Stop.Cause != LoadSilent {
		t.Errorf("then silent: stop %+v, want LOAD SILENT", s.Stop)
	}
}

// In a pull the cell does not come out; an alarm seen while it is out is
// suppressed, not forgotten.
func TestCellOffAlarms(t *testing.T) {
	r := armed(t, trial.Pull)
	r.kN = 0.1
	r.run(time.Second)
	if refused := r.do(TakeCellOff, 0, Director); !strings.Contains(refused, "hauling is permitted") {
		t.Errorf("cell off in a pull: %q, want a refusal", refused)
	}
	r.must(NextStage, trial.Ease)
	r.kN = -0.2
	r.run(time.Second)
	r.must(TakeCellOff, 0)
	if a := r.g.State().Alarms[LoadReversed]; a.State != Returned {
		t.Errorf("cell off with a warning unseen: %v, want it returned", a.State)
	}
	r.must(Ack, 0)
	if a := r.g.State().Alarms[LoadReversed]; a.State != Suppressed {
		t.Errorf("and seen: %v, want suppressed by design", a.State)
	}
}

// A held alarm of the tension is news to a stop for something else.
func TestHeldAlarmIsNewsToAnotherStop(t *testing.T) {
	r := armed(t, trial.Pull)
	r.drift = haulsOn
	r.ramp(8.1, 10*time.Second)
	r.run(200 * time.Millisecond)
	r.kN = 7
	r.run(time.Second)
	r.must(Ack, 0)
	r.must(Rearm, trial.Pull)
	r.do(CallStop, 0, WinchOperator)
	r.kN = 8.2
	r.run(200 * time.Millisecond)
	s := r.g.State()
	if s.Stop.Cause != PersonStop || s.Stop.Later != TensionLimit || s.Order != OrderEase {
		t.Errorf("stop called, then the tension at its limit with its alarm still up: stop %+v, order %v; want TENSION LIMIT later, EASE", s.Stop, s.Order)
	}
	n := len(r.said)
	for range 5 { // swings about the limit: one alarm, one stop
		r.kN = 7
		r.run(time.Second)
		r.kN = 8.2
		r.run(time.Second)
	}
	for _, e := range r.said[n:] {
		if e.What == AlarmUp && e.Cause == TensionLimit || e.What == StopMore {
			t.Errorf("swinging about the limit said anew: %s", e.Text(r.g.cfg.Show))
		}
	}
}

// The first of a flood is kept until nothing stands.
func TestFirstUp(t *testing.T) {
	r := armed(t, trial.Pull)
	r.g.Port(r.now, Judge, false, &r.ev)
	r.g.Port(r.now, Record, false, &r.ev)
	r.do(CallStop, 0, Logger)
	if got := r.g.State().FirstUp; got != JudgeGone {
		t.Errorf("first up %v, want PHASES GONE", got)
	}
	r.g.Port(r.now, Judge, true, &r.ev)
	r.must(Ack, 0)
	if got := r.g.State().FirstUp; got != JudgeGone {
		t.Errorf("its cause gone, others stand: first up %v, want it kept", got)
	}
	r.g.Port(r.now, Record, true, &r.ev)
	if got := r.g.State().FirstUp; got != NoCause {
		t.Errorf("nothing stands: first up %v, want none", got)
	}
}

// The relay has two seconds to say that it has closed.
func TestRelayStaysOpen(t *testing.T) {
	c := testConfig()
	c.HasStopOut = true
	r := newRig(t, c)
	r.g.Port(0, StopOut, true, &r.ev)
	r.run(time.Second)
	r.checkAll()
	r.must(Arm, 0)
	r.must(NextStage, trial.Pull)
	start := r.now
	r.said = nil
	r.run(1900 * time.Millisecond)
	r.wantStory(start, "")
	r.run(200 * time.Millisecond)
	r.g.Relay(r.now, true, r.g.s.Session, &r.ev)
	r.take()
	r.wantStory(start, `
		2.000 WARNING: RELAY STAYS OPEN
		2.100 RELAY STAYS OPEN: back to normal
	`)
}

// A rise seen where it only warns stands against a stage where it stops.
func TestRiseStandsAgainstTheNextStage(t *testing.T) {
	r := armedWith(t, snagConfig(), trial.Ease)
	r.play(15*time.Second, func(s float64) (float64, float64) { return 1 + 0.15*s, 0 })
	if s := r.g.State(); s.Stop.Kind != NoStop || s.present[VesselMoves] != warned {
		t.Fatalf("rising in ease: stop %+v, level %d; want a warning", s.Stop, s.present[VesselMoves])
	}
	if refused := r.do(NextStage, trial.Pull, Director); !strings.Contains(refused, "TENSION RISING, NO HAUL") {
		t.Errorf("pull while the tension rises with no haul: %q, want a refusal", refused)
	}
	r.must(NextStage, trial.Recover)
}

// Eased away, and rising again without haul: EASE again, though its alarm is
// still up and is not said anew.
func TestRisingAgainIsEaseAgain(t *testing.T) {
	r := armed(t, trial.Hold)
	r.play(12*time.Second, func(s float64) (float64, float64) { return 1 + 0.16*s, 0 })
	r.play(4*time.Second, func(s float64) (float64, float64) { return 0.5, 0 })
	if s := r.g.State(); s.Order != OrderStop || s.Stop.Cause != VesselMoves || s.present[VesselMoves] != absent {
		t.Fatalf("eased: order %v, stop %+v, level %d; want STOP, TENSION RISING, gone", s.Order, s.Stop, s.present[VesselMoves])
	}
	start := r.play(5*time.Second, func(s float64) (float64, float64) { return 2.5, 0 })
	if at := r.ordered(start, OrderEase); at < 0 || count(r.said, AlarmUp, VesselMoves) != 0 {
		t.Errorf("rising again: EASE at %v s, want it, and no alarm anew\n%s", at, story(r.said, start))
	}
}

// Before the first arming a swell about the stop limit is one alarm too.
func TestHeldBeforeArming(t *testing.T) {
	r := newRig(t, testConfig())
	for range 10 {
		r.kN = 8.1
		r.run(time.Second)
		r.kN = 7
		r.run(time.Second)
	}
	if n := count(r.said, AlarmUp, TensionLimit); n != 1 {
		t.Errorf("swinging about the limit: %d alarms, want one\n%s", n, story(r.said, 0))
	}
}

// A cell that is in again has its silence time from then on.
func TestCellBackIsSilentAnew(t *testing.T) {
	r := armed(t, trial.Ease)
	r.kN = 0.1
	r.run(time.Second)
	r.must(TakeCellOff, 0)
	r.noLoad = true
	r.run(30 * time.Second)
	r.must(TakeCellBack, 0)
	r.check(CheckZero, CheckPassed, Director)
	at := r.now
	r.run(3 * time.Second)
	if s := r.g.State(); s.Stop.Cause != LoadSilent || s.Stop.At != at+2*sec {
		t.Errorf("zeroed and silent: stop %+v, want LOAD SILENT 2 s after %v", s.Stop, time.Duration(at))
	}
}
