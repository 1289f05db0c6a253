package safety

import (
	"math"
	"testing"
	"time"

	"hawse/trial"
)

// heardWord is one word of the load cell: n newtons at a time, or bad bytes.
type heardWord struct {
	at  time.Duration
	kN  float64
	bad bool
	ol  bool
}

// Two good samples in a row, or one if no other comes within 0.3 s; bad frames
// neither count nor reset; NaN and over range at once: the stop rules of the
// trade, common practice, no source.
func TestTripTimes(t *testing.T) {
	const never = time.Duration(-1)
	steady := func(from, to time.Duration, kN float64) (w []heardWord) {
		for at := from; at <= to; at += 100 * time.Millisecond {
			w = append(w, heardWord{at: at, kN: kN})
		}
		return w
	}
	msec := func(n int) time.Duration { return time.Duration(n) * time.Millisecond }
	tests := []struct {
		name  string
		words []heardWord
		cause Cause
		at    time.Duration
	}{
		{"two in a row", []heardWord{{at: msec(100), kN: 8}, {at: msec(200), kN: 8}}, TensionLimit, msec(200)},
		{"exactly at the limit counts", []heardWord{{at: msec(100), kN: 8.0}, {at: msec(150), kN: 8.0}}, TensionLimit, msec(150)},
		{"one spike among good samples", append([]heardWord{{at: msec(100), kN: 9}}, steady(msec(200), msec(2000), 2)...), NoCause, never},
		{"one alone stands after 0.3 s", []heardWord{{at: msec(100), kN: 8.5}}, TensionLimit, msec(400)},
		{"one, then a good one just in time", append([]heardWord{{at: msec(100), kN: 8.5}}, steady(msec(390), msec(1000), 1)...), NoCause, never},
		{"one, then a good one at the very end: it has stood alone", []heardWord{{at: msec(100), kN: 8.5}, {at: msec(400), kN: 1}}, TensionLimit, msec(400)},
		{"bad frames between do not reset", []heardWord{{at: msec(100), kN: 8.5}, {at: msec(120), bad: true}, {at: msec(140), bad: true}, {at: msec(200), kN: 8.1}}, TensionLimit, msec(200)},
		{"bad frames do not count", append([]heardWord{{at: msec(100), kN: 8.5}, {at: msec(110), bad: true}, {at: msec(120), bad: true}}, steady(msec(130), msec(500), 1)...), NoCause, never},
		{"bad frames do not put off the 0.3 s", []heardWord{{at: msec(100), kN: 8.5}, {at: msec(200), bad: true}, {at: msec(399), bad: true}}, TensionLimit, msec(400)},
		{"a good sample below resets", []heardWord{{at: msec(100), kN: 8.5}, {at: msec(200), kN: 7.9}, {at: msec(300), kN: 8.5}, {at: msec(400), kN: 7.9}}, NoCause, never},
		{"the nearest limit governs", []heardWord{{at: msec(100), kN: 9.5}, {at: msec(200), kN: 9.5}}, TensionLimit, msec(200)},
		{"over range at once", []heardWord{{at: msec(100), ol: true}}, LoadOverRange, msec(100)},
		{"at the cell's range at once", []heardWord{{at: msec(100), kN: 20}}, LoadOverRange, msec(100)},
		{"far below zero is beyond the range too", []heardWord{{at: msec(100), kN: -25}}, LoadOverRange, msec(100)},
		{"not a number at once", []heardWord{{at: msec(100), kN: math.NaN()}}, LoadNotNumber, msec(100)},
		{"infinite at once", []heardWord{{at: msec(100), kN: math.Inf(-1)}}, LoadNotNumber, msec(100)},
		{"a slow cell: each sample stands alone", []heardWord{{at: msec(500), kN: 2}, {at: msec(1000), kN: 8.2}}, TensionLimit, msec(1300)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := armed(t, trial.Pull)
			start, i := r.now, 0
			for now := 10 * ms; now <= 2*sec; now += 10 * ms {
				r.now = start + now
				r.g.Advance(r.now, &r.ev)
				for ; i < len(tt.words) && int64(tt.words[i].at) <= now; i++ {
					w := tt.words[i]
					if w.bad {
						r.g.BadFrame(r.now, Load, &r.ev)
					} else {
						r.g.Sample(r.now, trial.Force(w.kN*1000), w.ol, &r.ev)
					}
				}
				if s := r.g.State(); s.Stop.Kind == Trip {
					break
				}
				if now > int64(tt.words[len(tt.words)-1].at)+400*ms {
					break
				}
			}
			r.take()
			stop := r.g.State().Stop
			at := never
			if stop.Kind != NoStop {
				at = time.Duration(stop.At - start)
			}
			if stop.Cause != tt.cause || at != tt.at {
				t.Errorf("%+v: stop %v at %v, want %v at %v\n%s", tt.words, stop.Cause, at, tt.cause, tt.at, story(r.said, start))
			}
		})
	}
}

