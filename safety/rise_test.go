package safety

import (
	"math"
	"strings"
	"testing"
	"time"

	"hawse/trial"
)

// snagConfig is the invented campaign's rig: fibre rode of EA 400 kN, 60 m out,
// dead-weight level 0.25 kN, stop 8 kN, the slope rule at its usual 3 s.
func snagConfig() *Config {
	c := testConfig()
	c.Rode, c.Dead = []trial.Piece{{Length: 60, EA: 400e3}}, 250
	for i := range c.Limits {
		c.Limits[i].SoonWarn = 3 * time.Second
	}
	return c
}

// play lets the deck follow f, which gives tension and line hauled at seconds
// since the start, ten times a second.
func (r *rig) play(d time.Duration, f func(s float64) (kN, x float64)) (start int64) {
	r.t.Helper()
	start = r.now
	r.said = nil
	for r.now < start+int64(d) {
		r.kN, r.x = f(seconds(r.now + 100*ms - start))
		r.run(100 * time.Millisecond)
	}
	return start
}

// up is the first time, in seconds since start, at which an alarm came to its
// limit, or to the level that warns; -1: never.
func (r *rig) up(start int64, c Cause, limit bool) float64 {
	for _, e := range r.said {
		if e.What == AlarmUp && e.Cause == c && e.On == limit {
			return seconds(e.T - start)
		}
	}
	return -1
}

func (r *rig) ordered(start int64, o Order) float64 {
	for _, e := range r.said {
		if e.What == OrderIs && e.Order == o {
			return seconds(e.T - start)
		}
	}
	return -1
}

func count(said []Event, what What, c Cause) (n int) {
	for _, e := range said {
		if e.What == what && e.Cause == c {
			n++
		}
	}
	return n
}

func ramp(s, from, to, in float64) float64 { return from + (to-from)*min(1, max(0, s/in)) }

// Tension that rises while no line is hauled: up by 10 % of the stop limit, 0.8
// kN, within 10 s. The means compared are of 3 s, so an even rise is told 1.5 s
// after it has come that far, on the next half second.
func TestVesselMoves(t *testing.T) {
	const never = -1
	tests := []struct {
		name  string
		stage trial.Stage
		f     func(s float64) (kN, x float64)
		at    float64 // not before
		by    float64 // not after
		ease  bool
	}{
		{"hold, 2.4 to 4.4 kN in 20 s", trial.Hold, func(s float64) (float64, float64) { return ramp(s, 2.4, 4.4, 20), 15 }, 9.5, 10.1, true},
		{"stopped, 4.0 to 8.0 kN in 25 s", trial.Stopped, func(s float64) (float64, float64) { return ramp(s, 4, 8, 25), 15 }, 6.5, 7.1, true},
		{"0.79 kN in 10 s is under the rule", trial.Hold, func(s float64) (float64, float64) { return ramp(s, 2.4, 3.19, 10), 15 }, never, never, false},
		{"2.4 to 4.4 kN in 30 s is too slow for it", trial.Hold, func(s float64) (float64, float64) { return ramp(s, 2.4, 4.4, 30), 15 }, never, never, false},
		{"the same rise with the winch hauling", trial.Pull, func(s float64) (float64, float64) { return ramp(s, 2.4, 4.4, 20), 0.04 * s }, never, never, false},
		{"a step of 1 kN", trial.Hold, func(s float64) (float64, float64) { return ramp(s-1, 2.4, 3.4, 0.1), 15 }, 3, 4.1, true},
		{"a jerk of 4 kN for 0.3 s is none", trial.Hold, func(s float64) (float64, float64) {
			if s > 5 && s <= 5.3 {
				return 6.2, 15
			}
			return 2.2, 15
		}, never, never, false},
		{"while line is paid out", trial.PayOut, func(s float64) (float64, float64) { return ramp(s, 2.4, 4.4, 20), -0.04 * s }, 9.5, 10.1, true},
		{"in recovery it warns", trial.Recover, func(s float64) (float64, float64) { return ramp(s, 1, 4, 20), 15 }, 4, 7, false},
		{"in ease it warns", trial.Ease, func(s float64) (float64, float64) { return ramp(s, 2.4, 4.4, 20), 15 }, 9.5, 10.1, false},
		{"the line that is hauled explains it: 0.04 m at 9 kN/m and more", trial.Pull, func(s float64) (float64, float64) {
			return 2.4 + ramp(s, 0, 0.36, 2), ramp(s, 0, 0.04, 2)
		}, never, never, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := armedWith(t, snagConfig(), tt.stage)
			kN, x := tt.f(0)
			r.x = x
			r.drift = haulsOn / 10
			for i := r.now; r.kN < kN; i++ { // to the start, slowly
				r.ramp(min(kN, r.kN+0.5), 10*time.Second)
			}
			r.drift = 0
			base := r.x - x
			r.run(14 * time.Second)
			if tt.stage.Hauls() {
				r.g.Count(r.now, lineAt(base+x), &r.ev)
			}
			start := r.play(25*time.Second, func(s float64) (float64, float64) {
				kN, x := tt.f(s)
				return kN, base + x
			})
			limit := tt.stage != trial.Recover && tt.stage != trial.Ease
			if at := r.up(start, VesselMoves, limit); at < tt.at || at > tt.by {
				t.Errorf("told at %v s, want between %v and %v\n%s", at, tt.at, tt.by, story(r.said, start))
			}
			if at := r.ordered(start, OrderEase); (at >= 0) != tt.ease || tt.ease && at != r.up(start, VesselMoves, true) {
				t.Errorf("EASE at %v s, want it %v, with the alarm\n%s", at, tt.ease, story(r.said, start))
			}
		})
	}
}

