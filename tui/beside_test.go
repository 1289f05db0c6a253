package tui

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hawse/acquire/session"
	"hawse/trial"
)

// The new screens in the other lights, as the views are.
func TestGoldenLightsBeside(t *testing.T) {
	for _, name := range []string{"overlay-block", "compare", "afterwards"} {
		for light := LightDay; light <= LightPlain; light++ {
			m := sceneNamed(name).inLight(t, light, light == LightPlain, 80, 24)
			got := looks(m.frame, 80, 24)
			if light == LightPlain {
				got = cells(m.frame, 80, 24) + "--- looks\n" + got
			}
			golden(t, filepath.Join("lights", fmt.Sprintf("%s-%v.txt", name, light)), got)
		}
	}
}

// One key goes through what lies beneath, and says what it is; the live trace and
// its scale of time are as without.
func TestOverlayCycles(t *testing.T) {
	b := newBench(t, "overlay-anchor")
	for _, want := range []struct {
		over overlay
		n    int
		say  string
	}{
		{overlayAnchor, 1, "A16 Alder Flat lane 3, run A0, peak 2.06 kN; left out: A0-2.log: damaged"},
		{overlayBlock, 2, "b C11 Alder Flat lane 5, run C1, peak > 1.57 kN; 1 more of the block"},
		{overlayNone, 0, "nothing"},
	} {
		b.press("w")
		if b.m.over != want.over || len(b.m.under) != want.n || !strings.Contains(b.m.note, want.say) {
			t.Errorf("overlay %v with %d beneath, saying %q; want %v, %d, %q", b.m.over, len(b.m.under), b.m.note, want.over, want.n, want.say)
		}
	}
	if n := len(b.view.did()); n > 0 {
		t.Errorf("looking at earlier pulls did %d acts", n)
	}
	for _, tt := range []struct {
		earlier *session.EarlierPulls
		say     string
	}{
		{&session.EarlierPulls{}, "still being read"},
		{&session.EarlierPulls{Done: true}, "no earlier pull of anchor A16"},
	} {
		b.m.over, b.m.earlier = overlayNone, func() *session.EarlierPulls { return tt.earlier }
		if b.press("w"); !strings.Contains(b.m.note, tt.say) {
			t.Errorf("of %+v it says %q, want %q", tt.earlier, b.m.note, tt.say)
		}
	}
	b.m.earlier = nil
	if b.press("w"); !strings.Contains(b.m.note, "no folder") {
		t.Errorf("with nobody looking: %q", b.m.note)
	}
}

// What lies beneath is the series of the stage in hand: over a recovery no pull is
// drawn.
func TestOverlayIsOfTheStage(t *testing.T) {
	m, _ := sceneNamed("overlay-anchor").screen(t, 120, 40)
	s := *m.snap
	s.Hauled, m.snap = trial.Recover, &s
	if m = m.measure(); len(m.under) != 0 {
		t.Errorf("%d pulls beneath a recovery", len(m.under))
	}
}

// The earlier curve lies where its tension and line hauled are: at the cell of its
// own peak stands one of its signs, unless the live trace is there.
func TestOverlayLiesByLineHauled(t *testing.T) {
	m, _ := sceneNamed("overlay-anchor").screen(t, 200, 60)
	k := m.under[0]
	p := m.traces[0].plot
	if float64(k.series.ByHaul.Most()) > p.x1 || float64(k.course.Peak.Value) > p.y1 {
		t.Fatalf("the axes end at %v m, %v N; the earlier pull at %v m, %v", p.x1, p.y1, k.series.ByHaul.Most(), k.course.Peak.Value)
	}
	c := newCanvas(m.w, m.h)
	p.drawUnder(c, m.under, false)
	for _, x := range []float64{6, 10, 14, 20, 26} {
		dx, _ := p.dotX(x)
		dy, _ := p.dotY(float64(weaker(x)))
		cell := c.cells[(p.area.y+dy/4)*c.w+p.area.x+dx/2].r
		near := false
		for d := -1; d <= 1; d++ {
			r := c.cells[(p.area.y+dy/4+d)*c.w+p.area.x+dx/2].r
			near = near || r == underSigns[0] || r == underSigns[1] || r == underSigns[2]
		}
		if !near {
			t.Errorf("at %v m, %v N the cell shows %q", x, weaker(x), cell)
		}
	}
}

