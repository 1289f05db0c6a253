package safety

import (
	"math"
	"strings"
	"testing"
	"time"

	"hawse/trial"
)

func testTrial() *trial.Trial {
	t := &trial.Trial{
		Rode: []trial.Piece{{Name: "chain", WLL: 12e3}, {Name: "rope", WLL: 15e3}},
		Gear: []trial.Gear{{Name: "shackle", WLL: 10e3}},
		Load: trial.LoadCell{Range: 20e3, Rate: 10},
		Stop: trial.StopOutput{Port: trial.Port{Names: []string{"stop"}}},
		Show: trial.Show{Tension: trial.ForceUnit{Name: "kN", N: 1000}, Length: trial.LengthUnit{Name: "m", M: 1}},
	}
	t.Limits[trial.Pull] = trial.Limits{TensionWarn: 6400, TensionStop: 8000, Haul: 30, ScopeMin: 4}
	return t
}

func TestNewConfig(t *testing.T) {
	tr := testTrial()
	c, err := NewConfig(tr)
	if err != nil {
		t.Fatal(err)
	}
	if c.Weakest != "shackle" || c.WLL != 10e3 || c.Range != 20e3 || !c.HasStopOut || c.Stall != 250*ms || c.Confirm != 300*ms {
		t.Errorf("%+v: want the shackle's 10 kN, a range of 20 kN, a stop output, 250 ms, 300 ms", c)
	}
	// No stage is unlimited: 0.64 and 0.8 of the weakest WLL, a default of
	// common practice, no source.
	for stage := range trial.NumStages {
		if n := c.stopN(stage); n != 8000 {
			t.Errorf("%v stops at %v N, want 8000", stage, n)
		}
		l := c.Limits[stage]
		if l.SilentWarn != time.Second || l.SilentStop != 2*time.Second || l.LineSilentWarn != 2*time.Second || l.LineSilentStop != 5*time.Second {
			t.Errorf("%v: silence %v %v, line %v %v; want 1 s 2 s, 2 s 5 s", stage, l.SilentWarn, l.SilentStop, l.LineSilentWarn, l.LineSilentStop)
		}
	}
	if c.Slack != 800 {
		t.Errorf("slack level %v, want 10 %% of the stop limit", c.Slack)
	}
	tr.Levels = trial.Levels{BareRode: 120, DeadWeight: 250, Known: true}
	if c, err = NewConfig(tr); err != nil || c.Slack != 180 {
		t.Errorf("slack level %v, %v; want 1.5 times the bare rode's 120 N", c.Slack, err)
	}
}

// The trial file that the program itself writes can be guarded.
func TestNewConfigTemplate(t *testing.T) {
	tr, err := trial.ParseTrial("template.toml", []byte(trial.Template()))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := NewConfig(tr); err != nil {
		t.Errorf("the template's limits: %v", err)
	}
}

