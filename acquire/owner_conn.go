package acquire

import (
	"context"
	"errors"
	"sync/atomic"
	"time"
)

const (
	readBuffer = 4096
	// lookEvery is how often the supervisor looks at reader and writer. It counts
	// its own looks, not elapsed time, so that a suspended machine, or a scaled
	// clock, does not make every call in progress look stuck.
	lookEvery  = 50 * time.Millisecond
	writeLooks = 5  // a write in progress that long is stalled: 250 ms
	readLooks  = 40 // a read, whose timeout is 100 ms: 2 s
	// A Read that comes back at once with nothing, again and again, would spin.
	spinPause = 5 * time.Millisecond
	spinBelow = int64(time.Millisecond)
)

// connection is one open port in the hands of an owner: a reader, a writer and
// the supervisor, which is the owner's own goroutine.
type connection struct {
	o    *Owner
	ctx  context.Context
	conn Conn
	bell chan struct{}

	asker  *asker
	turn   chan struct{} // holds one token while an item of this connection is handed over
	cutter *Cutter       // with the turn
	over   bool          // with the turn: nothing more may be handed over

	reads, writes atomic.Uint64 // odd while the call is in progress
	heard         atomic.Uint64 // Reads that brought bytes
	failed        chan string   // why it is lost; room for both goroutines
	finish        chan struct{} // closed: the writer may send one last OPEN
	dead          chan struct{} // closed: both must end
	readerDone    chan struct{}
	writerDone    chan struct{}
}

// serve runs one connection until it is lost or ctx is done, closes it, and
// returns the reason it was lost, and whether anything was heard. mute is how
// long it may give nothing, 0 for ever.
func (o *Owner) serve(ctx context.Context, conn Conn, bell chan struct{}, mute time.Duration) (reason string, heard bool) {
	c := &connection{o: o, ctx: ctx, conn: conn, bell: bell, cutter: NewCutter(), turn: make(chan struct{}, 1),
		failed: make(chan string, 2), finish: make(chan struct{}), dead: make(chan struct{}),
		readerDone: make(chan struct{}), writerDone: make(chan struct{})}
	if f := o.opt.Form; f != nil && !f.Lines() || o.opt.Whole || o.opt.Ask != nil {
		c.cutter = newReadCutter()
	}
	c.asker = newAsker(o.opt.Ask, o.opt.Clock.Now())
	go c.read()
	go c.write()
	defer func() {
		if r := recover(); r != nil {
			reason = panicReason(r)
		}
		c.end()
		heard = c.heard.Load() > 0
	}()
	return c.supervise(mute), false
}

// supervise waits for the end and meanwhile tells of calls that do not return.
func (c *connection) supervise(mute time.Duration) string {
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	reader := watch{calls: &c.reads, after: readLooks, what: "a read has not returned for 2 s; another program may be reading this port"}
	writer := watch{calls: &c.writes, after: writeLooks, what: "a write has not returned for 250 ms; nobody reads at the other end"}
	last, quiet := uint64(0), 0
	for {
		select {
		case <-c.ctx.Done():
			return ""
		case why := <-c.failed:
			return why
		case <-tick.C:
			stuck := reader.stuck || writer.stuck
			reader.look()
			writer.look()
			if n := c.heard.Load(); mute > 0 && n == last {
				// Looks are counted, as of a call that does not return.
				if quiet++; quiet >= int(mute/lookEvery) {
					return "it has given nothing for " + (time.Duration(quiet) * lookEvery).String() + " and is opened again"
				}
			} else {
				last, quiet = n, 0
				if n > 0 {
					mute = c.o.opt.Mute
				}
			}
			switch now := reader.stuck || writer.stuck; {
			case now && !stuck:
				what := writer.what
				if reader.stuck {
					what = reader.what
				}
				c.state(StateStalled, what)
			case stuck && !now:
				c.state(StateResumed, "")
			}
			// The reader does this too, unless it hangs.
			c.idle(c.o.opt.Clock.Now())
		}
	}
}

// watch counts how often it finds the same call still in progress.
type watch struct {
	calls *atomic.Uint64
	after int
	what  string
	seen  uint64
	looks int
	stuck bool
}

