package session

import (
	"errors"
	"fmt"
	"time"

	"hawse/logfmt"
)

// finish ends the ports, lets the Judge say its last, and seals the log.
func (c *Capture) finish() {
	c.out.open()
	time.Sleep(20 * time.Millisecond) // the relay's last word on its way out; it opens by itself in any case
	c.halt()
	portsDone := make(chan struct{})
	go func() { c.ports.Wait(); close(portsDone) }()
	for waiting := true; waiting; {
		select {
		case it := <-c.items:
			c.item(it)
		case <-portsDone:
			waiting = false
		}
	}
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
	end := logfmt.Record{T: c.cfg.Clock.Now(), Kind: logfmt.End, Fields: []logfmt.Field{{Key: "reason", Val: c.ending}}}
	c.number(&end)
	c.board.add(&end)
	if err := c.log.Seal(end); err != nil {
		c.err = errors.Join(c.err, fmt.Errorf("sealing the log: %w", err))
	} else {
		c.sealed = true
	}
	c.publish()
	for { // nobody who still waits for an answer is left hanging
		select {
		case req := <-c.acts:
			if req.reply != nil {
				req.reply <- Outcome{Refused: "the log has ended"}
			}
		default:
			return
		}
	}
}

func (c *Capture) drainJudge() {
	if c.judge.dead {
		return // its goroutine is gone or hung; nothing waits for it
	}
	if len(c.judge.pending) > 0 {
		pending := c.judge.pending
		c.judge.pending = nil
		for sent := false; !sent; {
			select {
			case c.judge.in <- pending:
				sent = true
			case says := <-c.judge.says:
				c.judged(says)
			case <-c.judge.done:
				sent = true
			}
		}
	}
	close(c.judge.in)
	for {
		select {
		case says := <-c.judge.says:
			c.judged(says)
			continue
		case <-c.judge.done:
		}
		break
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
