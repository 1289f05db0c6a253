package session

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"hawse/logfmt"
	"hawse/safety"
)

// TestDropPoint: the vessel comes to the planned drop point, north of her berth.
// The antenna is 4 m behind the roller; she heads north.
func TestDropPoint(t *testing.T) {
	plan := "[plan]\norder = \"file\"\ndrop_within = \"2 m\"\n[[plan.berth]]\nstation = \"Alder Flat\"\nposition = \"44.001, 10.001\"\n"
	h := aboard(t, "[[anchor]]\nid = \"A16\"", plan+"[[anchor]]\nid = \"A16\"")
	const north = 111112.0 // metres in a degree at 44 degrees, WGS 84
	drop := h.d.core.aids.drop.Point
	if d := h.d.core.aids.drop.Distance; math.Abs(d-math.Sqrt(60*60-7.5*7.5)) > 0.01 {
		t.Errorf("planned %g m from the roller, which is 7.5 m over the ground, with 60 m out", d)
	}
	at := func(short float64, heading bool) { // m south of the drop point
		h.run(time.Second)
		if heading {
			h.sends("GPHDT,0.0,T")
		}
		lat := drop.Lat - (short+4)/north
		h.sends(fmt.Sprintf("GPGGA,%06d.00,44%09.6f,N,010%09.6f,E,1,12,0.8,1.0,M,40.0,M,,", h.at/1e9%60, (lat-44)*60, (drop.Lon-10)*60))
	}
	if d := h.aids().Drop; !d.Shown || d.Known || float64(d.Within) != 2 {
		t.Fatalf("without a fix %+v", d)
	}
	at(20, true)
	if d := h.aids().Drop; !d.Known || math.Abs(float64(d.Distance)-20) > 0.05 || math.Min(float64(d.Bearing), 2*math.Pi-float64(d.Bearing)) > 1e-3 || d.Near || d.Antenna {
		t.Errorf("20 m short: %+v", d)
	}
	at(-1.5, true)
	if d := h.aids().Drop; math.Abs(float64(d.Distance)-1.5) > 0.05 || math.Abs(float64(d.Bearing)-math.Pi) > 0.01 || !d.Near {
		t.Errorf("1.5 m past it: %+v", d)
	}
	h.must(safety.Director, ActStage, "pay out")
	got := h.told("planned drop point")
	if len(got) != 1 || !strings.Contains(got[0], "1.50 m") || !strings.Contains(got[0], "bears 180 deg") || !strings.Contains(got[0], "within the 2") {
		t.Errorf("told %q", got)
	}
	h.must(safety.Director, ActStage, "stand by")
	h.run(12 * time.Second) // the fix is old
	h.must(safety.Director, ActStage, "pay out")
	if got := h.told("planned drop point"); len(got) != 2 || !strings.Contains(got[1], "no fix") {
		t.Errorf("told %q", got)
	}
	h.must(safety.Director, ActStage, "stand by")
	at(8, false)
	h.must(safety.Director, ActStage, "pay out")
	if got := h.told("planned drop point"); len(got) != 3 || !strings.Contains(got[2], "MORE than the 2") || !strings.Contains(got[2], "by the antenna") {
		t.Errorf("told %q", got)
	}
	h.pulling()
	if d := h.aids().Drop; d.Shown {
		t.Errorf("it is shown in the pull: %+v", d)
	}
	var r Result
	for i := range h.d.Records {
		if rec := &h.d.Records[i]; rec.Kind == logfmt.Say && rec.Str("what") == "drop" {
			r.sayDrop(rec.T, rec)
		}
	}
	if len(r.Drops) != 3 || math.Abs(float64(r.Drops[0].Off)-1.5) > 0.05 || !math.IsNaN(float64(r.Drops[1].Off)) || math.Abs(r.Drops[0].Planned.Lat-drop.Lat) > 1e-12 {
		t.Errorf("%+v", r.Drops)
	}
	h.end()
}

// TestNoDropPoint: without a plan nothing of it is shown or told.
func TestNoDropPoint(t *testing.T) {
	h := aboard(t)
	h.run(time.Second)
	h.must(safety.Director, ActStage, "pay out")
	if d := h.aids().Drop; d.Shown || len(h.told("drop point")) > 0 {
		t.Errorf("%+v", d)
	}
	h.end()
}
