package tui

import (
	"strings"
	"testing"

	"hawse/acquire/session"
)

// The stage done asks for the form; its answers become one mark.
func TestDoneAsksForTheForm(t *testing.T) {
	b := newBench(t, "anchor-up")
	b.press("s", "9")
	if b.m.dlg.kind != formDialog {
		t.Fatalf("after stage done the dialog is %d, want the form", b.m.dlg.kind)
	}
	b.press("2", "5", "backspace", "2", "3", "1", "3", "2", ".", "5", "y", "y", "2", "1")
	if b.m.dlg.form.at != formSteps {
		t.Fatalf("the form stands at %d with %q", b.m.dlg.form.at, b.m.dlg.form.answers)
	}
	b.press("y")
	acts := b.view.did()
	got := acts[len(acts)-1]
	want := "anchor up: flukes partly clogged; soil sat on the flukes; soil stiff clay; damage none seen; fluke angle 32.5 deg; photo none; fit for another pull once cleaned; zero after 0.03 kN, hanging free"
	if got.What != session.ActMark || got.Value != want {
		t.Errorf("the form became %s %q, want a mark %q", got.What, got.Value, want)
	}
	s := *b.view.snap
	s.News = append([]session.News{{Seq: 99, T: s.T, Text: "director: mark: " + want}}, s.News...)
	b.view.set(&s)
	b.tick()
	b.press("s", "9")
	if b.m.dlg.kind == formDialog {
		t.Error("a form that is in the record is asked for again")
	}
}

// STOP goes through the form, another key leaves it, and nothing is recorded.
func TestTheFormIsLeft(t *testing.T) {
	b := newBench(t, "anchor-up")
	b.press("x", "8", "1", "1", "esc")
	if b.m.dlg.kind != noDialog || len(b.view.did()) > 0 {
		t.Errorf("after ESC: dialog %d, acts %v", b.m.dlg.kind, b.view.did())
	}
	b.press("x", "8", "1", " ")
	if acts := b.view.did(); len(acts) != 1 || acts[0].What != session.ActStop || b.m.dlg.kind != noDialog {
		t.Errorf("STOP in the form: %v, dialog %d", acts, b.m.dlg.kind)
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
