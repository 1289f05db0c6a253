package deck

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"sync"
	"time"

	"hawse/trial"
)

// Clock is the deck's own time: nanoseconds that never run back.
type Clock interface {
	Now() int64
	// Sleep returns when Now has reached until, or with the context's error.
	Sleep(ctx context.Context, until int64) error
}

// Options are what a deck needs beside its scenario.
type Options struct {
	Dir   string // where the links load, line, stop and the like are put; made if it is not there
	Clock Clock
	Seed  uint64 // of noise and garbage: the same seed gives the same readings
	// Sent, if not nil, gets a line for every line that was handed to a port
	// somebody has open: the clock in seconds just before, the port, the text
	// quoted as Go quotes it. It should not block: the deck waits for it.
	Sent io.Writer
	// Epoch is UTC at the clock's 0, by which satellites tell the time; zero: an
	// invented day.
	Epoch time.Time
}

// Deck is a simulated deck with its ports open. Its methods may be called from
// any goroutine.
type Deck struct {
	s     *Scenario
	clock Clock
	sent  io.Writer
	dir   *dirLock
	seed  uint64
	epoch time.Time

	mu      sync.Mutex
	sim     *Sim
	ports   [numPorts]*port // nil while unplugged, or where there is none
	counts  [numPorts]PortState
	sentBuf []byte
	err     error // what ended the run: a port that would not come back, Sent
	running bool
	over    bool // Run has ended
	closed  bool
	cancel  context.CancelFunc
	ended   chan struct{} // closed when Run has returned
	listens sync.WaitGroup
	runCtx  context.Context
	wake    context.CancelFunc // ends the sleep of Run
}

// PortState is what became of the lines of one port.
type PortState struct {
	Plugged bool   // the port is there
	Heard   bool   // somebody had it open at the last line
	Sent    uint64 // lines handed over
	Unheard uint64 // lines said while nobody had the port open, or it was unplugged
	Dropped uint64 // lines lost because whoever has the port open did not read
}

// State is the deck at one moment of its clock.
type State struct {
	T           int64
	X           trial.Length // line hauled
	L           trial.Length // rode out
	Tension     trial.Force  // of the rode outboard, or what hangs on the cell
	Speed       trial.Speed  // of the line, positive hauling
	Lever       string       // "haul", "stop" or "ease"
	Hand        bool         // a person has the lever, not the script
	Cell        string       // what the load cell carries: "rode", "free" nothing, "hook" a weight
	Step        int          // line of the winch step in hand, 0 when the script is over
	RelayClosed bool
	RelayReason string        // why it is open
	RelaySince  int64         // when it last changed
	Session     uint32        // of the relay's last arm
	RelayLog    []RelayChange // every change so far; not to be changed
	RelayBad    uint64        // lines on the stop port that were no good word
	Load, Line  PortState
	Stop        PortState
	Depth       PortState    // of the instruments of the vessel, where there are any
	Cells       [2]PortState // of further load cells, where there are any
	Done        bool         // the winch's script is over
}

// Open makes the ports and their links. The instruments speak once
// [Deck.Run] runs. A file under one of their names that is not a deck's
// link is left alone and is an error, and so is a folder where another deck
// has its ports. Without pseudo-terminals, as on Windows, Open is an error.
func Open(s *Scenario, o Options) (*Deck, error) {
	if s == nil || o.Clock == nil || o.Dir == "" {
		return nil, errors.New("deck: no scenario, clock or folder was given")
	}
	dir, err := filepath.Abs(o.Dir)
	if err != nil {
		return nil, fmt.Errorf("deck: folder %s: %w", o.Dir, err)
	}
	lock, err := lockDir(dir)
	if err != nil {
		return nil, err
	}
	d := &Deck{s: s, clock: o.Clock, sent: o.Sent, dir: lock, seed: o.Seed, epoch: o.Epoch, ended: make(chan struct{}), wake: func() {}}
	d.sim = d.newSim(o.Clock.Now())
	for i, name := range portNames {
		if !s.wiring.has(i) {
			continue
		}
		link := filepath.Join(dir, name)
		if err = clearLink(link + secondName); err == nil {
			d.ports[i], err = openPort(link)
		}
		if err != nil {
			d.closePorts()
			return nil, errors.Join(err, lock.release())
		}
		d.counts[i].Plugged = true
	}
	return d, nil
}

// Run plays the scenario until ctx ends, and returns nil then; its goroutines
// have ended when it returns. The script's end does not end it: the
// instruments go on speaking. It returns early with an error when a port
// cannot be plugged in again or Sent fails. A deck runs once.
func (d *Deck) Run(ctx context.Context) error {
	d.mu.Lock()
	if d.closed || d.running {
		d.mu.Unlock()
		return errors.New("deck: it has been closed or has run already; open a new one")
	}
	d.running = true
	d.begin(d.clock.Now())
	d.runCtx, d.cancel = context.WithCancel(ctx)
	ctx = d.runCtx
	for i := range d.ports {
		d.listen(i)
	}
	d.mu.Unlock()

	defer close(d.ended)
	defer d.listens.Wait()
	defer d.hush()
	defer d.cancel()
	for {
		d.mu.Lock()
		d.catchUp(d.clock.Now())
		next, err := d.sim.Next(), d.err
		var sleep context.Context
		sleep, d.wake = context.WithCancel(ctx)
		wake := d.wake
		d.mu.Unlock()
		if err == nil {
			_ = d.clock.Sleep(sleep, next)
		}
		wake()
		if err != nil || ctx.Err() != nil {
			return err
		}
	}
}

