package safety

import (
	"os"
	"strings"
	"testing"
	"time"

	"hawse/trial"
)

// stopState is where the guard stands in the drawing of the stop's life.
func stopState(s State) string {
	switch {
	case s.Stop.Kind == Trip && s.Stop.Acked:
		return "trip, acknowledged"
	case s.Stop.Kind == Trip:
		return "trip"
	}
	return s.Stop.Kind.String()
}

// toScope hauls until the minimum scope, a planned end, is reached.
func (r *rig) toScope() {
	r.x = 30.1
	r.run(200 * time.Millisecond)
}

// The table that is drawn is what the guard does: each arrow is walked.
func TestStopLife(t *testing.T) {
	from := map[string]func(r *rig){
		"no stop":            func(*rig) {},
		"planned end":        func(r *rig) { r.toScope() },
		"trip":               func(r *rig) { r.do(CallStop, 0, Watcher) },
		"trip, acknowledged": func(r *rig) { r.do(CallStop, 0, Watcher); r.must(Ack, 0) },
	}
	tension := func(r *rig) { r.sample(50*time.Millisecond, 8.1); r.sample(50*time.Millisecond, 8.1) }
	walks := map[string]func(r *rig){
		"no stop/a planned end, once armed":                                                   func(r *rig) { r.toScope() },
		"no stop/a trip, once armed":                                                          tension,
		"no stop/anybody calls stop, at any time":                                             func(r *rig) { r.do(CallStop, 0, Nobody) },
		"no stop/a trip is taken over from a log that broke off":                              func(r *rig) { r.latch(Latched{Cause: LineJumped}) },
		"planned end/director: a next stage where that end does not hold":                     func(r *rig) { r.must(NextStage, trial.Recover) },
		"planned end/director: next stage ease or stopped":                                    func(r *rig) { r.must(NextStage, trial.Ease) },
		"planned end/another planned end":                                                     func(r *rig) { r.x = 32; r.run(100 * time.Millisecond) },
		"planned end/a trip, or anybody calls stop":                                           tension,
		"trip/director acknowledges":                                                          func(r *rig) { r.must(Ack, 0) },
		"trip/another trip":                                                                   tension,
		"trip/director: next stage ease or stopped":                                           func(r *rig) { r.must(NextStage, trial.Stopped) },
		"trip, acknowledged/another trip, or the same after its alarm went down":              func(r *rig) { r.do(CallStop, 0, Logger) },
		"trip, acknowledged/director: next stage ease or stopped":                             func(r *rig) { r.must(NextStage, trial.Ease) },
		"trip, acknowledged/director re-arms, causes gone by the limits of the stage entered": func(r *rig) { r.must(Rearm, trial.Recover) },
	}
	for _, s := range stopLife {
		t.Run(s.from+"/"+s.when, func(t *testing.T) {
			walk := walks[s.from+"/"+s.when]
			if walk == nil {
				t.Fatal("the drawing has an arrow that no test walks")
			}
			r := armed(t, trial.Pull)
			from[s.from](r)
			if got := stopState(r.g.State()); got != s.from {
				t.Fatalf("start: %q, want %q", got, s.from)
			}
			walk(r)
			st := r.g.State()
			if got := stopState(st); got != s.to {
				t.Errorf("came to %q, want %q\n%s", got, s.to, story(r.said, 0))
			}
			if st.Stop.Kind != NoStop && (st.Permit || st.Order == NoOrder) {
				t.Errorf("stop in force with permit %v, order %v", st.Permit, st.Order)
			}
			if st.Stop.Kind == NoStop && st.Order != NoOrder {
				t.Errorf("no stop in force, but order %v", st.Order)
			}
		})
	}
	if len(walks) != len(stopLife) {
		t.Errorf("%d arrows are walked, %d are drawn", len(walks), len(stopLife))
	}
}

func TestOrderLife(t *testing.T) {
	ease := func(r *rig) { // a call, then tension that the winch does not make
		r.do(CallStop, 0, Director)
		r.kN = 8.5
		r.run(200 * time.Millisecond)
	}
	rises := func(r *rig) { r.kN = 3; r.run(5 * time.Second) }
	walks := map[string]struct{ start, walk func(r *rig) }{
		"no stop in force/a stop is set": {func(*rig) {}, func(r *rig) { r.toScope() }},
		"STOP/tension at its stop limit 3 s after the stop, or later": {func(r *rig) { r.kN = 8.5; r.run(200 * time.Millisecond) },
			func(r *rig) { r.run(3 * time.Second) }},
		"STOP/a tension trip after a stop for something else":           {func(r *rig) { r.toScope() }, func(r *rig) { r.kN = 8.5; r.run(200 * time.Millisecond) }},
		"no stop in force/a stop is set by tension rising with no haul": {func(*rig) {}, rises},
		"no stop in force/a stop is taken over that asked for EASE":     {func(*rig) {}, func(r *rig) { r.latch(Latched{Cause: VesselMoves, Order: OrderEase}) }},
		"no stop in force/a stop is taken over that was abandoned":      {func(*rig) {}, func(r *rig) { r.latch(Latched{Cause: PersonStop, Order: OrderAbandon}) }},
		"STOP/tension rising with no haul":                              {func(r *rig) { r.toScope(); r.kN = 1.01; r.run(4 * time.Second) }, rises},
		"EASE/tension under 20 % of the stop limit for 2 s":             {ease, func(r *rig) { r.kN = 1.5; r.run(2100 * time.Millisecond) }},
		"any/director: abandon":                                         {ease, func(r *rig) { r.must(Abandon, 0) }},
		"any/the stop is lifted": {ease, func(r *rig) {
			r.kN = 1
			r.run(300 * time.Millisecond)
			r.must(Ack, 0)
			r.must(Rearm, trial.Pull)
		}},
	}
	for _, s := range orderLife {
		t.Run(s.from+"/"+s.when, func(t *testing.T) {
			w, ok := walks[s.from+"/"+s.when]
			if !ok {
				t.Fatal("the drawing has an arrow that no test walks")
			}
			r := armed(t, trial.Pull)
			w.start(r)
			if got := r.g.State().Order.String(); s.from != "any" && got != s.from {
				t.Fatalf("start: order %q, want %q", got, s.from)
			}
			w.walk(r)
			if got := r.g.State().Order.String(); got != s.to {
				t.Errorf("order %q, want %q\n%s", got, s.to, story(r.said, 0))
			}
		})
	}
	if len(walks) != len(orderLife) {
		t.Errorf("%d arrows are walked, %d are drawn", len(walks), len(orderLife))
	}
}

