package safety

import (
	"testing"
	"time"

	"hawse/trial"
)

func TestLoadLost(t *testing.T) {
	tests := []struct {
		name  string
		after func(r *rig) // each 50 ms after the last good sample
		want  string
	}{
		{"silent", func(*rig) {}, `
			1.000 WARNING: LOAD SILENT 1.0 s (warning at 1.0 s)
			2.000 ALARM: LOAD SILENT 2.0 s (limit 2.0 s)
			2.000 STOP: load silent 2.0 s (limit 2.0 s)
			2.000 haul not permitted
			2.000 order: STOP
		`},
		{"garbled", func(r *rig) { r.g.BadFrame(r.now, Load, &r.ev) }, `
			1.000 WARNING: LOAD GARBLED 1.0 s (warning at 1.0 s)
			2.000 ALARM: LOAD GARBLED 2.0 s (limit 2.0 s)
			2.000 STOP: load garbled 2.0 s (limit 2.0 s)
			2.000 haul not permitted
			2.000 order: STOP
		`},
		{"bytes without an end are garbled too", func(r *rig) { r.g.Heard(r.now, Load) }, `
			1.000 WARNING: LOAD GARBLED 1.0 s (warning at 1.0 s)
			2.000 ALARM: LOAD GARBLED 2.0 s (limit 2.0 s)
			2.000 STOP: load garbled 2.0 s (limit 2.0 s)
			2.000 haul not permitted
			2.000 order: STOP
		`},
		{"half a line, then unplugged", func(r *rig) {
			if r.now-r.g.s.timers.loadWord < 200*ms {
				r.g.Heard(r.now, Load)
			}
		}, `
			1.000 WARNING: LOAD SILENT 1.0 s (warning at 1.0 s)
			2.000 ALARM: LOAD SILENT 2.0 s (limit 2.0 s)
			2.000 STOP: load silent 2.0 s (limit 2.0 s)
			2.000 haul not permitted
			2.000 order: STOP
		`},
		{"a second of noise, then unplugged", func(r *rig) {
			if r.now-r.g.s.timers.loadWord < 1100*ms {
				r.g.BadFrame(r.now, Load, &r.ev)
			}
		}, `
			1.000 WARNING: LOAD GARBLED 1.0 s (warning at 1.0 s)
			2.000 LOAD GARBLED: back to normal
			2.000 ALARM: LOAD SILENT 2.0 s (limit 2.0 s)
			2.000 STOP: load silent 2.0 s (limit 2.0 s)
			2.000 haul not permitted
			2.000 order: STOP
		`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := armed(t, trial.Pull)
			start := r.now
			for r.now < start+2200*ms {
				r.now += 50 * ms
				r.g.Advance(r.now, &r.ev)
				tt.after(r)
				r.g.Count(r.now, lineAt(0), &r.ev)
				r.take()
			}
			r.wantStory(start, tt.want)
			r.said = nil
			r.run(time.Second) // it comes back: the stop stays, the alarm for 2 s
			if a := r.g.State().Alarms[r.g.State().Stop.Cause]; a.State != Unacknowledged {
				t.Errorf("1 s after the load came back: alarm %+v, want it to outlast its cause", a)
			}
			r.run(1200 * time.Millisecond)
			if s := r.g.State(); s.Stop.Kind != Trip || s.Permit || s.Alarms[s.Stop.Cause].State != Returned {
				t.Errorf("after the load came back: stop %+v, permit %v, alarm %+v; want the trip latched, alarm returned", s.Stop, s.Permit, s.Alarms[s.Stop.Cause])
			}
		})
	}
}

// The line encoder is watched where its numbers end something or the winch hauls.
func TestLineSilent(t *testing.T) {
	for stage := range trial.NumStages {
		r := armed(t, stage)
		start := r.now
		r.noLine = true
		r.run(6 * time.Second)
		s := r.g.State()
		watched := map[trial.Stage]bool{trial.Preset: true, trial.Pull: true, trial.Hold: true, trial.Recover: true}[stage]
		switch {
		case watched && (s.Stop.Cause != LineSilent || s.Stop.At != start+5*sec):
			t.Errorf("%v: stop %+v, want LINE SILENT 5 s after %v", stage, s.Stop, start)
		case !watched && s.Stop.Kind != NoStop:
			t.Errorf("%v: stop %+v, want none: the line is not watched here", stage, s.Stop)
		}
	}
}

