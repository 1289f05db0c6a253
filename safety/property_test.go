package safety

import (
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"hawse/trial"
)

// What must hold after any input whatever, odd numbers included.
func TestAlwaysHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g, now := begun(t, testConfig())
		var ev Events
		var said int64
		for i, in := range drawInputs(t, 400*ms) {
			before := g.State()
			now += in.dt
			g.feed(now, in, &ev)
			s := g.State()
			if again := g.State(); s != again {
				t.Fatalf("input %d %+v: the state is not equal to itself: %+v", i, in, s)
			}
			if s.T != now {
				t.Fatalf("input %d %+v: state at %d, want %d", i, in, s.T, now)
			}
			director := in.kind == inAct && in.act.Who == Director
			ends := in.kind == inAct && (in.act.What == End || in.act.What == Terminate)
			if want := s.Armed && s.Stop.Kind == NoStop && s.Stage.Hauls(); s.Permit != want {
				t.Fatalf("input %d %+v: permit %v, want %v: %+v", i, in, s.Permit, want, s)
			}
			if s.Permit && !before.Permit && !(director && (in.act.What == Arm || in.act.What == NextStage || in.act.What == Rearm)) {
				t.Fatalf("input %d %+v made the permit rise", i, in)
			}
			if s.Permit && !before.Permit && (s.Session != in.act.Session || s.RelayOn) {
				t.Fatalf("input %d %+v: the permit rose under session %d, relay %v", i, in, s.Session, s.RelayOn)
			}
			if before.Stop.Kind == Trip && s.Stop.Kind != Trip && !(director && in.act.What == Rearm && before.Stop.Acked) {
				t.Fatalf("input %d %+v lifted the trip %+v", i, in, before.Stop)
			}
			if before.Stop.Kind == PlannedEnd && s.Stop.Kind == NoStop && !(director && in.act.What == NextStage) {
				t.Fatalf("input %d %+v lifted the planned end %+v", i, in, before.Stop)
			}
			if (s.Order == NoOrder) != (s.Stop.Kind == NoStop) {
				t.Fatalf("input %d %+v: order %v with stop %+v", i, in, s.Order, s.Stop)
			}
			if s.Armed && !before.Armed && !(director && in.act.What == Arm) || s.Stage != before.Stage && !director {
				t.Fatalf("input %d %+v: armed %v, stage %v", i, in, s.Armed, s.Stage)
			}
			if before.Armed && !s.Armed && s.Stage != trial.Done && !ends {
				t.Fatalf("input %d %+v disarmed", i, in)
			}
			for c := NoCause + 1; c < NumCauses; c++ {
				if s.EverArmed && s.Stop.Kind == NoStop && c.Trips() && s.present[c] == atLimit {
					t.Fatalf("input %d %+v: %v is at its limit and no stop is in force", i, in, c)
				}
				if a := s.Alarms[c]; !c.Planned() && a.Standing() != (s.present[c] > absent) || c.Planned() && a != (Alarm{}) {
					t.Fatalf("input %d %+v: %v is at %d, its alarm %+v", i, in, c, s.present[c], a)
				}
			}
			for _, e := range ev.All() {
				if e.T < said || e.T > now {
					t.Fatalf("input %d %+v at %d: event %+v out of order", i, in, now, e)
				}
				said = e.T
				_, _ = e.Text(g.cfg.Show), e.Fields()
			}
			if ev.Dropped() > 0 {
				t.Fatalf("input %d %+v: %d events dropped", i, in, ev.Dropped())
			}
			ev.Reset()
			g.Margins(nil)
		}
	})
}

// However often the guard is called, it says the same at the same times.
func TestTicksChangeNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := testConfig()
		longest := c.Stall
		if rapid.Bool().Draw(t, "long gaps") {
			c.Stall, longest = math.MaxInt64, 4*sec
		}
		a, now := begun(t, c)
		b := a
		var evA, evB, all Events
		var saidA, saidB []Event
		for _, in := range drawInputs(t, longest) {
			for range rapid.IntRange(0, 3).Draw(t, "ticks") {
				b.Advance(now+rapid.Int64Range(0, in.dt).Draw(t, "tick"), &evB)
			}
			now += in.dt
			a.feed(now, in, &evA)
			b.feed(now, in, &evB)
			saidA, saidB = append(saidA, evA.All()...), append(saidB, evB.All()...)
			evA, evB = all, all
		}
		if diff := cmp.Diff(saidA, saidB); diff != "" {
			t.Fatalf("more ticks say something else (- few, + many):\n%s", diff)
		}
		if a.State() != b.State() {
			t.Fatalf("more ticks end in another state:\n%+v\n%+v", a.State(), b.State())
		}
	})
}

// trippedBy returns when one of the causes of tension came to its limit; never
// is MaxInt64.
func trippedBy(c *Config, ins []input) int64 {
	r := New(c)
	first := int64(math.MaxInt64)
	var ev Events
	now := int64(0)
	r.Advance(0, nil)
	take := func() {
		for _, e := range ev.All() {
			if e.What == AlarmUp && e.On && e.Cause.row().tension {
				first = min(first, e.T)
			}
		}
		ev.Reset()
	}
	for _, in := range ins {
		now += in.dt
		r.feed(now, in, &ev)
		take()
	}
	r.Advance(now+sec, &ev)
	take()
	return first
}

