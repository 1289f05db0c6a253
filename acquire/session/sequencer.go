package session

import (
	"context"
	"crypto/rand"
	"encoding/binary"
	"fmt"
	"runtime/debug"
	"time"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
)

// run is the sequencer. Nothing in it waits for disk, screen, viewer or Judge.
func (c *Capture) run(ctx context.Context) {
	defer close(c.done)
	defer c.recovered()
	due := time.NewTimer(c.pulse())
	defer due.Stop()
	over := ctx.Done()
	for c.ending == "" {
		select {
		case it := <-c.items:
			c.awake()
			c.item(it)
		case req := <-c.acts:
			c.awake()
			c.act(req)
		case says := <-c.judge.says:
			c.judged(says)
		case why := <-c.judge.gone:
			c.judge.dead = true
			c.port(SrcJudge, stateGone, "the part that explains the pull has failed: "+why)
		case <-due.C:
		case <-over:
			over = nil
			c.act(actRequest{act: Act{Who: safety.Program, What: ActEnd, Value: "the program was told to end"}})
			c.ending = "the program was told to end"
		}
		due.Reset(c.pulse())
	}
	c.finish()
}

// recovered is the last line of defence: a panic in the sequencer ends the
// heartbeats, so the relay opens; what is in the log is flushed.
func (c *Capture) recovered() {
	p := recover()
	if p == nil {
		return
	}
	c.err = fmt.Errorf("capture failed: %v\n%s", p, debug.Stack())
	s := *c.snap.Load()
	s.Ended, s.EndReason = true, fmt.Sprintf("capture failed: %v", p)
	s.Guard.Permit, s.Guard.Order = false, safety.OrderStop
	s.Tension.Known, s.Haul.Known = false, false
	c.snap.Store(&s) // first of all: what is known is nothing
	c.halt()
	c.judge.abandon()
	c.disks.close()
	c.copy.flush()
	c.log.Close()
	c.copy.close()
}

func (c *Capture) judged(says []logfmt.Record) {
	for _, s := range says {
		c.word(s)
	}
}

// late looks how long an item has waited. More than a standstill is one: it is a
// record, so that a replay knows, and a trip, so that no heartbeat goes out for
// a guard that is behind. It is told once, until the queue has been caught up.
func (c *Capture) late(t int64) {
	now, stall := c.cfg.Clock.Now(), c.patience(stallAfter)
	switch by := now - t; {
	case by > stall && !c.behind:
		c.behind = true
		c.put(logfmt.Record{T: now, Kind: logfmt.PortEvent, Fields: []logfmt.Field{{Key: "src", Val: SrcQueue},
			{Key: "state", Val: stateBehind}, {Key: "by", Val: logfmt.FormatNs(by)}, {Key: "reason", Val: "the program is behind with what the ports give"}}})
	case by < stall/2:
		c.behind = false
	}
}

// item turns what a port gave into a record.
func (c *Capture) item(it acquire.Item) {
	c.late(it.T)
	switch it.Kind {
	case acquire.Data:
		c.put(logfmt.Record{T: it.T, Kind: logfmt.Rx, Fields: rxFields(nil, it.Src, it.Cut)})
	case acquire.State:
		c.put(logfmt.Record{T: it.T, Kind: logfmt.PortEvent, Fields: portFields(it)})
	case acquire.Sent:
		if it.Src != SrcStop && it.Src != SrcHorn { // what an instrument is asked
			c.put(logfmt.Record{T: it.T, Kind: logfmt.Tx, Fields: txFields(it.Src, it.Raw)})
			return
		}
		sent := c.out.sent
		if it.Src == SrcHorn {
			sent = c.horn.sent
		}
		if r, whole := sent(it); whole {
			c.put(r)
		}
	}
}

func (c *Capture) port(src, state, reason string) {
	c.put(logfmt.Record{T: c.cfg.Clock.Now(), Kind: logfmt.PortEvent, Fields: []logfmt.Field{
		{Key: "src", Val: src}, {Key: "state", Val: state}, {Key: "reason", Val: reason}}})
}

// act puts a person's act in the record.
func (c *Capture) act(req actRequest) {
	n := c.n + 1 // its own number; what is said of it comes behind
	c.put(logfmt.Record{T: c.cfg.Clock.Now(), Kind: logfmt.Act, Fields: actFields(req.act, freshSession())})
	if req.act.What == ActHorn && c.step.Refused == "" {
		c.horn.tryOut(c.t)
	}
	if req.reply != nil {
		req.reply <- Outcome{N: n, Refused: c.step.Refused}
	}
	c.publish()
}

// freshSession returns a number the relay has not seen, bar a chance of one in
// four thousand million.
func freshSession() uint32 {
	var b [4]byte
	rand.Read(b[:])
	return max(binary.LittleEndian.Uint32(b[:]), 1)
}
