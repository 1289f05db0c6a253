package safety

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hawse/trial"
)

const (
	ms  = int64(time.Millisecond)
	sec = int64(time.Second)
)

// testConfig is an invented rig: stop 8 kN, weakest WLL 10 kN with a stop at
// 0.9 of it, 60 m of rode out under a fairlead 7.5 m above the bottom.
func testConfig() *Config {
	c := &Config{Weakest: "shackle", WLL: 10e3, Range: 20e3, Slack: 200,
		Show: trial.Show{Tension: trial.ForceUnit{Name: "kN", N: 1000}, Length: trial.LengthUnit{Name: "m", M: 1}}}
	for i := range c.Limits {
		c.Limits[i] = trial.Limits{TensionWarn: 6400, TensionStop: 8000, WLLWarn: 0.7, WLLStop: 0.9}
	}
	c.Limits[trial.Preset].Haul = 5
	c.Limits[trial.Soak].Duration = 10 * time.Minute
	c.Limits[trial.Pull].Haul, c.Limits[trial.Pull].ScopeMin, c.Limits[trial.Pull].Duration = 32, 4, 20*time.Minute
	c.Limits[trial.Hold].ScopeMin = 4
	c.Limits[trial.Recover].TensionWarn, c.Limits[trial.Recover].TensionStop = 4000, 5000
	c.fill()
	return c
}

func lineAt(x float64) Line {
	return Line{X: trial.Length(x), RodeOut: trial.Length(60 - x), Scope: (60 - x) / 7.5, HasX: true, HasS: true}
}

// rig drives a guard as a deck would: load and line ten times a second unless
// a test takes one of them away.
type rig struct {
	t       testing.TB
	g       Guard
	ev      Events
	said    []Event
	now     int64
	kN      float64
	x       float64
	noLoad  bool
	noLine  bool
	welded  bool    // the relay says nothing more when its permit falls
	drift   float64 // m hauled in each step of run, so that tension may change
	session uint32
}

// haulsOn is a drift that keeps a changing tension from looking like a vessel
// that moves, in a test about something else.
const haulsOn = 0.003 // m in 100 ms: 1.8 m/min

func newRig(t testing.TB, c *Config) *rig {
	r := &rig{t: t, g: New(c), kN: 1}
	r.g.Advance(0, &r.ev)
	return r
}

func (r *rig) take() {
	r.t.Helper()
	if r.ev.Dropped() > 0 {
		r.t.Fatalf("at %v: %d events dropped", time.Duration(r.now), r.ev.Dropped())
	}
	said := len(r.said)
	r.said = append(r.said, r.ev.All()...)
	for _, e := range r.said[said:] {
		if e.What == PermitIs && !e.On && !r.welded {
			r.g.Relay(r.now, false, e.Session, &r.ev) // the relay obeys
		}
	}
	r.ev.Reset()
	if s, again := r.g.State(), r.g.State(); s != again {
		r.t.Fatalf("at %v the state is not equal to itself, so there is a NaN in it: %+v", time.Duration(r.now), s)
	}
}

// run lets time pass in steps of 100 ms, with a sample and a count in each.
func (r *rig) run(d time.Duration) {
	r.t.Helper()
	for end := r.now + int64(d); r.now < end; {
		r.now += 100 * ms
		r.x += r.drift
		r.g.Advance(r.now, &r.ev)
		if !r.noLoad {
			n := r.kN * 1000
			if r.drift != 0 && r.now%(200*ms) == 0 {
				n += 0.01 // a live cell flickers while line is hauled
			}
			r.g.Sample(r.now, trial.Force(n), false, &r.ev)
		}
		if !r.noLine {
			r.g.Count(r.now, lineAt(r.x), &r.ev)
		}
		r.take()
	}
}

func (r *rig) sample(after time.Duration, kN float64) {
	r.t.Helper()
	r.now += int64(after)
	r.kN = kN
	r.g.Advance(r.now, &r.ev)
	r.g.Sample(r.now, trial.Force(kN*1000), false, &r.ev)
	r.take()
}

// ramp brings the tension to kN in even steps of 100 ms, too slowly to look
// like a vessel that moves if it is told so.
func (r *rig) ramp(kN float64, in time.Duration) {
	r.t.Helper()
	from, start := r.kN, r.now
	for r.now < start+int64(in) {
		r.kN = from + (kN-from)*float64(r.now+100*ms-start)/float64(in)
		r.run(100 * time.Millisecond)
	}
	r.kN = kN
}

func (r *rig) tick(after time.Duration) {
	r.t.Helper()
	r.now += int64(after)
	r.g.Advance(r.now, &r.ev)
	r.take()
}

func (r *rig) do(kind ActKind, stage trial.Stage, who Who) string {
	r.t.Helper()
	r.session++
	refused := r.g.Do(r.now, Act{What: kind, Who: who, Stage: stage, Session: r.session}, &r.ev)
	r.take()
	return refused
}

func (r *rig) must(kind ActKind, stage trial.Stage) {
	r.t.Helper()
	if refused := r.do(kind, stage, Director); refused != "" {
		r.t.Fatalf("at %v: %v %v refused: %s", time.Duration(r.now), kind, stage, refused)
	}
}

// checkAll does every check that a person does before arming.
func (r *rig) checkAll() {
	r.t.Helper()
	r.checks()
	r.run(time.Second)
}

// checks says them all done, at the present time.
func (r *rig) checks() {
	r.t.Helper()
	for c := CheckZero; c <= ReadyDirector; c++ {
		if c == CheckSlowCell && !r.g.cfg.SlowCell {
			continue
		}
		r.check(c, CheckPassed, Director)
	}
}

func (r *rig) check(c Check, to CheckState, who Who) {
	r.t.Helper()
	if refused := r.g.Do(r.now, Act{What: DoCheck, Check: c, To: to, Who: who}, &r.ev); refused != "" {
		r.t.Fatalf("at %v: %v refused: %s", time.Duration(r.now), c, refused)
	}
	r.take()
}

// armed returns a rig that is armed and in a stage, with both boxes live, the
// relay closed if the stage hauls, and what was said so far forgotten.
func armed(t testing.TB, stage trial.Stage) *rig {
	t.Helper()
	return armedWith(t, testConfig(), stage)
}

func armedWith(t testing.TB, c *Config, stage trial.Stage) *rig {
	t.Helper()
	r := newRig(t, c)
	r.run(time.Second)
	r.checkAll()
	r.must(Arm, 0)
	if stage != trial.StandBy {
		r.must(NextStage, stage)
	}
	if s := r.g.State(); s.Permit {
		r.g.Relay(r.now, true, s.Session, &r.ev)
		r.take()
	}
	r.said = nil
	return r
}

// story is what was said, one event a line with its time.
func story(said []Event, since int64) string {
	show := testConfig().Show
	var b strings.Builder
	for _, e := range said {
		fmt.Fprintf(&b, "%.3f %s\n", seconds(e.T-since), e.Text(show))
	}
	return b.String()
}

func (r *rig) wantStory(since int64, want string) {
	r.t.Helper()
	want = strings.TrimLeft(want, "\n")
	var clean strings.Builder
	for line := range strings.Lines(want) {
		clean.WriteString(strings.TrimLeft(line, "\t"))
	}
	if diff := cmp.Diff(strings.TrimSpace(clean.String()), strings.TrimSpace(story(r.said, since))); diff != "" {
		r.t.Errorf("said, with times from %v (- want, + got):\n%s", time.Duration(since), diff)
	}
}