func TestTensionStory(t *testing.T) {
	r := armed(t, trial.Pull)
	start := r.now
	r.sample(100*time.Millisecond, 6.5)
	r.sample(100*time.Millisecond, 6.6)
	r.sample(100*time.Millisecond, 8.4)
	r.sample(100*time.Millisecond, 8.5)
	r.sample(100*time.Millisecond, 9.2)
	r.sample(100*time.Millisecond, 9.3)
	r.wantStory(start, `
		0.200 WARNING: TENSION LIMIT 6.60 kN (warning at 6.4 kN)
		0.400 EMERGENCY: TENSION LIMIT 8.50 kN (limit 8.0 kN)
		0.400 STOP: tension limit 8.50 kN (limit 8.0 kN)
		0.400 haul not permitted
		0.400 order: STOP
		0.600 EMERGENCY: WLL SHARE 93.0 % (limit 90.0 %)
		0.600 STOP stays, now also: wll share 93.0 % (limit 90.0 %)
	`)
	if s := r.g.State(); s.Permit || s.Stop.Cause != TensionLimit || s.Stop.Later != WLLShare || s.Stop.Value != 8500 {
		t.Errorf("stop %+v, permit %v; want TensionLimit at 8500 N, later WLLShare, no permit", s.Stop, s.Permit)
	}
}

// Whichever limit is nearer stops, even if it is the share of the WLL.
func TestNearestIsWLL(t *testing.T) {
	c := testConfig()
	c.Limits[trial.Pull].WLLStop, c.Limits[trial.Pull].WLLWarn = 0.5, 0.4
	r := armedWith(t, c, trial.Pull)
	r.sample(50*time.Millisecond, 8.6)
	r.sample(50*time.Millisecond, 8.6)
	if s := r.g.State(); s.Stop.Cause != WLLShare || s.Stop.Limit != 0.5 || s.Stop.Later != TensionLimit {
		t.Errorf("stop %+v, want WLLShare at 0.5 first, TensionLimit later", s.Stop)
	}
}

func TestConfirmBounds(t *testing.T) {
	inf := math.Inf(1)
	tests := []struct {
		name   string
		words  []float64
		alone  bool
		lo, hi float64
	}{
		{"nothing", nil, false, -inf, inf},
		{"one", []float64{5}, false, -inf, inf},
		{"one alone", []float64{5}, true, 5, 5},
		{"two", []float64{5, 3}, false, 3, 5},
		{"two, the last alone", []float64{5, 3}, true, 3, 3},
		{"above range before", []float64{inf, 3}, false, 3, inf},
		{"above range last", []float64{3, inf}, false, -inf, inf},
	}
	for _, tt := range tests {
		var c confirm
		for i, v := range tt.words {
			c.push(int64(i), v)
		}
		c.alone = tt.alone
		if lo, hi := c.bounds(); lo != tt.lo || hi != tt.hi {
			t.Errorf("%s: bounds of %v, alone %v = %v, %v; want %v, %v", tt.name, tt.words, tt.alone, lo, hi, tt.lo, tt.hi)
		}
	}
}
