package session

import (
	"context"
	"crypto/rand"
	"encoding/binary"
	"errors"
	"fmt"
	"runtime/debug"
	"strconv"
	"sync"
	"sync/atomic"
	"time"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// Config is what a capture needs to start.
type Config struct {
	Head    Head
	LogPath string
	Clock   acquire.Clock
	Dial    acquire.Dialer
	Dir     string         // relative port names start here
	Log     logfmt.Options // Clock is set from Config.Clock
}

// Capture is a running capture: ports, sequencer, guard, Judge and log. It is a
// [View]. It ends by an accepted act to end, or when its context does.
type Capture struct {
	cfg   Config
	log   *logfmt.Log
	core  Core
	board board
	judge *judgeRunner
	step  Step

	items chan acquire.Item
	acts  chan actRequest
	stop  *acquire.Owner
	ports sync.WaitGroup
	halt  context.CancelFunc // ends the ports

	snap atomic.Pointer[Snapshot]
	done chan struct{}
	err  error // after done

	// The sequencer's own.
	n         uint64
	t         int64
	lastClock int64
	lastShot  time.Time
	shotN     uint64 // newest record in the last snapshot
	scale     float64
	out       stopOut
	sealed    bool
	ending    string // reason, once an end was accepted
	recordBad bool
}

type actRequest struct {
	act   Act
	reply chan Outcome // nil: nobody waits
}

// Outcome is what came of an act: the record it stands in, and the refusal.
type Outcome struct {
	N       uint64
	Refused string
}

// Start creates the log and begins capturing. The log must not exist yet.
func Start(ctx context.Context, cfg Config) (*Capture, error) {
	cfg.Log.Clock = cfg.Clock.Now
	log, err := logfmt.Create(cfg.LogPath, cfg.Log)
	if err != nil {
		return nil, err
	}
	c := &Capture{cfg: cfg, log: log, scale: max(cfg.Head.Scale, 1),
		items: make(chan acquire.Item, 1<<14), acts: make(chan actRequest, 64), done: make(chan struct{})}
	c.judge = startJudge(cfg.Head.Trial.Levels)
	for _, r := range cfg.Head.Records() {
		if err := c.put(r); err != nil {
			close(c.judge.in)
			<-c.judge.done
			log.Close()
			return nil, err
		}
	}
	c.clock(cfg.Clock.Now())
	portCtx, halt := context.WithCancel(context.WithoutCancel(ctx))
	c.halt = halt
	tr := cfg.Head.Trial
	for _, p := range []struct {
		src  string
		port trial.Port
	}{{SrcLoad, tr.Load.Port}, {SrcLine, tr.Line.Port}, {SrcStop, tr.Stop.Port}} {
		if len(p.port.Names) == 0 {
			continue
		}
		o := acquire.NewOwner(acquire.OwnerOptions{Src: p.src, Port: p.port, Dial: cfg.Dial, Clock: cfg.Clock, Out: c.items, Dir: cfg.Dir})
		if p.src == SrcStop {
			c.stop = o
		}
		c.ports.Go(func() { o.Run(portCtx) })
	}
	c.out.init(tr.Stop, c.stop, c.scale)
	c.publish()
	go c.run(ctx)
	return c, nil
}

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
	c.halt()
	c.log.Close()
	s := *c.snap.Load()
	s.Ended, s.EndReason = true, fmt.Sprintf("capture failed: %v", p)
	c.snap.Store(&s)
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

// item turns what a port gave into a record.
func (c *Capture) item(it acquire.Item) {
	// Behind by more than a standstill is a standstill: say so before the old
	// bytes are judged as if they were news.
	if now := c.cfg.Clock.Now(); now-it.T > int64(float64(stallAfter)*c.scale) && now-c.t > 0 {
		c.put(logfmt.Record{T: now, Kind: logfmt.Tick})
	}
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
	c.put(logfmt.Record{T: c.cfg.Clock.Now(), Kind: logfmt.Act, Fields: fields})
	if req.reply != nil {
		req.reply <- Outcome{N: c.n, Refused: c.step.Refused}
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

// pulse does what time asks for: a tick after a silence, the wall clock, the
// state of the log, and a new snapshot for whoever looks. It returns how long,
// in real time, nothing more will be due.
func (c *Capture) pulse() time.Duration {
	now := c.cfg.Clock.Now()
	if now-c.t >= int64(float64(tickEvery)*c.scale) || now >= c.out.next() {
		c.put(logfmt.Record{T: now, Kind: logfmt.Tick}) // a heartbeat goes out only behind a record
	}
	if now-c.lastClock >= int64(clockEvery) {
		c.clock(now)
	}
	shown := time.Since(c.lastShot)
	if len(c.step.Says) > 0 || shown >= shotEvery {
		c.watchLog(now)
		c.judge.push()
		c.publish()
		shown = 0
	}
	// The next tick, heartbeat or clock; or sooner, if what has come since the
	// last snapshot is to be seen.
	next := min(c.t+int64(float64(tickEvery)*c.scale), c.lastClock+int64(clockEvery), c.out.next())
	wait := time.Duration(float64(next-now) / c.scale)
	if c.n > c.shotN {
		wait = min(wait, shotEvery-shown)
	}
	return max(wait, time.Millisecond)
}

// shotEvery is how often a snapshot is taken and the Judge fed, at most.
const shotEvery = 20 * time.Millisecond

func (c *Capture) clock(now int64) {
	c.lastClock = now
	c.put(logfmt.Record{T: now, Kind: logfmt.Clock, Fields: []logfmt.Field{{Key: "wall", Val: time.Now().Format(time.RFC3339Nano)}}})
}

// recordLate is how long a record may wait for the disk before the crew is told.
const recordLate = 2 * time.Second

// watchLog turns a failing log into a record, which reaches the guard like any
// other input (and the disk if it can).
func (c *Capture) watchLog(now int64) {
	st := c.log.Status()
	why := ""
	switch {
	case st.Err != nil:
		why = st.Err.Error()
	case st.OldestNotOnDisk >= 0 && now-st.OldestNotOnDisk > int64(float64(recordLate)*c.scale):
		why = fmt.Sprintf("the oldest record not on disk is %.1f s old", float64(now-st.OldestNotOnDisk)/1e9/c.scale)
	}
	bad := why != ""
	if bad == c.recordBad {
		return
	}
	c.recordBad = bad
	if bad {
		c.port(SrcRecord, stateFailing, why)
	} else {
		c.port(SrcRecord, stateGood, "")
	}
}

func (c *Capture) publish() {
	s := c.core.shot(&c.board, &logfmt.Record{T: c.t, N: c.n})
	c.lastShot, c.shotN = time.Now(), c.n
	s.Made = c.lastShot
	if j := c.judge.last.Load(); j != nil {
		j.into(&s)
		if len(c.judge.pending) > 0 {
			s.JudgeLag = max(c.judge.pending[len(c.judge.pending)-1].T-j.t, 0)
		}
	}
	st := c.log.Status()
	s.Log = LogState{Path: st.Path, Bytes: st.Bytes, Written: st.Written, OnDisk: st.OnDisk, Lost: st.Dropped, Sealed: c.sealed}
	if st.OldestNotOnDisk >= 0 {
		s.Log.OldestAge = int64(float64(max(c.t-st.OldestNotOnDisk, 0)) / c.scale) // the disk keeps real time
	}
	if st.Err != nil {
		s.Log.Fault = st.Err.Error()
	}
	c.snap.Store(&s)
}

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

// Snapshot implements [View].
func (c *Capture) Snapshot() *Snapshot { return c.snap.Load() }

// Trace implements [View].
func (c *Capture) Trace(q TraceQuery, dst []trial.Col) []trial.Col { return c.judge.envelope(q, dst) }

// Do implements [View].
func (c *Capture) Do(a Act) {
	select {
	case c.acts <- actRequest{act: a}:
	case <-c.done:
	}
}

// DoWait hands over an act and waits for what came of it.
func (c *Capture) DoWait(ctx context.Context, a Act) (Outcome, error) {
	req := actRequest{act: a, reply: make(chan Outcome, 1)}
	select {
	case c.acts <- req:
	case <-c.done:
		return Outcome{}, errors.New("the capture has ended")
	case <-ctx.Done():
		return Outcome{}, ctx.Err()
	}
	select {
	case o := <-req.reply:
		return o, nil
	case <-c.done:
		select {
		case o := <-req.reply:
			return o, nil
		default:
			return Outcome{}, errors.New("the capture ended before it could answer")
		}
	case <-ctx.Done():
		return Outcome{}, ctx.Err()
	}
}

// ScreenState tells the guard that a screen came or went.
func (c *Capture) ScreenState(attached bool, reason string) {
	state := stateAttached
	if !attached {
		state = acquire.StateLost
	}
	select {
	case c.items <- acquire.Item{Src: SrcScreen, Kind: acquire.State, T: c.cfg.Clock.Now(), State: state, Reason: reason}:
	case <-c.done:
	}
}

// Done is closed when the log is sealed and everything has stopped.
func (c *Capture) Done() <-chan struct{} { return c.done }

// Err returns what went wrong with the capture itself; only after Done.
func (c *Capture) Err() error { return c.err }
