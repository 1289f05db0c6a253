package session

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// What came up is a record with keys of its own; live and replay hold the same.
func TestCameUp(t *testing.T) {
	h := byHand(t)
	h.run(3 * time.Second)
	const typed = "flukes=part soil_at=flukes soil=sand damage=none fit=yes angle=32.5 deg photo=7 zero=0.03 kN"
	h.must(safety.Logger, ActCameUp, typed)
	act := h.d.Records[len(h.d.Records)-2]
	if got := words(act); act.Kind != logfmt.Act || !strings.Contains(got, `soil="sand"`) || !strings.Contains(got, `zero_n="30"`) || act.Str("value") != "" {
		t.Errorf("in the record: %s; want a field an answer, in SI", got)
	}
	if s := h.d.Snapshot(); s.CameUp == nil || s.CameUp.Photo != "7" || !strings.HasPrefix(s.News[0].Text, "anchor up: flukes partly clogged; soil sat on the flukes; soil sand") {
		t.Errorf("the snapshot has %+v, news %q", s.CameUp, s.News[0].Text)
	}
	h.refused(safety.Watcher, ActCameUp, typed, "read-only")
	h.refused(safety.Director, ActCameUp, "flukes=muddy", "clean, part, clogged")
	if bad := h.d.Records[len(h.d.Records)-2]; bad.Str("value") != "flukes=muddy" {
		t.Errorf("a form that was refused stands as %s; want it as it was typed", words(bad))
	}
	h.refused(safety.WinchOperator, ActCameUp, "flukes=clean", "with what was said before, flukes=clean and soil_at=flukes contradict")
	h.must(safety.WinchOperator, ActCameUp, "flukes=clogged")
	if s := h.d.Snapshot(); s.CameUp.Flukes != "clogged" || s.CameUp.Photo != "7" {
		t.Errorf("said again in part, the snapshot has %+v; want the rest as it was", s.CameUp)
	}
	h.must(safety.Director, ActCameUp, "taken=photo,soil remark=nobody had looked")
	if s := h.d.Snapshot(); s.CameUp.Photo != "" || s.CameUp.Soil != "" || s.CameUp.Taken != "" || s.CameUp.Flukes != "clogged" || !strings.Contains(s.News[0].Text, "taken back: photo, soil") {
		t.Errorf("taken back, the snapshot has %+v, news %q", s.CameUp, s.News[0].Text)
	}
	h.end()
	f, _, err := Refold(bytes.NewReader(logOf(h.d)), "test")
	if err != nil || len(f.Diffs) > 0 {
		t.Fatalf("replay: %v, %v", err, f.Diffs)
	}
	if s := f.Snapshot(); s.CameUp == nil || *s.CameUp != *h.d.Snapshot().CameUp {
		t.Errorf("the replay has %+v", s.CameUp)
	}
}

// Results keep all that was said, an old log's mark among it; an addendum comes last.
func TestResultsOfCameUp(t *testing.T) {
	h := byHand(t)
	h.run(2 * time.Second)
	h.must(safety.Director, ActMark, "anchor up: flukes clogged; soil sat on all of it; soil stiff clay; damage none seen; fluke angle not measured; photo none; fit for another pull once cleaned; zero after not looked at")
	if s := h.d.Snapshot(); s.CameUp == nil || s.CameUp.Soil != "stiff-clay" {
		t.Errorf("of the mark of an old log the snapshot has %+v", s.CameUp)
	}
	h.must(safety.Logger, ActCameUp, "flukes=part photo=7")
	h.do(safety.Logger, ActCameUp, "flukes=x")
	path := filepath.Join(t.TempDir(), "a.log")
	if err := os.WriteFile(path, logOf(h.d), 0o644); err != nil {
		t.Fatal(err)
	}
	want := Addendum{Kind: AddendumCameUp, CameUp: trial.CameUp{Damage: "shank", Angle: 0.5, Zero: -12, Zeroed: true, Remark: "seen ashore"}, Name: "test", Who: "logger", Written: time.Date(2026, 4, 12, 18, 0, 0, 0, time.UTC)}
	if _, err := WriteAddendum(path, Addendum{Kind: AddendumCameUp, Name: "test"}, logfmt.Options{}); err == nil || !strings.Contains(err.Error(), "nothing is said") {
		t.Errorf("an addendum with an empty form: %v", err)
	}
	want, err := WriteAddendum(path, want, logfmt.Options{})
	if err != nil {
		t.Fatal(err)
	}
	pulls, faults := FindPulls([]string{path}, nil)
	if len(pulls) != 1 || len(faults) > 0 {
		t.Fatalf("%d pulls, %v", len(pulls), faults)
	}
	r := ReadResult(pulls[0])
	if len(r.CameUp) != 3 || r.CameUp[0].Fit != "cleaned" || r.CameUp[1].Photo != "7" || r.CameUp[1].Who != "logger" || r.CameUp[2].T != -1 {
		t.Fatalf("told: %+v", r.CameUp)
	}
	if last := r.LastCameUp(); last.Addendum != filepath.Base(want.Path) || last.Damage != "shank" || last.Flukes != "part" || last.Fit != "cleaned" {
		t.Errorf("what holds is %+v; want the later answer of each, by the addendum %+v", last, want.CameUp)
	}
	// A form that a hostile hand has put into an addendum is told as unread.
	text, _ := os.ReadFile(want.Path)
	if err := os.WriteFile(want.Path, bytes.Replace(text, []byte("damage=shank"), []byte("damage=shark"), 1), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := ReadAddendum(want.Path); err == nil {
		t.Error("an addendum whose form was changed is read without a word")
	}
}

// All of it may be taken back; what was never said cannot be.
func TestCameUpTakenBack(t *testing.T) {
	h := byHand(t)
	h.run(2 * time.Second)
	h.refused(safety.Logger, ActCameUp, "taken=photo", "nothing was said before")
	h.must(safety.Logger, ActCameUp, "photo=7")
	h.must(safety.Logger, ActCameUp, "taken=photo")
	if s := h.d.Snapshot(); s.CameUp != nil {
		t.Errorf("all taken back, the snapshot has %+v", s.CameUp)
	}
	path := h.put(t, t.TempDir(), "A1.log")
	if r := resultOf(t, path); r.LastCameUp() != nil || len(r.CameUp) != 2 {
		t.Errorf("the results have %+v of %+v; want nothing that holds, of two that were said", r.LastCameUp(), r.CameUp)
	}
}
