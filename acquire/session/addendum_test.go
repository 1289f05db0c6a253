package session

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hawse/logfmt"
)

func TestAddendum(t *testing.T) {
	_, path := crashed(t)
	at := time.Date(2026, 4, 12, 18, 0, 0, 0, time.UTC)
	want := []Addendum{
		{Kind: AddendumRemark, Text: "weed on the anchor \u2013 a \"lot\"\n", Name: "test", Who: "logger", Written: at},
		{Kind: AddendumDoubt, Text: "the rode chafed", Name: "test", Who: "director", Written: at},
		{Kind: AddendumWeight, Weight: 245, Shown: 247.45, Name: "test", Who: "logger", Written: at},
		{Kind: AddendumCorrect, Factor: 0.99, Offset: -3, Text: "by the weight", Name: "test", Who: "logger", Written: at.Add(time.Hour)},
	}
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for i := range want {
		if want[i], err = WriteAddendum(path, want[i], logfmt.Options{}); err != nil {
			t.Fatal(err)
		}
		if rep, err := logfmt.VerifyFile(want[i].Path); err != nil || !rep.Whole || rep.Beside != logfmt.BesideAgrees {
			t.Errorf("%s: %v, %s; want it sealed, with its checksum beside it", want[i].Path, err, rep.Verdict())
		}
	}
	got, err := Addenda(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("addenda (-written +read):\n%s", diff)
	}
	if off := got[2].Off(); math.Abs(off-0.01) > 1e-12 {
		t.Errorf("the cell shows %v too much, want 0.01", off)
	}
	if after, _ := os.ReadFile(path); string(after) != string(before) {
		t.Error("the log itself was changed")
	}
	if d, err := FindUnfinished([]string{filepath.Dir(path)}, "A1", func(string) bool { return false }); err != nil || d != path {
		t.Errorf("addenda beside it, and the unfinished log is %q, %v", d, err)
	}
	// The log is changed, and one addendum is.
	if err := os.WriteFile(path, before[:len(before)-9], 0o644); err != nil {
		t.Fatal(err)
	}
	text, _ := os.ReadFile(got[1].Path)
	if err := os.WriteFile(got[1].Path, []byte(strings.Replace(string(text), "chafed", "parted", 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	got, err = Addenda(path)
	if len(got) != 3 || got[0].Matches || !got[0].Whole || err == nil || !strings.Contains(err.Error(), "addendum") {
		t.Errorf("a changed log and a changed addendum: %d read, %v, first %+v; want three that match no more, and the other told", len(got), err, got[0])
	}
}

func TestAddendumRefused(t *testing.T) {
	_, path := crashed(t)
	noLog := filepath.Join(t.TempDir(), "b.log")
	if err := os.WriteFile(noLog, []byte("nothing\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		path string
		a    Addendum
		want string
	}{
		{path, Addendum{Kind: AddendumRemark, Name: "test", Text: " "}, "needs its words"},
		{path, Addendum{Kind: "praise", Name: "test"}, "unknown kind"},
		{path, Addendum{Kind: AddendumDoubt, Text: "x"}, "who wrote it"},
		{path, Addendum{Kind: AddendumWeight, Name: "test"}, "above zero"},
		{path, Addendum{Kind: AddendumWeight, Name: "test", Weight: 5, Shown: 0, Offset: 1}, ""},
		{path, Addendum{Kind: AddendumCorrect, Name: "test"}, "factor"},
		{noLog, Addendum{Kind: AddendumDoubt, Text: "x", Name: "test"}, "no log of this program"},
		{filepath.Join(t.TempDir(), "none.log"), Addendum{Kind: AddendumDoubt, Text: "x", Name: "test"}, "no such file"},
	} {
		_, err := WriteAddendum(tt.path, tt.a, logfmt.Options{})
		if tt.want == "" && err != nil || tt.want != "" && (err == nil || !strings.Contains(err.Error(), tt.want)) {
			t.Errorf("%+v on %s: %v, want %q", tt.a, tt.path, err, tt.want)
		}
	}
	of, err := WriteAddendum(path, Addendum{Kind: AddendumDoubt, Text: "x", Name: "test"}, logfmt.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := WriteAddendum(of.Path, Addendum{Kind: AddendumDoubt, Text: "x", Name: "test"}, logfmt.Options{}); err == nil {
		t.Error("an addendum to an addendum was written")
	}
}
