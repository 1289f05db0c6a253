package safety

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"hawse/trial"
)

// fresh is a guard that goes on from one that broke off, with nothing done yet.
func fresh(t testing.TB, u Used) *rig {
	r := newRig(t, testConfig())
	r.g.GoOn(0, u, &r.ev)
	r.take()
	return r
}

// counted has the line counted on from the log before, x m hauled in all.
func (r *rig) counted(x float64) {
	r.x = x
	r.g.CountedOn(r.now, lineAt(x), &r.ev)
	r.take()
	r.run(200 * time.Millisecond)
}

// 20 m of the lane and 5 m in hold, broken off: what counts, by what is said.
func TestGoesOnWithWhatIsUsed(t *testing.T) {
	pull := Used{Stage: trial.Pull, For: 300 * sec, Hauled: 20, Lane: trial.Pull, InLane: 20, RodeOut: 40}
	hold := Used{Stage: trial.Hold, For: 60 * sec, Hauled: 0.5, Lane: trial.Pull, InLane: 20.5, RodeOut: 39.5}
	say := func(stage trial.Stage) func(r *rig) { return func(r *rig) { r.must(NextStage, stage) } }
	counted := func(r *rig) { r.counted(21) } // 1 m more than at the break
	said := func(out float64) func(r *rig) {
		return func(r *rig) { // the zero of the line is another one
			r.g.Said(r.now, Line{X: 0, RodeOut: trial.Length(out), Scope: out / 7.5, HasX: true, HasS: true}, &r.ev)
			r.take()
		}
	}
	for _, tt := range []struct {
		name     string
		u        Used
		do       []func(r *rig)
		hauled   float64
		lasted   bool // the stage goes on
		laneLeft float64
	}{
		{"stage, then line", pull, []func(r *rig){say(trial.Pull), counted}, 21, true, 21},
		{"line, then stage", pull, []func(r *rig){counted, say(trial.Pull)}, 21, true, 21},
		{"said anew, less is out", pull, []func(r *rig){say(trial.Pull), said(37)}, 23, true, 23},
		{"said anew, more is out", pull, []func(r *rig){say(trial.Pull), said(45)}, 20, true, 20},
		{"said anew twice", pull, []func(r *rig){said(37), said(30), say(trial.Pull)}, 23, true, 23},
		{"by hold into the pull", pull, []func(r *rig){say(trial.Hold), counted, say(trial.Pull)}, 21, false, 21},
		{"hold, hold, said anew", pull, []func(r *rig){say(trial.Hold), say(trial.Ease), said(37), say(trial.Pull)}, 23, false, 23},
		{"hold goes on", hold, []func(r *rig){say(trial.Hold), counted}, 1, true, 21},
		{"from hold into the pull", hold, []func(r *rig){counted, say(trial.Pull)}, 21, false, 21},
		{"into the pull before the line is known", hold, []func(r *rig){say(trial.Pull), counted}, 21, false, 21},
		{"by ease, before the line is known", hold, []func(r *rig){say(trial.Ease), say(trial.Pull), said(30)}, 30, false, 30},
		{"a lane that pay out ends", pull, []func(r *rig){counted, say(trial.PayOut), say(trial.Pull)}, 0, false, 0},
		{"pay out, with the line unknown", pull, []func(r *rig){say(trial.PayOut), said(60), say(trial.Pull)}, 0, false, 0},
		{"another lane", pull, []func(r *rig){counted, say(trial.Preset)}, 0, false, 0},
		{"line ran out meanwhile", pull, []func(r *rig){say(trial.Pull), func(r *rig) { r.counted(18) }}, 18, true, 18},
		{"rode out was unknown", Used{Stage: trial.Pull, For: sec, Hauled: 20, Lane: trial.Pull, InLane: 20}, []func(r *rig){say(trial.Pull), said(30)}, 20, true, 20},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := fresh(t, tt.u)
			r.run(0)
			for _, do := range tt.do {
				do(r)
			}
			x, ok := r.g.s.Hauled()
			if !ok || math.Abs(float64(x)-tt.hauled) > 1e-9 {
				t.Errorf("%v hauled, known %v; want %v\n%s", x, ok, tt.hauled, story(r.said, 0))
			}
			s := r.g.State()
			if lasted := s.StageSince < 0; lasted != tt.lasted {
				t.Errorf("stage since %v; goes on: want %v", time.Duration(s.StageSince), tt.lasted)
			}
			if u := r.g.Used(); tt.laneLeft > 0 && math.Abs(float64(u.InLane)-tt.laneLeft) > 1e-9 {
				t.Errorf("%v in the lane, want %v", u.InLane, tt.laneLeft)
			}
		})
	}
}