func (w *watch) look() {
	n := w.calls.Load()
	if n%2 == 0 || n != w.seen {
		w.seen, w.looks, w.stuck = n, 0, false
		return
	}
	w.looks++
	w.stuck = w.looks >= w.after
}

// end closes the connection and hands over what is left. After it neither
// goroutine hands over anything, also one that the system still holds.
func (c *connection) end() {
	if c.ctx.Err() != nil {
		close(c.finish)
		wait(c.writerDone, grace)
	}
	c.o.box.detach()
	close(c.dead)
	c.o.close(c.conn)
	late, cancel := context.WithTimeout(context.Background(), endWithin)
	defer cancel()
	for _, done := range []chan struct{}{c.readerDone, c.writerDone} {
		select {
		case <-done:
		case <-late.Done():
		}
	}
	c.turn <- struct{}{}
	defer func() { <-c.turn }()
	c.cutter.Lost(c.o.opt.Clock.Now(), c.cut)
	c.over = true
}

func (c *connection) read() {
	defer close(c.readerDone)
	defer c.recovered()
	buf := make([]byte, readBuffer)
	for {
		began := c.o.opt.Clock.Now()
		c.reads.Add(1)
		n, err := c.conn.Read(buf)
		c.reads.Add(1)
		now := c.o.opt.Clock.Now()
		if n > 0 {
			c.heard.Add(1)
			c.data(now, buf[:n])
		} else {
			c.idle(now)
		}
		if err != nil {
			c.fail("read error", err)
			return
		}
		select {
		case <-c.dead:
			return
		default:
		}
		if n == 0 && now-began < spinBelow {
			wait(c.dead, spinPause)
		}
	}
}

func (c *connection) write() {
	defer close(c.writerDone)
	defer c.recovered()
	if c.o.opt.Ask != nil {
		if err := c.ask(); err != nil {
			c.fail("write error", err)
		}
		return
	}
	for {
		last := false
		select {
		case <-c.dead:
			return
		case <-c.finish:
			last = true
		case <-c.bell:
		}
		if msg := c.o.box.take(c.bell, last); len(msg) > 0 {
			c.writes.Add(1)
			n, err := c.conn.Write(msg)
			c.writes.Add(1)
			if n > 0 {
				c.give(Item{Kind: Sent, T: c.o.opt.Clock.Now(), Raw: msg[:n:n]})
			}
			if err != nil {
				c.fail("write error", err)
				return
			}
		}
		if last {
			return
		}
	}
}

// recovered turns a panic of reader or writer into the loss of the connection.
func (c *connection) recovered() {
	if r := recover(); r != nil {
		c.failed <- panicReason(r)
	}
}

func (c *connection) fail(what string, err error) {
	switch {
	case errors.Is(err, ErrUnplugged):
		c.failed <- ErrUnplugged.Error()
	case errors.Is(err, ErrClosed):
		c.failed <- ErrClosed.Error()
	default:
		c.failed <- what + ": " + Visible([]byte(err.Error()))
	}
}

func (c *connection) data(now int64, p []byte) {
	c.turn <- struct{}{}
	defer func() { <-c.turn }()
	if !c.over {
		c.asker.heard(now, p)
		c.cutter.Push(now, c.o.chunks.Add(1), p, c.cut)
	}
}

func (c *connection) idle(now int64) {
	c.turn <- struct{}{}
	defer func() { <-c.turn }()
	if !c.over {
		c.cutter.Idle(now, c.cut)
	}
}

// cut hands over one cut; the caller has the turn.
func (c *connection) cut(cut Cut) { c.o.emit(c.ctx, Item{Kind: Data, T: cut.T, Cut: cut}) }

func (c *connection) state(state, reason string) {
	c.give(Item{Kind: State, T: c.o.opt.Clock.Now(), State: state, Reason: reason})
}

func (c *connection) give(it Item) {
	c.turn <- struct{}{}
	defer func() { <-c.turn }()
	if !c.over {
		c.o.emit(c.ctx, it)
	}
}