func (d *Deck) newSim(t int64) *Sim {
	m := newSim(d.s, t, d.seed)
	if !d.epoch.IsZero() {
		m.w.epoch = d.epoch
	}
	return m
}

// begin starts the deck's time: nothing was said before, and nothing is to be
// made up for. What a person has ordered stays.
func (d *Deck) begin(t int64) {
	was := d.sim.w
	d.sim = d.newSim(t)
	if was.hand {
		d.sim.w.hand = true
		d.sim.w.lever(was.winch.lever, d.s.Speed)
	}
	if was.ahead {
		d.sim.w.goAhead()
	}
}

// Close ends a running deck, waits for it, closes the ports and takes away the
// links it made. A second call does nothing.
func (d *Deck) Close() error {
	d.mu.Lock()
	if d.closed {
		d.mu.Unlock()
		return nil
	}
	d.closed = true
	running := d.running
	if running {
		d.cancel()
	}
	d.mu.Unlock()
	if running {
		<-d.ended
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	return errors.Join(d.closePorts(), d.dir.release())
}

// State is the deck as it last was, at once.
func (d *Deck) State() State {
	d.mu.Lock()
	defer d.mu.Unlock()
	s := d.sim.State()
	for i, p := range []*PortState{&s.Load, &s.Line, &s.Stop, &s.Depth, &s.Cells[0], &s.Cells[1]} {
		lost := p.Dropped
		*p = d.counts[i]
		p.Dropped += lost
	}
	return s
}

// catchUp does everything that is due up to now, in the order of its time.
func (d *Deck) catchUp(now int64) {
	if d.err != nil {
		return
	}
	d.sim.run(now, d.send, d.plug)
	for i, p := range d.ports {
		if p != nil && canTellAlone && d.sim.w.mute[i] != 0 && p.nobody() {
			d.sim.w.mute[i] = 0 // it has been closed, and will be opened anew
		}
	}
	if d.sent != nil && len(d.sentBuf) > 0 {
		if _, err := d.sent.Write(d.sentBuf); err != nil {
			d.keep(fmt.Errorf("deck: the list of lines sent cannot be written: %w", err))
		}
		d.sentBuf = d.sentBuf[:0]
	}
}

// plug pulls a port's plug or puts it in again.
func (d *Deck) plug(i int, in bool) {
	if !in {
		if d.ports[i] == nil { // it would not come back
			return
		}
		d.keep(d.ports[i].close())
		d.ports[i], d.counts[i].Plugged, d.counts[i].Heard = nil, false, false
		return
	}
	link := filepath.Join(d.dir.path, portNames[i])
	if d.sim.w.second[i] {
		link += secondName
	}
	p, err := openPort(link)
	if err != nil {
		d.keep(fmt.Errorf("plugging %s in again: %w", portNames[i], err))
		return
	}
	d.ports[i], d.counts[i].Plugged = p, true
	d.listen(i)
}

func (d *Deck) keep(err error) {
	if d.err == nil {
		d.err = err
	}
}

// send hands one line to a port and counts what became of it.
func (d *Deck) send(port int, line []byte) {
	c := &d.counts[port]
	if d.ports[port] == nil {
		c.Unheard++
		return
	}
	at := d.clock.Now()
	got := d.ports[port].write(line)
	c.Heard = got != unheard
	switch got {
	case unheard:
		c.Unheard++
		return
	case dropped:
		c.Dropped++
		return
	}
	c.Sent++
	if d.sent != nil {
		d.sentBuf = fmt.Appendf(d.sentBuf, "%d.%09d %s ", at/int64(time.Second), at%int64(time.Second), portNames[port])
		d.sentBuf = strconv.AppendQuote(d.sentBuf, string(line))
		d.sentBuf = append(d.sentBuf, '\n')
	}
}

// listen starts the goroutine that hears a port whose far end listens, until it is
// closed or the run ends. It is called with the lock held.
func (d *Deck) listen(i int) {
	p := d.ports[i]
	if d.runCtx == nil || p == nil || i != portStop && (i == portDepth || !d.s.wiring.asks()) {
		return
	}
	ctx := d.runCtx
	d.listens.Go(func() {
		buf := make([]byte, 512)
		for {
			n, err := p.read(buf)
			if n > 0 {
				d.hear(i, p, buf[:n])
			}
			if err != nil && (isClosed(err) || !pause(ctx)) {
				return
			}
		}
	})
}

// pause waits a moment because nobody has the stop port open, and reports
// whether to ask again. It is of the machine, not of the deck's clock: whoever
// opens the port must be heard soon at any speed.
func pause(ctx context.Context) bool {
	t := time.NewTimer(5 * time.Millisecond)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-ctx.Done():
		return false
	}
}

// hear gives the relay, or the boxes, what came in through p.
func (d *Deck) hear(i int, p *port, b []byte) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.ports[i] != p {
		return // it was pulled out meanwhile
	}
	d.catchUp(d.clock.Now())
	d.sim.hearOn(i, d.sim.Now(), b)
	d.sim.answer(d.send)
	d.wake() // an answer may be due before Run would look again
}

// hush ends the run for everybody else, and the goroutine that listens.
func (d *Deck) hush() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.over = true
	for _, p := range d.ports {
		if p != nil {
			p.wakeReader()
		}
	}
}

func (d *Deck) closePorts() error {
	var errs []error
	for i, p := range d.ports {
		if p != nil {
			errs = append(errs, p.close())
			d.ports[i], d.counts[i].Plugged, d.counts[i].Heard = nil, false, false
		}
	}
	return errors.Join(errs...)
}
