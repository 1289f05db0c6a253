package safety

import (
	"math"
	"testing"
	"time"

	"hawse/trial"
)

// The load cell's numbers as they may look, from the stage's start on, hauling
// 2.4 m/min unless it says otherwise, and what is said of them, when.
func TestLoadDoubted(t *testing.T) {
	const kgf = 9.80665e-3 // kN, exact by definition
	hauls := func(s float64) float64 { return 0.04 * s }
	still := func(float64) float64 { return 0 }
	flicker := func(s float64) float64 { return 0.1 * kgf * math.Mod(math.Round(10*s), 2) }
	coarse := func(s, step float64) float64 { return step * math.Floor(s/step) }
	tests := []struct {
		name  string
		stage trial.Stage
		cfg   func(c *Config)
		load  func(s float64) float64 // kN
		line  func(s float64) float64 // m
		d     time.Duration
		cause Cause
		limit bool
		at    float64 // -1: never
	}{
		{"stuck at 2.413 kN", trial.Pull, nil, func(s float64) float64 { return 2.413 }, hauls, 8 * time.Second, LoadUnchanged, true, 5.1},
		{"stuck, hauled too slowly at first", trial.Pull, nil, func(float64) float64 { return 2.413 }, func(s float64) float64 { return 0.02 * s }, 15 * time.Second, LoadUnchanged, true, 10.1},
		{"stuck with nothing hauled", trial.Pull, nil, func(float64) float64 { return 2.413 }, still, 60 * time.Second, LoadUnchanged, true, -1},
		{"stuck in hold, where a level tension is the rule", trial.Hold, nil, func(float64) float64 { return 2.413 }, hauls, 20 * time.Second, LoadUnchanged, true, -1},
		{"a flicker of 0.1 kgf", trial.Pull, nil, func(s float64) float64 { return 2.413 + flicker(s) }, hauls, 120 * time.Second, LoadUnchanged, true, -1},
		{"a flicker once in 4.9 s", trial.Pull, nil, func(s float64) float64 { return 2.4 + 0.1*kgf*math.Floor(s/4.9) }, hauls, 120 * time.Second, LoadUnchanged, true, -1},
		{"a bare rode on a step of 25 N", trial.Pull, func(c *Config) { c.Step = 25 }, func(float64) float64 { return 0.125 }, hauls, 60 * time.Second, LoadUnchanged, true, -1},
		{"20 steps of 25 N are not above 20 steps", trial.Pull, func(c *Config) { c.Step = 25 }, func(float64) float64 { return 0.5 }, hauls, 60 * time.Second, LoadUnchanged, true, -1},
		{"21 steps are", trial.Pull, func(c *Config) { c.Step = 25 }, func(float64) float64 { return 0.525 }, hauls, 20 * time.Second, LoadUnchanged, true, 5.1},
		{"an honest rise on a step of 25 N", trial.Pull, func(c *Config) { c.Step = 25 }, func(s float64) float64 { return coarse(1+0.01*s, 0.025) }, hauls, 100 * time.Second, LoadUnchanged, true, -1},
		{"a rise of one step in 6 s is doubted: the price of a coarse box", trial.Pull, func(c *Config) { c.Step = 25 }, func(s float64) float64 { return coarse(1+0.025/6*s, 0.025) }, hauls, 100 * time.Second, LoadUnchanged, true, 5},

		{"a peak held for a minute", trial.Pull, func(c *Config) { c.Step = 1 }, func(s float64) float64 { return 1 + 0.01*s }, hauls, 70 * time.Second, LoadNeverFalls, true, 60},
		{"a monotone honest rise of 50 s", trial.Pull, func(c *Config) { c.Step = 1 }, func(s float64) float64 { return 1 + 0.05*math.Min(s, 50) - 0.001*math.Max(0, s-50) }, hauls, 100 * time.Second, LoadNeverFalls, true, -1},
		{"one step down in each minute", trial.Pull, func(c *Config) { c.Step = 1 }, func(s float64) float64 { return 1 + 0.01*s - 0.05*math.Floor(s/59) }, hauls, 200 * time.Second, LoadNeverFalls, true, -1},
		{"a rise for a minute with nothing hauled is not hauling", trial.Pull, func(c *Config) { c.Step = 1 }, func(s float64) float64 { return 1 + 0.01*s }, still, 200 * time.Second, LoadNeverFalls, true, -1},
		{"a rise at 50 steps or less", trial.Pull, func(c *Config) { c.Step = 50 }, func(s float64) float64 { return 1 + 0.01*s }, hauls, 150 * time.Second, LoadNeverFalls, true, -1},

		{"below zero by 2 %: reversed", trial.Pull, nil, func(s float64) float64 { return -0.4 }, hauls, 3 * time.Second, LoadReversed, true, 0.2},
		{"just less", trial.Pull, nil, func(s float64) float64 { return -0.399 }, hauls, 3 * time.Second, LoadReversed, true, -1},
		{"is warned of", trial.Pull, nil, func(s float64) float64 { return -0.399 }, hauls, 3 * time.Second, LoadReversed, false, 0.2},
		{"from 0.5 %", trial.Pull, nil, func(s float64) float64 { return -0.1 }, hauls, 3 * time.Second, LoadReversed, false, 0.2},
		{"within the zero band", trial.Pull, nil, func(s float64) float64 { return -0.099 }, hauls, 3 * time.Second, LoadReversed, false, -1},
		{"one sample below zero among good ones", trial.Pull, nil, func(s float64) float64 {
			if math.Mod(math.Round(10*s), 10) == 0 {
				return -1
			}
			return 0.3 + flicker(s)
		}, hauls, 10 * time.Second, LoadReversed, false, -1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := testConfig()
			if tt.cfg != nil {
				tt.cfg(c)
			}
			r := armedWith(t, c, tt.stage)
			r.drift = 0
			for range 60 { // whatever is said while the tension gets there is another matter
				r.drift = haulsOn
				r.run(100 * time.Millisecond)
			}
			r.kN = tt.load(0) + 1e-4
			r.run(400 * time.Millisecond)
			r.drift = 0
			r.said = nil
			x0 := r.x
			start := r.play(tt.d, func(s float64) (float64, float64) { return tt.load(s), x0 + tt.line(s) })
			if tt.cause == LoadReversed {
				start -= 400 * ms
			}
			at := r.up(start, tt.cause, tt.limit)
			switch {
			case tt.cause == LoadReversed:
				s := r.g.State()
				if got := s.present[LoadReversed] == atLimit || !tt.limit && s.present[LoadReversed] == warned; got != (tt.at >= 0) {
					t.Errorf("reversed at %d, want said %v\n%s", s.present[LoadReversed], tt.at >= 0, story(r.said, start))
				}
			case tt.at < 0 && at >= 0 || tt.at >= 0 && !near(at, tt.at, 0.45):
				t.Errorf("said at %v s, want %v\n%s", at, tt.at, story(r.said, start))
			}
		})
	}
}

