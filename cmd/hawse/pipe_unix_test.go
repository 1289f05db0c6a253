//go:build unix

package main

import (
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/sys/unix"

	"hawse/cmd/hawse/cli"
)

// A pipe with nobody at its other end is refused, not waited for.
func TestANamedPipeIsNoLog(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.log")
	if err := unix.Mkfifo(path, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"verify", path}, {"cat", path}, {"results", path}, {"export", path, "--to", "csv"}, {"salvage", path}, {"replay", "--check", path}, {"addendum", path, "--remark", "x"}, {"sign", path, "--key", path}} {
		code, out, errOut := hawse(args...)
		if code == cli.ExitDone || !strings.Contains(out+errOut, "no plain file") {
			t.Errorf("%v: code %d, %q, %q; want it refused as no plain file", args, code, out, errOut)
		}
	}
}

func TestAddendumSaysNothingByHalves(t *testing.T) {
	log := filepath.Join(t.TempDir(), "x.log")
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"--doubt", ""}, "--doubt is empty"},
		{[]string{"--remark", " "}, "--remark is empty"},
		{[]string{"--factor", "1.01"}, "says why"},
		{[]string{"--factor", "1e300", "--remark", "x"}, "lost decimal point"},
		{[]string{"--factor", "NaN", "--remark", "x"}, "lost decimal point"},
		{[]string{"--remark", "x", "--who", "ghost"}, "no seat"},
	} {
		if code, _, errOut := hawse(append([]string{"addendum", log}, c.args...)...); code != cli.ExitUsage || !strings.Contains(errOut, c.want) {
			t.Errorf("%q: code %d, %q; want %d and %q", c.args, code, errOut, cli.ExitUsage, c.want)
		}
	}
}
