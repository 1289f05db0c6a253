package dryrun

import (
	"slices"
	"testing"

	"hawse/acquire/crew"
	"hawse/acquire/deck"
	"hawse/safety"
)

// TestPinRehearsalEnds: a whole pull through a pin comes to its end, in recovery, after
// faults and with the cell's zero moved; and as long as line is out and the cell is in
// the rode the guard works with no less than the true tension.
func TestPinRehearsalEnds(t *testing.T) {
	for _, name := range []string{"short", "textbook", "cobble-neck", "over-range", "after-stop", "wrong-unit", "two-alarms", "unplug", "early-ack"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s, err := deck.Load(name)
			if err != nil {
				t.Fatal(err)
			}
			if s, err = s.With("modbus,nmea,pin", nil); err != nil {
				t.Fatal(err)
			}
			r, _, err := newRig(s, 1)
			if err != nil {
				t.Fatal(err)
			}
			var was []float64
			low, known, at, rodeAt := 0.0, 0, 0.0, int64(-1)
			r.record = func() {
				g, truth := r.state(), r.sim.State()
				if g.Cell != safety.CellOn || !g.Armed || !g.TensionKnown() || float64(truth.Tension) < 30 {
					return
				}
				if rodeAt < 0 {
					rodeAt = truth.T
				}
				if truth.T-rodeAt < 1e9 { // the cell was just put in the rode
					return
				}
				known++
				was = append(was, float64(truth.Tension))
				was = was[max(len(was)-8, 0):] // 4 records or more are a tenth of a second
				// Readings are of a moment ago, rounded, and have noise.
				if off := 0.97*slices.Min(was) - 30 - float64(g.Load.Tension); off > low {
					low, at = off, float64(truth.T)/1e9
				}
			}
			people := crew.New(s.Crew)
			r.crewed(people, playsAtMost)
			if people.Fault() != "" || !people.Over() || r.dry.Ending() == "" {
				t.Errorf("fault %q, at %v, stage %v, tension %v; want the pull ended", people.Fault(), people.Step(), r.state().Stage, r.dry.Snapshot().Tension.Now)
			}
			if low > 0 {
				t.Errorf("at %.1f s the guard works with less than is in the rode, by %.0f N more than noise explains", at, low)
			}
			if known < 20 {
				t.Errorf("of %d records alone the tension was known while armed", known)
			}
		})
	}
}
