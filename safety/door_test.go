package safety

import (
	"math"
	"strings"
	"testing"
	"time"

	"hawse/trial"
)

// Every reason not to arm, each one line that says what to do.
func TestArmRefused(t *testing.T) {
	live := func(r *rig) { r.run(time.Second) }
	tests := []struct {
		name  string
		cfg   func(c *Config)
		setup func(r *rig)
		who   Who
		want  string // part of the refusal; "": granted
	}{
		{"all live", nil, live, Director, ""},
		{"not the director", nil, live, Logger, "only the director"},
		{"no load yet", nil, func(r *rig) { r.noLoad = true; r.run(time.Second) }, Director, "load cell has sent nothing valid yet"},
		{"load stale", nil, func(r *rig) { r.run(time.Second); r.noLoad = true; r.run(1500 * time.Millisecond) }, Director, "nothing valid from the load cell for 1.5 s"},
		{"load garbled", nil, func(r *rig) {
			r.run(time.Second)
			for range 30 {
				r.now += 100 * ms
				r.g.BadFrame(r.now, Load, &r.ev)
				r.g.Count(r.now, lineAt(0), &r.ev)
			}
		}, Director, "nothing valid from the load cell for 3.0 s"},
		{"load over range", nil, func(r *rig) { r.run(time.Second); r.g.Sample(r.now, 0, true, &r.ev) }, Director, "LOAD OVER RANGE"},
		{"tension just known", nil, func(r *rig) {
			r.run(time.Second)
			r.g.SampleFelt(r.now+1, Felt{Tension: trial.Force(math.Inf(1)), Felt: 100, NoAngle: true}, false, &r.ev)
			r.sample(100*time.Millisecond, 0.2)
		}, Director, "the tension was unknown until now"},
		{"no line yet", nil, func(r *rig) { r.noLine = true; r.run(time.Second) }, Director, "line encoder has sent nothing valid yet"},
		{"line stale", nil, func(r *rig) { r.run(time.Second); r.noLine = true; r.run(2500 * time.Millisecond) }, Director, "nothing valid from the line encoder for 2.5 s"},
		{"rode out unknown", nil, func(r *rig) {
			r.noLine = true
			r.run(time.Second)
			r.g.Count(r.now, Line{}, &r.ev)
		}, Director, "not armed: rode out is unknown; say it (key o) or call payout"},
		{"depth unknown, preset has no scope limit", nil, func(r *rig) {
			r.noLine = true
			r.run(time.Second)
			r.g.Count(r.now, Line{X: 0, RodeOut: 60, HasX: true}, &r.ev)
		}, Director, ""},
		{"depth unknown, pull has a scope limit", nil, func(r *rig) {
			r.noLine = true
			r.run(time.Second)
			r.g.Do(r.now, Act{What: NextStage, Who: Director, Stage: trial.Pull}, &r.ev)
			r.g.Count(r.now, Line{X: 0, RodeOut: 60, HasX: true}, &r.ev)
		}, Director, "water depth is unknown"},
		{"record failing", nil, func(r *rig) { r.run(time.Second); r.g.Port(r.now, Record, false, &r.ev) }, Director, "record is not reaching the disk"},
		{"screen gone", nil, func(r *rig) { r.run(time.Second); r.g.Port(r.now, Screen, false, &r.ev) }, Director, "SCREEN GONE is not acknowledged"},
		{"judge gone does not matter", nil, func(r *rig) { r.run(time.Second); r.g.Port(r.now, Judge, false, &r.ev) }, Director, ""},
		{"stop output fitted but not open", func(c *Config) { c.HasStopOut = true }, live, Director, "stop output is not open"},
		{"stop output fitted and open", func(c *Config) { c.HasStopOut = true }, func(r *rig) { r.run(time.Second); r.g.Port(r.now, StopOut, true, &r.ev) }, Director, ""},
		{"tension at the limit of the stage to be pulled", func(c *Config) { c.Limits[trial.Preset].TensionStop = 3000 }, func(r *rig) { r.kN = 3.5; r.run(time.Second) }, Director, "tension 3.50 kN is at or above the stop limit of preset, 3.00 kN; ease first"},
		{"tension at the limit", nil, func(r *rig) { r.kN = 8.5; r.run(time.Second) }, Director, "at or above the stop limit"},
		{"tension at the limit of the stage as it is", func(c *Config) { c.Limits[trial.Hold].TensionStop = 3000 }, func(r *rig) {
			r.must(NextStage, trial.Hold)
			r.kN = 3.5
			r.run(time.Second)
		}, Director, "at or above the stop limit of hold"},
		{"no WLL", func(c *Config) { c.WLL = 0 }, live, Director, "no WLL is known"},
		{"the planned end is reached already", nil, func(r *rig) {
			r.run(time.Second)
			r.must(NextStage, trial.Pull)
			r.toScope()
		}, Director, "minimum scope of pull is reached, 3.99 (limit 4.0)"},
		{"the known weight still hangs", func(c *Config) { c.Limits[trial.Preset].TensionEnd = 500 }, func(r *rig) { r.kN = 0.6; r.run(2 * time.Second) }, Director,
			"tension of preset is reached, 0.60 kN (limit 0.5 kN); is the known weight still on the load cell? Take it off, or say another stage"},
		{"stood still, not acknowledged", nil, func(r *rig) { r.run(time.Second); r.tick(time.Second); r.run(time.Second) }, Director, "PROGRAM STOOD STILL is not acknowledged"},
		{"stood still, acknowledged", nil, func(r *rig) { r.run(time.Second); r.tick(time.Second); r.run(time.Second); r.must(Ack, 0) }, Director, ""},
		{"armed already", nil, func(r *rig) { r.run(time.Second); r.must(Arm, 0) }, Director, "armed already"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := testConfig()
			if tt.cfg != nil {
				tt.cfg(c)
			}
			r := newRig(t, c)
			r.checks()
			tt.setup(r)
			r.take()
			stage, armedBefore := r.g.State().Stage, r.g.State().Armed
			refused := r.do(Arm, 0, tt.who)
			s := r.g.State()
			if tt.want == "" {
				if refused != "" || !s.Armed || !s.EverArmed || s.Stage != stage {
					t.Fatalf("refused %q, armed %v, stage %v; want armed in %v", refused, s.Armed, s.Stage, stage)
				}
				return
			}
			if !strings.HasPrefix(refused, "not armed: ") || !strings.Contains(refused, tt.want) || strings.Contains(refused, "\n") {
				t.Errorf("refused %q, want one line with %q", refused, tt.want)
			}
			if s.Armed != armedBefore || s.Permit && !armedBefore {
				t.Errorf("refused, yet armed %v, permit %v", s.Armed, s.Permit)
			}
		})
	}
}