func commenter(b *bench) *fakeCommenter { return b.m.player.(*fakeCommenter) }

func newRemarkBench(t *testing.T, name string) *bench {
	b := newBench(t, name)
	commenter(b).paused = false
	return b
}

func TestRemarkIsWritten(t *testing.T) {
	b := newRemarkBench(t, "afterwards")
	b.press("r")
	f := commenter(b)
	if !f.paused || b.m.dlg.kind != afterDialog {
		t.Fatalf("r: paused %v, dialog %v", f.paused, b.m.dlg.kind)
	}
	b.press("1")
	b.press(typed("foul of weed?q")...)
	b.press("backspace")
	b.press("enter")
	want := []session.Addendum{{Kind: session.AddendumRemark, Text: "foul of weed?", About: f.Here().Place}}
	if d := cmp.Diff(want, f.said); d != "" || f.paused || b.m.dlg.kind != noDialog {
		t.Errorf("said (-want +got), paused %v, dialog %v:\n%s", f.paused, b.m.dlg.kind, d)
	}
	if n := len(b.view.did()); n > 0 {
		t.Errorf("the blank in a remark did %d acts", n)
	}
	// Left, it is not lost.
	b.press("r", "2")
	b.press(typed("chaf")...)
	b.press("esc")
	if f.paused || b.m.dlg.kind != noDialog {
		t.Errorf("left: paused %v, dialog %v", f.paused, b.m.dlg.kind)
	}
	b.press("r", "2")
	b.press(typed("ed")...)
	b.press("enter")
	if got := f.said[len(f.said)-1]; got.Kind != session.AddendumDoubt || got.Text != "chafed" {
		t.Errorf("taken up again: %+v", got)
	}
	// A stop's key beside the words is STOP still.
	b.press("r", " ")
	if len(b.view.did()) != 1 || b.m.dlg.kind != noDialog {
		t.Errorf("space over the list: %v", b.view.did())
	}
}

func TestCorrectionIsAskedWhole(t *testing.T) {
	b := newRemarkBench(t, "afterwards")
	f := commenter(b)
	b.press("r", "4")
	b.press(typed("9,5")...)
	b.press("enter")
	if b.m.dlg.kind != wordsDialog || b.m.dlg.words.step != 0 || !strings.Contains(b.m.note, "without a unit") {
		t.Errorf("a factor that is none: step %d, %q", b.m.dlg.words.step, b.m.note)
	}
	b.press("backspace", "backspace", "backspace")
	b.press(typed("0.99")...)
	b.press("enter")
	b.press(typed("-3 N")...)
	b.press("enter", "enter")
	if len(f.said) != 0 || !strings.Contains(b.m.note, "says why") {
		t.Errorf("a correction without a why: %+v, %q", f.said, b.m.note)
	}
	b.press("backspace") // of nothing: a field back
	if b.m.dlg.words.step != 1 {
		t.Errorf("back is field %d", b.m.dlg.words.step)
	}
	b.press("enter")
	b.press(typed("by the weight")...)
	b.press("enter")
	b.press("r", "3")
	b.press(typed("25.0 kg")...)
	b.press("enter")
	b.press(typed("247 N")...)
	b.press("enter", "enter")
	if len(f.said) != 2 || f.said[0].Factor != 0.99 || f.said[0].Offset != -3 || f.said[0].Text != "by the weight" ||
		math.Abs(float64(f.said[1].Weight)-245.17) > 0.01 || f.said[1].Shown != 247 || f.said[1].Text != "" {
		t.Errorf("said %+v", f.said)
	}
}

