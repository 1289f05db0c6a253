package dryrun

import (
	"flag"
	"testing"
)

var pulls = flag.Int("pulls", 200, "how many made-up pulls to play")

// The guard misses no stop, is never late, and stops nothing that is in order,
// by the judgement of a referee who shares no code with it.
func TestSurvey(t *testing.T) {
	n := *pulls / fewer
	if testing.Short() {
		n = 30
	}
	s, err := Survey(1, n, 2, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range s.Bad {
		t.Errorf("%s\n%s", r.Story(), r.Script)
	}
	if s.Due < n/4 || s.FaultFree < n/5 {
		t.Errorf("%d stops due in %d pulls, %d without a fault: the pulls try too little", s.Due, n, s.FaultFree)
	}
	for _, kind := range []string{"tension", "over range", "load cell silent", "line encoder silent", "a call", "end of the lane", "vessel moves"} {
		if s.Kinds[kind] == 0 && !testing.Short() && fewer == 1 {
			t.Errorf("no stop was due for %q: the pulls do not try it", kind)
		}
	}
	t.Logf("due: %v", s.Kinds)
	t.Logf("%d pulls (%d without a fault), %d stops due, %d missed, %d late, %d false, worst %d ms, %d records, alarms a pull median %d, most %d, most in ten minutes %d",
		s.Pulls, s.FaultFree, s.Due, s.Missed, s.Late, s.False, s.Worst/1e6, s.Records, s.Alarms(0.5), s.Alarms(1), s.Flood)
}
