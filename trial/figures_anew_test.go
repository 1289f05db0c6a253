package trial

import (
	"math"
	"strings"
	"testing"
)

// out is readings over a rode out of so much where line hauled is 0.
func out(in []Reading, rode Length) []Reading {
	for i := range in {
		in[i].RodeOut, in[i].Height = rode-in[i].X, 7.5
	}
	return in
}

// The rode out said anew between two stays, and while held: told with what was
// counted before; the means are those of the new count alone.
func TestRodeOutSaidAnew(t *testing.T) {
	first := out(ramp(0, 0, 12, Pull, 2, 2), 60)
	at, _ := after(first)
	between := out(stands(at, 0, Stopped, 1.5, 1.5, 1.5), 40) // 48 m were counted
	again := out(ramp(at+3, 0, 11, Pull, 4, 4), 40)
	s := studyOf(t, nil)
	end := int64(0)
	for _, in := range [][]Reading{first, between, again} {
		for i := range in {
			s.Add(&in[i])
			end = in[i].T
		}
	}
	f := s.Figures(end)
	if len(f.Anew) != 1 || f.Anew[0].Stage != Stopped || math.Abs(float64(f.Anew[0].Was)-48) > 0.01 || f.Anew[0].Now != 40 {
		t.Fatalf("said anew: %+v, want once, 48 m before and 40 m now", f.Anew)
	}
	mean := f.Quantities[Mean0to10m]
	if got := valueOf(t, f, Mean0to10m); math.Abs(got-4000) > 1 || !strings.HasPrefix(mean.Note, noteAnew) {
		t.Errorf("mean of 0 to 10 m %v, %q; want that of the new count, and told", got, mean.Note)
	}
	if got := valueOf(t, f, HauledInPull); math.Abs(got-23) > 0.02 {
		t.Errorf("%v m hauled in pull, want 23", got)
	}
	if n := f.Quantities[HauledAtPeak].Note; strings.Contains(n, "anew") {
		t.Errorf("the peak came after it, and its line says %q", n)
	}

	// While held, in one stay; the peak lay before.
	s = studyOf(t, nil)
	first = out(ramp(0, 0, 12, Pull, 2, 5), 60)
	at, _ = after(first)
	for _, in := range [][]Reading{first, out(stands(at+0.5, 0, Hold, 4, 4, 4), 40), out(ramp(at+3, 0, 3, Pull, 4, 4), 40)} {
		for i := range in {
			s.Add(&in[i])
			end = in[i].T
		}
	}
	f = s.Figures(end)
	if got := valueOf(t, f, HauledInPull); math.Abs(got-15) > 0.02 || len(f.Anew) != 1 || len(f.Hauls) != 1 {
		t.Errorf("%v m hauled in %d stays, said anew %+v; want 15 m in one", got, len(f.Hauls), f.Anew)
	}
	if n := f.Quantities[HauledAtPeak].Note; !strings.Contains(n, noteBefore) {
		t.Errorf("line hauled at a peak before it says %q", n)
	}

	// Before the pull it is how a pull begins.
	s = studyOf(t, nil)
	for _, in := range [][]Reading{out(ramp(0, 0, 3, Preset, 1, 1), 20), out(ramp(80, 0, 11, Pull, 2, 2), 60)} {
		for i := range in {
			s.Add(&in[i])
			end = in[i].T
		}
	}
	if f = s.Figures(end); len(f.Anew) != 0 || f.Quantities[Mean0to10m].Note != "" && strings.Contains(f.Quantities[Mean0to10m].Note, "anew") {
		t.Errorf("said before the pull: %+v, %q", f.Anew, f.Quantities[Mean0to10m].Note)
	}
}
