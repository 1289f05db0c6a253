package session

import (
	"context"
	"crypto/rand"
	"encoding/binary"
	"fmt"
	"runtime/debug"
	"strconv"
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
			c.item(it)
		case req := <-c.acts:
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
	c.log.Close()
}

// put gives a record its number and time, queues it for the log and folds it,
// in one step.
func (c *Capture) put(r logfmt.Record) error {
	c.number(&r)
	c.log.Put(r)
	c.board.add(&r)
	if err := c.core.Apply(&r, &c.step); err != nil {
		return err
	}
	for _, s := range c.step.Says {
		c.word(s)
	}
	if len(c.step.Samples) > 0 {
		c.judge.add(c.step.Samples, r.N)
	}
	if c.step.Ended {
		c.ending = c.step.EndReason
		if c.ending == "" {
			c.ending = "ended"
		}
	}
	if c.core.Ready() {
		g := c.core.Guard()
		c.out.after(r.T, &g)
	}
	return nil
}

// number gives the next number; time never falls, and where a chunk was read
// before the last record was made, `at` keeps when.
func (c *Capture) number(r *logfmt.Record) {
	if r.T < c.t {
		if r.Kind == logfmt.Rx || r.Kind == logfmt.Tx {
			r.Fields = append(r.Fields, logfmt.Field{Key: "at", Val: logfmt.FormatNs(r.T)})
		}
		r.T = c.t
	}
	c.t = r.T
	c.n++
	r.N = c.n
}

// word writes an output record.
func (c *Capture) word(s logfmt.Record) {
	c.spoke = true
	s.T = c.t
	c.number(&s)
	c.log.Put(s)
	c.board.add(&s)
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
		c.put(logfmt.Record{T: it.T, Kind: logfmt.Rx, Fields: append(make([]logfmt.Field, 0, 6),
			logfmt.Field{Key: "src", Val: it.Src},
			logfmt.Field{Key: "t0", Val: logfmt.FormatNs(it.Cut.T0)},
			logfmt.Field{Key: "chunk", Val: strconv.FormatUint(it.Cut.Chunk, 10)},
			logfmt.Field{Key: "cut", Val: it.Cut.Why},
			logfmt.Field{Key: "raw", Val: string(it.Cut.Raw)})})
	case acquire.State:
		fields := []logfmt.Field{{Key: "src", Val: it.Src}, {Key: "state", Val: it.State}}
		if it.Name != "" {
			fields = append(fields, logfmt.Field{Key: "name", Val: it.Name})
		}
		if it.Reason != "" {
			fields = append(fields, logfmt.Field{Key: "reason", Val: it.Reason})
		}
		if it.Gap > 0 {
			fields = append(fields, logfmt.Field{Key: "gap", Val: logfmt.FormatNs(it.Gap)})
		}
		c.put(logfmt.Record{T: it.T, Kind: logfmt.PortEvent, Fields: fields})
	case acquire.Sent:
		if r, whole := c.out.sent(it); whole {
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
	a := req.act
	fields := []logfmt.Field{{Key: "who", Val: whoNames[a.Who]}, {Key: "name", Val: a.Name}, {Key: "act", Val: a.What}}
	switch a.What {
	case ActArm, ActStage, ActRearm:
		if a.What != ActArm {
			fields = append(fields, logfmt.Field{Key: "stage", Val: a.Stage.String()})
		}
		fields = append(fields, logfmt.Field{Key: "session", Val: strconv.FormatUint(uint64(freshSession()), 10)})
	}
	if a.Value != "" {
		fields = append(fields, logfmt.Field{Key: "value", Val: a.Value})
	}
	n := c.n + 1 // its own number; what is said of it comes behind
	c.put(logfmt.Record{T: c.cfg.Clock.Now(), Kind: logfmt.Act, Fields: fields})
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
