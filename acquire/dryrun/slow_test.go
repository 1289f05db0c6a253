package dryrun

import (
	"testing"

	"hawse/acquire/crew"
	"hawse/acquire/deck"
)

// TestSlowCellOfAnyBox: the slow load cell is armed and pulled to its end whatever the
// boxes are; where one message has tension and count, the count is as slow, and the
// trial file says so.
func TestSlowCellOfAnyBox(t *testing.T) {
	for _, k := range deck.BoxKinds {
		if deck.Besides(k.Name) && k.Name != "nmea" {
			continue
		}
		t.Run(k.Name, func(t *testing.T) {
			t.Parallel()
			s, err := deck.Load("slow-cell")
			if err != nil {
				t.Fatal(err)
			}
			if s, err = s.With(k.Name, nil); err != nil {
				t.Fatal(err)
			}
			r, _, err := newRig(s, 1)
			if err != nil {
				t.Fatal(err)
			}
			people := crew.New(s.Crew)
			r.crewed(people, playsAtMost)
			if people.Fault() != "" || !people.Over() || r.dry.Ending() == "" {
				t.Errorf("fault %q, at %v, stage %v; want the pull ended", people.Fault(), people.Step(), r.state().Stage)
			}
		})
	}
}