// Arming into the pull of before finds its limits used up.
func TestUsedUpIsRefused(t *testing.T) {
	for _, tt := range []struct {
		name, want string
		u          Used
	}{
		{"the lane", "line hauled", Used{Stage: trial.Pull, Hauled: 31.9, Lane: trial.Pull, InLane: 31.9, RodeOut: 58.1}},
		{"the time", "stage duration", Used{Stage: trial.Pull, For: int64(20 * time.Minute), Lane: trial.Pull}},
	} {
		r := fresh(t, tt.u)
		r.counted(2)
		r.checkAll()
		r.must(Arm, 0)
		if refused := r.do(NextStage, trial.Pull, Director); !strings.Contains(strings.ToLower(refused), tt.want) {
			t.Errorf("%s is used up, pull: %q", tt.name, refused)
		}
		r.must(NextStage, trial.Recover)
	}
}

// Warnings that only a check takes away, and what recovery may not pull, stand
// on; the anchor that had moved makes of a steep rise a snag at once.
func TestGoesOnWithWarnings(t *testing.T) {
	was := armedWith(t, sayConfigReady(), trial.Pull)
	was.g.Fault(was.now, ZeroMoved, true, 90, 80, &was.ev)
	was.play(60*time.Second, func(s float64) (float64, float64) { return 1 + live(s) + 0.07*s, 0.04 * s })
	was.kN = 5.2
	was.run(time.Second)
	u := was.g.Used()
	if u.Moved < 1 || !(u.ComeUp >= 5000) || u.Recover != 5000 || u.Stands != 1<<ZeroMoved || u.Step == 0 {
		t.Fatalf("used %+v", u)
	}
	r := newRig(t, sayConfigReady())
	r.g.GoOn(0, u, &r.ev)
	r.take()
	r.x, r.kN = was.x, 5.2
	r.counted(was.x)
	if s := r.g.State(); s.present[ZeroMoved] != atLimit || s.present[MayNotComeUp] != absent {
		t.Errorf("in stand by: zero moved at %d, may not come up at %d", s.present[ZeroMoved], s.present[MayNotComeUp])
	}
	r.must(NextStage, trial.Pull)
	s := r.g.State()
	if s.present[MayNotComeUp] != atLimit || s.rode.moved != u.Moved || s.Load.Step != u.Step {
		t.Errorf("in pull again: may not come up at %d, moved %v, step %v", s.present[MayNotComeUp], s.rode.moved, s.Load.Step)
	}
	if again := r.g.Used(); again.Stands != u.Stands || again.ComeUp != u.ComeUp {
		t.Errorf("handed on: %+v, was %+v", again, u)
	}
	r.g.Do(r.now, Act{What: DoCheck, Check: CheckZero, To: CheckPassed, Who: Director, Taken: true}, &r.ev)
	r.g.raise(r.now, ZeroDue, atLimit, 0, 0, Nobody, &r.ev)
	r.g.Do(r.now, Act{What: DoCheck, Check: CheckZero, To: CheckPassed, Who: Director, Taken: true}, &r.ev)
	if r.g.s.present[ZeroDue] != atLimit {
		t.Error("a zero that was taken over is a check of it")
	}
}

func sayConfigReady() *Config {
	c := sayConfig()
	c.HasStopOut, c.LoadHz, c.LineHz = false, 0, 0
	return c
}