// To the sample: two good ones in a row below zero, as any tension level.
func TestReversedTimes(t *testing.T) {
	r := armed(t, trial.Pull)
	r.kN = 0.1
	r.run(time.Second)
	r.said = nil
	start := r.now
	r.sample(100*time.Millisecond, -0.5)
	r.sample(100*time.Millisecond, -0.5)
	r.run(time.Second)
	r.wantStory(start, `
		0.200 ALARM: LOAD REVERSED -0.50 kN (limit -0.4 kN)
		0.200 STOP: load reversed -0.50 kN (limit -0.4 kN)
		0.200 haul not permitted
		0.200 order: STOP
	`)
	r.kN = 0
	r.run(9 * time.Second)
	if a := r.g.State().Alarms[LoadReversed]; a.State != Unacknowledged {
		t.Errorf("9 s after it went: %+v, want it still up", a)
	}
	r.run(1200 * time.Millisecond)
	if a := r.g.State().Alarms[LoadReversed]; a.State != Returned {
		t.Errorf("10 s after it went: %+v, want it returned", a)
	}
}

// A cell that comes back with another number lifts nothing, and one that is
// stuck still does not let the pull go on.
func TestUnchangedBlocksReArming(t *testing.T) {
	r := armed(t, trial.Pull)
	r.kN = 2.413
	r.play(6*time.Second, func(s float64) (float64, float64) { return 2.413, 0.04 * s })
	if s := r.g.State(); s.Stop.Cause != LoadUnchanged {
		t.Fatalf("stuck for 6 s: stop %+v, want LOAD UNCHANGED", s.Stop)
	}
	r.must(Ack, 0)
	if refused := r.do(Rearm, trial.Pull, Director); refused == "" {
		t.Error("re-armed with the number still stuck; want a refusal")
	}
	r.must(NextStage, trial.Ease) // it is not judged there
	r.run(time.Second)
	if refused := r.do(Rearm, trial.Pull, Director); refused == "" {
		t.Error("re-armed from ease into pull with the number still stuck; want a refusal")
	}
	r.kN = 3.9
	r.run(time.Second)
	r.must(Rearm, trial.Pull)
}

