package tui

import (
	"math"
	"strings"
	"testing"
	"time"

	"hawse/acquire/session"
	"hawse/trial"
)

// The stage done asks for the form; its answers become one act.
func TestDoneAsksForTheForm(t *testing.T) {
	b := newBench(t, "anchor-up")
	b.press("s", "9")
	if b.m.dlg.kind != formDialog {
		t.Fatalf("after stage done the dialog is %d, want the form", b.m.dlg.kind)
	}
	b.press("2", "5", "backspace", "2", "3", "1", "3", "2", ".", "5", "y", "0", "7", "y", "2", "1", "W", "e", "tab", "d", "enter")
	if q := b.m.questionOf(b.m.dlg.form); q != askAll {
		t.Fatalf("the form stands at question %d with %+v", q, b.m.dlg.form)
	}
	b.press("y")
	acts := b.view.did()
	got := acts[len(acts)-1]
	said, err := trial.ParseCameUp(got.Value)
	want := trial.CameUp{Flukes: "part", SoilAt: "flukes", Soil: "stiff-clay", Damage: "none", Angle: 32.5 * math.Pi / 180, Photo: "7", Fit: "cleaned", Zero: 30, Zeroed: true, Remark: "We d"}
	if d := math.Abs(float64(said.Angle - want.Angle)); d < 1e-15 {
		want.Angle = said.Angle
	}
	if got.What != session.ActCameUp || err != nil || said != want {
		t.Errorf("the form became %s %q, %v; want %+v", got.What, got.Value, err, want)
	}
	s := *b.view.snap
	s.CameUp = &said
	b.view.set(&s)
	b.tick()
	b.press("s", "9")
	if b.m.dlg.kind == formDialog {
		t.Error("a form that is in the record is asked for again")
	}
}

// Keys that are no answer do nothing, ESC and STOP leave the form, and it goes on
// where it was left.
func TestTheFormIsLeft(t *testing.T) {
	b := newBench(t, "anchor-up")
	b.press("x", "8", "2", "q", "8", "k", "n", "9", "1")
	if f := b.m.dlg.form; b.m.dlg.kind != formDialog || f.at != 2 || f.said.SoilAt != "nowhere" || len(b.view.did()) > 0 {
		t.Fatalf("after stray keys: dialog %d, %+v, acts %v", b.m.dlg.kind, f, b.view.did())
	}
	b.press("esc")
	if b.m.dlg.kind != noDialog || len(b.view.did()) > 0 {
		t.Errorf("after ESC: dialog %d, acts %v", b.m.dlg.kind, b.view.did())
	}
	b.press("x", "8", "4", " ")
	if acts := b.view.did(); len(acts) != 1 || acts[0].What != session.ActStop || b.m.dlg.kind != noDialog {
		t.Errorf("STOP in the form: %v, dialog %d", acts, b.m.dlg.kind)
	}
	b.now = b.now.Add(time.Second)
	b.tick()
	b.press("x", "8")
	if f := b.m.dlg.form; f.at != 3 || f.said.Soil != "sand" || f.said.Flukes != "part" {
		t.Errorf("opened again the form has %+v; want it to go on", f)
	}
}

// Clean flukes carry no soil: nobody is asked where it sat. What was said can be
// changed, and a number out of bounds is told.
func TestTheFormIsShortAndForgives(t *testing.T) {
	b := newBench(t, "anchor-up")
	b.press("x", "8", "1")
	if q := b.m.questionOf(b.m.dlg.form); q != askDamage {
		t.Errorf("after clean flukes question %d is asked, want the damage", q)
	}
	b.press("backspace", "2", "1", "1", "0", "9", "9", "y")
	if q := b.m.questionOf(b.m.dlg.form); q != askAngle || !strings.Contains(b.m.note, "at most 90") || b.m.dlg.form.typed != "99" {
		t.Errorf("99 degrees: question %d, typed %q, note %q", q, b.m.dlg.form.typed, b.m.note)
	}
	b.press("backspace", "backspace", "4", "5", "y", "backspace", "y")
	if f := b.m.dlg.form; f.said.AngleText() != "45 deg" || f.said.Damage != "" || f.said.Flukes != "part" {
		t.Errorf("after going back and on: %+v", f.said)
	}
	b.press("backspace", "0", "y")
	if b.m.dlg.form.said.Angle != 0 {
		t.Error("0 does not take the angle back")
	}
}

