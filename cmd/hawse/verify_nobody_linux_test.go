package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
)

// nobody has no rights of its own: Linux, Documentation/admin-guide/sysctl/fs.rst,
// overflowuid.
const nobody = 65534

// hawseAsNobody runs a command line as a user who may not read everything: in a
// process of its own where the tests run as root, whom no permission stops.
func hawseAsNobody(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	if os.Geteuid() != 0 {
		return hawse(args...)
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	program := filepath.Join(openFolder(t), "test")
	text, err := os.ReadFile(self)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(program, text, 0o755); err != nil {
		t.Fatal(err)
	}
	line, err := json.Marshal(args)
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(program, "-test.run=^TestTheChild$")
	c.Env = append(os.Environ(), "HAWSE_TEST_RUNS="+string(line))
	c.Dir = "/"
	c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
	var out, errOut bytes.Buffer
	c.Stdout, c.Stderr = &out, &errOut
	err = c.Run()
	if _, ran := errors.AsType[*exec.ExitError](err); err != nil && !ran {
		t.Skipf("no process can be had here that is not root's: %v", err)
	}
	return c.ProcessState.ExitCode(), out.String(), errOut.String()
}

// openFolder is a folder that every user can enter.
func openFolder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "hawse-test-")
	if err == nil {
		err = os.Chmod(dir, 0o755)
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	return dir
}
