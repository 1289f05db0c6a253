package dryrun

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"hawse/acquire/crew"
	"hawse/acquire/deck"
	"hawse/trial"
)

// phasesHeard is what the phases of a scenario were.
type phasesHeard struct {
	now    []string // each phase as it was named
	events []string
	after  []string // the segments of every series, those of no length left out
}

// phasesOf plays a scenario with its crew and gives its samples to a detector, as
// the session will: with rode out, height and, where stiff, a tangent stiffness of
// EA over the rode out, which on these decks is the ground's own.
func phasesOf(t *testing.T, s *deck.Scenario, seed uint64) (h phasesHeard) {
	t.Helper()
	r, tr, err := newRig(s, seed)
	if err != nil {
		t.Fatal(err)
	}
	d := trial.NewPhaseDetector(tr.Levels, trial.DefaultPhaseRules())
	var last trial.Stage
	at := int64(-1)
	var segs []trial.Segment
	endSeries := func() {
		for _, g := range segs {
			if g.X1-g.X0 >= 0.2 || g.Phase == trial.Breakout || g.Phase == trial.Relaxing {
				h.after = append(h.after, g.Phase.String())
			}
		}
		segs = nil
	}
	r.record = func() {
		snap := r.dry.Snapshot()
		if !snap.Tension.Known || snap.Tension.Over || snap.Tension.At == at {
			return
		}
		at = snap.Tension.At
		p := trial.Point{T: at, Tension: snap.Tension.Now, X: trial.Length(math.NaN()), Stage: snap.Guard.Stage, Travel: trial.Length(math.NaN())}
		if snap.Haul.Known {
			p.X, p.RodeOut = snap.Haul.X, snap.Haul.RodeOut
			if snap.Haul.DepthOK {
				p.Height = snap.Haul.Depth + tr.Vessel.Fairlead
			}
			p.Stiff = float64(tr.Rode[0].EA) / float64(p.RodeOut)
			if p.X > 3 {
				p.Travel = p.X - 3
			}
		}
		if p.Stage != last && p.Stage.Hauls() {
			endSeries()
		}
		last = p.Stage
		if phase, changed := d.Add(p); changed {
			h.now = append(h.now, phase.String())
		}
		for _, e := range d.Events(nil) {
			h.events = append(h.events, fmt.Sprintf("%s %s at %.0f m", e.Kind, e.Cause, float64(e.X)))
		}
		if d.Phase() != trial.Unclear || last.Hauls() {
			segs = d.Segments()
		}
	}
	people := crew.New(s.Crew)
	r.crewed(people, playsAtMost)
	endSeries()
	return h
}

// What the scenarios of the made-up campaign read as, whatever the scatter of the
// readings. Unclear is said between phases; it is left out here.
func TestPhasesOfScenarios(t *testing.T) {
	digs := []string{"slack", "take-up", "embedding"}
	and := func(first []string, more ...string) []string { return append(slices.Clone(first), more...) }
	up := []string{"slack", "short stay", "up and down", "breaking out", "aweigh"}
	for _, tt := range []struct {
		name               string
		now, events, after []string
	}{
		{"textbook", and(and(digs, "plateau", "decline"), up...), []string{"aweigh anchor at 51 m"}, and(and(digs, "plateau", "decline"), up...)},
		{"too-good", []string{"slack", "embedding"}, nil, []string{"slack", "embedding"}},
		{"never-sets", []string{"slack", "take-up", "not set"}, []string{"not set undecided at 1 m"}, []string{"slack", "not set"}},
		{"breakout", and(digs, "breakout", "re-setting", "re-set", "plateau", "breakout"),
			[]string{"breakout anchor at 11 m", "re-set undecided at 15 m", "breakout anchor at 21 m"},
			and(digs, "breakout", "re-setting", "re-set", "plateau", "breakout", "unclear")},
		{"saw-tooth", and(digs, "saw-tooth"), []string{"saw-tooth undecided at 5 m"}, and(digs, "saw-tooth")},
		{"snag", and(digs, "snag"), nil, and(digs, "snag")},
		{"vessel-moves", and(digs, "relaxing", "relaxing"), nil, and(digs, "relaxing", "relaxing")},
		{"after-stop", []string{"take-up", "embedding"}, nil, []string{"unclear", "take-up", "embedding"}},
		{"swell", []string{"slack", "embedding", "plateau", "decline", "relaxing"}, nil, []string{"slack", "embedding", "plateau", "decline", "relaxing"}},
		{"unplug", digs, nil, digs},
		{"stuck", digs, nil, digs},
		{"over-range", digs, nil, digs},
		{"reversed-line", []string{"slack", "slack", "slack", "slack"}, nil, nil},
		{"two-alarms", []string{"take-up", "embedding"}, nil, []string{"unclear", "take-up", "embedding"}},
		{"called-stop", and(digs, "relaxing", "embedding"), nil, and(digs, "relaxing", "embedding")},
		{"early-ack", and(digs, "embedding"), nil, and(digs, "embedding")},
		{"never-falls", digs, nil, digs},
		{"slow-cell", digs, nil, digs},
		{"bad-record", and(digs, "relaxing", "embedding", "relaxing", "embedding", "plateau"), nil,
			and(digs, "relaxing", "embedding", "relaxing", "plateau")},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			s, err := deck.Load(tt.name)
			if err != nil {
				t.Fatal(err)
			}
			for seed := range uint64(2) {
				got := phasesOf(t, s, seed+1)
				got.now = slices.DeleteFunc(got.now, func(p string) bool { return p == trial.Unclear.String() })
				if diff := cmp.Diff(phasesHeard{tt.now, tt.events, tt.after}, got, cmp.AllowUnexported(phasesHeard{}), cmpopts.EquateEmpty()); diff != "" {
					t.Errorf("seed %d (- want, + got):\n%s", seed+1, diff)
				}
			}
		})
	}
}