func TestNewConfigRefuses(t *testing.T) {
	tests := []struct {
		name  string
		spoil func(t *trial.Trial, l *trial.Limits)
		want  string
	}{
		{"NaN", func(_ *trial.Trial, l *trial.Limits) { l.TensionStop = trial.Force(math.NaN()) }, "limits of pull: tension stop (N) is NaN"},
		{"infinite", func(_ *trial.Trial, l *trial.Limits) { l.ScopeMin = math.Inf(1) }, "minimum scope is +Inf"},
		{"negative", func(_ *trial.Trial, l *trial.Limits) { l.Haul = -1 }, "line hauled (m) is -1"},
		{"negative duration", func(_ *trial.Trial, l *trial.Limits) { l.Duration = -time.Second }, "duration (s) is -1"},
		{"warn above stop", func(_ *trial.Trial, l *trial.Limits) { l.TensionWarn = 9000 }, "tension warn 9000 N is above tension stop 8000 N"},
		{"share above one", func(_ *trial.Trial, l *trial.Limits) { l.WLLStop = 1.2 }, "above the WLL itself"},
		{"share warn above stop", func(_ *trial.Trial, l *trial.Limits) { l.WLLWarn, l.WLLStop = 0.9, 0.8 }, "WLL warn 0.9 is above WLL stop 0.8"},
		{"silence too long", func(_ *trial.Trial, l *trial.Limits) { l.SilentStop = 6 * time.Second }, "at most 5 s"},
		{"silence warns late", func(_ *trial.Trial, l *trial.Limits) { l.SilentWarn, l.SilentStop = 3*time.Second, 2*time.Second }, "warn before the stop"},
		{"line silence warns late", func(_ *trial.Trial, l *trial.Limits) {
			l.LineSilentWarn, l.LineSilentStop = 3*time.Second, 2*time.Second
		}, "warn before the stop"},
		{"WLL", func(t *trial.Trial, _ *trial.Limits) { t.Gear[0].WLL = -1 }, `WLL of "shackle" (N) is -1`},
		{"WLL of the rode", func(t *trial.Trial, _ *trial.Limits) { t.Rode[0].WLL = trial.Force(math.NaN()) }, `WLL of "chain" (N) is NaN`},
		{"tension to pull to", func(_ *trial.Trial, l *trial.Limits) { l.TensionEnd = trial.Force(math.NaN()) }, "tension to pull to (N) is NaN"},
		{"scope in ease", func(t *trial.Trial, _ *trial.Limits) { t.Limits[trial.Ease].ScopeMin = 4 }, "limits of ease: line hauled and minimum scope do not exist"},
		{"haul in stopped", func(t *trial.Trial, _ *trial.Limits) { t.Limits[trial.Stopped].Haul = 4 }, "limits of stopped: line hauled and minimum scope do not exist"},
	}
	for _, tt := range tests {
		tr := testTrial()
		tt.spoil(tr, &tr.Limits[trial.Pull])
		_, err := NewConfig(tr)
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: error %v, want it to say %q", tt.name, err, tt.want)
		}
	}
}

// A guard made from nothing is guarded by nothing it could be silent about.
func TestZeroConfigCannotArm(t *testing.T) {
	r := newRig(t, &Config{})
	r.run(time.Second)
	if refused := r.do(Arm, 0, Director); !strings.Contains(refused, "no WLL") {
		t.Errorf("arming with an empty config: %q, want a refusal for want of a WLL", refused)
	}
	if s := r.g.State(); !s.Loaded(r.g.cfg) {
		t.Error("with no slack level 1 kN counts as slack; want loaded")
	}
}

// Ends that do not exist in a stage are taken out of a config made by hand.
func TestNoEndsInEase(t *testing.T) {
	c := testConfig()
	for _, stage := range []trial.Stage{trial.Ease, trial.Recover, trial.Stopped} {
		c.Limits[stage].Haul, c.Limits[stage].ScopeMin = 1, 5
	}
	for _, stage := range []trial.Stage{trial.Ease, trial.Recover, trial.Stopped} {
		r := armedWith(t, c, stage)
		r.x = 40
		r.run(time.Second)
		if s := r.g.State(); s.Stop.Kind != NoStop {
			t.Errorf("%v, 40 m hauled, scope 2.7: stop %+v, want none", stage, s.Stop)
		}
	}
}

func TestLoaded(t *testing.T) {
	c := testConfig()
	r := newRig(t, c)
	loaded := func() bool { s := r.g.State(); return s.Loaded(c) }
	if !loaded() {
		t.Error("nothing heard: slack; want loaded")
	}
	r.kN = 0.1
	r.run(time.Second)
	if loaded() {
		t.Error("0.1 kN, slack level 0.2: loaded; want slack")
	}
	r.kN = 0.2
	r.run(time.Second)
	if !loaded() {
		t.Error("at the slack level: slack; want loaded")
	}
	r.kN = 0.1
	r.run(time.Second)
	r.noLoad = true
	r.run(1100 * time.Millisecond)
	if !loaded() {
		t.Error("slack, then silent for 1.1 s: slack; want loaded")
	}
}
