//go:build linux || darwin || freebsd || netbsd || openbsd || dragonfly

package deck

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestOpenLeavesOthersFilesAlone(t *testing.T) {
	s := mustParse(t, ramped)
	o := Options{Dir: t.TempDir(), Clock: newHandClock()}
	file := filepath.Join(o.Dir, "line")
	if err := os.WriteFile(file, []byte("notes"), 0o600); err != nil {
		t.Fatal(err)
	}
	if d, err := Open(s, o); err == nil || !strings.Contains(err.Error(), file) {
		t.Errorf("Open over a file: %v, %v; want an error that names it", d, err)
	}
	if text, err := os.ReadFile(file); err != nil || string(text) != "notes" {
		t.Errorf("the file is now %q, %v", text, err)
	}
	if left, _ := filepath.Glob(filepath.Join(o.Dir, "*")); len(left) != 1 {
		t.Errorf("a failed Open left %v", left)
	}

	// Neither is a link that no deck made.
	for _, target := range []string{file + "-elsewhere", "/dev/null", "/dev/ttyUSB0"} {
		if err := errors.Join(os.Remove(file), os.Symlink(target, file)); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(s, o); err == nil {
			t.Errorf("Open over a link to %s: no error", target)
		}
	}
	// What a killed deck left is taken over.
	if err := errors.Join(os.Remove(file), os.Symlink("/dev/pts/99999", file)); err != nil {
		t.Fatal(err)
	}
	d, err := Open(s, o)
	if err != nil {
		t.Fatal(err)
	}
	if d2, err := Open(s, o); err == nil || !strings.Contains(err.Error(), "another deck") {
		t.Errorf("a second deck in the same folder: %v, %v", d2, err)
	}
	// A file put in a link's place while the deck was open stays.
	load := filepath.Join(o.Dir, "load")
	if err := errors.Join(os.Remove(load), os.WriteFile(load, nil, 0o600)); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(d.Close(), d.Close()); err != nil {
		t.Error(err)
	}
	if left, _ := filepath.Glob(filepath.Join(o.Dir, "*")); len(left) != 1 || left[0] != load {
		t.Errorf("after Close the folder has %v, want the file load only", left)
	}
	if err := d.Run(context.Background()); err == nil {
		t.Error("a closed deck runs")
	}
}

func TestOpenSaysWhatIsMissing(t *testing.T) {
	s := mustParse(t, ramped)
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for name, o := range map[string]Options{
		"no folder": {Clock: newHandClock()}, "no clock": {Dir: t.TempDir()}, "a file for a folder": {Dir: file, Clock: newHandClock()},
	} {
		if _, err := Open(s, o); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