// The line that runs out while it is to be hauled, and a count that dithers.
func TestLineRunsOut(t *testing.T) {
	tests := []struct {
		name  string
		stage trial.Stage
		line  func(s float64) float64
		warn  float64
		stop  float64
	}{
		{"0.04 m/s from the start", trial.Pull, func(s float64) float64 { return -0.04 * s }, 7.5, 25},
		{"after 2 m hauled", trial.Pull, func(s float64) float64 { return min(0.04*s, 2) - 0.05*max(0, s-50) }, 56, 70},
		{"a count up and down by one", trial.Pull, func(s float64) float64 { return 0.01 * math.Mod(math.Round(10*s), 2) }, -1, -1},
		{"0.29 m of stretch that comes back", trial.Pull, func(s float64) float64 { return 0.29 * math.Cos(s) }, -1, -1},
		{"in recovery line goes both ways", trial.Recover, func(s float64) float64 { return -0.04 * s }, -1, -1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := armed(t, tt.stage)
			if tt.name == "0.29 m of stretch that comes back" {
				tt.line = func(s float64) float64 { return 0.14 * math.Sin(s) }
			}
			start := r.play(75*time.Second, func(s float64) (float64, float64) { return 1 + 1e-5*math.Mod(math.Round(10*s), 2), tt.line(s) })
			if at := r.up(start, LineReversed, false); !near(at, tt.warn, 0.11) {
				t.Errorf("warned at %v s, want %v\n%s", at, tt.warn, story(r.said, start))
			}
			if at := r.up(start, LineReversed, true); !near(at, tt.stop, 0.11) {
				t.Errorf("at its limit at %v s, want %v\n%s", at, tt.stop, story(r.said, start))
			}
		})
	}
}

// A box that sends less than half its rate for 5 s.
func TestLoadSlow(t *testing.T) {
	for _, tt := range []struct {
		every time.Duration
		slow  bool
	}{{100 * time.Millisecond, false}, {190 * time.Millisecond, false}, {230 * time.Millisecond, true}, {900 * time.Millisecond, true}} {
		c := testConfig()
		c.LoadHz = 10
		r := armedWith(t, c, trial.Soak)
		start := r.now
		r.said = nil
		for r.now < start+20*sec {
			for at := r.now + int64(tt.every); r.now+200*ms < at; {
				r.tick(200 * time.Millisecond)
			}
			r.sample(tt.every%(200*time.Millisecond), 1)
			if tt.every%(200*time.Millisecond) == 0 {
				t.Fatal("the test's own steps")
			}
		}
		if at := r.up(start, LoadSlow, true); (at >= 0) != tt.slow || tt.slow && (at < 5 || at > 9) {
			t.Errorf("a line each %v: slow at %v s, want it %v\n%s", tt.every, at, tt.slow, story(r.said, start))
		}
	}
}

