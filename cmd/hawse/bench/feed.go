package bench

import (
	"fmt"
	"sync"
	"time"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/trial"
)

// feed is two instruments that speak by a fast clock. They wait for a capture
// that falls behind: a slow machine takes longer, and nothing piles up.
type feed struct {
	clock acquire.Clock
	rate  int64
	boxes [instruments]instrument

	mu     sync.Mutex
	view   session.View
	target int   // lines after which they fall silent
	before int   // lines when they last began
	from   int64 // the clock then
}

func newFeed(clock acquire.Clock, rate int, boxes [instruments]instrument) *feed {
	return &feed{clock: clock, rate: int64(rate), boxes: boxes}
}

// watch gives the capture whose progress the instruments wait for.
func (f *feed) watch(v session.View) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.view = v
}

// goOn lets the instruments speak until each has said so many lines.
func (f *feed) goOn(lines int) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.before, f.target, f.from = f.target, lines, f.clock.Now()
}

// feedLead is how many lines an instrument may be ahead of what the capture
// has folded, and feedQueue how many records of the log may wait.
const (
	feedLead  = 8000
	feedQueue = 32000
)

// due is how many lines an instrument may have said by now.
func (f *feed) due(which int) int {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.view == nil {
		return 0
	}
	s := f.view.Snapshot()
	if s.N > s.Log.Written+feedQueue {
		return 0
	}
	folded := s.Load.Good
	if which == encoder {
		folded = s.Line.Good
	}
	passed := (f.clock.Now() - f.from) / 1000 * f.rate / 1e6 // µs first: hours of ns times a rate do not fit
	return min(f.before+int(passed), f.target, int(folded)+feedLead)
}

// dial opens the port of an instrument, or the stop output, by the names of
// the bench's own trial file.
func (f *feed) dial(name string, _ trial.Port) (acquire.Conn, error) {
	for i, src := range sources {
		if name == src {
			return &feedConn{feed: f, box: f.boxes[i], quit: make(chan struct{})}, nil
		}
	}
	if name == "stop" {
		return &feedConn{quit: make(chan struct{})}, nil // takes what is sent and says nothing
	}
	return nil, fmt.Errorf("no port %q", name)
}

// feedConn is one instrument as an open port.
type feedConn struct {
	feed *feed // nil: it says nothing
	box  instrument
	said int    // lines given out whole
	half []byte // the rest of a line that did not fit
	once sync.Once
	quit chan struct{}
}

// feedLook is how often a silent instrument looks at the clock; portWait is a
// port's read timeout.
const (
	feedLook = time.Millisecond
	portWait = 20 * time.Millisecond
)

// Read gives what is due, or 0 after 20 ms.
func (c *feedConn) Read(p []byte) (int, error) {
	for end := time.Now().Add(portWait); ; {
		select {
		case <-c.quit:
			return 0, acquire.ErrClosed
		default:
		}
		if n := c.fill(p); n > 0 || time.Now().After(end) {
			return n, nil
		}
		time.Sleep(feedLook)
	}
}

func (c *feedConn) fill(p []byte) int {
	n := copy(p, c.half)
	if c.half = c.half[n:]; c.feed == nil || n == len(p) {
		return n
	}
	for due := c.feed.due(c.box.which); c.said < due && n < len(p); {
		c.said++
		c.half = c.box.append(c.half[:0], c.said, c.said)
		k := copy(p[n:], c.half)
		c.half, n = c.half[k:], n+k
	}
	return n
}

// Write takes everything.
func (c *feedConn) Write(p []byte) (int, error) { return len(p), nil }

// Close ends a Read in progress within a moment.
func (c *feedConn) Close() error {
	c.once.Do(func() { close(c.quit) })
	return nil
}