// A known weight of a tenth of the stop limit and more is hung on the cell before
// the first arming: to be seen, no emergency. Nothing is armed on it.
func TestAWeightHungBeforeArmingOnlyWarns(t *testing.T) {
	r := newRig(t, snagConfig())
	hung := func(s float64) (kN, x float64) { return ramp(s-1, 0.08, 1.05, 2), 0 }
	r.play(30*time.Second, func(float64) (float64, float64) { return hung(0) })
	r.checkAll()
	start := r.play(7*time.Second, hung)
	if at, emergency := r.up(start, VesselMoves, false), r.up(start, VesselMoves, true); at < 2 || emergency >= 0 {
		t.Errorf("warned at %v s, at its limit at %v s; want a warning and no more\n%s", at, emergency, story(r.said, start))
	}
	if no := r.do(Arm, 0, Director); !strings.Contains(no, VesselMoves.Title()) {
		t.Errorf("armed on a weight that has just been hung: %q", no)
	}
	r.play(20*time.Second, func(float64) (float64, float64) { return hung(10) })
	if no := r.do(Arm, 0, Director); no != "" {
		t.Errorf("not armed when it had hung still: %q", no)
	}
	// From here on it is what it was.
	start = r.play(10*time.Second, func(s float64) (kN, x float64) { return ramp(s, 1.05, 2.4, 5), 0 })
	if at := r.up(start, VesselMoves, true); at < 0 {
		t.Errorf("armed, and no emergency\n%s", story(r.said, start))
	}
}

