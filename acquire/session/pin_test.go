package session

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"hawse/safety"
	"hawse/trial/rode"
)

// The template's cell made a pin in the roller, with a lead of 10 degrees down to
// the winch; an invented deck.
var pinEdits = []string{
	"keep_out = \"1 m\"", "keep_out = \"1 m\"\nlead = \"10 deg\"",
	"range = \"1000 kgf\"", "range = \"1000 kgf\"\nsits = \"roller\"",
}

// pinDeck says what a pin feels of a tension: the truth of a deck whose angles and
// lengths are off by so many of the standard uncertainties that are said of them.
type pinDeck struct {
	h    *hand
	rode *rode.Rode
	off  float64
}

func newPinDeck(t *testing.T, off float64) *pinDeck {
	h := byHand(t, pinEdits...)
	r, err := h.d.core.head.Trial.Statics(1)
	if err != nil {
		t.Fatal(err)
	}
	return &pinDeck{h, r, off}
}

// shows is what the box shows at a true tension in the rode.
func (d *pinDeck) shows(t *testing.T, tension float64) {
	out := 60.0
	if x := d.h.d.core.haul.x; x > 0 {
		out -= float64(x)
	}
	deg := math.Pi / 180
	if err := d.rode.SetHeight(7.5 + 0.05*d.off); err != nil {
		t.Fatal(err)
	}
	if err := d.rode.SetOut(out - 0.05*d.off); err != nil {
		t.Fatal(err)
	}
	s, err := d.rode.AtTension(tension)
	if err != nil {
		t.Fatal(err)
	}
	felt := tension * rode.PinRatio(s.FairleadAngle+(10+0.45*d.off)*deg, 1)
	d.h.load = fmt.Sprintf("%+07.1f kgf", felt/kgf)
}

// TestPinStopsNoLaterThanALink pulls the same ramp of tension with a link in the
// rode and with pins on decks that differ from what is said of them as far as two
// standard uncertainties: a pin stops no later, and not under the limit by more
// than its uncertainty.
func TestPinStopsNoLaterThanALink(t *testing.T) {
	ramp := func(h *hand, show func(v float64)) (at int64, tension float64) {
		h.run(3 * time.Second)
		h.pulling()
		for v := 1000.0; v < 9000; v += 60 {
			show(v)
			h.counts += 4
			h.run(100 * time.Millisecond)
			if s := h.d.State(); s.Stop.Kind != safety.NoStop {
				if s.Stop.Cause != safety.TensionLimit {
					t.Fatalf("stopped for %v at %.0f N", s.Stop.Cause, v)
				}
				return h.at, v
			}
		}
		t.Fatal("never stopped")
		return 0, 0
	}
	link := byHand(t)
	at, full := ramp(link, func(v float64) { link.load = fmt.Sprintf("%+07.1f kgf", v/kgf) })
	link.end()
	for _, off := range []float64{-2, -1, 0, 1, 2} {
		d := newPinDeck(t, off)
		d.h.load = "+0000.0 kgf"
		pin, v := ramp(d.h, func(v float64) { d.shows(t, v) })
		if pin > at {
			t.Errorf("deck off by %v: stopped at %v, a link at %v", off, time.Duration(pin), time.Duration(at))
		}
		// Of a bend of 17 degrees two uncertainties of half a degree each are 6 %, at
		// either end.
		if v < 0.85*full {
			t.Errorf("deck off by %v: stopped at %.0f N, where a link stops at %.0f", off, v, full)
		}
		s := d.h.d.Snapshot()
		if p := s.Tension.Pin; p == nil || p.Why != "" || !(p.Likely < s.Tension.Now) || math.Abs(float64(p.Likely)-v) > 2.2*float64(p.U)+60 {
			t.Errorf("deck off by %v: true %.0f N, shown %+v of %+v", off, v, p, s.Tension)
		}
		d.h.end()
	}
}

