package safety

import (
	"math"
	"testing"
	"time"

	"hawse/trial"
	"hawse/trial/rode"
)

// A rode that hangs on something: 44 m of EA 400 kN at 2.4 m/min, 9.1 kN/m and
// 0.36 kN/s, from 2.0 to 8.0 kN in 16.5 s.
func TestSnag(t *testing.T) {
	tests := []struct {
		name  string
		drag  float64 // m hauled before, the anchor giving way
		cause Cause
		other Cause
	}{
		{"after the anchor has moved", 6, Snag, AnchorNotMoving},
		{"from the beginning", 0, AnchorNotMoving, Snag},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := armedWith(t, snagConfig(), trial.Pull)
			r.x = 16 - tt.drag
			r.g.Said(r.now, lineAt(r.x), &r.ev)
			if tt.drag > 0 {
				r.play(time.Duration(tt.drag/0.04)*time.Second, func(s float64) (float64, float64) { return ramp(s, 1, 2, 150), 10 + 0.04*s })
			} else {
				r.drift = haulsOn / 3
				r.ramp(0.45, time.Second)
				r.drift = 0
				r.run(20 * time.Second)
			}
			slope := 400.0 / 44 * 0.04 // kN/s, taken as even
			from, x0 := r.kN, r.x
			start := r.play(30*time.Second, func(s float64) (float64, float64) { return from + slope*s, x0 + 0.04*s })
			at := r.up(start, tt.cause, true)
			if hauled := at * 0.04; at < 0 || tt.drag > 0 && (hauled < 0.15 || hauled > 0.25) {
				t.Errorf("%v at %.2f s, after %.3f m; want it within 0.25 m\n%s", tt.cause, at, hauled, story(r.said, start))
			}
			if n := count(r.said, AlarmUp, tt.other); n != 0 {
				t.Errorf("%v said %d times, want never\n%s", tt.other, n, story(r.said, start))
			}
			// 3 s before the limit at 0.36 kN/s is 6.9 kN, and 0.3 s must pass.
			soon := r.up(start, LimitSoon, false)
			if kN := from + slope*soon; soon < 0 || kN < 6.85 || kN > 7.15 {
				t.Errorf("STOP LIMIT SOON at %.2f s, %.2f kN; want about 6.9 to 7.1\n%s", soon, kN, story(r.said, start))
			}
			stop := r.g.State().Stop
			if kN := from + slope*seconds(stop.At-start); stop.Cause != TensionLimit || kN < 8 || kN > 8+2*0.1*slope+1e-9 {
				t.Errorf("stop %+v at %.3f kN; want TENSION LIMIT within two samples of 8 kN", stop, kN)
			}
			if at := r.ordered(start, OrderEase); !near(at, seconds(stop.At-start)+3, 1e-9) {
				t.Errorf("EASE at %v s, want it 3 s after the stop, since the tension stays", at)
			}
			if count(r.said, AlarmUp, VesselMoves) != 0 {
				t.Errorf("a snag is no vessel that moves\n%s", story(r.said, start))
			}
		})
	}
}

// A count may be anything: line far beyond any rode, either way, is no panic.
func TestSlopeAtAnyLine(t *testing.T) {
	for _, x0 := range []float64{0, -0.3, -1e6, 1e6, -1e18, 1e18, math.MaxFloat64, -math.MaxFloat64, math.Inf(1), math.Inf(-1), math.NaN()} {
		var r rodeSlope
		for i := range 20 {
			x := x0 + 0.06*float64(i)
			r.add(x, 1000)
			r.held(x)
			r.leave(x, 1000)
		}
	}
}

// An anchor that sticks and slips rises by the rode's own stiffness at each tooth.
// Only a rise above what it held before may be a snag.
func TestTeethAreNoSnag(t *testing.T) {
	r := armedWith(t, snagConfig(), trial.Pull)
	r.x = 13
	r.g.Said(r.now, lineAt(r.x), &r.ev)
	r.play(75*time.Second, func(s float64) (float64, float64) { return ramp(s, 1, 2, 76), 13 + 0.04*s })
	// Teeth of 0.3 m: 9.1 kN/m over 0.24 m, and back within 0.06 m.
	const long, up = 0.3, 0.24
	tooth := func(x float64) float64 {
		if x = math.Mod(x, long); x < up {
			return 2 + 9.1*x
		}
		return 2 + 9.1*up*(long-x)/(long-up)
	}
	r.play(45*time.Second, func(s float64) (float64, float64) { return tooth(0.04 * s), 16 + 0.04*s })
	if n := count(r.said, AlarmUp, Snag); n != 1 {
		t.Errorf("SNAG at %d of 6 equal teeth, want it at the first alone\n%s", n, story(r.said, 0))
	}
	start := r.play(16*time.Second, func(s float64) (float64, float64) { return 2 + 9.1*0.04*s, 17.8 + 0.04*s })
	at := r.up(start, Snag, true)
	if kN := 2 + 9.1*0.04*at; at < 0 || kN < 4.18 || kN > 5 {
		t.Errorf("SNAG at %.2f s, %.2f kN; want it soon above the 4.18 kN of the teeth\n%s", at, kN, story(r.said, start))
	}
}

func TestStiffness(t *testing.T) {
	c := &Config{Rode: []trial.Piece{{Length: 10, EA: 10e6}, {Length: 50, EA: 390e3}}}
	tests := []struct {
		out  trial.Length
		want float64
	}{
		{10, 1e6},
		{60, 1 / (10/10e6 + 50/390e3)},
		{500, 1 / (10/10e6 + 50/390e3)}, // no more rode than there is
		{5, 2e6},
		{0, 0}, {-3, 0},
	}
	for _, tt := range tests {
		if got, _ := trial.Stiffness(c.Rode, tt.out); !near(got, tt.want, 1e-6*tt.want) {
			t.Errorf("%v out: %v N/m, want %v", tt.out, got, tt.want)
		}
	}
	c.Rode[0].EA = 0
	if got, _ := trial.Stiffness(c.Rode, 60); got != 0 {
		t.Errorf("an EA is unknown: %v N/m, want 0", got)
	}
}

