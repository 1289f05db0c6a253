//go:build linux || darwin

package acquire

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

func TestPtyRefuses(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	if err := os.WriteFile(file, []byte("kept"), 0o600); err != nil {
		t.Fatal(err)
	}
	dangling := filepath.Join(dir, "dangling")
	if err := os.Symlink(filepath.Join(dir, "gone"), dangling); err != nil {
		t.Fatal(err)
	}
	w := newWire(t)
	first := open(t, w.name)
	link := filepath.Join(dir, "link")
	w.link(link)
	tests := []struct {
		name, port string
		fault      Fault
		want       string
	}{
		{"missing", filepath.Join(dir, "none"), Missing, "no such port " + filepath.Join(dir, "none") + "; plug it in or correct port= in the trial file"},
		{"link to nothing", dangling, Missing, "no such port " + dangling},
		{"below a file", file + "/load", Missing, "no such port "},
		{"empty name", "", Missing, "no such port "},
		{"name with NUL", "a\x00b", Failed, `port a\x00b cannot be opened`},
		{"regular file", file, NotPort, file + " is not a serial port but a regular file; correct port= in the trial file"},
		{"folder", dir, NotPort, dir + " is not a serial port but a folder"},
		{"character device that is none", os.DevNull, NotPort, "/dev/null is not a serial port; correct port="},
		{"busy", w.name, Busy, "port " + w.name + " is in use by another program; close that program"},
		{"busy, by another name", link, Busy, "port " + link + " is in use by another program"},
	}
	for _, tt := range tests {
		c, err := OpenSerial(tt.port, anyPort())
		if c != nil {
			t.Errorf("%s: OpenSerial(%q) opened", tt.name, tt.port)
			c.Close()
		}
		if bad, ok := errors.AsType[*PortError](err); !ok || bad.Fault != tt.fault || !strings.HasPrefix(err.Error(), tt.want) {
			t.Errorf("%s: OpenSerial(%q) = %v; want fault %d, %q", tt.name, tt.port, err, tt.fault, tt.want)
		}
	}
	if text, err := os.ReadFile(file); string(text) != "kept" || err != nil {
		t.Errorf("the regular file holds %q, %v; want it untouched", text, err)
	}
	w.send("x\r\n") // the first opener has lost nothing to the second
	if got := readUntil(t, first, 3); got != "x\r\n" {
		t.Errorf("first opener reads %q; want %q", got, "x\r\n")
	}
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	open(t, w.name)
}

func TestPtyOwnCloseAndUnplug(t *testing.T) {
	for _, own := range []bool{true, false} {
		w := newWire(t)
		c := open(t, w.name)
		got := make(chan error)
		go func() {
			for {
				if _, err := c.Read(make([]byte, 10)); err != nil {
					got <- err
					return
				}
			}
		}()
		want := ErrClosed
		if own {
			if err := c.Close(); err != nil {
				t.Errorf("Close = %v; want nil", err)
			}
		} else {
			want = ErrUnplugged
			w.unplug()
		}
		if err := <-got; !errors.Is(err, want) {
			t.Errorf("own close %v: Read = %v; want %v", own, err, want)
		}
		if !own {
			if _, err := c.Write([]byte("x")); !errors.Is(err, ErrUnplugged) {
				t.Errorf("Write after unplug = %v; want %v", err, ErrUnplugged)
			}
		}
	}
}

// The descriptors of a closed port go to other files at once: nothing written
// to the port after that may reach them.
func TestPtyWriteAfterClose(t *testing.T) {
	c := open(t, newWire(t).name)
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	var files []*os.File
	for i := range 8 {
		f, err := os.Create(filepath.Join(t.TempDir(), fmt.Sprint(i)))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		files = append(files, f)
	}
	if n, err := c.Write([]byte("OPEN 1")); n != 0 || !errors.Is(err, ErrClosed) {
		t.Errorf("Write after Close = %d, %v; want 0, %v", n, err, ErrClosed)
	}
	for _, f := range files {
		if info, err := f.Stat(); err != nil || info.Size() != 0 {
			t.Errorf("%s has %d bytes, %v; want none", f.Name(), info.Size(), err)
		}
	}
}

// A port opened while a line is under way begins with a whole one.
func TestPtyOpensAtTheStartOfALine(t *testing.T) {
	w := newWire(t)
	ctx, cancel := context.WithCancel(t.Context())
	var talking sync.WaitGroup
	defer talking.Wait()
	defer cancel()
	talking.Go(func() {
		for ctx.Err() == nil {
			for _, c := range "+00312.4 lb\r\n" {
				w.send(string(c))
				_ = pause(ctx, time.Millisecond/2)
			}
		}
	})
	for range 3 {
		c := open(t, w.name)
		if got := readUntil(t, c, 13); !strings.HasPrefix(strings.TrimLeft(got, "\n"), "+") {
			t.Errorf("first bytes %q; want the start of a line", got)
		}
		c.Close()
	}
}

// Another program has the port, and is killed: first busy, then free.
func TestPtyHolderIsKilled(t *testing.T) {
	w := newWire(t)
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), holdVar+"="+w.name)
	said, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	if line, err := bufio.NewReader(said).ReadString('\n'); line != "held\n" {
		t.Fatalf("holder says %q, %v; want held", line, err)
	}
	_, err = OpenSerial(w.name, anyPort())
	if bad, ok := errors.AsType[*PortError](err); !ok || bad.Fault != Busy {
		t.Errorf("OpenSerial beside another program = %v; want busy", err)
	}
	cmd.Process.Kill()
	cmd.Wait()
	c := open(t, w.name)
	w.send("x\r\n")
	if got := readUntil(t, c, 3); got != "x\r\n" {
		t.Errorf("read %q after the holder was killed; want %q", got, "x\r\n")
	}
}

// A child program inherits no descriptor of the port: it would keep the device
// open after us.
func TestPtyChildInheritsNothing(t *testing.T) {
	w := newWire(t)
	open(t, w.name)
	out, err := exec.Command("/bin/sh", "-c", "ls -l /dev/fd/").CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	if bytes.Contains(out, []byte(w.name+"\n")) {
		t.Errorf("a child has the port open:\n%s", out)
	}
}

// holdVar makes the test program hold a port and wait to be killed.
const holdVar = "HAWSE_TEST_HOLD"

func init() {
	name := os.Getenv(holdVar)
	if name == "" {
		return
	}
	if _, err := OpenSerial(name, anyPort()); err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
	fmt.Println("held")
	_, _ = io.Copy(io.Discard, os.Stdin)
	select {}
}
