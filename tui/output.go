package tui

import (
	"bytes"
	"io"
	"os"
	"sync"
	"sync/atomic"
	"time"
)

// outlet is the way to the terminal. Write never waits: it hands a copy to a
// goroutine of its own, and drops it when the terminal is too far behind. So a
// terminal that is blocked (a held scroll, a dead link) stops drawing, and
// nothing else.
type outlet struct {
	w       io.Writer
	queue   chan []byte
	pending atomic.Int64
	dirty   atomic.Bool // something was dropped: what is on the screen is unknown
	stop    chan []byte // the last bytes to write, then the end
	done    chan struct{}
	failed  func(error) // told once, from the goroutine
	ended   sync.Once
}

// outletDepth is how many writes may wait. The screen draws no frame while one
// waits, so only bells and the library's own sequences can fill it.
const outletDepth = 16

func newOutlet(w io.Writer, failed func(error)) *outlet {
	o := &outlet{w: w, queue: make(chan []byte, outletDepth), stop: make(chan []byte, 1), done: make(chan struct{}), failed: failed}
	go o.run()
	return o
}

func (o *outlet) Write(p []byte) (int, error) {
	o.pending.Add(1)
	select {
	case o.queue <- bytes.Clone(p):
	default:
		o.pending.Add(-1)
		o.dirty.Store(true)
	}
	return len(p), nil
}

func (o *outlet) run() {
	defer close(o.done)
	for {
		select {
		case p := <-o.queue:
			o.put(p)
		case last := <-o.stop:
			for {
				select {
				case p := <-o.queue:
					o.put(p)
					continue
				default:
				}
				break
			}
			if len(last) > 0 {
				o.pending.Add(1)
				o.put(last)
			}
			return
		}
	}
}

func (o *outlet) put(p []byte) {
	_, err := o.w.Write(p)
	o.pending.Add(-1)
	if err != nil {
		o.ended.Do(func() { o.failed(err) })
	}
}

// busy says whether something handed over is not out yet.
func (o *outlet) busy() bool { return o.pending.Load() > 0 }

// stained says, once, that something was dropped and all is out again.
func (o *outlet) stained() bool { return !o.busy() && o.dirty.CompareAndSwap(true, false) }

func (o *outlet) ring() { o.tell([]byte{'\a'}) }

// tell writes what draws nothing.
func (o *outlet) tell(p []byte) { _, _ = o.Write(p) }

// close ends the goroutine after what waits and then last, or gives up after
// the deadline: a terminal that is still blocked then keeps its one goroutine
// until it lets go, and false is returned.
func (o *outlet) close(last []byte, deadline time.Duration) bool {
	o.stop <- last
	t := time.NewTimer(deadline)
	defer t.Stop()
	select {
	case <-o.done:
		return true
	case <-t.C:
		return false
	}
}

// fileOutlet is an outlet to a terminal: the library finds the file's
// descriptor, for the size, through it. It shows nothing else of the file, so
// that nothing can be written past the outlet.
type fileOutlet struct {
	*outlet
	file *os.File
}

func (f fileOutlet) Fd() uintptr { return f.file.Fd() }

// Read is there because a terminal has it; nobody reads from an output.
func (f fileOutlet) Read([]byte) (int, error) { return 0, io.EOF }

// Close does not close the file: it belongs to the caller.
func (f fileOutlet) Close() error { return nil }

// restore is what brings a terminal back from the screen: no paste marks, no
// mouse, the cursor, plain text, the main page.
const restore = "\x1b[?2004l\x1b[?1002l\x1b[?1003l\x1b[?1006l\x1b[?25h\x1b[0m\x1b[?1049l\r"
