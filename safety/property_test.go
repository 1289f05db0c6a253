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
			holds := 0
			for _, h := range s.timers.hold {
				if h.on {
					holds++
				}
			}
			if int32(holds) != s.timers.holds {
				t.Fatalf("input %d %+v: %d alarms outlast their cause, counted %d", i, in, holds, s.timers.holds)
			}
			if s.anyAlarm() != (s.FirstUp != NoCause) {
				t.Fatalf("input %d %+v: first up is %v, any alarm %v", i, in, s.FirstUp, s.anyAlarm())
			}
			if s.Cell != CellOn && s.Permit && seating.has(s.Stage) {
				t.Fatalf("input %d %+v: hauling is permitted in %v with the cell %v", i, in, s.Stage, s.Cell)
			}
			if !s.stricter(before) {
				t.Fatalf("input %d %+v made a limit laxer: %+v, was %+v", i, in, s.Lowered, before.Lowered)
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
				a, row := s.Alarms[c], c.row()
				switch {
				case c.Planned():
					if a != (Alarm{}) || s.shown[c] != absent {
						t.Fatalf("input %d %+v: planned end %v has the alarm %+v", i, in, c, a)
					}
					continue
				case a.Standing() != (s.shown[c] > absent) || s.shown[c] < s.present[c]:
					t.Fatalf("input %d %+v: %v is at %d, shown %d, its alarm %+v", i, in, c, s.present[c], s.shown[c], a)
				case s.shown[c] > s.present[c] && (!s.timers.hold[c].on || s.timers.hold[c].until <= s.T):
					t.Fatalf("input %d %+v: %v is shown as %d, is at %d, and nothing will end that: %+v", i, in, c, s.shown[c], s.present[c], s.timers.hold[c])
				case !row.in.has(s.Stage) && !row.keeps && (s.present[c] > absent || a.Standing()):
					t.Fatalf("input %d %+v: %v is not judged in %v, yet at %d, its alarm %+v", i, in, c, s.Stage, s.present[c], a)
				case g.onlyWarns(c) && s.present[c] == atLimit:
					t.Fatalf("input %d %+v: %v only warns in %v, yet it is at its limit", i, in, c, s.Stage)
				case row.cell && (s.Cell != CellOn) != (a.State == Suppressed || a.State == Returned) && (s.Cell != CellOn || a.State == Suppressed):
					t.Fatalf("input %d %+v: the cell is %v, and %v is %v", i, in, s.Cell, c, a.State)
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

// stricter says whether no limit is laxer than before.
func (s *State) stricter(before State) bool {
	down := func(now, was float64) bool { return was == 0 || now != 0 && now <= was }
	a, b := s.Lowered, before.Lowered
	return down(float64(a.TensionWarn), float64(b.TensionWarn)) && down(float64(a.TensionStop), float64(b.TensionStop)) &&
		down(float64(a.Haul), float64(b.Haul)) && a.ScopeMin >= b.ScopeMin
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
			if e.What == AlarmUp && e.On && (e.Cause == TensionLimit || e.Cause == WLLShare || e.Cause == LoadOverRange) {
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

// Limits that are lowered never make the first stop come later.
func TestLoweringNeverDelays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		as, now := begun(t, testConfig())
		b, start := as, now
		stop := int64(math.MaxInt64)
		kN, x := 1.0, 0.0
		for range rapid.IntRange(1, 12).Draw(t, "spells") {
			slope := rapid.Float64Range(-0.5, 1).Draw(t, "kN/s")
			speed := rapid.Float64Range(-0.05, 1.5).Draw(t, "m/s")
			if rapid.Bool().Draw(t, "lower") {
				b.Do(now, Act{What: Lower, Who: Director, Limit: LimitKey(rapid.IntRange(1, int(NumLimits)-1).Draw(t, "limit")),
					Value: rapid.Float64Range(1, 9).Draw(t, "value") * rapid.SampledFrom([]float64{1, 1000}).Draw(t, "times")}, nil)
			}
			for range rapid.IntRange(1, 40).Draw(t, "tenths") {
				kN, x = kN+slope/10, x+speed/10
				now += 100 * ms
				for _, g := range []*Guard{&as, &b} {
					g.Sample(now, trial.Force(kN*1000), false, nil)
					g.Count(now, lineAt(x), nil)
				}
				if as.s.Stop.Kind != NoStop {
					stop = min(stop, as.s.Stop.At)
					if low := b.s.Stop; low.Kind == NoStop || low.At > stop {
						t.Fatalf("%v after the start: stop %+v, with lower limits %+v: %+v", time.Duration(now-start), as.s.Stop, b.s.Lowered, low)
					}
					return
				}
			}
		}
	})
}

// Once armed, a load cell that says nothing valid always ends in a trip,
// whatever else goes on.
func TestSilenceAlwaysTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g, now := begun(t, testConfig())
		g.Do(now, Act{What: Arm, Who: Director, Session: 2}, nil)
		cellOff := false
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
			if in.kind == inAct && in.act.What == DoCheck {
				in.kind = inTick // a cell that is back begins anew
			}
			now += in.dt
			g.feed(now, in, nil)
			cellOff = cellOff || g.State().Cell != CellOn
		}
		if s := g.State(); cellOff { // silence is by design, but then the winch does not pull
			if s.Permit && seating.has(s.Stage) {
				t.Fatalf("the cell is %v and hauling is permitted in %v", s.Cell, s.Stage)
			}
		} else if s.Stop.Kind != Trip || s.Permit {
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
