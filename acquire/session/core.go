package session

import (
	"fmt"
	"hash/fnv"
	"math"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// Core is the fold that may stop a pull: it decodes, calibrates, counts line,
// and lets the guard judge. It is pure; the same records give the same state
// and the same words, live or replayed, whatever the tick rate.
//
// The zero Core is ready for a log's first record. Before its head is whole,
// other records are taken but mean nothing.
type Core struct {
	head    headOf
	cfg     *safety.Config
	guard   safety.Guard
	loadDec *acquire.LoadDecoder
	lineDec *acquire.LineDecoder

	t       int64 // of the record being applied
	load    stream
	line    stream
	stop    stream
	record  string // why the record is failing, "" while it is not
	scratch []byte
	ev      safety.Events
	out     *Step

	tension tensionState
	haul    haulState
	relay   Relay
	ended   bool
}

// Step is what one record did: samples for the Judge, words for the log.
type Step struct {
	Samples []JudgeInput
	Says    []logfmt.Record // without number and time
	// Ended is set when an act to end the log was accepted, with its reason.
	Ended     bool
	EndReason string
	Refused   string
}

// stream is one port as the fold sees it.
type stream struct {
	framer    acquire.Framer
	state     string
	name      string
	reason    string
	last      []byte // the last frame, for people
	lastAt    int64
	heardAt   int64
	good, bad uint64
	rate      meter
	onFrame   func(frame []byte, bad string)
}

type tensionState struct {
	now, indicated trial.Force
	over           bool
	at             int64
	slope          slope
	// big holds the largest valid sample of the present and the last eighth of
	// a second, so that what a screen draws four times a second is never a
	// mean and never older than a quarter second.
	bigCell     int64
	bigNow      trial.Force
	bigLast     trial.Force
	bigLastCell int64
}

type haulState struct {
	counts    int64
	hasCounts bool
	zero      int64        // counts when the rode out was said
	payout    trial.Length // rode out then
	hasPayout bool
	depth     trial.Length
	hasDepth  bool
	at        int64
	x         trial.Length
	rodeOut   trial.Length
	scope     float64
	scope2    float64
	hasScope  bool
	speed     slope
}

// Apply folds one record in and leaves in out what it did. It returns an error
// only for a head that cannot be folded; out's slices are reused.
func (c *Core) Apply(r *logfmt.Record, out *Step) error {
	*out = Step{Samples: out.Samples[:0], Says: out.Says[:0]}
	if r.Kind == logfmt.Say {
		return nil
	}
	if r.Kind == logfmt.Head {
		if err := c.head.take(r); err != nil {
			return err
		}
		if c.head.ready && c.cfg == nil {
			return c.begin()
		}
		return nil
	}
	if c.cfg == nil {
		return nil
	}
	c.t, c.out = r.T, out
	c.guard.Advance(r.T, &c.ev)
	switch r.Kind {
	case logfmt.Rx:
		c.rx(r)
	case logfmt.PortEvent:
		c.port(r)
	case logfmt.Act:
		c.act(r)
	}
	c.flush(r.N)
	if r.Kind == logfmt.Clock {
		out.Says = append(out.Says, say(r.N, "core",
			logfmt.Field{Key: "what", Val: "state"}, logfmt.Field{Key: "digest", Val: fmt.Sprintf("%016x", c.Digest())}))
	}
	return nil
}

// begin sets the fold up once the head is whole.
func (c *Core) begin() error {
	cfg, err := safety.NewConfig(c.head.Trial)
	if err != nil {
		return err
	}
	if c.head.stall > 0 {
		cfg.Stall = c.head.stall
	}
	cfg.Patience = c.head.Scale
	if c.loadDec, err = acquire.NewLoadDecoder(c.head.Trial.Load); err != nil {
		return err
	}
	if c.lineDec, err = acquire.NewLineDecoder(c.head.Trial.Line); err != nil {
		return err
	}
	c.cfg, c.guard = cfg, safety.New(cfg)
	c.load.onFrame, c.line.onFrame, c.stop.onFrame = c.loadFrame, c.lineFrame, c.stopFrame
	for _, s := range []*stream{&c.load, &c.line, &c.stop} {
		s.lastAt, s.heardAt = -1, -1
	}
	c.tension.at, c.haul.at, c.tension.bigCell = -1, -1, -1
	c.haul.x, c.haul.rodeOut = trial.Length(math.NaN()), trial.Length(math.NaN())
	c.relay.At = -1
	return nil
}

func (c *Core) streamOf(src string) (*stream, safety.Source, bool) {
	switch src {
	case SrcLoad:
		return &c.load, safety.Load, true
	case SrcLine:
		return &c.line, safety.LineEncoder, true
	case SrcStop:
		return &c.stop, safety.StopOut, true
	}
	return nil, 0, false
}

// The names of the ports in the record.
const (
	SrcLoad   = "load"
	SrcLine   = "line"
	SrcStop   = "stop"
	SrcRecord = "record" // the log itself, seen as a port
	SrcScreen = "screen"
	SrcJudge  = "judge"
	SrcQueue  = "queue" // between ports and sequencer
)

// The states of the ports that are no serial ports, beside those of acquire.
const (
	stateGood     = "ok"       // the record reaches the disk
	stateFailing  = "failing"  // it does not
	stateAttached = "attached" // a screen
	stateGone     = "gone"     // the Judge
	stateBehind   = "behind"   // the queue
)

func (c *Core) rx(r *logfmt.Record) {
	s, src, ok := c.streamOf(r.Str("src"))
	if !ok {
		return
	}
	s.heardAt = r.T
	c.guard.Heard(r.T, src)
	c.scratch = append(c.scratch[:0], r.Str("raw")...)
	s.framer.Feed(c.scratch, s.onFrame)
}

func (s *stream) count(t int64, frame []byte, good bool) {
	s.last = append(s.last[:0], frame[:min(len(frame), 64)]...)
	if good {
		s.good++
		s.lastAt = t
		s.rate.add(t)
	} else {
		s.bad++
	}
}

func (c *Core) loadFrame(frame []byte, bad string) {
	var reading acquire.LoadReading
	if bad == "" {
		reading = c.loadDec.Decode(frame)
	}
	good := bad == "" && reading.Kind != acquire.Garbled
	c.load.count(c.t, frame, good)
	if !good {
		c.guard.BadFrame(c.t, safety.Load, &c.ev)
		return
	}
	over := reading.Kind == acquire.OverRange
	c.guard.Sample(c.t, reading.Tension, over, &c.ev)
	ts := &c.tension
	ts.at, ts.over, ts.now, ts.indicated = c.t, over, reading.Tension, reading.Indicated
	if over || math.IsNaN(float64(reading.Tension)) {
		ts.slope.reset()
	} else {
		ts.slope.add(c.t, float64(reading.Tension))
		ts.big(c.t)
	}
	in := JudgeInput{T: c.t, Over: over, Tension: reading.Tension, Stage: c.guard.State().Stage,
		X: c.haul.x, Scope: math.NaN()}
	if c.haul.hasScope {
		in.Scope = c.haul.scope
	}
	c.out.Samples = append(c.out.Samples, in)
}

// big keeps the largest of the last two eighths of a second.
func (ts *tensionState) big(t int64) {
	const width = slopeWidth / 2
	cell := t / width
	if cell != ts.bigCell {
		ts.bigLast, ts.bigLastCell = ts.bigNow, ts.bigCell
		ts.bigCell, ts.bigNow = cell, ts.now
		return
	}
	ts.bigNow = max(ts.bigNow, ts.now)
}

func (ts *tensionState) biggest() trial.Force {
	if ts.bigLastCell == ts.bigCell-1 {
		return max(ts.bigNow, ts.bigLast)
	}
	return ts.bigNow
}

func (c *Core) lineFrame(frame []byte, bad string) {
	var reading acquire.LineReading
	if bad == "" {
		reading = c.lineDec.Decode(frame)
	}
	good := bad == "" && reading.Kind == acquire.Good
	c.line.count(c.t, frame, good)
	if !good {
		c.guard.BadFrame(c.t, safety.LineEncoder, &c.ev)
		return
	}
	c.haul.counts, c.haul.hasCounts, c.haul.at = reading.Counts, true, c.t
	c.measure()
	if c.haul.hasPayout {
		c.haul.speed.add(c.t, float64(c.haul.x))
	}
	c.guard.Count(c.t, c.lineNow(), &c.ev)
}

func (c *Core) lineNow() safety.Line {
	return safety.Line{X: c.haul.x, RodeOut: c.haul.rodeOut, Scope: c.haul.scope, HasX: c.haul.hasPayout, HasS: c.haul.hasScope}
}

// measure derives line hauled, rode out and scope from the last count.
func (c *Core) measure() {
	h := &c.haul
	h.hasScope, h.scope, h.scope2 = false, math.NaN(), math.NaN()
	if !h.hasCounts || !h.hasPayout {
		return
	}
	enc := c.head.Trial.Line
	h.x = trial.Length(float64((h.counts-h.zero)*int64(enc.HaulSign)) / enc.PerMetre)
	h.rodeOut = h.payout - h.x
	if !h.hasDepth {
		return
	}
	// The guard works with the arithmetic scope down to nothing: an error for
	// a rode shorter than the water is deep would hide the number in recovery,
	// where that is the usual case.
	height := h.depth + c.head.Trial.Vessel.Fairlead
	if height > 0 {
		h.scope, h.hasScope = float64(h.rodeOut/height), true
	}
	if h.depth > 0 {
		h.scope2 = float64(h.rodeOut / h.depth)
	}
}

func (c *Core) stopFrame(frame []byte, bad string) {
	closed, session, reason, ok := acquire.ParseRelay(frame)
	good := ok && bad == ""
	c.stop.count(c.t, frame, good)
	if !good {
		c.guard.BadFrame(c.t, safety.StopOut, &c.ev)
		return
	}
	c.relay = Relay{Heard: true, Closed: closed, Reason: reason, At: c.t}
	c.guard.Relay(c.t, closed, session, &c.ev)
}

func (c *Core) port(r *logfmt.Record) {
	src, state := r.Str("src"), r.Str("state")
	up := state == acquire.StateOpen || state == acquire.StateResumed || state == stateGood || state == stateAttached
	switch src {
	case SrcRecord:
		c.record = r.Str("reason")
		c.guard.Port(r.T, safety.Record, up, &c.ev)
	case SrcScreen:
		c.guard.Port(r.T, safety.Screen, up, &c.ev)
	case SrcJudge:
		c.guard.Port(r.T, safety.Judge, up, &c.ev)
	case SrcQueue:
		by, _ := r.Ns("by")
		c.guard.Behind(r.T, by, &c.ev)
	default:
		s, which, ok := c.streamOf(src)
		if !ok {
			return
		}
		s.state, s.name, s.reason = state, r.Str("name"), r.Str("reason")
		if state == acquire.StateOpen || state == acquire.StateLost {
			s.framer.Reset()
			if src == SrcLoad {
				c.tension.slope.reset()
				c.out.Samples = append(c.out.Samples, JudgeInput{T: r.T, Gap: true})
			}
		}
		if state == acquire.StateClosed {
			return // by ourselves, at the end
		}
		c.guard.Port(r.T, which, up, &c.ev)
	}
}

// flush turns the guard's events into the words of the record.
func (c *Core) flush(by uint64) {
	for _, e := range c.ev.All() {
		fields := []logfmt.Field{{Key: "at", Val: logfmt.FormatNs(e.T)}}
		for _, f := range e.Fields() {
			fields = append(fields, logfmt.Field{Key: f.Key, Val: f.Val})
		}
		fields = append(fields, logfmt.Field{Key: "text", Val: e.Text(c.head.Trial.Show)})
		c.out.Says = append(c.out.Says, say(by, "core", fields...))
	}
	c.ev.Reset()
}

// say makes an output record; its number and time are given by whoever writes it.
func say(by uint64, who string, fields ...logfmt.Field) logfmt.Record {
	return logfmt.Record{Kind: logfmt.Say, Fields: append([]logfmt.Field{
		{Key: "src", Val: who}, {Key: "by", Val: fmt.Sprint(by)}}, fields...)}
}

// Guard returns the guard's state.
func (c *Core) Guard() safety.State { return c.guard.State() }

// Ready says whether the head was whole, so that the fold means something.
func (c *Core) Ready() bool { return c.cfg != nil }

// Head returns what the log's head said.
func (c *Core) Head() Head { return c.head.Head }

// Digest is a checksum over everything the fold holds, floats by their bits: if
// it agrees, live run and replay are in the same state.
func (c *Core) Digest() uint64 {
	h := fnv.New64a()
	bits := func(f float64) uint64 { return math.Float64bits(f) }
	ts, hs := &c.tension, &c.haul
	fmt.Fprintln(h, c.t, bits(float64(ts.now)), bits(float64(ts.indicated)), ts.over, ts.at, bits(float64(ts.biggest())),
		bits(ts.slope.perSecond(c.t)), hs.counts, hs.hasCounts, hs.zero, bits(float64(hs.payout)), hs.hasPayout,
		bits(float64(hs.depth)), hs.hasDepth, hs.at, bits(float64(hs.x)), bits(float64(hs.rodeOut)), bits(hs.scope), hs.hasScope,
		bits(hs.speed.perSecond(c.t)), c.relay, c.ended, c.record)
	for _, s := range []*stream{&c.load, &c.line, &c.stop} {
		fmt.Fprintln(h, s.state, s.name, s.reason, s.lastAt, s.heardAt, s.good, s.bad)
	}
	fmt.Fprintf(h, "%+v", c.guard.State())
	return h.Sum64()
}