// A swell of 6 s and 0.4 kN either way, at any mean, is no vessel that moves,
// and where its crests pass the warning it is one warning, not one a wave.
func TestSwell(t *testing.T) {
	for _, mean := range []float64{0.5, 4, 5.9, 6.1, 6.3, 6.6, 7.5} {
		for _, hauls := range []float64{0, 0.04} {
			for phase := range 2 {
				r := armed(t, trial.Soak)
				swell := func(s float64) float64 { return 0.4 * math.Sin(2*math.Pi*(s/6+float64(phase)/2)) }
				r.drift = haulsOn
				r.ramp(mean, 10*time.Second)
				r.run(3 * time.Second)
				r.drift = 0
				r.run(10 * time.Second)
				if mean > 6.4 {
					r.must(Ack, 0)
				}
				base := r.x
				start := r.play(60*time.Second, func(s float64) (float64, float64) { return mean + swell(s), base + hauls*s })
				if n := count(r.said, AlarmUp, VesselMoves); n != 0 {
					t.Errorf("mean %v, hauling %v m/s: %d times TENSION RISING, NO HAUL, want none\n%s", mean, hauls, n, story(r.said, start))
				}
				want := 0
				if mean < 6.4 && mean+0.4 > 6.45 {
					want = 1 // above it the warning stood before
				}
				if n := count(r.said, AlarmUp, TensionLimit); n != want {
					t.Errorf("mean %v, hauling %v m/s: %d warnings of the limit, want %d\n%s", mean, hauls, n, want, story(r.said, start))
				}
			}
		}
	}
}

// What looks like a rise without haul because the line was lost is none.
func TestRiseNeedsTheLine(t *testing.T) {
	climbs := func(s float64) (float64, float64) { return ramp(s, 2, 5, 20), 0.04 * s }
	prepare := func() *rig {
		r := armedWith(t, snagConfig(), trial.Pull)
		r.drift = haulsOn
		r.ramp(2, 15*time.Second)
		r.drift = 0
		return r
	}
	t.Run("the count jumped", func(t *testing.T) {
		r := prepare()
		base := r.x
		r.play(12*time.Second, func(s float64) (float64, float64) { kN, x := climbs(s); return kN, base + x })
		r.g.Fault(r.now, LineJumped, true, 9, 0.5, &r.ev)
		for range 60 { // rode out is unknown, the tension stays
			r.now += 100 * ms
			r.g.Sample(r.now, trial.Force(r.kN*1000), false, &r.ev)
			r.g.Count(r.now, Line{}, &r.ev)
			r.take()
		}
		if s := r.g.State(); s.Stop.Cause != LineJumped || s.Order != OrderStop || count(r.said, AlarmUp, VesselMoves) != 0 {
			t.Errorf("stop %+v, order %v; want LINE COUNT JUMPED, STOP, and no vessel that moves\n%s", s.Stop, s.Order, story(r.said, 0))
		}
	})
	t.Run("the line is silent", func(t *testing.T) {
		r := prepare()
		base := r.x
		r.play(5*time.Second, func(s float64) (float64, float64) { kN, x := climbs(s); return kN, base + x })
		r.noLine = true
		r.play(4900*time.Millisecond, func(s float64) (float64, float64) { return 2.75 + 0.6*s, r.x })
		if s := r.g.State(); s.Stop.Kind != NoStop {
			t.Errorf("line silent for 4.9 s while the tension rises: stop %+v, want none yet\n%s", s.Stop, story(r.said, 0))
		}
	})
	t.Run("rode out is said anew", func(t *testing.T) {
		r := prepare()
		base := r.x
		r.play(12*time.Second, func(s float64) (float64, float64) { kN, x := climbs(s); return kN, base + x })
		r.g.Said(r.now, lineAt(0), &r.ev)
		r.x = 0
		r.run(3 * time.Second)
		if s := r.g.State(); s.Stop.Kind != NoStop {
			t.Errorf("rode out said anew: stop %+v, want none\n%s", s.Stop, story(r.said, 0))
		}
	})
}

