package session

import (
	"fmt"
	"math"
	"testing"

	"hawse/trial"
)

// TestWatchedOnce: who watches a pull sees what its figures are made of, in order,
// with a gap where it broke off, and changes nothing of them.
func TestWatchedOnce(t *testing.T) {
	_, one, _ := inTwo(t)
	pulls, faults := FindPulls([]string{one}, nil)
	if len(faults) > 0 || len(pulls) != 1 {
		t.Fatalf("%d pulls, %v", len(pulls), faults)
	}
	study := trial.NewStudy(ReadResult(pulls[0]).Head.Trial, ReadResult(pulls[0]).Head.Run)
	var last int64
	top, samples, gapsAfterSample := trial.Force(math.Inf(-1)), 0, 0
	watched := WatchResult(pulls[0], func(in JudgeInput, travel trial.Length) {
		if in.T < last {
			t.Fatalf("a sample at %d ns after one at %d", in.T, last)
		}
		last = in.T
		switch {
		case in.Vessel:
		case in.Gap:
			study.Gap(in.T)
			if samples > 0 {
				gapsAfterSample++
			}
		default:
			samples++
			if in.Stage == trial.Pull || in.Stage == trial.Hold {
				top = max(top, in.Tension)
			}
			r := in.Reading()
			study.Add(&r)
			if r.Travel != travel && (!math.IsNaN(float64(r.Travel)) || !math.IsNaN(float64(travel))) {
				t.Fatalf("at %d ns the anchor has come %v m, as the figures have it %v m", in.T, travel, r.Travel)
			}
		}
	})
	if alone := ReadResult(pulls[0]); fmt.Sprint(alone.Figures.Quantities) != fmt.Sprint(watched.Figures.Quantities) || alone.Length != watched.Length {
		t.Error("the figures are others when somebody watches")
	}
	if peak := watched.Figures.Quantities[trial.PeakInstant].Read[0].V; samples == 0 || float64(top) != peak {
		t.Errorf("of %d samples the greatest in the pull is %v N; the figures say %v N", samples, top, peak)
	}
	if gapsAfterSample == 0 {
		t.Error("no gap where the pull broke off")
	}
}
