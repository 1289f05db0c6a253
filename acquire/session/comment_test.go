package session

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hawse/logfmt"
)

// commenting is a replay that waits at its start, at which a person may comment.
func commenting(t *testing.T, path string, a Author) *Replay {
	t.Helper()
	r, err := OpenReplay(path, "test", 1)
	if err != nil {
		t.Fatal(err)
	}
	if a.Who == "" {
		a.Who, a.Name, a.Now = "logger", "test", func() time.Time { return time.Date(2026, 4, 12, 18, 0, 0, 0, time.UTC) }
	}
	r.CommentAs(a)
	r.SetPaused(true)
	r.Linger()
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- r.Run(ctx) }()
	t.Cleanup(func() { cancel(); <-done })
	return r
}

// settledComments waits until everything said is written.
func settledComments(t *testing.T, r *Replay) *Comments {
	t.Helper()
	r.said.jobs.Wait()
	return r.Comments()
}

func TestCommentInAReplay(t *testing.T) {
	path := pullOf(t, "A1", 0, 300).sealed(t, t.TempDir(), "A1-1.log")
	if err := os.Chmod(path, 0o444); err != nil { // the log itself is only read
		t.Fatal(err)
	}
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	r := commenting(t, path, Author{})
	r.SeekTo(int64(8 * time.Second))
	s := settled(t, r)
	at := r.Here()
	if at.Path != path || at.N != s.N || at.At != s.T || !at.HasX || at.X != s.Haul.X {
		t.Fatalf("here is %+v; the screen shows record %d at %d, %v m", at, s.N, s.T, s.Haul.X)
	}
	r.Comment(at, Addendum{Kind: AddendumRemark, Text: "weed on the \x1b[31manchor"})
	c := settledComments(t, r)
	if len(c.List) != 1 || c.Pending != 0 || len(c.Failed) != 0 || c.Loud || !strings.Contains(c.Told, "remark kept") {
		t.Fatalf("comments: %+v", c)
	}
	got := c.List[0]
	if got.About != at.Place || !got.HasAt || got.At != s.T || got.Who != "logger" || got.Name != "test" || !got.Whole || !got.Matches {
		t.Errorf("kept as %+v; want it about %+v", got, at.Place)
	}
	if b, _ := os.ReadFile(path); !bytes.Equal(b, before) {
		t.Error("the log itself was changed")
	}
	// The results read it.
	pulls, faults := FindPulls([]string{path}, nil)
	if len(pulls) != 1 || len(faults) > 0 {
		t.Fatalf("%v, %v", pulls, faults)
	}
	if res := ReadResult(pulls[0]); len(res.Addenda) != 1 || !res.Addenda[0].Applied || res.Addenda[0].About != at.Place {
		t.Errorf("the result has %+v", res.Addenda)
	}
	// It can be jumped to, behind and before.
	r.SeekTo(int64(9 * time.Second))
	settled(t, r)
	r.Jump(MarkPoint, true)
	if s := settled(t, r); s.T != at.At {
		t.Errorf("back to the last mark is %d, want %d", s.T, at.At)
	}
	r.SeekTo(0)
	settled(t, r)
	r.Jump(MarkPoint, false)
	if s := settled(t, r); s.T != at.At {
		t.Errorf("on to the next mark is %d, want %d", s.T, at.At)
	}
	// Another replay finds it.
	other := commenting(t, path, Author{})
	if c := settledComments(t, other); len(c.List) != 1 || !c.List[0].HasAt || c.List[0].At != at.At {
		t.Errorf("another replay has %+v", c)
	}
}

