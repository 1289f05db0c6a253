package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"hawse/cmd/hawse/cli"
)

// TestTheChild is what other tests run in a process of its own.
func TestTheChild(t *testing.T) {
	line := os.Getenv("HAWSE_TEST_RUNS")
	if line == "" {
		t.Skip("it is run by other tests")
	}
	var args []string
	if err := json.Unmarshal([]byte(line), &args); err != nil {
		t.Fatal(err)
	}
	os.Exit(run(args, os.Stdout, os.Stderr))
}

// closedFolder has two logs that can be read, one that cannot, and a folder that
// cannot be entered.
func closedFolder(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(openFolder(t), "logs")
	closed := filepath.Join(dir, "b closed")
	if err := os.MkdirAll(closed, 0o755); err != nil {
		t.Fatal(err)
	}
	record := aRecord(t)
	for _, name := range []string{"A1.log", "b closed/B1.log", "c/C1.log", "d.log"} {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		write(t, path, record)
	}
	shut := []string{closed, filepath.Join(dir, "d.log")}
	for _, path := range shut {
		if err := os.Chmod(path, 0); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { os.Chmod(path, 0o755) })
	}
	return dir
}

// TestVerifyNamesWhatItMayNotRead: the rest is verified all the same.
func TestVerifyNamesWhatItMayNotRead(t *testing.T) {
	dir := closedFolder(t)
	code, out, errOut := hawseAsNobody(t, "verify", dir)
	if code != cli.ExitFailed {
		t.Errorf("exit code %d, want %d\n%s%s", code, cli.ExitFailed, out, errOut)
	}
	for _, want := range []string{"A1.log: whole", "C1.log: whole", "3 logs, ", "2 whole, 0 not, 1 not read; folders not read: 1"} {
		if !strings.Contains(out, want) {
			t.Errorf("it does not say %q:\n%s", want, out)
		}
	}
	for _, want := range []string{"folder " + filepath.Join(dir, "b closed") + " cannot be read: permission denied; its logs are left out", "d.log: permission denied"} {
		if !strings.Contains(errOut, want) {
			t.Errorf("it does not say %q:\n%s", want, errOut)
		}
	}

	code, out, _ = hawseAsNobody(t, "verify", "--json", dir)
	var told []string
	for line := range strings.Lines(out) {
		var v verifiedJSON
		if err := json.Unmarshal([]byte(line), &v); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		if v.Holds == (v.Error != "") {
			t.Errorf("%s: holds %v, error %q", v.File, v.Holds, v.Error)
		}
		if v.Error != "" {
			told = append(told, filepath.Base(v.File))
		}
	}
	if want := []string{"d.log", "b closed"}; code != cli.ExitFailed || !slices.Equal(told, want) {
		t.Errorf("--json: exit code %d, errors of %q, want %q", code, told, want)
	}

	// The folder itself, and one beside it.
	closed, other := filepath.Join(dir, "b closed"), filepath.Join(dir, "c")
	code, out, errOut = hawseAsNobody(t, "verify", closed, other)
	if code != cli.ExitFailed || !strings.Contains(out, "C1.log: whole") || !strings.Contains(errOut, "b closed cannot be read: permission denied") {
		t.Errorf("the folder itself: exit code %d\n%s%s", code, out, errOut)
	}
}

// TestExportNamesWhatItMayNotRead: the rest is exported all the same.
func TestExportNamesWhatItMayNotRead(t *testing.T) {
	dir := closedFolder(t)
	tables := filepath.Join(openFolder(t), "tables")
	if err := os.Mkdir(tables, 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(tables, 0o777); err != nil {
		t.Fatal(err)
	}
	code, out, errOut := hawseAsNobody(t, "export", dir, "-o", tables)
	if code != cli.ExitFailed || !strings.Contains(out, "3 logs, ") || !strings.Contains(out, "0 not whole, 0 without a seal that holds, 1 not exported") {
		t.Errorf("exit code %d, want %d\n%s", code, cli.ExitFailed, out)
	}
	for _, want := range []string{"b closed cannot be read: permission denied; its logs are left out", "d.log: permission denied"} {
		if !strings.Contains(errOut, want) {
			t.Errorf("it does not say %q:\n%s", want, errOut)
		}
	}
	if got, want := below(t, tables), "A1.samples.csv c/C1.samples.csv"; got != want {
		t.Errorf("files: %s, want %s", got, want)
	}
	if code, out, errOut := hawseAsNobody(t, "export", filepath.Join(dir, "b closed"), "-o", tables); code != cli.ExitFailed || out != "" || !strings.Contains(errOut, "permission denied") {
		t.Errorf("nothing but a closed folder: exit code %d\n%s%s", code, out, errOut)
	}
}