// The time to the limit: a stop only where the trial says so, 0.3 s after it is
// that near; gone when the tension levels off.
func TestLimitSoon(t *testing.T) {
	c := testConfig()
	c.Limits[trial.Pull].SoonWarn, c.Limits[trial.Pull].SoonStop = 3*time.Second, time.Second
	c.Limits[trial.Pull].WLLStop, c.Limits[trial.Pull].WLLWarn = 0, 0
	r := armedWith(t, c, trial.Pull)
	// 0.4 kN/s from 1 kN: 3 s to 8 kN at 6.8 kN, t 14.5; 1 s at 7.6, t 16.5.
	start := r.play(20*time.Second, func(s float64) (float64, float64) { return min(1+0.4*s, 7.8), 0.04 * s })
	if at := r.up(start, LimitSoon, false); !near(at, 14.9, 0.15) {
		t.Errorf("warned at %v s, want 14.9\n%s", at, story(r.said, start))
	}
	if at := r.up(start, LimitSoon, true); !near(at, 16.6, 0.15) || r.g.State().Stop.Cause != LimitSoon {
		t.Errorf("at its limit at %v s, want 16.6, and a stop\n%s", at, story(r.said, start))
	}
	r.run(20 * time.Second)
	if a := r.g.State().Alarms[LimitSoon]; a.State != Returned {
		t.Errorf("level for 20 s at 7.8 kN: %+v, want it returned", a)
	}
	r.must(Ack, 0)
	r.must(Rearm, trial.Pull)
}

// What has come to the limit is not told as near it too.
func TestSoonIsOldNewsAtTheLimit(t *testing.T) {
	c := testConfig()
	c.Limits[trial.Pull].SoonWarn = 3 * time.Second
	r := armedWith(t, c, trial.Pull)
	start := r.play(4*time.Second, func(s float64) (float64, float64) { return ramp(s, 1, 9, 1), 0.4 * s })
	if s := r.g.State(); s.Stop.Cause != TensionLimit || s.present[LimitSoon] != absent {
		t.Errorf("stop %+v, limit soon %d; want TENSION LIMIT, and it gone\n%s", s.Stop, s.present[LimitSoon], story(r.said, start))
	}
}

func TestMayNotComeUp(t *testing.T) {
	c := testConfig()
	c.Limits[trial.Pull].ComeUp, c.Limits[trial.Hold].ComeUp = 1, 1
	r := armedWith(t, c, trial.Pull)
	start := r.play(25*time.Second, func(s float64) (float64, float64) { return 1 + 0.2*s, 0.04 * s })
	if at := r.up(start, MayNotComeUp, true); !near(at, 20.1, 1e-9) { // 5 kN at 20.0, two samples
		t.Errorf("told at %v s, want 20.1\n%s", at, story(r.said, start))
	}
	r.play(20*time.Second, func(s float64) (float64, float64) { return 6 - 0.2*s, 1 + 0.04*s })
	r.must(Ack, 0)
	r.must(NextStage, trial.Ease)
	r.run(time.Second)
	if a := r.g.State().Alarms[MayNotComeUp]; a.State != Acknowledged {
		t.Errorf("eased to 2 kN: %+v, want it to stand until the anchor is up", a)
	}
	r.must(NextStage, trial.Done)
	if a := r.g.State().Alarms[MayNotComeUp]; a.State != Normal {
		t.Errorf("done: %+v, want normal", a)
	}
}

// Line that was eased and is hauled again is hauled: no rise without haul,
// though no more is hauled than there was before.
func TestEasedAndHauledAgain(t *testing.T) {
	r := armed(t, trial.Hold)
	r.play(20*time.Second, func(s float64) (kN, x float64) {
		switch {
		case s < 6:
			return 5, 10
		case s < 10: // 0.4 m eased at 9 kN/m
			return 5 - 0.9*(s-6), 10 - 0.1*(s-6)
		case s < 14:
			return 1.4 + 0.9*(s-10), 9.6 + 0.1*(s-10)
		}
		return 5, 10
	})
	if a := r.g.State().Alarms[VesselMoves]; a.State != Normal {
		t.Errorf("eased by 0.4 m and hauled again: %+v, want nothing\n%s", a, story(r.said, 0))
	}
}
