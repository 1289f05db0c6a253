package safety

import (
	"math"
	"strings"
	"testing"
	"time"

	"hawse/trial"
)

// A number that stood still is not believed in any stage until it changes, and
// what it comes to is no rise of the tension.
func TestStuckStaysStuck(t *testing.T) {
	r := armed(t, trial.Pull)
	r.play(6*time.Second, func(s float64) (float64, float64) { return 2.4, 0.05 * s })
	if s := r.g.State(); s.Stop.Cause != LoadUnchanged || s.TensionKnown() {
		t.Fatalf("2.4 kN for 6 s while hauling: stop %+v, tension known %v", s.Stop, s.TensionKnown())
	}
	r.must(NextStage, trial.Ease)
	r.must(Ack, 0)
	r.play(2*time.Second, func(float64) (float64, float64) { return 2.4, 0.3 })
	if s := r.g.State(); s.present[LoadUnchanged] != atLimit || s.TensionKnown() || !s.Loaded(r.g.cfg) {
		t.Errorf("in ease, still the same number: level %v, tension known %v; want it still stuck and the rode loaded", s.present[LoadUnchanged], s.TensionKnown())
	}
	if refused := r.do(Rearm, trial.Recover, Director); refused == "" {
		t.Error("re-armed into recover with a stuck load cell")
	}
	r.said = nil
	r.play(6*time.Second, func(s float64) (float64, float64) { return 3.9 + 0.001*s, 0.3 })
	if s := r.g.State(); !s.TensionKnown() || s.Alarms[VesselMoves].State != Normal {
		t.Errorf("3.9 kN at once: tension known %v, vessel %+v; want it known and no rise told\n%s", s.TensionKnown(), s.Alarms[VesselMoves], story(r.said, 0))
	}
}

// One rise gives one warning, though it passes the levels of two limits; both
// limits are told when they are reached.
func TestOneWarningForOneRise(t *testing.T) {
	r := armed(t, trial.Pull)
	n := map[Cause]int{}
	r.play(40*time.Second, func(s float64) (float64, float64) { return 1 + 0.22*s, 0.05 * s })
	for _, e := range r.said {
		if e.What == AlarmUp && !e.On {
			n[e.Cause]++
		}
	}
	if n[TensionLimit] != 1 || n[WLLShare] != 0 {
		t.Errorf("a rise to 9.8 kN: %d warnings of the tension, %d of the WLL; want 1 and 0\n%s", n[TensionLimit], n[WLLShare], story(r.said, 0))
	}
	if s := r.g.State(); s.Stop.Cause != TensionLimit || s.Stop.Later == NoCause {
		t.Errorf("stop %+v, want the tension first and another later", s.Stop)
	}
}

// How far the tension goes past its limit after the stop is told once, and the
// most of it is kept.
func TestTopAfterTheStop(t *testing.T) {
	r := armed(t, trial.Pull)
	r.play(5*time.Second, func(s float64) (float64, float64) { return 8.1 + 0.34*min(s, 1), 0.05 * s })
	var told []Event
	for _, e := range r.said {
		if e.What == StopTop {
			told = append(told, e)
		}
	}
	if len(told) != 1 || told[0].Value != 8440 || told[0].Limit != 8000 {
		t.Errorf("told %+v, want 8440 N against 8000 N, once", told)
	}
	if top := r.g.State().Stop.Top; top != 8440 {
		t.Errorf("kept %v, want 8440 N", top)
	}
}

// After a stop the cell goes over range, or its tension is unknown: what was
// measured besides is not the most of it.
func TestTopAfterTheStopPastTheCell(t *testing.T) {
	nan := trial.Force(math.NaN())
	for _, c := range []struct {
		Felt
		over bool
	}{{Felt{Tension: 9800, Felt: 9800}, true}, {Felt{Tension: nan, Felt: nan}, false}, {Felt{Tension: nan, Felt: 700, NoAngle: true}, false}} {
		r := armed(t, trial.Pull)
		r.play(time.Second, func(s float64) (float64, float64) { return 8.1 + 0.34*s, 0.05 * s })
		r.now += ms
		r.g.SampleFelt(r.now, c.Felt, c.over, &r.ev)
		r.take()
		r.play(5*time.Second, func(s float64) (float64, float64) { return 8.2, 0.05 })
		n := 0
		for _, e := range r.said {
			if e.What != StopTop {
				continue
			}
			n++
			if text := e.Text(r.g.cfg.Show); !e.On || e.Value != 0 || !strings.Contains(text, "more than the load cell could tell, limit 8.0 kN") {
				t.Errorf("told %+v, %q; want that it was past the cell", e, text)
			}
			for _, f := range e.Fields() {
				if f.Key == "value_n" {
					t.Errorf("the record holds %s=%s for what nobody measured", f.Key, f.Val)
				}
			}
		}
		if n != 1 {
			t.Errorf("told %d times, want once", n)
		}
	}
}
