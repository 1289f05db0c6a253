//go:build linux || darwin

package acquire

import (
	"context"
	"os"
	"sync"
	"testing"
	"time"

	"github.com/creack/pty"
	"go.bug.st/serial"
	"golang.org/x/sys/unix"

	"hawse/trial"
)

// The tests here run over real pseudo-terminals and in real time.

// wire is a pseudo-terminal: the test plays the instrument at its master end.
type wire struct {
	t      *testing.T
	master *os.File
	name   string
	once   sync.Once
}

func newWire(t *testing.T) *wire {
	t.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	name := slave.Name()
	// Raw from the start, as the serial library sets it: else what the instrument
	// says before the port is opened comes back to it as an echo.
	p, err := serial.Open(name, &serial.Mode{BaudRate: 9600})
	if err != nil {
		t.Fatal(err)
	}
	p.Close()
	// A master of its own that does not block, so that deadlines and Close work.
	fd, err := unix.Dup(int(master.Fd()))
	if err != nil {
		t.Fatal(err)
	}
	master.Close()
	if err := unix.SetNonblock(fd, true); err != nil {
		t.Fatal(err)
	}
	w := &wire{t: t, master: os.NewFile(uintptr(fd), "master"), name: name}
	t.Cleanup(func() {
		w.unplug()
		slave.Close()
	})
	return w
}

func (w *wire) send(text string) {
	w.t.Helper()
	if _, err := w.master.WriteString(text); err != nil {
		w.t.Errorf("instrument cannot send %q: %v", text, err)
	}
}

func (w *wire) unplug() { w.once.Do(func() { w.master.Close() }) }

// link points a symbolic link at the wire.
func (w *wire) link(path string) {
	w.t.Helper()
	next := path + ".next"
	if err := os.Symlink(w.name, next); err != nil {
		w.t.Fatal(err)
	}
	if err := os.Rename(next, path); err != nil {
		w.t.Fatal(err)
	}
}

func anyPort(names ...string) trial.Port { return trial.Port{Names: names, Baud: 9600, Frame: "8N1"} }

func open(t *testing.T, name string) Conn {
	t.Helper()
	c, err := OpenSerial(name, anyPort())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

// readUntil reads until the text is complete.
func readUntil(t *testing.T, c Conn, n int) string {
	t.Helper()
	var got []byte
	buf := make([]byte, 4096)
	for end := time.Now().Add(5 * time.Second); len(got) < n; {
		k, err := c.Read(buf)
		got = append(got, buf[:k]...)
		if err != nil || time.Now().After(end) {
			t.Fatalf("read %q, %v; want %d bytes within 5 s", got, err, n)
		}
	}
	return string(got)
}

// owned runs an owner over real ports.
type owned struct {
	t     *testing.T
	owner *Owner
	out   chan Item
	stop  func() // ends it and waits
}

func own(t *testing.T, dir string, names ...string) *owned {
	t.Helper()
	return ownOf(t, OwnerOptions{Src: "load", Port: anyPort(names...), Dir: dir})
}

func ownOf(t *testing.T, opt OwnerOptions) *owned {
	t.Helper()
	o := &owned{t: t, out: make(chan Item, 100000)}
	opt.Clock, opt.Out = NewClock(), o.out
	o.owner = NewOwner(opt)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() {
		defer close(done)
		o.owner.Run(ctx)
	}()
	o.stop = func() {
		cancel()
		<-done
	}
	t.Cleanup(o.stop)
	return o
}

func (o *owned) next() Item {
	o.t.Helper()
	select {
	case it := <-o.out:
		return it
	case <-time.After(5 * time.Second):
		o.t.Fatal("no item within 5 s")
		return Item{}
	}
}

func (o *owned) want(kind ItemKind, text string) Item {
	o.t.Helper()
	it := o.next()
	got := it.State
	switch it.Kind {
	case Data:
		got = string(it.Cut.Raw)
	case Sent:
		got = string(it.Raw)
	}
	if it.Kind != kind || got != text {
		o.t.Fatalf("item %+v; want kind %d, %q", it, kind, text)
	}
	return it
}
