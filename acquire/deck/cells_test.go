package deck

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"hawse/trial"
)

// taut is a deck with 4 kN on 20 m of rode, the cells of which are as said.
func taut(t *testing.T, facts string) *world {
	t.Helper()
	text := strings.Replace(strings.Replace(least, "x 0 m 0.1 kN", "x 0 m 4 kN", 1), "payout 60 m", "payout 20 m\n"+facts, 1)
	return newWorld(mustParse(t, text), 0, 1)
}

// TestPinByHand: 4 kN on a straight line at asin(7.5/20), 22.0 degrees, and what
// presses on the roller by hand: the two pulls stand at 180 degrees less bend.
func TestPinByHand(t *testing.T) {
	const deg = math.Pi / 180
	for _, tt := range []struct {
		facts string
		ran   int
		lead  float64
		mu    float64
	}{
		{"cells pin", 0, 20, 0.1}, {"cells pin", 1, 20, 0.1}, {"cells pin", -1, 20, 0.1},
		{"cells pin outboard\nroller 0 deg friction 0", 1, 0, 0}, {"cells pin inboard\nroller -5 deg friction 0.3", 1, -5, 0.3},
	} {
		w := taut(t, tt.facts)
		w.ran = tt.ran
		r, err := w.s.statics()
		if err != nil {
			t.Fatal(err)
		}
		if err := r.SetOut(20); err != nil {
			t.Fatal(err)
		}
		hang, err := r.AtTension(4000)
		if err != nil || hang.FairleadAngle < 20*deg || hang.FairleadAngle > 25*deg {
			t.Fatalf("line at %.2f deg, %v; a straight one is at 22.0", hang.FairleadAngle/deg, err)
		}
		bend := hang.FairleadAngle + tt.lead*deg
		in := 4000 * math.Exp(tt.mu*float64(tt.ran)*bend)
		// Law of cosines, the angle between the pulls being pi - bend.
		want := math.Sqrt(4000*4000 + in*in + 2*4000*in*math.Cos(math.Pi-bend))
		if got := float64(w.carries(trial.SitsRoller)); math.Abs(got-want) > 0.01 {
			t.Errorf("%s, way %d: pressed with %.2f N, want %.2f", tt.facts, tt.ran, got, want)
		}
		if got := float64(w.carries(trial.SitsInboard)); math.Abs(got-in) > 0.01 {
			t.Errorf("%s, way %d: inboard %.2f N, want %.2f", tt.facts, tt.ran, got, in)
		}
		if got := float64(w.carries(trial.SitsOutboard)); got != 4000 {
			t.Errorf("%s: outboard %.2f N, want 4000", tt.facts, got)
		}
	}
}

// TestPinPlumb: with no more line out than reaches the anchor's eye it is up and down.
func TestPinPlumb(t *testing.T) {
	w := taut(t, "cells pin\nroller 0 deg friction 0")
	w.ahead = true
	w.x = w.s.Payout - trial.Length(7)
	if got, want := float64(w.carries(trial.SitsRoller)), float64(w.tension())*math.Sqrt2; math.Abs(got-want) > 0.01 {
		t.Errorf("plumb under a level lead: pressed with %.2f N, want %.2f", got, want)
	}
	w.cell, w.hung = "hook", 245
	if got := w.carries(trial.SitsRoller); got != 245 {
		t.Errorf("245 N on a hook: %v", got)
	}
	if got := string(w.cellSays(nil, portLoad2)); got != "" {
		t.Errorf("there is no other cell, and it says %q", got)
	}
}

// TestOtherCellSays: its line is of what it carries; on a hook it carries nothing;
// its zero wanders as far as it was told to.
func TestOtherCellSays(t *testing.T) {
	w := taut(t, "cells pin outboard")
	if got := string(w.cellSays(nil, portLoad2)); got != "+0407.9 kgf\r\n" { // 4000 / 9.80665
		t.Errorf("load2 says %q", got)
	}
	w.begin(&fault{kind: "zero", port: portLoad2, value: 98.0665, lasts: 2e9})
	w.t += 1e9
	if got := string(w.cellSays(nil, portLoad2)); got != "+0412.9 kgf\r\n" {
		t.Errorf("half way to 10 kgf: load2 says %q", got)
	}
	w.t += 3e9
	w.cell, w.hung = "hook", 500
	if got := string(w.cellSays(nil, portLoad2)); got != "+0010.0 kgf\r\n" {
		t.Errorf("with the weight on the first cell: load2 says %q", got)
	}
	if w.zero != 0 {
		t.Errorf("the first cell's zero moved by %v", w.zero)
	}
}

