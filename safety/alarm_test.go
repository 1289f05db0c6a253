package safety

import (
	"testing"
	"time"

	"hawse/trial"
)

// The life of an alarm after the ISA-18.2 / IEC 62682 family (states as read in
// the documentation of a public automation framework that implements them):
// normal, unacknowledged, acknowledged, returned.
func TestAlarmLife(t *testing.T) {
	up := func(g *Guard, l level) { g.raise(1, RecordFailing, l, 0, 0, Nobody, nil) }
	low := func(g *Guard, l level) { g.lower(2, RecordFailing, l, 0, nil) }
	ack := func(g *Guard) { g.acknowledge(3, Director, nil) }
	tests := []struct {
		name  string
		steps func(g *Guard)
		want  AlarmState
	}{
		{"A to B: appears", func(g *Guard) { up(g, atLimit) }, Unacknowledged},
		{"B to C: acknowledged", func(g *Guard) { up(g, atLimit); ack(g) }, Acknowledged},
		{"B to D: clears before it is seen", func(g *Guard) { up(g, atLimit); low(g, absent) }, Returned},
		{"C to A: clears", func(g *Guard) { up(g, atLimit); ack(g); low(g, absent) }, Normal},
		{"C to B: rises", func(g *Guard) { up(g, warned); ack(g); up(g, atLimit) }, Unacknowledged},
		{"C stays: no more than before", func(g *Guard) { up(g, atLimit); ack(g); up(g, atLimit) }, Acknowledged},
		{"D to A: acknowledged", func(g *Guard) { up(g, atLimit); low(g, absent); ack(g) }, Normal},
		{"D to B: reappears", func(g *Guard) { up(g, atLimit); low(g, absent); up(g, warned) }, Unacknowledged},
	}
	for _, tt := range tests {
		g := New(testConfig())
		tt.steps(&g)
		if got := g.s.Alarms[RecordFailing]; got.State != tt.want {
			t.Errorf("%s: %v, want %v", tt.name, got.State, tt.want)
		}
	}
}

func TestAlarmPriority(t *testing.T) {
	g := New(testConfig())
	at := func() Priority { return g.s.Alarms[TensionLimit].Priority }
	g.raise(1, TensionLimit, warned, 6500, 6400, Nobody, nil)
	if at() != Warning || g.s.Alarms[TensionLimit].Since != 1 {
		t.Errorf("at the level that warns: %+v, want a warning since 1", g.s.Alarms[TensionLimit])
	}
	g.raise(2, TensionLimit, atLimit, 8100, 8000, Nobody, nil)
	if at() != Emergency || g.s.Alarms[TensionLimit].Since != 2 {
		t.Errorf("at the limit: %+v, want an emergency since 2", g.s.Alarms[TensionLimit])
	}
	g.lower(3, TensionLimit, warned, 7000, nil)
	if at() != Emergency || g.s.shown[TensionLimit] != atLimit {
		t.Errorf("just back under the limit: %v, shown %d; want the alarm to outlast its cause", at(), g.s.shown[TensionLimit])
	}
	g.fire(3+int64(settled), nil)
	if at() != Emergency || g.s.shown[TensionLimit] != warned {
		t.Errorf("back under the limit and not yet seen: %v, want it still an emergency", at())
	}
	g.acknowledge(4, Director, nil)
	if a := g.s.Alarms[TensionLimit]; a.Priority != Warning || a.State != Acknowledged {
		t.Errorf("seen, above the level that warns: %+v, want an acknowledged warning", a)
	}
}

// An emergency nobody saw does not come back as a mere warning.
func TestUnseenIsNotMadeSmaller(t *testing.T) {
	g := New(testConfig())
	g.raise(1, TensionLimit, atLimit, 8100, 8000, Nobody, nil)
	g.lower(2, TensionLimit, absent, 1000, nil)
	g.settle(2, TensionLimit, 1000, false, nil)
	g.raise(3, TensionLimit, warned, 6500, 6400, Nobody, nil)
	if a := g.s.Alarms[TensionLimit]; a.Priority != Emergency || a.State != Unacknowledged {
		t.Errorf("at the limit, gone unseen, warned of: %+v, want an unacknowledged emergency", a)
	}
}

// Tension that swings about a warning does not chatter, and one that swings
// about the stop limit before arming does not either.
func TestDeadband(t *testing.T) {
	r := armed(t, trial.Soak)
	r.ramp(6.3, 80*time.Second)
	r.said = nil
	for range 50 {
		r.sample(100*time.Millisecond, 6.45)
		r.sample(100*time.Millisecond, 6.45)
		r.sample(100*time.Millisecond, 6.30) // 1.6 % below the warning
		r.sample(100*time.Millisecond, 6.30)
	}
	if len(r.said) != 1 {
		t.Errorf("swinging 1.6 %% below the warning: said %d things, want one\n%s", len(r.said), story(r.said, 0))
	}
	r.said = nil
	r.sample(100*time.Millisecond, 6.2)
	r.sample(100*time.Millisecond, 6.2) // 3.1 % below
	gone := r.now
	for r.now < gone+10*sec-200*ms {
		r.sample(200*time.Millisecond, 6.2)
	}
	if len(r.said) != 0 {
		t.Errorf("3.1 %% below the warning for less than 10 s: said\n%swant nothing yet", story(r.said, 0))
	}
	r.sample(200*time.Millisecond, 6.2)
	if len(r.said) != 1 || r.said[0].What != AlarmDown {
		t.Errorf("3.1 %% below the warning: said\n%swant it back to normal", story(r.said, 0))
	}
}

func TestAckAcknowledgesAll(t *testing.T) {
	r := armed(t, trial.Pull)
	r.g.Port(r.now, Judge, false, &r.ev)
	r.g.Port(r.now, Record, false, &r.ev)
	r.do(CallStop, 0, Logger)
	r.said = nil
	if refused := r.do(Ack, 0, WinchOperator); refused == "" {
		t.Error("the winch operator acknowledged; want a refusal")
	}
	r.must(Ack, 0)
	acked := 0
	for _, e := range r.said {
		if e.What == AlarmAcked && e.Who == Director {
			acked++
		}
	}
	s := r.g.State()
	if acked != 3 || !s.Stop.Acked || s.Alarms[PersonStop].State != Normal || s.Alarms[JudgeGone].State != Acknowledged {
		t.Errorf("%d acknowledged, stop %+v; want 3, the stop among them, the call over, the lost part still standing", acked, s.Stop)
	}
	if refused := r.do(Ack, 0, Director); refused == "" {
		t.Error("acknowledged again with nothing waiting; want to be told so")
	}
}

// Two calls while one stands: each is told, one stop.
func TestCalledTwice(t *testing.T) {
	r := armed(t, trial.Pull)
	r.do(CallStop, 0, WinchOperator)
	r.do(CallStop, 0, Logger)
	s := r.g.State()
	if s.Stop.By != WinchOperator || s.Stop.Later != NoCause {
		t.Errorf("called twice: stop %+v, want the first caller and nothing later", s.Stop)
	}
	ups := 0
	for _, e := range r.said {
		if e.What == AlarmUp {
			ups++
		}
	}
	if ups != 2 {
		t.Errorf("%d calls told, want 2\n%s", ups, story(r.said, 0))
	}
}