func TestLineSilentGoesWithItsStage(t *testing.T) {
	r := armed(t, trial.Hold)
	r.noLine = true
	r.run(3 * time.Second)
	if a := r.g.State().Alarms[LineSilent]; a.State != Unacknowledged || a.Priority != Warning {
		t.Fatalf("after 3 s without the line: %+v, want an unacknowledged warning", a)
	}
	r.must(NextStage, trial.Ease)
	r.run(10 * time.Second)
	s := r.g.State()
	if s.Alarms[LineSilent].State != Returned || s.Stop.Kind != NoStop {
		t.Errorf("in ease: alarm %+v, stop %+v; want it returned and no stop", s.Alarms[LineSilent], s.Stop)
	}
	if refused := r.do(NextStage, trial.Recover, Director); refused == "" {
		t.Error("recover was entered without the line encoder; want a refusal")
	}
}

// Once armed, a count that leaves a limit without its number does not keep the
// encoder alive.
func TestLineContradictory(t *testing.T) {
	r := armed(t, trial.Pull)
	start := r.now
	for r.now < start+6*sec {
		r.now += 100 * ms
		r.g.Sample(r.now, 1000, false, &r.ev)
		r.g.Count(r.now, Line{RodeOut: 60, HasX: true}, &r.ev) // no scope
		r.take()
	}
	if s := r.g.State(); s.Stop.Cause != LineSilent || s.Stop.At != start+5*sec {
		t.Errorf("counts without a scope: stop %+v, want LINE SILENT after 5 s", s.Stop)
	}
}

// A stage with shorter times than the one left counts the silence so far.
func TestShorterSilenceInNextStage(t *testing.T) {
	c := testConfig()
	c.Limits[trial.Hold].SilentStop, c.Limits[trial.Hold].SilentWarn = time.Second, 500*time.Millisecond
	r := armedWith(t, c, trial.Ease)
	r.noLoad = true
	r.run(1500 * time.Millisecond)
	r.said = nil
	at := r.now
	r.must(NextStage, trial.Hold)
	if s := r.g.State(); s.Stop.Cause != LoadSilent || s.Stop.At != at {
		t.Errorf("entering hold 1.5 s after the last sample: stop %+v, want LOAD SILENT at once\n%s", s.Stop, story(r.said, 0))
	}
}

// A stage with longer times takes back what it does not count as silence yet.
func TestLongerSilenceInNextStage(t *testing.T) {
	for _, c := range []Cause{LoadSilent, LoadGarbled} {
		cfg := testConfig()
		cfg.Limits[trial.Ease].SilentWarn, cfg.Limits[trial.Ease].SilentStop = 3*time.Second, 4*time.Second
		r := armedWith(t, cfg, trial.Hold)
		r.noLoad = true
		for range 15 {
			if c == LoadGarbled {
				r.g.BadFrame(r.now, Load, &r.ev)
			}
			r.run(100 * time.Millisecond)
		}
		if a := r.g.State().Alarms[c]; a.State != Unacknowledged {
			t.Fatalf("1.5 s in hold: %v %+v, want it warned of", c, a)
		}
		r.must(NextStage, trial.Ease)
		if s := r.g.State(); s.present[c] != absent {
			t.Errorf("in ease, which warns after 3 s: %v is at %d, want it gone", c, s.present[c])
		}
		r.run(3 * time.Second)
		if s := r.g.State(); s.Stop.Kind != Trip {
			t.Errorf("4.5 s without the load: stop %+v, want a trip", s.Stop)
		}
	}
}

func TestSilenceBeforeArmingIsAnAlarm(t *testing.T) {
	r := newRig(t, testConfig())
	for range 60 {
		r.tick(100 * time.Millisecond)
	}
	s := r.g.State()
	if s.Stop.Kind != NoStop || s.Alarms[LoadSilent].State != Unacknowledged || s.Alarms[LoadSilent].Priority != AlarmPriority {
		t.Errorf("nothing armed, no load for 6 s: stop %+v, alarm %+v; want an alarm and no stop", s.Stop, s.Alarms[LoadSilent])
	}
}