// TestCellsSit: where each cell is, by what was asked for, in deck and trial file.
func TestCellsSit(t *testing.T) {
	base := mustLoad(t, "textbook")
	for _, tt := range []struct {
		boxes, sits, others string
	}{
		{"lines", "", ""}, {"pin", "roller", ""}, {"outboard", "inboard", "outboard"}, {"inboard", "outboard", "inboard"},
		{"modbus,nmea,pin,inboard", "roller", "inboard"}, {"pin,outboard,inboard,outboard", "roller", "outboard inboard"},
	} {
		s, err := base.With(tt.boxes, nil)
		if err != nil {
			t.Fatal(err)
		}
		tr, err := trial.ParseTrial("trial.toml", []byte(s.TrialFile()))
		if err != nil {
			t.Errorf("%s: %v", tt.boxes, err)
			continue
		}
		var others []string
		for _, o := range tr.Others {
			others = append(others, o.Sits)
		}
		if tr.Load.Sits != tt.sits || strings.Join(others, " ") != tt.others {
			t.Errorf("%s: the cell sits %q and others %v; want %q and %s", tt.boxes, tr.Load.Sits, others, tt.sits, tt.others)
		}
		if tt.sits != "" && (math.Abs(float64(tr.Vessel.Lead)-usualLead) > 1e-9 || tr.Vessel.RollerFriction != mostFriction) {
			t.Errorf("%s: lead %v, friction %v", tt.boxes, tr.Vessel.Lead, tr.Vessel.RollerFriction)
		}
	}
	if _, err := base.With("", []string{"cell-gone@1 s"}); err == nil || !strings.Contains(err.Error(), "boxes outboard or inboard") {
		t.Errorf("a fault of a cell that is not there: %v", err)
	}
	for _, tt := range []struct{ facts, want string }{
		{"cells roller", "pin|outboard|inboard"}, {"roller 85 deg friction 0.1", "leads more than 80 deg"}, {"roller 5 deg friction 1.5", "above 1"},
		{"cells pin\npayout 90 m", "pieces make 80 m"},
	} {
		text := least
		if strings.Contains(tt.facts, "payout") {
			text = strings.Replace(text, "payout 60 m\n", "", 1)
		}
		_, err := ParseScenario("x.txt", []byte(strings.Replace(text, "[tension]", tt.facts+"\n[tension]", 1)))
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%q: %v; want %q", tt.facts, err, tt.want)
		}
	}
}

// TestOtherCellChangesNothing: what the first cell's box sends is the same with
// another cell beside it as without, but for the roller's friction.
func TestOtherCellChangesNothing(t *testing.T) {
	said := func(boxes string) string {
		s, err := mustLoad(t, "textbook").With(boxes, nil)
		if err != nil {
			t.Fatal(err)
		}
		m, out := NewSim(s, 3), ""
		m.Advance(5e9, func(port string, at int64, raw []byte) {
			if port == "load" || port == "line" {
				out += fmt.Sprintf("%d %s %s", at, port, raw)
			}
		})
		return out
	}
	if a, b := said("lines"), said("inboard"); a != b {
		t.Errorf("load and line say with another cell\n%s\nand without\n%s", b, a)
	}
}

// TestLineInRecovery: the rode of a table's recovery leads as its tension says, the
// eye being in the bottom by as much as is out over the height at breakout.
func TestLineInRecovery(t *testing.T) {
	s, err := Load("textbook")
	if err != nil {
		t.Fatal(err)
	}
	if s, err = s.With("pin", nil); err != nil {
		t.Fatal(err)
	}
	w := newWorld(s, 0, 1)
	w.ahead = true
	const deg = math.Pi / 180
	for _, tt := range []struct{ out, tension, least, most float64 }{
		{29, 100, 18, 30},   // asin(8.5/29) = 17 deg, and the weight of it
		{9.6, 250, 62, 72},  // asin(8.5/9.6) = 62.3 deg
		{8.6, 900, 81, 83},  // asin(8.5/8.6) = 81.3 deg
		{8.5, 1200, 90, 90}, // breakout, 1 m deep
		{7.55, 100, 90, 90}, // aweigh
	} {
		w.x = s.Payout - trial.Length(tt.out)
		if got := w.leads(trial.Force(tt.tension)) / deg; got < tt.least-1e-9 || got > tt.most+1e-9 {
			t.Errorf("%g m out at %g N: %.1f deg under the horizontal, want %g to %g", tt.out, tt.tension, got, tt.least, tt.most)
		}
	}
}