// TestPinWithoutAnAngle: before rode out and depth are said the rode counts as
// loaded and nothing can be armed; once armed, a count that falls silent is a stop.
func TestPinWithoutAnAngle(t *testing.T) {
	d := newPinDeck(t, 0)
	h := d.h
	h.d.WithJudge = true
	h.load = "+0010.0 kgf"
	h.run(3 * time.Second)
	s := h.d.Snapshot()
	if s.Tension.Known || !s.Guard.Loaded(s.Config) || s.Tension.Pin == nil || !strings.Contains(s.Tension.Pin.Why, "say the rode out") {
		t.Errorf("nothing said yet: %+v, pin %+v; want it unknown, loaded, and the reason", s.Tension, s.Tension.Pin)
	}
	if s.Guard.Alarms[safety.LoadAngle].Standing() {
		t.Error("an alarm before anything was armed")
	}
	check := ""
	for _, c := range s.Checklist {
		if c.Check == safety.CheckLoad && !c.Good() {
			check = c.Text
		}
	}
	if !strings.Contains(check, "pin in the roller") {
		t.Errorf("the checklist says %q of the load cell; want the missing angle", check)
	}
	h.load = "+0000.0 kgf"
	h.run(2 * time.Second)
	h.pulling()
	d.shows(t, 700)
	h.run(2 * time.Second)
	if s := h.d.Snapshot(); !s.Tension.Known || s.Span.N == 0 {
		t.Fatalf("pulling at 0.7 kN: %+v", s.Tension)
	}
	for range 40 { // the load box alone
		h.at += 100e6
		h.d.Rx(h.at, SrcLoad, []byte(h.load+"\r\n"))
	}
	g := h.d.State()
	if g.Permit || g.Stop.Cause != safety.LoadAngle || g.TensionKnown() {
		t.Errorf("4 s without a count: permit %v, stop %v, tension known %v; want the line's angle unknown and a stop", g.Permit, g.Stop.Cause, g.TensionKnown())
	}
	if s := h.d.Snapshot(); s.Tension.Known || h.at-s.Span.Last < 1e9 {
		t.Errorf("tension known %v, drawn to %v of %v; want a gap", s.Tension.Known, s.Span.Last, h.at)
	}
	h.end()
}

// TestPinWhileTheLogEnds: the ports are closed one after the other; that the line
// counter's is closed first is no alarm.
func TestPinWhileTheLogEnds(t *testing.T) {
	d := newPinDeck(t, 0)
	d.h.load = "+0000.0 kgf"
	d.h.run(3 * time.Second)
	d.h.pulling()
	d.shows(t, 700)
	d.h.run(time.Second)
	d.h.d.Port(d.h.at, SrcLine, "closed", "")
	d.h.d.Rx(d.h.at+50e6, SrcLoad, []byte(d.h.load+"\r\n"))
	if g := d.h.d.State(); g.Alarms[safety.LoadAngle].Standing() || !g.TensionKnown() {
		t.Errorf("alarm %+v, tension known %v", g.Alarms[safety.LoadAngle], g.TensionKnown())
	}
	d.h.end()
}

// TestPinFaults: over range, a number that stands still and a reversed sign are
// judged by what is felt.
func TestPinFaults(t *testing.T) {
	for _, tt := range []struct {
		load string
		haul int
		want safety.Cause
	}{{"OL", 0, safety.LoadOverRange}, {"+1000.0 kgf", 0, safety.LoadOverRange}, {"+0060.0 kgf", 40, safety.LoadUnchanged}, {"-0080.0 kgf", 0, safety.LoadReversed}} {
		d := newPinDeck(t, 0)
		d.h.load = "+0000.0 kgf"
		d.h.run(3 * time.Second)
		d.h.pulling()
		d.h.load = tt.load
		for range 70 {
			d.h.counts += tt.haul / 10
			d.h.run(100 * time.Millisecond)
		}
		if g := d.h.d.State(); g.Stop.Cause != tt.want {
			t.Errorf("%s: stopped for %v, want %v", tt.load, g.Stop.Cause, tt.want)
		}
		d.h.end()
	}
}