// What the decoders find is taken; what the guard judges itself is not.
func TestFaultTaken(t *testing.T) {
	taken := map[Cause]bool{ZeroMoved: true, CellsDisagree: true, CellMissing: true, LineContradicts: true, LineReset: true, LineJumped: true, DepthOutOfBox: true, RecordShort: true, ClockStepped: true}
	for c := NoCause; c <= NumCauses; c++ {
		r := armed(t, trial.Pull)
		before := r.g.State()
		r.g.Fault(r.now, c, true, math.NaN(), math.Inf(1), &r.ev)
		r.take()
		s := r.g.State()
		if !taken[c] {
			if s != before {
				t.Errorf("Fault(%v) changed the state; the guard judges that itself", c)
			}
			continue
		}
		if a := s.Alarms[c]; a.State != Unacknowledged || a.Value != 0 || a.Limit != 0 || (s.Stop.Kind == Trip) != c.Trips() {
			t.Errorf("Fault(%v) with numbers that are none: alarm %+v, stop %+v; want the alarm, values 0, a trip %v", c, a, s.Stop, c.Trips())
		}
		r.g.Fault(r.now, c, false, 0, 0, &r.ev)
		r.take()
		if a := r.g.State().Alarms[c]; a.State != Returned {
			t.Errorf("%v no longer there: alarm %+v, want it returned", c, a)
		}
	}
}

// A lost count comes back by a mark at the fairlead, or by the rode out said.
func TestLineJumpedIsMended(t *testing.T) {
	for name, mend := range map[string]func(r *rig){
		"a mark":        func(r *rig) { r.g.Marked(r.now, lineAt(12), &r.ev) },
		"rode out said": func(r *rig) { r.g.Said(r.now, lineAt(12), &r.ev) },
	} {
		r := armed(t, trial.Pull)
		r.g.Fault(r.now, LineJumped, true, 9, 0.5, &r.ev)
		r.take()
		r.must(Ack, 0)
		if refused := r.do(Rearm, trial.Pull, Director); refused == "" {
			t.Errorf("%s: re-armed before it; want a refusal", name)
		}
		mend(r)
		r.x = 12
		r.run(time.Second)
		r.must(Rearm, trial.Pull)
	}
}

// A mark corrects line hauled in the stage, and is judged at once.
func TestMarkedIsJudged(t *testing.T) {
	r := armed(t, trial.Pull)
	r.x = 29
	r.run(time.Second)
	if s := r.g.State(); s.Stop.Kind != NoStop {
		t.Fatalf("count at 29 m: stop %+v, want none", s.Stop)
	}
	r.g.Marked(r.now, lineAt(30.1), &r.ev)
	r.take()
	s := r.g.State()
	if x, ok := s.Hauled(); s.Stop.Cause != MinimumScope || s.Stop.At != r.now || x != 30.1 || !ok {
		t.Errorf("the 30 m mark at count 29: stop %+v, hauled %v; want MINIMUM SCOPE at once, 30.1 m", s.Stop, x)
	}
}

// What was warned of goes at half of it, and a mark that takes line back is not
// line that runs out.
func TestLineRunsOutBounds(t *testing.T) {
	r := armed(t, trial.Pull)
	at := func(x float64) level {
		r.x = x
		r.run(200 * time.Millisecond)
		return r.g.s.present[LineReversed]
	}
	for _, tt := range []struct {
		x    float64
		want level
	}{{5, absent}, {4.71, absent}, {4.69, warned}, {4.84, warned}, {4.86, absent}} {
		if got := at(tt.x); got != tt.want {
			t.Errorf("most 5 m, now %v: level %d, want %d", tt.x, got, tt.want)
		}
	}
	r.g.Marked(r.now, lineAt(3), &r.ev)
	if got := at(3); got != absent {
		t.Errorf("a mark says 3 m: level %d, want none", got)
	}
	if got := at(2.6); got != warned {
		t.Errorf("0.4 m out since the mark: level %d, want it warned of", got)
	}
}

// The display step is not learnt across a new zero.
func TestStepIsNotLearntFromAZero(t *testing.T) {
	r := armed(t, trial.Pull)
	for _, kN := range []float64{1, 1.025, 1, 1.025} {
		r.sample(100*time.Millisecond, kN)
	}
	r.check(CheckZero, CheckPassed, Logger)
	r.sample(100*time.Millisecond, 1.028)
	if got := r.g.s.Load.Step; !near(float64(got), 25, 1e-6) {
		t.Errorf("steps of 25 N, a zero of 3 N: step %v, want 25", got)
	}
}