// The permit is armed, no stop, a stage that hauls: nothing else.
func TestPermitByStage(t *testing.T) {
	for stage := range trial.NumStages {
		r := armed(t, stage)
		s := r.g.State()
		if s.Permit != stage.Hauls() {
			t.Errorf("%v: permit %v, want %v", stage, s.Permit, stage.Hauls())
		}
		if s.Armed != (stage != trial.Done) {
			t.Errorf("%v: armed %v; a run that is done is no longer armed", stage, s.Armed)
		}
	}
}

func TestRearmRefused(t *testing.T) {
	tests := []struct {
		name  string
		setup func(r *rig) // from an armed pull
		stage trial.Stage
		who   Who
		want  string
	}{
		{"not acknowledged", func(r *rig) { r.do(CallStop, 0, Logger) }, trial.Pull, Director, "not acknowledged (STOP CALLED)"},
		{"not the director", func(r *rig) { r.do(CallStop, 0, Logger); r.must(Ack, 0) }, trial.Pull, WinchOperator, "only the director"},
		{"no stop", func(*rig) {}, trial.Pull, Director, "no stop is in force"},
		{"no such stage", func(r *rig) { r.do(CallStop, 0, Logger); r.must(Ack, 0) }, trial.NumStages, Director, "no such stage"},
		{"tension still at the limit", func(r *rig) { r.kN = 8.5; r.run(time.Second); r.must(Ack, 0) }, trial.Pull, Director, "at or above the stop limit of pull"},
		{"under the pull's limit, at that of recovery", func(r *rig) {
			r.kN = 8.5
			r.run(time.Second)
			r.kN = 6
			r.run(time.Second)
			r.must(Ack, 0)
		}, trial.Recover, Director, "tension 6.00 kN is at or above the stop limit of recover, 5.00 kN"},
		{"one sample under the limit is not yet gone", func(r *rig) {
			r.kN = 8.5
			r.run(time.Second)
			r.must(Ack, 0)
			r.sample(100*time.Millisecond, 1)
		}, trial.Pull, Director, "tension 8.50 kN is at or above"},
		{"load still silent", func(r *rig) { r.noLoad = true; r.run(3 * time.Second); r.must(Ack, 0) }, trial.Ease, Director, "nothing valid from the load cell"},
		{"acknowledged, then another cause", func(r *rig) {
			r.do(CallStop, 0, Logger)
			r.must(Ack, 0)
			r.kN = 8.5
			r.run(time.Second)
			r.kN = 1
			r.run(time.Second)
		}, trial.Pull, Director, "not acknowledged (TENSION LIMIT)"},
		{"the planned end came meanwhile", func(r *rig) { r.do(CallStop, 0, Logger); r.must(Ack, 0); r.toScope() }, trial.Pull, Director, "minimum scope of pull"},
		{"record failing", func(r *rig) {
			r.do(CallStop, 0, Logger)
			r.g.Port(r.now, Record, false, &r.ev)
			r.take()
			r.must(Ack, 0)
		}, trial.Pull, Director, "record is not reaching the disk"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := armed(t, trial.Pull)
			tt.setup(r)
			before := r.g.State()
			refused := r.do(Rearm, tt.stage, tt.who)
			if !strings.HasPrefix(refused, "not re-armed: ") || !strings.Contains(refused, tt.want) {
				t.Errorf("refused %q, want it to say %q", refused, tt.want)
			}
			if after := r.g.State(); after != before {
				t.Errorf("a refusal changed the state:\n%+v\n%+v", before, after)
			}
		})
	}
}