// Over a line that may be loaded the form asks for no words, and takes none.
func TestTheFormTakesNoWordsOverALoadedLine(t *testing.T) {
	b := newBench(t, "anchor-up")
	b.press("x", "8", "1", "1", "y", "y", "1", "1")
	if q := b.m.questionOf(b.m.dlg.form); q != askRemark {
		t.Fatalf("question %d over a slack line, want the remark", q)
	}
	s := *b.view.snap
	s.Tension.Big = s.Config.Slack + 1
	b.view.set(&s)
	b.tick()
	if q := b.m.questionOf(b.m.dlg.form); q != askAll {
		t.Errorf("question %d once the line is loaded, want the form as a whole", q)
	}
}

// Over a line that may be loaded no words are written: the list alone.
func TestNoFreeTextOverALoadedLine(t *testing.T) {
	for _, tt := range []struct {
		name   string
		loaded func(*session.Snapshot)
		words  bool
	}{
		{"slack", func(*session.Snapshot) {}, true},
		{"above slack", func(s *session.Snapshot) { s.Tension.Big = s.Config.Slack + 1 }, false},
		{"unknown", func(s *session.Snapshot) { s.Tension.Known = false }, false},
	} {
		b := newBench(t, "checks-half")
		s := *b.view.snap
		tt.loaded(&s)
		b.view.set(&s)
		b.tick()
		b.press("a", "v", "2", "s", "e", "a")
		if got := strings.Contains(b.m.dlg.value, "sea"); got != tt.words {
			t.Errorf("%s: words taken %v, want %v (%q)", tt.name, got, tt.words, b.m.dlg.value)
		}
		if tt.words {
			continue
		}
		b.press("1", "enter")
		if acts := b.view.did(); len(acts) != 1 || acts[0].What != session.ActWaive {
			t.Errorf("%s: a reason of the list: %v", tt.name, acts)
		}
	}
}

// What is in the record opens the form again: an answer is left as it is, changed,
// or taken back, and only what is other is said.
func TestTheFormTakesAnAnswerBack(t *testing.T) {
	b := newBench(t, "anchor-up")
	s := *b.view.snap
	s.CameUp = &trial.CameUp{Flukes: "part", SoilAt: "flukes", Soil: "sand", Damage: "fluke", Fit: "no", Angle: 0.5, Photo: "7", Zero: 30, Zeroed: true, Remark: "weed"}
	b.view.set(&s)
	b.tick()
	said := func(want string) {
		t.Helper()
		acts := b.view.did()
		if len(acts) == 0 || acts[len(acts)-1].Value != want {
			t.Errorf("said %+v, want %q; note %q", acts, want, b.m.note)
		}
	}
	b.press("x", "8")
	if f := b.m.dlg.form; f.said != *s.CameUp || !strings.Contains(cells(b.m.draw(), b.m.w, b.m.h), "partly clogged.") || !strings.Contains(b.m.formKeys(), "y as said") {
		t.Fatalf("opened again with %+v", f)
	}
	b.press("y", "y", "y", "0", "y", "0", "y", "1", "y", "0", "enter", "y")
	said("fit=yes taken=damage,photo,remark")

	b.press("x", "8", "y", "y", "y", "y", "y", "y", "y", "0", "enter", "y")
	said("taken=zero")

	n := len(b.view.did())
	b.press("x", "8", "y", "y", "y", "y", "y", "y", "y", "y", "enter", "y")
	if len(b.view.did()) != n || !strings.Contains(b.m.note, "nothing is other") {
		t.Errorf("nothing was changed: %v, note %q", b.view.did()[n:], b.m.note)
	}
	b.press("esc")

	// Flukes that are not clean any more: where the soil sat has not been said.
	b = newBench(t, "anchor-up")
	b.press("x", "8", "1", "backspace", "2")
	if f := b.m.dlg.form; f.said.SoilAt != "" || f.said.Soil != "" || f.said.Flukes != "part" {
		t.Errorf("clean, then partly clogged: %+v", f.said)
	}
	b.press("y")
	if q := b.m.questionOf(b.m.dlg.form); q != askSoilAt {
		t.Errorf("y answers a question that has no answer yet: at %d", q)
	}
}