// A guard that goes on, once stage and line are said to hold, has the margins of
// one that was never broken off, whatever comes after, and lets no lane begin
// anew.
func TestGoesOnLikeUnbroken(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := testConfig()
		c.Limits[trial.Hold].Haul, c.Limits[trial.Hold].Duration = 10, time.Minute
		a := New(c)
		a.Advance(0, nil)
		now, x, kN := int64(0), 0.0, 1.0
		spell := func(gs ...*Guard) {
			speed := rapid.SampledFrom([]float64{0, 0.04, 0.3, 1, -0.05}).Draw(t, "m/s")
			slope := rapid.SampledFrom([]float64{0, 0.05, -0.05}).Draw(t, "kN/s")
			for range rapid.IntRange(25, 60).Draw(t, "tenths") {
				now, x, kN = now+100*ms, min(x+speed/10, 58), max(0.1, min(kN+slope/10, 5))
				for _, g := range gs {
					g.Sample(now, trial.Force(1000*kN+float64(now/(100*ms)%2)), false, nil)
					g.Count(now, lineAt(x), nil)
				}
			}
		}
		say := func(gs ...*Guard) {
			stage := rapid.SampledFrom([]trial.Stage{trial.Pull, trial.Pull, trial.Hold, trial.Ease, trial.Preset, trial.PayOut, trial.Stopped, trial.Recover}).Draw(t, "stage")
			for _, g := range gs {
				g.Do(now, Act{What: NextStage, Who: Director, Stage: stage}, nil)
			}
		}
		a.Said(0, lineAt(0), nil)
		for range rapid.IntRange(1, 5).Draw(t, "spells before") {
			say(&a)
			spell(&a)
		}
		u, stage := a.Used(), a.s.Stage
		b := New(c)
		b.Advance(now, nil)
		b.GoOn(now, u, nil)
		if rapid.Bool().Draw(t, "nobody saw") { // line and time go on with no program
			spell(&a)
			u.For = a.s.T - a.s.StageSince
			b = New(c)
			b.Advance(now, nil)
			b.GoOn(now, u, nil)
		}
		if rapid.Bool().Draw(t, "broken off again") { // before anything was said
			u2 := b.Used()
			b = New(c)
			b.Advance(now, nil)
			b.GoOn(now, u2, nil)
		}
		confirm := []func(){func() { b.Do(now, Act{What: NextStage, Who: Director, Stage: stage}, nil) }, func() { b.CountedOn(now, lineAt(x), nil) }}
		for _, i := range rapid.Permutation([]int{0, 1}).Draw(t, "order") {
			confirm[i]()
		}
		for range rapid.IntRange(1, 4).Draw(t, "spells after") {
			spell(&a, &b)
			same(t, &a, &b)
			say(&a, &b)
			same(t, &a, &b)
		}
	})
}

// same holds margins and what is used up of two guards against each other.
func same(t *rapid.T, a, b *Guard) {
	ma, mb := a.Margins(nil), b.Margins(nil)
	if len(ma) != len(mb) {
		t.Fatalf("margins %+v, unbroken %+v", mb, ma)
	}
	for i := range ma {
		p, q := ma[i], mb[i]
		if p.Cause != q.Cause || !near(q.Now, p.Now, 1e-9) || !near(q.Left, p.Left, 1e-9) || !near(q.Share, p.Share, 1e-9) {
			t.Fatalf("%v in %v: margin %+v, unbroken %+v", p.Cause, a.s.Stage, q, p)
		}
	}
	p, q := a.Used(), b.Used()
	if p.Stage != q.Stage || p.For != q.For || p.Lane != q.Lane || !near(float64(q.InLane), float64(p.InLane), 1e-9) || !near(float64(q.Hauled), float64(p.Hauled), 1e-9) {
		t.Fatalf("used %+v, unbroken %+v", q, p)
	}
}

// A lane does not begin anew because the count jumped: not in ease, where the
// line may be unknown, and not where pull is said before the rode out is.
func TestLaneOutlivesAJump(t *testing.T) {
	r := armed(t, trial.Pull)
	r.x = 20
	r.run(300 * time.Millisecond)
	r.g.Count(r.now, Line{}, &r.ev)
	r.g.Fault(r.now, LineJumped, true, 2, 1, &r.ev)
	r.must(NextStage, trial.Stopped)
	r.must(NextStage, trial.Ease)
	r.g.Said(r.now, Line{X: 0, RodeOut: 40, Scope: 40 / 7.5, HasX: true, HasS: true}, &r.ev)
	r.must(Ack, 0)
	r.must(Rearm, trial.Pull)
	if x, ok := r.g.s.Hauled(); x != 20 || !ok {
		t.Errorf("%v of the lane hauled, known %v; want 20", x, ok)
	}

	r = newRig(t, testConfig())
	r.must(NextStage, trial.Pull)
	r.g.Said(r.now, lineAt(3), &r.ev)
	r.x = 13
	r.run(200 * time.Millisecond)
	r.must(NextStage, trial.Hold)
	r.must(NextStage, trial.Pull)
	if x, _ := r.g.s.Hauled(); x != 10 {
		t.Errorf("pull said before the rode out, 10 m, hold, pull: %v hauled, want 10", x)
	}
}
