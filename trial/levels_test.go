package trial

import (
	"math"
	"strings"
	"testing"
)

func TestLevelsAlongTheLine(t *testing.T) {
	tr := templateTrial(t)
	run := tr.Runs[2] // A1: a pull with the anchor of 16 kg, the block's own mass
	a := NewAlong(tr, run, 35)
	sum, n, last := 0.0, 0, math.Inf(1)
	for out := Length(60); out >= 25; out -= 0.5 {
		bare, dead := a.At(out, 7.5)
		if float64(bare) > last*(1+1e-9) {
			t.Errorf("%v m out: the bare rode takes %v N, more than with more out", out, bare)
		}
		if math.Abs(float64(dead-bare-130)) > 1e-9 {
			t.Errorf("%v m out: the block adds %v N; want 130 N, as its run says", out, dead-bare)
		}
		last = float64(bare)
		sum += float64(bare)
		n++
	}
	if mean := sum / float64(n); math.Abs(mean-120) > 2 {
		t.Errorf("mean along the run %v N; want the 120 N of the file", mean)
	}
	if whole, _ := a.At(60, 7.5); last > 0.98*float64(whole) {
		t.Errorf("at 25 m out %v N, at 60 m %v N: the chain comes off the bottom", last, whole)
	}
	// Up and down all of it hangs, and no friction is left to scale.
	if bare, _ := a.At(7.5, 7.5); math.Abs(float64(bare)-7.5*12) > 1e-6 {
		t.Errorf("up and down %v N; want the 90 N of 7.5 m of chain", bare)
	}
	if near, far := first(a.At(7.6, 7.5)), first(a.At(9, 7.5)); near > 100 || far > 110 {
		t.Errorf("7.6 m out %v N, 9 m out %v N; want about what hangs", near, far)
	}
	// What is not known gives the file's numbers.
	if bare, dead := a.At(Length(math.NaN()), 7.5); bare != 120 || dead != 250 {
		t.Errorf("rode out unknown: %v, %v N", bare, dead)
	}
	// Another mass, in proportion.
	for i := range tr.Anchors {
		tr.Anchors[i].Mass *= 2
	}
	bare, dead := NewAlong(tr, run, 35).At(50, 7.5)
	if math.Abs(float64(dead-bare)-260) > 1e-9 {
		t.Errorf("an anchor of twice the mass adds %v N; want 260", dead-bare)
	}
}

func first(f, _ Force) Force { return f }

func TestLevelsUnknown(t *testing.T) {
	tr := templateTrial(t)
	tr.Levels = Levels{}
	a := NewAlong(tr, tr.Runs[2], 35)
	bare, dead := a.At(60, 7.5)
	if !(bare > 50 && bare < 120) || dead != 0 || !strings.Contains(a.Source(), "assumed") {
		t.Errorf("no levels in the file: bare %v, dead %v, source %q; want it from the statics, and no dead weight", bare, dead, a.Source())
	}
	for i := range tr.Rode {
		tr.Rode[i].HasFriction, tr.Rode[i].Friction = false, 0
	}
	if bare, dead := NewAlong(tr, tr.Runs[2], 35).At(60, 7.5); bare != 0 || dead != 0 {
		t.Errorf("neither levels nor friction: %v, %v", bare, dead)
	}
}
