package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"hawse/acquire/export"
	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/cmd/hawse/system"
)

// halfALog is one that was not ended, on a disk of this machine.
func halfALog(t *testing.T) (path string, records int) {
	t.Helper()
	text := aRecord(t)
	text = text[:strings.LastIndex(text[:len(text)/2], "\n")+1]
	path = write(t, filepath.Join(t.TempDir(), "A1.log"), text)
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if !system.OnLocalDisk(f) {
		t.Skip("the temporary folder is not known to be on a disk of this machine, so a writer could be hidden")
	}
	return path, strings.Count(text, "\n")
}

// TestFollowALogWhoseWriterDied: it is printed, and that is all.
func TestFollowALogWhoseWriterDied(t *testing.T) {
	t.Parallel() // it waits most of the time
	path, records := halfALog(t)
	torn := write(t, filepath.Join(t.TempDir(), "torn.log"), readText(t, path)+"t=9.000000000 n=")
	for path, says := range map[string]string{path: "", torn: "the last line is torn after 16 bytes"} {
		code, out, errOut := hawse("cat", "--follow", path)
		if code != cli.ExitRecord || strings.Count(out, "\n") != records {
			t.Errorf("exit code %d, %d lines; want %d, %d\n%s", code, strings.Count(out, "\n"), cli.ExitRecord, records, errOut)
		}
		if want := "hawse: " + path + ": its writer is gone, the log was not ended\n"; !strings.HasSuffix(errOut, want) || !strings.Contains(errOut, says) {
			t.Errorf("it says %q, want %q and %q", errOut, says, want)
		}
	}
}

// TestTheChildOwnsALog writes nothing, but has the log as a capture does, until it
// is killed.
func TestTheChildOwnsALog(t *testing.T) {
	path := os.Getenv("HAWSE_TEST_OWNS")
	if path == "" {
		t.Skip("it is run by other tests")
	}
	defer system.Lock(path)()
	fmt.Println("owned")
	io.Copy(io.Discard, os.Stdin) // ends with its parent too
}

// TestFollowNoticesThatTheWriterDies: not before.
func TestFollowNoticesThatTheWriterDies(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("a log has no lock here")
	}
	t.Parallel()
	path, records := halfALog(t)
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self, "-test.run=^TestTheChildOwnsALog$")
	c.Env = append(os.Environ(), "HAWSE_TEST_OWNS="+path)
	in, err1 := c.StdinPipe()
	out, err2 := c.StdoutPipe()
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() { in.Close(); c.Wait() }()
	if line, err := bufio.NewReader(out).ReadString('\n'); line != "owned\n" {
		t.Fatalf("the child says %q, %v", line, err)
	}
	type result struct {
		code           int
		stdout, stderr string
	}
	done := make(chan result)
	go func() {
		code, out, errOut := hawse("cat", "--follow", path)
		done <- result{code, out, errOut}
	}()
	select {
	case r := <-done:
		t.Fatalf("it ended while the log had a writer: %d, %s", r.code, r.stderr)
	case <-time.After(2500 * time.Millisecond):
	}
	if err := c.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	r := <-done
	if r.code != cli.ExitRecord || strings.Count(r.stdout, "\n") != records || !strings.HasSuffix(r.stderr, "A1.log: its writer is gone, the log was not ended\n") {
		t.Errorf("exit code %d, %d of %d lines, says %q", r.code, strings.Count(r.stdout, "\n"), records, r.stderr)
	}
}

// TestWhatIsSeenOfAWriter: the lock, or the socket that calls come to. A socket
// that a dead program left behind is none.
func TestWhatIsSeenOfAWriter(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("a log has no lock here")
	}
	path, _ := halfALog(t)
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	is := func(when string, want export.Writer) {
		t.Helper()
		if got := writerOf(path, f); got != want {
			t.Errorf("%s: %d, want %d", when, got, want)
		}
	}
	is("nobody", export.WriterNone)
	release := system.Lock(path)
	is("a program has the lock", export.WriterSeen)
	if err := os.Rename(path, path+".away"); err != nil {
		t.Fatal(err)
	}
	is("and the file is taken away", export.WriterSeen)
	release()
	is("nobody again", export.WriterNone)
	l, err := net.ListenUnix("unix", &net.UnixAddr{Name: session.SocketPath(path), Net: "unix"})
	if err != nil {
		t.Skipf("no socket can be had here: %v", err)
	}
	l.SetUnlinkOnClose(false)
	is("calls are answered", export.WriterSeen)
	l.Close()
	is("a socket is left behind", export.WriterNone)
	os.Remove(session.SocketPath(path))
}

// A mutexBuffer is written and read at once.
type mutexBuffer struct {
	mu sync.Mutex
	bytes.Buffer
}

func (b *mutexBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.Buffer.Write(p)
}

func (b *mutexBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.Buffer.String()
}

// TestFollowAHiddenWriter: bytes come though nobody is seen, as on a share: it is
// said once, and the log is followed on, to its end.
func TestFollowAHiddenWriter(t *testing.T) {
	t.Parallel() // it waits most of the time
	text := aRecord(t)
	half := len(text) / 2
	path := write(t, filepath.Join(t.TempDir(), "A1.log"), text[:half])
	var out, errOut mutexBuffer
	done := make(chan *export.Result)
	go func() {
		res, err := catFollow(context.Background(), &out, &errOut, path, export.CatOptions{Flush: true, ToEnd: true})
		if err != nil {
			t.Error(err)
		}
		done <- res
	}()
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	grow := func(to int) {
		t.Helper()
		if _, err := f.WriteString(text[half:to]); err != nil {
			t.Fatal(err)
		}
		half = to
	}
	for range 5 { // while it is waited for them
		time.Sleep(150 * time.Millisecond)
		grow(half + 10)
	}
	said := func() bool { return strings.Contains(errOut.String(), "cannot be known") }
	for deadline := time.Now().Add(time.Minute); !said() && time.Now().Before(deadline); time.Sleep(50 * time.Millisecond) {
	}
	time.Sleep(2200 * time.Millisecond) // it is asked about the writer twice more
	grow(len(text))
	if res := <-done; !res.Whole() || strings.Count(out.String(), "\n") != strings.Count(text, "\n") {
		t.Errorf("%+v, %d lines", res, strings.Count(out.String(), "\n"))
	}
	if n := strings.Count(errOut.String(), "cannot be known"); n != 1 {
		t.Errorf("said %d times:\n%s", n, errOut.String())
	}
}
