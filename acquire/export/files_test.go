package export

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

func put(t testing.TB, path, text string) string {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func openFolder(t testing.TB, dir string, force bool) *Folder {
	t.Helper()
	f, err := OpenFolder(dir, force)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

// tree lists the files below a folder with their text.
func tree(t testing.TB, dir string) string {
	t.Helper()
	var b strings.Builder
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, _ := filepath.Rel(dir, path)
		text, err := os.ReadFile(path)
		fmt.Fprintf(&b, "%s=%.20q ", filepath.ToSlash(rel), text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestFolderWrites(t *testing.T) {
	log := string(lines(small(t), nil))
	says := func(text string) func(io.Writer) error {
		return func(w io.Writer) error { _, err := io.WriteString(w, text); return err }
	}
	fails := func(w io.Writer) error {
		io.WriteString(w, "half")
		return errFull
	}
	tests := []struct {
		name  string
		there map[string]string
		force bool
		file  string
		write func(io.Writer) error
		want  string // part of the error, "" none
		tree  string
	}{
		{"new", nil, false, "a.csv", says("x"), "", `a.csv="x" `},
		{"new, in a folder that is made", nil, false, "b/c/a.csv", says("x"), "", `b/c/a.csv="x" `},
		{"exists", map[string]string{"a.csv": "old"}, false, "a.csv", says("x"), "--force", `a.csv="old" `},
		{"exists, force", map[string]string{"a.csv": "old"}, true, "a.csv", says("x"), "", `a.csv="x" `},
		{"fails half way", nil, false, "a.csv", fails, "no space", ""},
		{"fails half way, force: the old one stays", map[string]string{"a.csv": "old"}, true, "a.csv", fails, "no space", `a.csv="old" `},
		{"out of the folder", nil, true, "../a.csv", says("x"), "escapes", ""},
		{"out of the folder by a folder", nil, true, "b/../../a.csv", says("x"), "escapes", ""},
		{"absolute", nil, true, filepath.Join(os.TempDir(), "hawse-absolute.csv"), says("x"), "escapes", ""},
		{"a log by its name", nil, true, "a.log", says("x"), "record", ""},
		{"a packed log by its name", nil, true, "A.LOG.ZST", says("x"), "record", ""},
		{"a checksum", nil, true, "a.log.sha256", says("x"), "record", ""},
		{"a log by another name", map[string]string{"a.csv": log}, true, "a.csv", says("x"), "never replaced", `a.csv="t=0.000000000 n=1 k=" `},
		{"a folder of that name", map[string]string{"a.csv/b": "old"}, true, "a.csv", says("x"), "a.csv", `a.csv/b="old" `},
		{"a file for a folder", map[string]string{"b": "old"}, true, "b/a.csv", says("x"), "b", `b="old" `},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			outer := t.TempDir()
			dir := filepath.Join(outer, "tables")
			for name, text := range tt.there {
				put(t, filepath.Join(dir, name), text)
			}
			err := openFolder(t, dir, tt.force).Write(tt.file, tt.write)
			if tt.want == "" && err != nil || tt.want != "" && (err == nil || !strings.Contains(err.Error(), tt.want)) {
				t.Errorf("Write(%q): error %v, want %q", tt.file, err, tt.want)
			}
			if got := tree(t, dir); got != tt.tree {
				t.Errorf("then there is %s, want %s", got, tt.tree)
			}
			if left, _ := filepath.Glob(filepath.Join(outer, "*")); len(left) != 1 {
				t.Errorf("outside the folder: %q", left)
			}
		})
	}
}

// TestFolderIsNotLeftByALink: links that lead out of the folder are not gone
// through, nor are files they name replaced.
func TestFolderIsNotLeftByALink(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("links need a right of their own here")
	}
	outer := t.TempDir()
	dir := filepath.Join(outer, "tables")
	victim := put(t, filepath.Join(outer, "away", "victim"), "old")
	put(t, filepath.Join(dir, "x"), "")
	if err := errors.Join(os.Symlink(filepath.Join(outer, "away"), filepath.Join(dir, "link")), os.Symlink(victim, filepath.Join(dir, "a.csv"))); err != nil {
		t.Fatal(err)
	}
	f := openFolder(t, dir, true)
	says := func(w io.Writer) error { _, err := io.WriteString(w, "new"); return err }
	if err := f.Write("link/b.csv", says); err == nil {
		t.Error("link/b.csv was written through a link that leaves the folder")
	}
	if err := f.Write("a.csv", says); err != nil {
		t.Errorf("a.csv, a link: %v", err)
	}
	if got, want := tree(t, filepath.Dir(victim)), `victim="old" `; got != want {
		t.Errorf("outside there is %s, want %s", got, want)
	}
}

func TestOutNames(t *testing.T) {
	o := Options{Of: Samples, To: Parquet}
	for log, want := range map[string]string{
		"A1-20260412T090211Z.log": "A1-20260412T090211Z.samples.parquet", "day/A1.log.zst": "day/A1.samples.parquet", "odd": "odd.samples.parquet",
	} {
		if got := OutName(log, o); got != want {
			t.Errorf("OutName(%q) = %q, want %q", log, got, want)
		}
	}
	jobs := []Job{{"x/A1.log", "A1.samples.csv"}, {"y/a1.log.zst", "a1.samples.csv"}}
	if err := Collide(jobs); err == nil || !strings.Contains(err.Error(), "x/A1.log and y/a1.log.zst would both become") {
		t.Errorf("Collide(%v) = %v", jobs, err)
	}
	if err := Collide(jobs[:1]); err != nil {
		t.Errorf("Collide of one: %v", err)
	}
}

// TestAllKeepsTheOrder: however many are made at once, each log has its file, and
// they are told in order; what fails fails alone.
func TestAllKeepsTheOrder(t *testing.T) {
	dir := t.TempDir()
	log := string(lines(small(t), nil))
	var jobs []Job
	for i := range 20 {
		path := filepath.Join(dir, "logs", fmt.Sprintf("A%02d.log", i))
		text := log
		if i == 7 {
			text = "no log at all\n"
		}
		jobs = append(jobs, Job{put(t, path, text), OutName(filepath.Base(path), Options{Of: Samples, To: CSV})})
	}
	jobs[9].Log += ".gone"
	f := openFolder(t, filepath.Join(dir, "tables"), false)
	at := 0
	All(t.Context(), f, jobs, Options{Of: Samples, To: CSV}, 4, func(d Done) {
		if d.Job != jobs[at] {
			t.Errorf("told %v, want %v", d.Job, jobs[at])
		}
		if bad := at == 7 || at == 9; bad != (d.Err != nil) {
			t.Errorf("%s: error %v", d.Log, d.Err)
		}
		at++
	})
	want, _ := table(t, []byte(log), Samples, CSV)
	for i, j := range jobs {
		got, err := os.ReadFile(filepath.Join(dir, "tables", j.Out))
		if bad := i == 7 || i == 9; bad != (err != nil) || !bad && string(got) != string(want) {
			t.Errorf("%s: %v, %d bytes, want %d", j.Out, err, len(got), len(want))
		}
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "tables", ".*")); left != nil {
		t.Errorf("left behind: %q", left)
	}
}

// TestAllStops: once interrupted, nothing half made is left.
func TestAllStops(t *testing.T) {
	dir := t.TempDir()
	log := put(t, filepath.Join(dir, "A1.log"), string(lines(small(t), nil)))
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	f := openFolder(t, filepath.Join(dir, "tables"), false)
	All(ctx, f, []Job{{log, "a.csv"}, {log, "b.csv"}}, Options{Of: Samples, To: CSV}, 2, func(d Done) {
		if !errors.Is(d.Err, context.Canceled) {
			t.Errorf("%s: %v, want that it was interrupted", d.Out, d.Err)
		}
	})
	if got := tree(t, filepath.Join(dir, "tables")); got != "" {
		t.Errorf("left behind: %s", got)
	}
	if _, err := File(ctx, io.Discard, log, Options{Of: Samples, To: CSV}); !errors.Is(err, context.Canceled) {
		t.Errorf("File, interrupted: %v", err)
	}
}