func TestNothingSaidIsLostByLeaving(t *testing.T) {
	b := newBench(t, "afterwards-failed")
	if cmd := b.press("q"); cmd != nil || !strings.Contains(b.m.note, "no space left") {
		t.Errorf("left with something not kept: %q", b.m.note)
	}
	b.press("r", "9")
	if f := commenter(b); f.retries != 1 {
		t.Errorf("tried again %d times", f.retries)
	}
	if cmd := b.press("q"); cmd == nil {
		t.Error("a second q does not leave")
	}
	b = newBench(t, "replay")
	if b.press("r"); b.m.dlg.kind != noDialog || !strings.Contains(b.m.note, "hawse addendum") {
		t.Errorf("where nothing can be said: dialog %v, %q", b.m.dlg.kind, b.m.note)
	}
}

func TestTwoPullsPlayTogether(t *testing.T) {
	b := newBench(t, "compare")
	b.press("c")
	p := &b.m.pair
	if !p.open || !b.m.player.Paused() || p.at != 0 || p.speed != 8 {
		t.Fatalf("c: open %v, at %v, speed %v", p.open, p.at, p.speed)
	}
	b.now = b.now.Add(time.Second) // 0.04 m/s, eight times
	before := p.at
	b.tick()
	if d := p.at - before; math.Abs(d-0.32) > 0.02 {
		t.Errorf("a second at ×8 moves %v m, want about 0.32", d)
	}
	b.press("p")
	at := p.at
	b.now = b.now.Add(time.Minute)
	b.tick()
	if p.at != at || !p.paused {
		t.Errorf("paused, it moved from %v to %v", at, p.at)
	}
	b.press("]", "right", "[", "left")
	if math.Abs(p.at-at) > 1e-9 {
		t.Errorf("on and back again is %v, was %v", p.at, at)
	}
	b.press("end")
	_, to := p.span()
	if p.at != to {
		t.Errorf("end is %v, want %v", p.at, to)
	}
	b.press("t")
	if _, to := p.span(); p.axis != pairTime || p.at != to {
		t.Errorf("along time the end is %v, want %v", p.at, to)
	}
	b.press("home", "m")
	if p.at != 200 || !strings.Contains(b.m.note, "felt or heard") {
		t.Errorf("the mark is at %v s: %q", p.at, b.m.note)
	}
	b.press("t", "t", "S")
	if p.axis != pairHauled || !strings.Contains(b.m.note, "phase") {
		t.Errorf("back to a phase: axis %v, %q", p.axis, b.m.note)
	}
	b.press("p", "+", "-", "v", "?", "x", " ")
	if len(b.view.did()) != 0 || !p.open {
		t.Errorf("acts %v, open %v", b.view.did(), p.open)
	}
	if cmd := b.press("q"); cmd != nil || b.m.pair.open {
		t.Error("q does not go back to the replay")
	}
}

func TestComparisonThatCannotBe(t *testing.T) {
	whole := earlierScene().Whole
	for _, tt := range []struct {
		p   *session.EarlierPulls
		say string
	}{
		{&session.EarlierPulls{}, "still being read"},
		{&session.EarlierPulls{Done: true}, "cannot be laid beside"},
		{&session.EarlierPulls{Fault: "A1.log: has no end"}, "not beside another: A1.log: has no end"},
		{&session.EarlierPulls{Done: true, Whole: whole}, "no earlier pull to compare with"},
	} {
		b := newBench(t, "compare")
		b.m.earlier = func() *session.EarlierPulls { return tt.p }
		b.m.over = overlayNone
		if b.press("c"); b.m.pair.open || !strings.Contains(b.m.note, tt.say) {
			t.Errorf("of %+v: open %v, %q; want %q", tt.p, b.m.pair.open, b.m.note, tt.say)
		}
	}
	b := newBench(t, "replay")
	if b.press("c"); !strings.Contains(b.m.note, "replay A B") {
		t.Errorf("without a folder: %q", b.m.note)
	}
}
