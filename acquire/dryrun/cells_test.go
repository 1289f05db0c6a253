package dryrun

import (
	"encoding/csv"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"hawse/acquire/crew"
	"hawse/acquire/deck"
	"hawse/acquire/export"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
	"hawse/trial/rode"
)

// withCells is a scenario whose deck has these cells at its roller, as facts say
// it, and whose trial file is set as said.
func withCells(t *testing.T, name, facts string, sets ...string) *deck.Scenario {
	t.Helper()
	base, err := deck.Load(name)
	if err != nil {
		t.Fatal(err)
	}
	text := string(base.Text)
	if len(sets) > 0 && strings.Contains(text, "\n[trial]") {
		text = strings.Replace(text, "\n[trial]", "\n[trial]\n"+strings.Join(sets, "\n"), 1)
	} else if len(sets) > 0 {
		text = strings.Replace(text, "\n[tension]", "\n[trial]\n"+strings.Join(sets, "\n")+"\n[tension]", 1)
	}
	s, err := deck.ParseScenario(name+".txt", []byte(strings.Replace(text, "[facts]", "[facts]\n"+facts, 1)))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// pulledThrough plays a scenario with its crew and holds every word of the guard
// against the truth: see is told both after each record while line may be hauled.
func pulledThrough(t *testing.T, s *deck.Scenario, seed uint64, see func(r *rig, truth, guarded float64)) *rig {
	t.Helper()
	r, _, err := newRig(s, seed)
	if err != nil {
		t.Fatal(err)
	}
	r.dry.WithJudge = true
	r.record = func() {
		if g := r.state(); g.Stage == trial.Pull || g.Stage == trial.Hold {
			see(r, float64(r.sim.State().Tension), float64(g.Load.Tension))
		}
	}
	people := crew.New(s.Crew)
	r.crewed(people, playsAtMost)
	if people.Fault() != "" {
		t.Fatalf("%s: %s", s.Name, people.Fault())
	}
	return r
}

// crooked are decks whose roller is not quite what the trial file says of it: 20
// degrees, known to 0.5, and friction up to 0.2.
var crooked = []string{"roller 20 deg friction 0.1", "roller 20 deg friction 0", "roller 19.1 deg friction 0.19", "roller 20.9 deg friction 0.19"}

// TestPinTellsThePeak pulls the textbook through a pin: the peak is told within two
// standard uncertainties of the script's, and its uncertainty is of use.
func TestPinTellsThePeak(t *testing.T) {
	for i, roller := range crooked {
		s := withCells(t, "textbook", "cells pin\n"+roller, `vessel.lead = "20 deg"`, "vessel.roller_friction = 0.2")
		top := 0.0
		r := pulledThrough(t, s, uint64(i+1), func(_ *rig, truth, _ float64) { top = max(top, truth) })
		f := r.dry.Snapshot().Figures
		if f == nil {
			t.Fatal("no figures")
		}
		p := f.Quantities[trial.Peak1s].Read[0]
		if !p.Known || !(p.U > 0) || p.U > 0.1*top || math.Abs(p.V-top) > 2*p.U {
			t.Errorf("%s: peak of 1 s %.0f ± %.0f N, known %v; the script's is %.0f", roller, p.V, p.U, p.Known, top)
		}
		t.Logf("%s: told %.0f ± %.0f N, true %.0f", roller, p.V, p.U, top)
	}
}

// TestPinGuardsNoLater: on a snag a pin stops at no higher tension than a link in
// the rode does, however the deck differs from what is said of it within two
// standard uncertainties, and not under the limit by more than a fifth.
func TestPinGuardsNoLater(t *testing.T) {
	stopsAt := func(s *deck.Scenario, seed uint64) (at float64) {
		pulledThrough(t, s, seed, func(r *rig, truth, _ float64) {
			if at == 0 && r.state().Stop.Kind != safety.NoStop {
				if at = truth; r.state().Stop.Cause != safety.TensionLimit {
					t.Errorf("stopped for %v", r.state().Stop.Cause)
				}
			}
		})
		return at
	}
	for i, roller := range crooked {
		seed := uint64(i + 1)
		link := stopsAt(withCells(t, "snag", ""), seed)
		pin := stopsAt(withCells(t, "snag", "cells pin\n"+roller, `vessel.lead = "20 deg"`, "vessel.roller_friction = 0.2"), seed)
		if link == 0 || pin == 0 || pin > link || pin < 0.8*link {
			t.Errorf("%s: stopped with %.0f N by the pin, %.0f N by a link; want no later, and not much sooner", roller, pin, link)
		}
		t.Logf("%s: stopped with %.0f N by the pin, %.0f N by a link", roller, pin, link)
	}
}

// TestOtherCellBreaks: whatever happens to a cell that does not guard is told, and
// stops nothing; where the larger one guards, its over range stops.
func TestOtherCellBreaks(t *testing.T) {
	for _, tt := range []struct {
		fault, want string
		larger      bool
		stop        string
	}{
		{"unplug load2 14 s@60 s", "load2 tells no tension", false, ""},
		{"over range load2 5 s@60 s", "load2 tells no tension", false, ""},
		{"silence load2 70 s@60 s", "load2 tells no tension", false, ""},
		{"stuck load2 2 min@60 s", "CELLS DISAGREE", false, ""},
		{"zero load2 0.8 kN in 20 s@60 s", "CELLS DISAGREE", false, ""},
		{"over range load2 5 s@60 s", "LOAD OVER RANGE", true, "LOAD OVER RANGE"},
		{"unplug load2 14 s@60 s", "load2 tells no tension", true, ""},
	} {
		for _, cells := range []string{"cells outboard", "cells inboard", "cells pin inboard", "boxes asked\ncells outboard", "boxes modbus\ncells outboard", "boxes frames\ncells inboard"} {
			if strings.Contains(cells, "modbus") && strings.HasPrefix(tt.fault, "unplug") {
				continue // it is on the port of the cell that guards
			}
			var sets []string
			if tt.larger {
				sets = append(sets, `load.guards = "larger"`)
			}
			s, err := withCells(t, "cobble-neck", cells, sets...).With("", []string{tt.fault})
			if err != nil {
				t.Fatal(err)
			}
			said, stop := "", ""
			r, _, err := newRig(s, 1)
			if err != nil {
				t.Fatal(err)
			}
			r.onSay(func(say logfmt.Record) {
				if text := say.Str("text"); said == "" && strings.Contains(text, tt.want) && saidAt(say) > 60 {
					said = fmt.Sprintf("%.1f s: %s", saidAt(say)-60, text)
				}
			})
			words := r.record
			r.record = func() {
				words()
				if g := r.state(); stop == "" && g.Stop.Kind != safety.NoStop && r.t < 90*second {
					stop = g.Stop.Cause.Title()
				}
			}
			people := crew.New(s.Crew)
			r.crewed(people, 120*second)
			if rate := r.dry.Snapshot().Load.Rate; strings.HasPrefix(tt.fault, "silence") && rate < 0.8*float64(s.LoadHz) {
				t.Errorf("%s: the cell that guards is heard %.1f times a second besides", cells, rate)
			}
			if said == "" || stop != tt.stop {
				t.Errorf("%s, %s, larger %v: said %q, stopped for %q; want %q and a stop for %q", cells, tt.fault, tt.larger, said, stop, tt.want, tt.stop)
			}
			t.Logf("%s, %s, larger %v: %s", cells, tt.fault, tt.larger, said)
		}
	}
}

// TestPinPlaysAlike: a pull through a pin with both other cells, asked over one
// wire, is the same each time.
func TestPinPlaysAlike(t *testing.T) {
	tell := func() string {
		p, err := Play(withCells(t, "short", "boxes modbus nmea\ncells pin outboard inboard"), 1)
		if err != nil || p.Fault != "" {
			t.Fatal(err, p.Fault)
		}
		return p.Story
	}
	if a, b := tell(), tell(); a != b || a == "" {
		t.Errorf("two plays of one seed differ:\n%s\n%s", a, b)
	}
}

// TestCellsAreExported: of a log of a pull through a pin with another cell either side,
// the table of cells has each of their frames, and the one of samples what the pin
// feels, the likely tension and the greatest.
func TestCellsAreExported(t *testing.T) {
	_, path := playedLogOf(t, withCells(t, "short", "cells pin outboard inboard"), 1)
	table := func(of export.Of) []map[string]string {
		var b strings.Builder
		res, err := export.File(t.Context(), &b, path, export.Options{Of: of, To: export.CSV})
		if err != nil || res.Lost > 0 {
			t.Fatal(err, res)
		}
		rows, err := csv.NewReader(strings.NewReader(b.String())).ReadAll()
		if err != nil || len(rows) < 100 {
			t.Fatalf("%s: %d rows, %v", of, len(rows), err)
		}
		var out []map[string]string
		for _, row := range rows[1:] {
			m := map[string]string{}
			for i, name := range rows[0] {
				m[name] = row[i]
			}
			out = append(out, m)
		}
		return out
	}
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			return math.NaN()
		}
		return v
	}
	n := map[string]int{}
	for _, row := range table(export.Cells) {
		if n[row["cell"]+" "+row["sits"]]++; row["reading"] != "good" || row["indicated_n"] == "" || row["tension_n"] == "" || row["most_n"] != row["tension_n"] {
			t.Fatalf("%v", row)
		}
	}
	known, samples := 0, 0
	for _, row := range table(export.Samples) {
		if row["reading"] == "break" {
			continue
		}
		felt, likely, most, u, bend := number(row["felt_n"]), number(row["tension_n"]), number(row["guarded_n"]), number(row["tension_u_n"]), number(row["bend_rad"])
		if samples++; math.IsNaN(felt) {
			t.Fatalf("a pin that feels nothing: %v", row)
		}
		if math.IsNaN(likely) || felt < 20 {
			continue
		}
		known++
		if !(most > likely) || !(u > 0) || !(bend > 0.34 && bend < 2) || math.Abs(likely-felt/rode.PinRatio(bend, 1)) > 0.15*likely {
			t.Fatalf("felt %v, likely %v ± %v, at most %v, at %v rad", felt, likely, u, most, bend)
		}
	}
	if len(n) != 2 || n["load2 outboard"] < samples-2 || n["load3 inboard"] < samples-2 || known < samples/2 {
		t.Errorf("frames of other cells %v beside %d samples, %d with a tension", n, samples, known)
	}
}