// Each arrow in the life of an alarm is walked.
func TestAlarmLifeIsWalked(t *testing.T) {
	slack := func(r *rig) { // reversed is a fault of the load cell that stands while the rode is slack
		r.must(NextStage, trial.Ease)
		r.kN = -0.2
		r.run(500 * time.Millisecond)
	}
	gone := func(r *rig) { r.kN = 0.1; r.run(11 * time.Second) }
	ack := func(r *rig) { r.must(Ack, 0) }
	seen := func(r *rig) { slack(r); ack(r) }
	out := func(r *rig) {
		r.x = 10
		r.run(300 * time.Millisecond)
		r.x = 9.6
		r.run(300 * time.Millisecond)
	}
	walks := map[string]struct {
		c           Cause
		start, walk func(r *rig)
	}{
		"normal/its cause appears": {LoadReversed, func(*rig) {}, slack},
		"normal/director takes the load cell off (faults of the load cell)": {LoadSilent, func(r *rig) { r.must(NextStage, trial.Ease); gone(r) },
			func(r *rig) { r.must(TakeCellOff, 0) }},
		"unacknowledged/director acknowledges":                                   {LoadReversed, slack, ack},
		"unacknowledged/director acknowledges what only happens, such as a call": {PersonStop, func(r *rig) { r.do(CallStop, 0, Logger) }, ack},
		"unacknowledged/its cause has been gone for its time to stay up":         {LoadReversed, slack, gone},
		"unacknowledged/the stage entered does not judge it":                     {LineReversed, out, func(r *rig) { r.must(NextStage, trial.Ease) }},
		"acknowledged/its cause comes from its warning to its limit":             {LoadReversed, seen, func(r *rig) { r.kN = -0.5; r.run(500 * time.Millisecond) }},
		"acknowledged/its cause has been gone for its time to stay up":           {LoadReversed, seen, gone},
		"acknowledged/the stage entered does not judge it":                       {LineReversed, func(r *rig) { out(r); ack(r) }, func(r *rig) { r.must(NextStage, trial.Ease) }},
		"returned, unacknowledged/director acknowledges":                         {LoadReversed, func(r *rig) { slack(r); gone(r) }, ack},
		"returned, unacknowledged/its cause appears again":                       {LoadReversed, func(r *rig) { slack(r); gone(r) }, func(r *rig) { r.kN = -0.2; r.run(500 * time.Millisecond) }},
		"suppressed by design/the load cell is in again and zeroed": {LoadSilent, func(r *rig) {
			r.must(NextStage, trial.Ease)
			gone(r)
			r.must(TakeCellOff, 0)
		}, func(r *rig) { r.must(TakeCellBack, 0); r.check(CheckZero, CheckPassed, Logger) }},
	}
	for _, s := range alarmLife {
		t.Run(s.from+"/"+s.when, func(t *testing.T) {
			w, ok := walks[s.from+"/"+s.when]
			if !ok {
				t.Fatal("the drawing has an arrow that no test walks")
			}
			r := armed(t, trial.Pull)
			w.start(r)
			if got := r.g.State().Alarms[w.c].State.String(); got != s.from {
				t.Fatalf("start: %v is %q, want %q\n%s", w.c, got, s.from, story(r.said, 0))
			}
			w.walk(r)
			if got := r.g.State().Alarms[w.c].State.String(); got != s.to {
				t.Errorf("%v came to %q, want %q\n%s", w.c, got, s.to, story(r.said, 0))
			}
		})
	}
	if len(walks) != len(alarmLife) {
		t.Errorf("%d arrows are walked, %d are drawn", len(walks), len(alarmLife))
	}
}

// The drawing in the package's documentation is the one made from the tables.
func TestLifeIsDocumented(t *testing.T) {
	doc, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	var want strings.Builder
	for line := range strings.Lines(life()) {
		if line == "\n" {
			want.WriteString("//\n")
		} else {
			want.WriteString("//\t" + line)
		}
	}
	if !strings.Contains(string(doc), want.String()) {
		t.Errorf("doc.go does not hold the drawing; it should read:\n%s", want.String())
	}
}
