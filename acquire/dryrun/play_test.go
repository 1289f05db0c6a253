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
	var alarms int
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
			alarms, seconds = alarms+p.Alarms, seconds+p.Seconds
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
	// Every scenario is a bad pull, and they follow each other without a pause: a day has far fewer.
	t.Logf("%d alarms in %.0f s of scenarios, %.1f in ten minutes", alarms, seconds, float64(alarms)/seconds*600)
}