func drawSamples(t *rapid.T) []input {
	ins := make([]input, rapid.IntRange(1, 25).Draw(t, "n"))
	for i := range ins {
		ins[i] = input{kind: inSample, dt: rapid.Int64Range(0, 450*ms).Draw(t, "dt"),
			v:    rapid.SampledFrom([]float64{0, 5000, 7999, 8000, 8500, 9000, 19000, 20000, math.NaN()}).Draw(t, "v"),
			over: rapid.IntRange(0, 20).Draw(t, "over") == 0}
		if rapid.IntRange(0, 4).Draw(t, "bad") == 0 {
			ins[i].kind = inBad
		}
	}
	return ins
}

// Raising any tension sample never makes a stop by tension come later.
func TestRaisingNeverDelays(t *testing.T) {
	c := testConfig()
	rapid.Check(t, func(t *rapid.T) {
		ins := drawSamples(t)
		higher := append([]input(nil), ins...)
		for i := range higher {
			if higher[i].kind == inSample && !math.IsNaN(higher[i].v) && rapid.Bool().Draw(t, "raise") {
				higher[i].v += rapid.Float64Range(0, 15000).Draw(t, "by")
			}
		}
		if low, high := trippedBy(c, ins), trippedBy(c, higher); high > low {
			t.Fatalf("trip at %v, with higher samples at %v\n%+v\n%+v", time.Duration(low), time.Duration(high), ins, higher)
		}
	})
}

// dumbTrip finds the first trip by tension from the whole history at once.
func dumbTrip(ins []input, limit, cell float64) int64 {
	type known struct {
		at          int64
		v           float64
		above, lone bool // above every level; lone: may stand alone
	}
	var words []known
	now := int64(0)
	for _, in := range ins {
		now += in.dt
		if in.kind != inSample {
			continue
		}
		if in.over || math.Abs(in.v) >= cell {
			words = append(words, known{at: now, above: true})
		} else if math.IsNaN(in.v) {
			words = append(words, known{at: now, above: true, lone: true}) // its own trip, not one of tension
		} else {
			words = append(words, known{at: now, v: in.v})
		}
	}
	for i, w := range words {
		if w.above {
			if !w.lone {
				return w.at
			}
			continue
		}
		if w.v < limit {
			continue
		}
		if i > 0 && (words[i-1].above || words[i-1].v >= limit) {
			return w.at
		}
		if i == len(words)-1 || words[i+1].at >= w.at+300*ms {
			return w.at + 300*ms
		}
	}
	return math.MaxInt64
}

func TestDumbTwin(t *testing.T) {
	c := testConfig()
	rapid.Check(t, func(t *rapid.T) {
		ins := drawSamples(t)
		if got, want := trippedBy(c, ins), dumbTrip(ins, 8000, 20000); got != want {
			t.Fatalf("trip at %v, from the whole history at %v\n%+v", time.Duration(got), time.Duration(want), ins)
		}
	})
}

// Bad frames between valid ones change nothing of what is said, and when.
func TestBadFramesDelayNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, now := begun(t, testConfig())
		b := a
		var evA, evB, none Events
		var saidA, saidB []Event
		for _, in := range drawInputs(t, 80*ms) {
			if in.kind == inBad || in.kind == inHeard {
				continue
			}
			if in.kind != inSample && now-a.s.timers.loadWord > 700*ms { // silence is another matter
				in = input{kind: inSample, v: 1000, dt: in.dt}
			}
			for range rapid.IntRange(0, 3).Draw(t, "bad") {
				b.BadFrame(now+rapid.Int64Range(0, in.dt).Draw(t, "at"), Load, &evB)
			}
			now += in.dt
			a.feed(now, in, &evA)
			b.feed(now, in, &evB)
			saidA, saidB = append(saidA, evA.All()...), append(saidB, evB.All()...)
			evA, evB = none, none
		}
		if diff := cmp.Diff(saidA, saidB); diff != "" {
			t.Fatalf("bad frames change what is said (- without, + with):\n%s", diff)
		}
	})
}

// Once armed, a load cell that says nothing valid always ends in a trip,
// whatever else goes on.
func TestSilenceAlwaysTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g, now := begun(t, testConfig())
		g.Do(now, Act{What: Arm, Who: Director, Session: 2}, nil)
		for _, in := range drawInputs(t, 200*ms) {
			now += in.dt
			g.feed(now, in, nil)
		}
		if !g.State().EverArmed {
			return
		}
		for end := now + 2*sec; now < end; {
			in := drawInput(t, 200*ms)
			if in.kind == inSample {
				in.kind = inBad
			}
			now += in.dt
			g.feed(now, in, nil)
		}
		if s := g.State(); s.Stop.Kind != Trip || s.Permit {
			t.Fatalf("no load for 2 s in %v: stop %+v, permit %v; want a trip", s.Stage, s.Stop, s.Permit)
		}
	})
}

// Times that fall, stand or jump to the end of time do no harm.
func TestOddTimes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := New(testConfig())
		last := int64(0)
		for range rapid.IntRange(0, 40).Draw(t, "n") {
			at := rapid.OneOf(rapid.Int64(), rapid.SampledFrom([]int64{math.MinInt64, -1, 0, 1, math.MaxInt64 - 1, math.MaxInt64}), rapid.Int64Range(0, 20*sec)).Draw(t, "t")
			g.feed(at, drawInput(t, 0), nil)
			s := g.State()
			if s.T < last {
				t.Fatalf("time fell from %d to %d", last, s.T)
			}
			last = s.T
			g.Margins(nil)
		}
	})
}
