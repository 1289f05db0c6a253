package deck

import (
	"cmp"
	"math"
	"slices"
	"testing"
	"time"

	"hawse/trial"
)

func mustLoad(t testing.TB, name string) *Scenario {
	t.Helper()
	s, err := Load(name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func mustParse(t testing.TB, text string) *Scenario {
	t.Helper()
	s, err := ParseScenario("test.txt", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// hauling is a world whose relay is held closed by beats.
type hauling struct {
	*world
	pace    int64 // from beat to beat
	session uint32
	beats   int
	on      bool
}

func haulingWorld(s *Scenario) *hauling {
	return &hauling{world: newWorld(s, 0, 1), pace: 50 * ms}
}

func (h *hauling) arm() {
	h.session++
	h.beats, h.on = 0, true
	h.hear([]byte(say("ARM %d", h.session)))
}

func (h *hauling) open() {
	h.on = false
	h.hear([]byte(say("OPEN %d", h.session)))
}

// run lets time pass, a beat at a time, until there is nothing left to wait for.
func (h *hauling) run(t testing.TB, most time.Duration, until func() bool) {
	t.Helper()
	for end := h.t + int64(most); !until(); {
		if h.t >= end {
			t.Fatalf("waited %v; x %.3f, tension %.0f N, lever %s, relay closed %v", most, h.x, h.tension(), h.winch.lever, h.relay.Closed())
		}
		h.advance(h.t + h.pace)
		if h.on {
			h.beat()
		}
	}
}

func (h *hauling) beat() {
	h.beats++
	h.hear([]byte(say("BEAT %d %d", h.session, h.beats)))
	h.relay.Take(nil)
}

// The scenarios' tensions. The figures are those of the invented campaign:
// depth 6.0 m, roller 1.5 m, 60 m out at the start, 2.4 m a minute.
func TestScenarioTension(t *testing.T) {
	type row struct {
		x         trial.Length // m
		want, tol float64      // kN
	}
	tests := []struct {
		scenario string
		rows     []row
	}{
		{"textbook", []row{
			{0, 0.08, 0}, {2, 0.08, 0}, {4, 0.40, 0}, {18, 3.10, 0.005}, {18.6, 2.90, 1e-9}, {21, 2.90, 0.15}, {23.5, 2.90, 0.15},
			{24, 2.90, 1e-9}, {30, 2.30, 1e-9},
		}},
		{"too-good", []row{{2, 0.08, 0.001}, {5.2, 6.4, 1e-9}, {6.0, 8.0, 1e-9}, {6.5, 9.0, 1e-9}}},
		{"never-sets", []row{{1, 0.08, 0}, {3, 0.275, 0.075}, {7, 0.275, 0.075}, {12, 0.275, 0.075}}},
		{"breakout", []row{
			{11, 3.8, 1e-9}, {11.016, 0.6, 1e-9}, {16, 3.0, 1e-9}, {21, 3.0, 1e-9}, {21.016, 0.5, 1e-9}, {23, 0.3, 1e-9},
		}},
		{"saw-tooth", []row{{4.001, 1.8, 0.01}, {4.487, 3.0, 0.01}, {4.4995, 1.85, 0.05}, {10.244, 2.4, 0.01}}},
		{"unplug", []row{{9, 2.7, 1e-9}}},
		{"stuck", []row{{7, 2.413, 1e-9}, {7.32, 3.9, 1e-9}}},
		{"over-range", []row{{11, 7.2, 1e-9}}},
		{"bad-record", []row{{18, 3.1, 1e-9}}},
	}
	for _, tt := range tests {
		t.Run(tt.scenario, func(t *testing.T) {
			t.Parallel()
			s := mustLoad(t, tt.scenario)
			s.Winch, s.faults = nil, nil
			h := haulingWorld(s)
			h.pace = 200 * ms
			h.arm()
			h.hand = true
			h.lever(leverHaul, s.Speed)
			slices.SortFunc(tt.rows, func(a, b row) int { return cmp.Compare(a.x, b.x) })
			for _, r := range tt.rows {
				if got := float64(s.Tension(r.x)) / 1000; math.Abs(got-r.want) > r.tol+1e-12 {
					t.Errorf("at x %v the table says %.4f kN, want %.4f +- %.4f", r.x, got, r.want, r.tol)
				}
				h.run(t, time.Hour, func() bool { return h.x >= r.x-0.009 })
				h.beat()
				for h.x < r.x {
					h.advance(h.t + ms/4)
				}
				h.beat()
				if got := float64(h.tension()) / 1000; math.Abs(got-r.want) > r.tol+0.07 {
					t.Errorf("hauled to x %.5f it is %.4f kN, want %.4f +- %.4f", h.x, got, r.want, r.tol)
				}
			}
		})
	}
}

// TestScratchStaysInItsBand: 0.20 to 0.35 kN all the way from take-up.
func TestScratchStaysInItsBand(t *testing.T) {
	s := mustLoad(t, "never-sets")
	lo, hi := math.Inf(1), 0.0
	for x := trial.Length(2.2); x < 12; x += 0.004 {
		v := float64(s.Tension(x)) / 1000
		lo, hi = min(lo, v), max(hi, v)
	}
	if lo < 0.20-1e-9 || hi > 0.35+1e-9 || hi-lo < 0.1 {
		t.Errorf("tension from %.3f to %.3f kN, want a rough line within 0.20 to 0.35", lo, hi)
	}
}

func TestBreakoutTakesItsTime(t *testing.T) {
	h := haulingWorld(mustLoad(t, "breakout"))
	h.arm()
	h.run(t, 10*time.Minute, func() bool { return h.x >= 10.9 })
	var from, to int64
	for to == 0 {
		h.beat()
		h.advance(h.t + ms)
		if h.x <= 11 {
			from = h.t
		}
		if h.tension() <= 600.5 {
			to = h.t
		}
	}
	if got := float64(to-from) / 1e9; math.Abs(got-0.4) > 0.01 {
		t.Errorf("the fall from 3.8 to 0.6 kN took %.3f s, want 0.4 s", got)
	}
}

const ramped = `[facts]
title Ramp
caption Invented data
depth 6 m
fairlead 1.5 m
payout 60 m
speed 6 m/min
ramp 0.3 s
run-on 0.2 s
operator 1 s
stiffness 400 kN
slack 0.08 kN
relax 4 % in 10 s
[tension]
x 0 m 0.08 kN
x 2 m 2.00 kN
x 10 m 3.00 kN
`

func TestWinch(t *testing.T) {
	s := mustParse(t, ramped)
	h := haulingWorld(s)
	h.hand = true
	near := func(what string, got, want, tol float64) {
		t.Helper()
		if math.Abs(got-want) > tol {
			t.Errorf("%s: %.5f, want %.5f", what, got, want)
		}
	}
	h.lever(leverHaul, s.Speed)
	h.advance(1000 * ms)
	near("line hauled with the relay open, m", float64(h.x), 0, 0)

	h.arm()
	for h.t < 2000*ms {
		h.advance(h.t + 50*ms)
		h.beat()
	}
	near("line hauled on a lever put over before the relay closed, m", float64(h.x), 0, 0)

	// Half the ramp, then the whole: distances of a uniform acceleration.
	h.lever(leverHaul, s.Speed)
	h.advance(2150 * ms)
	near("speed after half the ramp, m/s", float64(h.winch.v), 0.05, 1e-9)
	near("line hauled by then, m", float64(h.x), 0.05*0.15/2, 1e-9)
	h.advance(2290 * ms)
	h.hear([]byte(say("BEAT %d 900", h.session)))
	h.advance(2500 * ms)
	near("speed, m/s", float64(h.winch.v), 0.1, 1e-12)
	near("line hauled, m", float64(h.x), 0.1*0.3/2+0.1*0.2, 1e-9)

	at := h.x
	h.open()
	h.advance(2700 * ms)
	near("run-on at full speed, m", float64(h.x-at), 0.1*0.2, 1e-9)
	h.advance(3500 * ms)
	near("run-on and slowing down, m", float64(h.x-at), 0.1*0.2+0.1*0.3/2, 1e-9)
	near("speed then, m/s", float64(h.winch.v), 0, 0)

	at = h.x
	h.lever(leverEase, s.Speed)
	h.advance(4800 * ms)
	near("paid out with the relay open, m", float64(at-h.x), 0.1*0.3/2+0.1*1.0, 1e-9)
	h.lever(leverStop, 0)
	h.advance(9000 * ms)
	near("speed at rest, m/s", float64(h.winch.v), 0, 0)
}

func TestWinchIsTheSameHoweverTimeIsCut(t *testing.T) {
	s := mustParse(t, ramped)
	whole, cut := haulingWorld(s), haulingWorld(s)
	for _, h := range []*hauling{whole, cut} {
		h.hand = true
		h.lever(leverEase, s.Speed)
	}
	whole.advance(5000 * ms)
	for h := cut; h.t < 5000*ms; {
		h.advance(min(h.t+1234567, 5000*ms))
	}
	if d := math.Abs(float64(whole.x - cut.x)); d > 1e-9 {
		t.Errorf("paid out %.6f m in one go, %.6f m in pieces", whole.x, cut.x)
	}
}

// TestOperatorHaulsOn: the relay opens in mid-pull and closes again; the
// operator hauls a second later and the tension comes back to the table at the
// same place.
func TestOperatorHaulsOn(t *testing.T) {
	s := mustParse(t, ramped+"[winch]\nuntil relay closed\nhaul\nuntil x 9 m\nstop\ndone\n")
	h := haulingWorld(s)
	h.arm()
	h.run(t, time.Minute, func() bool { return h.x >= 3 })
	h.open()
	h.run(t, 30*time.Second, func() bool { return h.t >= 60e9 })
	rest, x := h.tension(), h.x
	if h.winch.v != 0 || x > 3.05 {
		t.Fatalf("the winch went on: x %.3f at %.3f m/s", x, h.winch.v)
	}
	if want := 0.96 * s.Tension(x); math.Abs(float64(rest-want)) > 0.005*float64(want) {
		t.Errorf("after a long rest %.0f N, want 4 %% less than the table's %.0f N", rest, s.Tension(x))
	}
	h.arm()
	h.run(t, 2*time.Second, func() bool { return h.t >= h.relay.Log()[len(h.relay.Log())-1].T+900*ms })
	if h.x != x {
		t.Errorf("hauled %.3f m before the operator answered", h.x-x)
	}
	h.run(t, 2*time.Second, func() bool { return h.x > x })
	if d := s.Tension(h.x) - h.tension(); d < 0 {
		t.Errorf("tension %.0f N above the table after a rest", -d)
	}
	h.run(t, time.Minute, func() bool { return h.x >= x+0.1 })
	if got, want := h.tension(), s.Tension(h.x); math.Abs(float64(got-want)) > 1 {
		t.Errorf("at x %.3f m %.0f N, want the table's %.0f N again", h.x, got, want)
	}
	h.run(t, 2*time.Minute, func() bool { return h.done })
}

// TestEaseFollowsTheStiffness: paid out, the tension falls by EA/L a metre down
// to slack, and comes back the same way.
func TestEaseFollowsTheStiffness(t *testing.T) {
	g := &ground{
		pull: curve{rows: []point{{0, 80}, {2, 2000}, {10, 3000}}}, payout: 60, ea: 400e3, slack: 80, relax: 0.04, tau: 10,
	}
	g.start(0)
	g.move(0, 10, 1)
	g.move(10, 9.9, 1)
	if got, want := float64(g.tension(9.9)), 3000-400e3/50.1*0.1; math.Abs(got-want) > 1e-9 {
		t.Errorf("0.1 m paid out: %.1f N, want %.1f N", got, want)
	}
	g.move(9.9, 9, 1)
	if got := g.tension(9); got != 80 {
		t.Errorf("1 m paid out: %v, want slack 80 N", got)
	}
	g.move(9, 9.9, 1)
	if got, want := float64(g.tension(9.9)), 3000-400e3/50.1*0.1; math.Abs(got-want) > 1e-9 {
		t.Errorf("hauled in again: %.1f N, want %.1f N", got, want)
	}
	g.move(9.9, 10, 1)
	if got := g.tension(10); got != 3000 {
		t.Errorf("back where it was: %v, want 3000 N", got)
	}
}