func TestCommentThatCannotBeKept(t *testing.T) {
	dir := t.TempDir()
	path := pullOf(t, "A1", 0, 300).sealed(t, dir, "A1-1.log")
	no := errors.New("it is being written; end the capture first")
	r := commenting(t, path, Author{Who: "logger", Name: "test", Refuse: func(string) error { return no }})
	r.Comment(r.Here(), Addendum{Kind: AddendumRemark, Text: "weed"})
	c := settledComments(t, r)
	if len(c.Failed) != 1 || c.Failed[0].Text != "weed" || !c.Loud || !strings.Contains(c.Told, "remark NOT kept: it is being written") {
		t.Fatalf("comments: %+v", c)
	}
	no = nil
	r.Retry()
	if c := settledComments(t, r); len(c.Failed) != 0 || len(c.List) != 1 || c.List[0].Text != "weed" {
		t.Errorf("tried again: %+v", c)
	}
	// A folder that cannot be written to: root could, so the disk says no.
	fail := commenting(t, path, Author{Who: "logger", Name: "test", Log: logfmt.Options{FS: noCreate{logfmt.OS}}})
	fail.Comment(fail.Here(), Addendum{Kind: AddendumDoubt, Text: "the rode chafed"})
	fail.Comment(fail.Here(), Addendum{Kind: AddendumRemark, Text: " "})
	left := fail.EndComments()
	if len(left) != 2 || left[0].Text != "the rode chafed" && left[1].Text != "the rode chafed" {
		t.Fatalf("left over: %+v", left)
	}
	if c := fail.Comments(); !c.Loud || len(c.List) != 1 {
		t.Errorf("comments: %+v", c)
	}
	for _, u := range left {
		if u.Kind == AddendumDoubt && !strings.Contains(u.Err.Error(), "choose a folder that can be written to") {
			t.Errorf("the error says nothing of what to do: %v", u.Err)
		}
	}
}

// noCreate is a disk on which no file can be made.
type noCreate struct{ logfmt.FS }

func (noCreate) Create(string) (logfmt.File, error) { return nil, os.ErrPermission }

func TestAddendaNotInOrderAreTold(t *testing.T) {
	dir := t.TempDir()
	path := pullOf(t, "A1", 0, 300).sealed(t, dir, "A1-1.log")
	a := addend(t, path, Addendum{Kind: AddendumRemark, Text: "weed", About: Place{N: 100, T: 5}})
	b := addend(t, path, Addendum{Kind: AddendumDoubt, Text: "chafed"})
	text, err := os.ReadFile(a.Path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(a.Path, bytes.Replace(text, []byte("reason=addendum"), []byte("reason=Addendum"), 1), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(b.Path, []byte(strings.Replace(readText(t, b.Path), "chafed", "parted", 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	r := commenting(t, path, Author{})
	c := settledComments(t, r)
	told := strings.Join(c.Faults, "\n")
	if !strings.Contains(told, filepath.Base(a.Path)+" is not whole") || !strings.Contains(told, filepath.Base(b.Path)) || !c.Loud {
		t.Errorf("damaged addenda: %+v", c)
	}
	// The log is changed: what was said is still listed, and told.
	log := readText(t, path)
	if err := os.WriteFile(path, []byte(log[:len(log)-9]), 0o644); err != nil {
		t.Fatal(err)
	}
	changed := commenting(t, path, Author{})
	if c := settledComments(t, changed); len(c.List) != 1 || c.List[0].Matches || !strings.Contains(strings.Join(c.Faults, "\n"), "not whole") {
		t.Errorf("of a changed log: %+v", c)
	}
	changed.Comment(changed.Here(), Addendum{Kind: AddendumRemark, Text: "cut when copied"})
	if c := settledComments(t, changed); len(c.Failed) > 0 || !c.Loud || !strings.Contains(c.Told, "not whole by its seal") {
		t.Errorf("a remark to a log that is not whole: %+v", c)
	}
}

func readText(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestParseCorrection(t *testing.T) {
	for _, tt := range []struct {
		factor, offset string
		k, n           float64
		want           string
	}{
		{"", "", 1, 0, ""},
		{"1.008", "-12 N", 1.008, -12, ""},
		{"0.00001", "", 0, 0, "decimal point"},
		{"x", "", 0, 0, "without a unit"},
		{"", "12", 0, 0, "12"},
	} {
		k, err := ParseFactor(tt.factor)
		n, err2 := ParseOffset(tt.offset)
		if err = errors.Join(err, err2); tt.want == "" && (err != nil || k != tt.k || float64(n) != tt.n) || tt.want != "" && (err == nil || !strings.Contains(err.Error(), tt.want)) {
			t.Errorf("%q, %q: %v, %v, %v; want %v, %v, %q", tt.factor, tt.offset, k, n, err, tt.k, tt.n, tt.want)
		}
	}
}
