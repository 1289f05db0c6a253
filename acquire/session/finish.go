package session

import (
	"errors"
	"fmt"
	"time"

	"hawse/logfmt"
)

// judgeLast is how long the Judge may take for its last words.
var judgeLast = 2 * time.Second

// finish ends the ports, lets the Judge say its last, and seals the log.
func (c *Capture) finish() {
	c.out.open(c.t)
	c.out.owner, c.horn.owner = nil, nil // nothing follows that word
	c.until(nil, 20*time.Millisecond)    // on its way out; the relay opens by itself in any case
	c.halt()
	portsDone := make(chan struct{})
	go func() { c.ports.Wait(); close(portsDone) }()
	c.until(portsDone, time.Minute)
	for more := true; more; {
		select {
		case it := <-c.items:
			c.item(it)
		default:
			more = false
		}
	}
	if r, some := c.out.rest(); some {
		c.put(r)
	}
	c.drainJudge()
	// Whatever fell due meanwhile is said before the end, which says nothing.
	c.put(logfmt.Record{T: c.cfg.Clock.Now(), Kind: logfmt.Tick})
	c.forget(portsDone)
	c.seal(logfmt.Record{T: c.t, Kind: logfmt.End, Fields: []logfmt.Field{{Key: "reason", Val: c.ending}}})
	for { // nobody who still waits for an answer is left hanging
		select {
		case req := <-c.acts:
			refuse(req)
		default:
			return
		}
	}
}

// forget lets go of what was kept of the instruments: all of it is in records.
func (c *Capture) forget(portsDone <-chan struct{}) {
	free := false
	select {
	case <-portsDone:
		free = true
	default: // a Read may still be in that memory
	}
	for i, k := range c.keep {
		k.close(free)
		c.keep[i] = nil
	}
}

// until goes on making records, ticks among them, until done is closed or the
// time is over: a port that is slow to close is no standstill of the program.
func (c *Capture) until(done <-chan struct{}, limit time.Duration) {
	over := time.NewTimer(limit)
	defer over.Stop()
	tick := time.NewTicker(tickEvery)
	defer tick.Stop()
	for {
		select {
		case it := <-c.items:
			c.item(it)
		case says := <-c.judge.says:
			c.judged(says)
		case <-tick.C:
			c.put(logfmt.Record{T: c.cfg.Clock.Now(), Kind: logfmt.Tick})
		case <-done:
			return
		case <-over.C:
			return
		}
	}
}

// drainJudge hands over what is pending and waits a while for the Judge to be
// through with it. One that hangs is told and left behind.
func (c *Capture) drainJudge() {
	if c.judge.dead {
		return
	}
	handed := make(chan struct{})
	pending := c.judge.pending
	c.judge.pending = nil
	go func() {
		defer close(handed)
		if len(pending) > 0 {
			select {
			case c.judge.in <- pending:
			case <-c.judge.done:
			case <-time.After(judgeLast):
			}
		}
		close(c.judge.in)
	}()
	c.until(handed, 2*judgeLast)
	c.until(c.judge.done, judgeLast)
	select {
	case <-c.judge.done:
	default:
		c.port(SrcJudge, stateGone, "the part that explains the pull did not finish; its last words are missing")
	}
	for {
		select {
		case says := <-c.judge.says:
			c.judged(says)
		default:
			return
		}
	}
}

// seal ends the log. While the disk refuses it is tried again, and the fault
// shows, until a person asks for the end once more.
func (c *Capture) seal(end logfmt.Record) {
	c.number(&end)
	c.board.add(&end)
	c.board.ended = false
	c.judge.end(end.T)
	c.copy.seal(end)
	for {
		err := c.log.Seal(end)
		if err == nil {
			c.sealed = true
			break
		}
		again := false
		for len(c.acts) > 0 {
			req := <-c.acts
			again = again || req.act.What == ActEnd || req.act.What == ActTerminate
			refuse(req)
		}
		if again || !errors.Is(err, logfmt.ErrNotSealed) {
			c.err = errors.Join(c.err, fmt.Errorf("sealing the log: %w", err))
			break
		}
		c.publish()
	}
	c.copy.wait()
	c.disks.close()
	c.board.ended = true
	c.publish()
}

func refuse(req actRequest) {
	if req.reply != nil {
		req.reply <- Outcome{Refused: "the log has ended"}
	}
}
