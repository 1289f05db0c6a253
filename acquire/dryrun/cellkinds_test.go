package dryrun

import (
	"math"
	"strings"
	"testing"

	"hawse/acquire/crew"
	"hawse/acquire/deck"
	"hawse/trial"
)

// TestOtherCellsOfEveryKind: a further load cell of any kind is heard, zeroed and held
// against the first for a whole pull, and nothing is said of it; in the end it has
// told what is truly in the rode.
func TestOtherCellsOfEveryKind(t *testing.T) {
	for _, boxes := range []string{
		"lines,outboard", "shared,inboard", "one-line,outboard", "asked,outboard,inboard", "modbus,outboard", "modbus,nmea,pin,outboard,inboard",
		"frames,outboard", "frames,nmea,pin,inboard,outboard", "asked,pin,outboard",
	} {
		t.Run(boxes, func(t *testing.T) {
			t.Parallel()
			s, err := deck.Load("cobble-neck")
			if err != nil {
				t.Fatal(err)
			}
			if s, err = s.With(boxes, nil); err != nil {
				t.Fatal(err)
			}
			tr, err := trial.ParseTrial("trial.toml", []byte(s.TrialFile()))
			if err != nil {
				t.Fatal(err)
			}
			kind, _, _ := strings.Cut(boxes, ",")
			for _, o := range tr.Others {
				want := map[string]string{"asked": trial.WireAsked, "modbus": trial.WireModbus, "frames": trial.WireFrames}[kind]
				if o.Wire.Kind != want || (o.Wire.On == "load") != (kind == "modbus") {
					t.Errorf("%s speaks %q on %q", o.Table, o.Wire.Kind, o.Wire.On)
				}
			}
			r, _, err := newRig(s, 1)
			if err != nil {
				t.Fatal(err)
			}
			compared := 0
			r.record = func() {
				if truth := r.sim.State(); truth.X > 3 && truth.X < 5 && truth.Speed > 0 {
					for _, c := range r.dry.Snapshot().Cells {
						off := float64(c.Tension - truth.Tension)
						if c.Sits == trial.SitsInboard {
							off = math.Max(off-0.1*1.1*float64(truth.Tension), math.Min(off, 0)) // its roller's friction of 0.1, bent by a rad
						}
						if compared++; !(math.Abs(off) < 60) || !c.Zero.Known {
							t.Fatalf("%s tells %v, zero %+v; %v is in the rode", c.Src, c.Tension, c.Zero, truth.Tension)
						}
					}
				}
			}
			people := crew.New(s.Crew)
			r.crewed(people, playsAtMost)
			if people.Fault() != "" || compared < 100 {
				t.Errorf("fault %q, compared %d times", people.Fault(), compared)
			}
			for _, y := range r.dry.Said() {
				if what := y.Str("what"); what == "cells" || what == "alarm-up" || what == "asked" {
					t.Errorf("%.1f s: %s", float64(y.T)/1e9, y.Str("text"))
				}
			}
		})
	}
}
