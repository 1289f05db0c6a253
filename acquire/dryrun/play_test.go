package dryrun

import (
	"flag"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"hawse/acquire/deck"
)

var update = flag.Bool("update", false, "write the golden stories anew; read the diff before keeping it")

// Every scenario says exactly these alarms and orders, at these times.
func TestStories(t *testing.T) {
	var alarms, scenarios int
	var seconds float64
	for _, name := range deck.Names() {
		t.Run(name, func(t *testing.T) {
			s, err := deck.Load(name)
			if err != nil {
				t.Fatal(err)
			}
			p, err := Play(s, 1)
			if err != nil {
				t.Fatal(err)
			}
			if p.Fault != "" {
				t.Errorf("the crew's script stopped: %s", p.Fault)
			}
			alarms, scenarios, seconds = alarms+p.Alarms, scenarios+1, seconds+p.Seconds
			if p.Flood > flood {
				t.Errorf("%d alarms in ten minutes, a flood is more than %d", p.Flood, flood)
			}
			path := filepath.Join("testdata", name+".golden")
			if *update {
				if err := os.WriteFile(path, []byte(p.Story), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), p.Story); diff != "" {
				t.Errorf("what is said (- want, + got; -update writes it anew):\n%s", diff)
			}
		})
	}
	perTen := float64(alarms) / float64(scenarios) / (laneTakes / tenMinutes)
	if scenarios == len(deck.Names()) && perTen > wellRun {
		t.Errorf("%.2f alarms in ten minutes of a day of nothing but bad pulls, want at most %v", perTen, wellRun)
	}
	t.Logf("%d alarms in %d scenarios: %.2f in ten minutes at one lane in half an hour, %.1f with no pause between them",
		alarms, scenarios, perTen, float64(alarms)/seconds*tenMinutes)
}

// Rates after the performance guide of ISA-18.2 (from memory): about one alarm
// in ten minutes is very likely acceptable, more than ten are a flood. A lane,
// laid, soaked, pulled and recovered, takes half an hour at least: common
// practice, no source.
const (
	tenMinutes = 600.0  // s
	laneTakes  = 1800.0 // s
	wellRun    = 1.0
	flood      = 10
)

// Any made-up pull is judged right, whatever its seed.
func FuzzPull(f *testing.F) {
	f.Add(uint64(1))
	f.Fuzz(func(t *testing.T, seed uint64) {
		r, err := Try(seed)
		if err != nil {
			t.Fatal(err)
		}
		if r.Bad() {
			t.Errorf("%s\n%s", r.Story(), r.Script)
		}
	})
}