// The slope rule at its bounds: share of the rode's stiffness, tension, and how
// far the anchor has come.
func TestSlopeBounds(t *testing.T) {
	tests := []struct {
		name  string
		share float64 // of the stiffness, after the start
		from  float64 // N
		moved float64 // m hauled level before, above the dead-weight level
		want  Cause
	}{
		{"0.72 from the start", 0.72, 600, 0, AnchorNotMoving},
		{"0.68", 0.68, 600, 0, NoCause},
		{"0.72 after 1.1 m", 0.72, 600, 1.3, Snag},
		{"0.72 after 0.9 m", 0.72, 600, 0.9, AnchorNotMoving}, // the first 0.2 m have no slope yet, the next are mixed
		{"under twice a dead-weight level of 800 N not yet", 0.72, 100, 0, AnchorNotMoving},
		{"nor under one of 1000 N after 1.3 m", 0.72, 1001, 1.3, Snag},
		{"at the dead-weight level the way does not count", 0.72, 250, 3, AnchorNotMoving},
	}
	for _, tt := range tests {
		c := snagConfig()
		switch tt.from {
		case 100:
			c.Dead = 800
		case 1001:
			c.Dead = 1000
		}
		r := armedWith(t, c, trial.Pull)
		n, x, up := tt.from, 0.0, false
		step := func(share float64) {
			n += share * 400e3 / (60 - x) * 0.05
			x += 0.05
			r.now += 500 * ms
			r.g.Sample(r.now-250*ms, trial.Force(n+0.01), false, &r.ev) // a live cell flickers
			r.g.Sample(r.now, trial.Force(n), false, &r.ev)
			r.g.Count(r.now, lineAt(x+1e-9), &r.ev)
			r.take()
		}
		r.g.Said(r.now, lineAt(0), &r.ev)
		for x < tt.moved {
			step(0)
		}
		said := func(c Cause) bool { return r.g.s.present[c] == atLimit }
		for range 10 {
			step(tt.share)
			for _, c := range []Cause{AnchorNotMoving, Snag} {
				if said(c) && c != tt.want {
					t.Errorf("%s: %v, want %v", tt.name, c, tt.want)
				}
			}
			up = up || said(tt.want)
			if said(tt.want) && tt.want != NoCause && n <= 2*float64(c.Dead) {
				t.Errorf("%s: %v at %v N, want it only above twice the dead-weight level", tt.name, tt.want, n)
			}
		}
		if tt.want == NoCause {
			continue
		}
		if !up {
			t.Errorf("%s: never said, want %v", tt.name, tt.want)
		}
		for range 8 { // between 0.6 and 0.7 it stays
			step(0.64)
		}
		if !said(tt.want) {
			t.Errorf("%s: at 0.64 of the stiffness %v is gone, want it to stay", tt.name, tt.want)
		}
		for range 8 {
			step(0.56)
		}
		if said(tt.want) {
			t.Errorf("%s: at 0.56 of the stiffness %v stays, want it gone", tt.name, tt.want)
		}
	}
}

// A rode all of chain answers far more softly than its EA over its length, for
// its curve gives: held fast it is told all the same, and one that comes by
// half is not.
func TestHeavyRodeHeldFast(t *testing.T) {
	const gone = 12.0 // m hauled when it begins
	for _, tt := range []struct {
		name  string
		comes float64 // share of the line hauled by which the anchor comes
		want  bool
	}{{"held fast", 0, true}, {"a third comes", 0.34, false}} {
		t.Run(tt.name, func(t *testing.T) {
			c := snagConfig()
			c.Rode = []trial.Piece{{Length: 60, EA: 8.5e6, Weight: 12}}
			c.Statics = (&trial.Trial{Rode: c.Rode}).RodePieces()
			line, err := rode.New(7.5, c.Statics)
			if err != nil {
				t.Fatal(err)
			}
			span := 0.0
			at := func(x float64) float64 { // kN
				if err := line.SetOut(60 - x); err != nil {
					t.Fatal(err)
				}
				s, err := line.AtSpan(span - tt.comes*(x-gone))
				if err != nil {
					t.Fatal(err)
				}
				return s.T / 1000
			}
			if err := line.SetOut(60 - gone); err != nil {
				t.Fatal(err)
			}
			s, err := line.AtTension(600)
			if err != nil {
				t.Fatal(err)
			}
			span = s.Span
			if straight, _ := trial.Stiffness(c.Rode, 60-gone); s.StiffnessCounted > 0.1*straight {
				t.Fatalf("stiffness %v N/m, straight %v: want a rode that hangs", s.StiffnessCounted, straight)
			}
			r := armedWith(t, c, trial.Pull)
			r.play(5*time.Second, func(s float64) (float64, float64) { return ramp(s, at(gone)-0.02, at(gone), 4), gone - 0.2 + 0.04*s })
			start := r.play(25*time.Second, func(s float64) (float64, float64) { return at(gone + 0.04*s), gone + 0.04*s })
			said := count(r.said, AlarmUp, AnchorNotMoving)+count(r.said, AlarmUp, Snag) > 0
			if said != tt.want {
				t.Errorf("told: %v, want %v\n%s", said, tt.want, story(r.said, start))
			}
		})
	}
}
