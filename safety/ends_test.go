package safety

import (
	"math"
	"strings"
	"testing"
	"time"

	"hawse/trial"
)

// One count ends nothing: two in a row do, or one that stands alone for 0.3 s.
func TestEndTimes(t *testing.T) {
	type word struct {
		after time.Duration
		x     float64
	}
	msec := func(n int) time.Duration { return time.Duration(n) * time.Millisecond }
	tests := []struct {
		name  string
		words []word
		at    time.Duration // -1: never
	}{
		{"two in a row", []word{{msec(100), 30}, {msec(100), 30}}, msec(200)},
		{"one among others", []word{{msec(100), 30}, {msec(100), 29.9}, {msec(100), 30}, {msec(100), 29.9}, {msec(400), 29.9}}, -1},
		{"one that stands alone", []word{{msec(100), 30.5}}, msec(400)},
		{"one, and another at the very end", []word{{msec(100), 30.5}, {msec(300), 10}}, msec(400)},
		{"one, and another just before", []word{{msec(100), 30.5}, {msec(299), 10}}, -1},
		{"just short", []word{{msec(100), 29.99}, {msec(100), 29.99}, {msec(400), 29.99}}, -1},
	}
	for _, tt := range tests {
		r := armed(t, trial.Pull)
		r.x = 10
		r.run(time.Second)
		start := r.now
		for _, w := range tt.words {
			for at := r.now + int64(w.after); r.now < at; {
				r.tick(min(50*time.Millisecond, time.Duration(at-r.now)))
			}
			r.g.Sample(r.now, 1000, false, &r.ev)
			r.g.Count(r.now, lineAt(w.x), &r.ev)
			if s := r.g.State(); s.Stop.Kind != NoStop {
				break
			}
		}
		r.tick(200 * time.Millisecond)
		r.g.Sample(r.now, 1000, false, &r.ev)
		r.tick(200 * time.Millisecond)
		at := time.Duration(-1)
		if s := r.g.State(); s.Stop.Cause == MinimumScope {
			at = time.Duration(s.Stop.At - start)
		}
		if at != tt.at {
			t.Errorf("%s: minimum scope at %v, want %v\n%s", tt.name, at, tt.at, story(r.said, start))
		}
	}
}

func TestTensionReached(t *testing.T) {
	c := testConfig()
	c.Limits[trial.Preset].TensionEnd = 1334
	c.Limits[trial.Hold].TensionEnd = 1334 // not a stage that seats the anchor: taken out
	r := armedWith(t, c, trial.Preset)
	start := r.now
	r.sample(100*time.Millisecond, 1.333)
	r.sample(100*time.Millisecond, 1.4)
	r.sample(100*time.Millisecond, 1.3)
	r.sample(100*time.Millisecond, 1.334)
	r.sample(100*time.Millisecond, 1.334)
	r.wantStory(start, `
		0.500 STOP: tension 1.33 kN reached (limit 1.33 kN)
		0.500 haul not permitted
		0.500 order: STOP
	`)
	if refused := r.do(NextStage, trial.Preset, Director); !strings.Contains(refused, "tension of preset is reached") {
		t.Errorf("preset again: %q, want to be told that it is reached", refused)
	}
	r.must(NextStage, trial.Pull)
	r.must(NextStage, trial.Hold)
	r.run(time.Second)
	if s := r.g.State(); s.Stop.Kind != NoStop {
		t.Errorf("in hold: stop %+v, want none", s.Stop)
	}
}

// What may not pass the fairlead: cell at 20 m from the anchor, then the
// anchor, 1 m to keep.
func TestAtFairlead(t *testing.T) {
	c := testConfig()
	c.Things, c.KeepOut = []trial.Joint{{Name: "cell", At: 20}, {Name: "anchor"}}, 1
	c.Limits[trial.Pull].ScopeMin, c.Limits[trial.Pull].Haul = 0, 0
	for _, stage := range []trial.Stage{trial.Preset, trial.Pull, trial.Recover} {
		c.Limits[trial.Preset].Haul = 0
		r := armedWith(t, c, stage)
		r.x = 38.9
		r.run(time.Second)
		if s := r.g.State(); s.Stop.Kind != NoStop {
			t.Fatalf("%v, 0.1 m to go: stop %+v", stage, s.Stop)
		}
		if m, _ := r.margin(AtFairlead); m.Name != "cell" || !near(m.Left, 0.1, 1e-9) || m.Limit != 1 {
			t.Errorf("%v: margin %+v, want 0.1 m to the cell", stage, m)
		}
		r.said = nil
		start := r.now
		r.x = 39
		r.run(200 * time.Millisecond)
		r.wantStory(start, `
			0.200 STOP: cell at the fairlead, 1.00 m left (limit 1.0 m)
			0.200 haul not permitted
			0.200 order: STOP
		`)
		if refused := r.do(NextStage, trial.Recover, Director); stage != trial.Recover && refused == "" {
			t.Errorf("recover with the cell at the fairlead; want a refusal")
		}
		do := func(who Who, thing int) string {
			return r.g.Do(r.now, Act{What: Clear, Who: who, Thing: thing, Session: 50}, &r.ev)
		}
		for _, bad := range []struct {
			who   Who
			thing int
		}{{WinchOperator, 0}, {Director, 1}, {Director, 2}, {Director, -1}, {Director, math.MaxInt}} {
			before := r.g.State()
			if refused := do(bad.who, bad.thing); refused == "" || r.g.State() != before {
				t.Errorf("clear %d by %v: %q; want a refusal that changes nothing", bad.thing, bad.who, refused)
			}
		}
		if refused := do(Director, 0); refused != "" {
			t.Fatalf("clear: %s", refused)
		}
		if refused := do(Director, 0); refused == "" {
			t.Error("cleared twice; want to be told")
		}
		if s := r.g.State(); s.Permit {
			t.Error("cleared, and hauling is permitted by it; want the next stage first")
		}
		r.must(NextStage, trial.Recover)
		r.x = 59
		r.run(200 * time.Millisecond)
		if s := r.g.State(); s.Stop.Cause != AtFairlead || s.Permit {
			t.Errorf("the anchor 1 m off: stop %+v, want AT THE FAIRLEAD", s.Stop)
		}
	}
}

// A thing at the fairlead is gone from there once it is 0.1 m farther off, so
// that a count that dithers is one end.
func TestAtFairleadDithers(t *testing.T) {
	c := testConfig()
	c.Things, c.KeepOut = []trial.Joint{{Name: "cell", At: 20}}, 1
	r := armedWith(t, c, trial.Recover)
	at := func(x float64) {
		r.x = x
		r.run(200 * time.Millisecond)
	}
	r.said = nil
	for _, x := range []float64{39, 38.95, 39, 38.91, 39} {
		at(x)
	}
	ends := func() int { return count(r.said, StopSet, AtFairlead) + count(r.said, EndReached, AtFairlead) }
	if ends() != 1 {
		t.Errorf("dithering by less than 0.1 m: %d ends, want one\n%s", ends(), story(r.said, 0))
	}
	at(38.8)
	at(39)
	if ends() != 2 {
		t.Errorf("0.2 m off and back: %d ends, want another\n%s", ends(), story(r.said, 0))
	}
}