// The anchor must come up also when the disk is full.
func TestRecoverWithoutRecord(t *testing.T) {
	r := armed(t, trial.Pull)
	r.toScope()
	r.g.Port(r.now, Record, false, &r.ev)
	r.take()
	r.must(NextStage, trial.Recover)
	if !r.g.State().Permit {
		t.Error("recover with a failing record: no permit; want one")
	}
}

func TestNextStageRefused(t *testing.T) {
	tests := []struct {
		name  string
		setup func(r *rig)
		stage trial.Stage
		who   Who
		want  string
	}{
		{"not the director", func(*rig) {}, trial.Ease, Watcher, "only the director"},
		{"no such stage", func(*rig) {}, 200, Director, "no such stage"},
		{"the same stage", func(*rig) {}, trial.Pull, Director, "it is the stage already"},
		{"a trip", func(r *rig) { r.do(CallStop, 0, Logger) }, trial.Recover, Director, "ease and stopped are open"},
		{"a trip, acknowledged", func(r *rig) { r.do(CallStop, 0, Logger); r.must(Ack, 0) }, trial.Hold, Director, "ease and stopped are open"},
		{"recover above its own limit", func(r *rig) { r.kN = 5.5; r.run(time.Second) }, trial.Recover, Director, "at or above the stop limit of recover"},
		{"ease again, when its time is up", func(r *rig) {
			r.g.cfg.Limits[trial.Ease].Duration = time.Second
			r.g.setLimits()
			r.must(NextStage, trial.Ease)
			r.run(2 * time.Second)
		}, trial.Ease, Director, "STAGE DURATION holds there too"},
		{"load silent, a stage that hauls", func(r *rig) { r.noLoad = true; r.run(1200 * time.Millisecond) }, trial.Recover, Director, "nothing valid from the load cell"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := armed(t, trial.Pull)
			tt.setup(r)
			before := r.g.State()
			if refused := r.do(NextStage, tt.stage, tt.who); !strings.Contains(refused, tt.want) {
				t.Errorf("refused %q, want it to say %q", refused, tt.want)
			}
			if after := r.g.State(); after != before {
				t.Errorf("a refusal changed the state:\n%+v\n%+v", before, after)
			}
		})
	}
}

func TestEndAndTerminate(t *testing.T) {
	r := armed(t, trial.Pull)
	if refused := r.do(End, 0, Director); !strings.Contains(refused, "tension 1.00 kN is not under the slack level, 0.20 kN") {
		t.Errorf("ending under load: %q, want the tension and the slack level", refused)
	}
	if refused := r.do(End, 0, Watcher); !strings.Contains(refused, "only the director or the logger") {
		t.Errorf("a watcher ending: %q", refused)
	}
	r.run(10*time.Second + 100*time.Millisecond)
	if refused := r.do(End, 0, Director); refused == "" {
		t.Error("asked again after 10.1 s and granted; want it refused, as if asked first")
	}
	r.run(9 * time.Second)
	if refused := r.do(End, 0, Logger); refused != "" {
		t.Errorf("asked again within 10 s: %q, want it granted", refused)
	}
	if s := r.g.State(); s.Permit || s.Armed {
		t.Errorf("ended: permit %v, armed %v", s.Permit, s.Armed)
	}

	r = armed(t, trial.Pull)
	r.kN = 0.1
	r.run(time.Second)
	if refused := r.do(End, 0, Director); refused != "" {
		t.Errorf("slack: %q, want it granted", refused)
	}

	r = armed(t, trial.Pull)
	if refused := r.do(Terminate, 0, Program); !strings.Contains(refused, "a second request ends") {
		t.Errorf("told to end under load: %q", refused)
	}
	if s := r.g.State(); s.Stop.Cause != Terminated || s.Permit {
		t.Errorf("told to end under load: stop %+v, permit %v", s.Stop, s.Permit)
	}
	if refused := r.do(Terminate, 0, Program); refused != "" {
		t.Errorf("told a second time: %q, want it granted", refused)
	}

	r = armed(t, trial.Pull) // lifted in between, the next request is a first one again
	r.do(Terminate, 0, Program)
	r.must(Ack, 0)
	r.must(Rearm, trial.Pull)
	if refused := r.do(Terminate, 0, Program); refused == "" {
		t.Error("told to end, re-armed, told again: granted; want it refused, as if asked first")
	}

	r = newRig(t, testConfig()) // nothing heard: unknown counts as loaded
	if refused := r.do(Terminate, 0, Program); !strings.Contains(refused, "tension is unknown") {
		t.Errorf("told to end with the load unknown: %q", refused)
	}
}

func TestUnknownAct(t *testing.T) {
	r := armed(t, trial.Pull)
	before := r.g.State()
	for _, kind := range []ActKind{NoAct, NumActs, 255} {
		if refused := r.do(kind, 0, Director); refused == "" {
			t.Errorf("act %v was taken; want a refusal", kind)
		}
	}
	if r.g.State() != before {
		t.Error("an unknown act changed the state")
	}
}
