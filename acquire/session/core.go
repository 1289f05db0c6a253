package session

import (
	"fmt"
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
	// Plain leaves out the checksum of the whole state that is said with each
	// clock record: for who compares nothing.
	Plain bool

	head    headOf
	cfg     *safety.Config
	guard   safety.Guard
	loadDec *acquire.LoadDecoder
	lineDec *acquire.LineDecoder
	stopDec *acquire.StopDecoder
	onStop  func(acquire.StopWord)

	t       int64 // of the record being applied
	load    stream
	line    stream
	stop    stream
	horn    stream
	record  string // why the record is failing, "" while it is not
	scratch []byte
	bits    []byte // of the guard's state, for the digest
	ev      safety.Events
	out     *Step

	tension tensionState
	cells   cells
	pin     *pinned // the load cell is a pin in the roller; nil: it is not
	haul    haulState
	aids    aids
	soak    soaking
	wires   map[string]*wire // by the table whose port it is
	by      uint64           // number of the record being applied
	fix     correction
	wall    wallState
	relay   Relay
	carry   carryState
	marked  marked
	cameUp  *trial.CameUp // as far as said; never changed
	short   string        // how soon the disk will be full, "" while that is far
	begun   bool          // a record has come since the head was whole
	ended   bool
	stops   int         // set by this record, and not told the Judge yet
	stage   trial.Stage // as the Judge was told
}

// Step is what one record did: samples for the Judge, words for the log.
type Step struct {
	Samples []JudgeInput
	Cells   []CellSample    // of the load cells that do not guard
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
	badThen   uint64 // bad, at the last good frame
	quiet     string // how its port stands, as told since it is silent
	rate      meter
	late      lateness
	isLate    bool // the last good frame came in a burst
	onFrame   func(frame []byte, bad string)
}

// Apply folds one record in and leaves in out what it did. It returns an error
// only for a head that cannot be folded; out's slices are reused.
func (c *Core) Apply(r *logfmt.Record, out *Step) error {
	*out = Step{Samples: out.Samples[:0], Cells: out.Cells[:0], Says: out.Says[:0]}
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
	c.t, c.by, c.out = r.T, r.N, out
	c.guard.Advance(r.T, &c.ev)
	if !c.begun {
		c.begun = true
		c.judgeStart()
		c.latch(r.N)
	}
	switch r.Kind {
	case logfmt.Clock:
		c.clock(r)
		c.watchDepth()
		c.watchCells()
		c.watchFix()
	case logfmt.Rx:
		c.rx(r)
	case logfmt.Tx:
		c.tx(r)
	case logfmt.PortEvent:
		c.port(r)
	case logfmt.Act:
		c.act(r)
	}
	c.followStage()
	c.followSoak()
	c.flush(r.N)
	c.happened(r)
	if r.Kind == logfmt.Clock && !c.Plain {
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
	c.load.onFrame, c.line.onFrame, c.horn.onFrame = c.loadFrame, c.lineFrame, c.hornFrame
	c.stopDec, c.onStop = acquire.NewStopDecoder(c.head.Trial.Stop.Kind), c.stopWord
	for _, s := range c.streams() {
		s.lastAt, s.heardAt = -1, -1
	}
	c.load.late, c.line.late = newLateness(cfg.LoadHz), newLateness(cfg.LineHz)
	c.tension.at, c.haul.at, c.tension.bigCell = -1, -1, -1
	c.haul.x, c.haul.rodeOut = trial.Length(math.NaN()), trial.Length(math.NaN())
	c.haul.marks.begin(fix{})
	c.haul.marks.hasRef = false
	c.tension.zero.At = -1
	c.pin = newPinned(c.head.Trial, SrcLoad, c.head.Trial.Load)
	c.relay.At = -1
	c.beginCarry()
	return c.beginWires()
}

func (c *Core) streams() [4]*stream { return [...]*stream{&c.load, &c.line, &c.stop, &c.horn} }

func (c *Core) streamOf(src string) (*stream, safety.Source, bool) {
	switch src {
	case SrcLoad:
		return &c.load, safety.Load, true
	case SrcLine:
		return &c.line, safety.LineEncoder, true
	case SrcStop:
		return &c.stop, safety.StopOut, true
	case SrcHorn:
		return &c.horn, safety.Horn, true
	}
	return nil, 0, false
}

// The names of the ports in the record.
const (
	SrcLoad   = "load"
	SrcLine   = "line"
	SrcStop   = "stop"
	SrcHorn   = "horn"   // horn and lamp
	SrcRecord = "record" // the log itself, seen as a port
	SrcScreen = "screen"
	SrcJudge  = "judge"
	SrcQueue  = "queue" // between ports and sequencer
	SrcCopy   = "copy"  // the second file of the record; nothing the guard judges

	SrcComputer = "computer"
)

// The states of the ports that are no serial ports, beside those of acquire.
const (
	stateGood     = "ok"       // the record reaches the disk
	stateFailing  = "failing"  // it does not
	stateAttached = "attached" // a screen
	stateGone     = "gone"     // the Judge
	stateBehind   = "behind"   // the queue
	stateShort    = "short"    // the record's disk will be full soon
	stateRoomy    = "roomy"    // it will not any more
	stateSlept    = "slept"    // the computer was suspended
)

func (c *Core) rx(r *logfmt.Record) {
	if w := c.wires[r.Str("src")]; w != nil {
		c.hear(w, r)
		return
	}
	s, src, ok := c.streamOf(r.Str("src"))
	if !ok {
		return
	}
	s.heardAt = r.T
	c.guard.Heard(r.T, src)
	c.scratch = append(c.scratch[:0], r.Str("raw")...)
	if s == &c.stop {
		c.stopDec.Feed(c.scratch, c.onStop)
		return
	}
	s.framer.Feed(c.scratch, s.onFrame)
}

func (s *stream) count(t int64, frame []byte, good bool) {
	s.last = append(s.last[:0], frame[:min(len(frame), 64)]...)
	if good {
		s.good++
		s.lastAt, s.badThen, s.quiet = t, s.bad, ""
		if !s.isLate {
			s.rate.add(t)
		}
	} else {
		s.bad++
	}
}

func (c *Core) stopWord(w acquire.StopWord) {
	c.stop.count(c.t, w.Frame, w.Good)
	switch {
	case !w.Good:
		c.guard.BadFrame(c.t, safety.StopOut, &c.ev)
	case w.State:
		c.relay = Relay{Heard: true, Closed: w.Closed, Reason: w.Reason, At: c.t}
		c.guard.Relay(c.t, w.Closed, w.Session, &c.ev)
	}
}

// hornFrame takes what horn and lamp answer: it is kept, and means nothing.
func (c *Core) hornFrame(frame []byte, bad string) { c.horn.count(c.t, frame, bad == "") }

func (c *Core) port(r *logfmt.Record) {
	src, state := r.Str("src"), r.Str("state")
	up := state == acquire.StateOpen || state == acquire.StateResumed || state == stateGood || state == stateAttached
	switch src {
	case SrcRecord:
		if state == stateShort || state == stateRoomy {
			c.short = ""
			if state == stateShort {
				c.short = r.Str("reason")
			}
			c.guard.Fault(r.T, safety.RecordShort, state == stateShort, 0, 0, &c.ev)
			return
		}
		c.record = r.Str("reason")
		c.guard.Port(r.T, safety.Record, up, &c.ev)
	case SrcScreen:
		c.guard.Port(r.T, safety.Screen, up, &c.ev)
	case SrcJudge:
		c.guard.Port(r.T, safety.Judge, up, &c.ev)
	case SrcComputer: // time stood still for the program, and no clock of its own shows it
		gap, _ := r.Ns("gap")
		c.guard.Behind(r.T, gap, &c.ev)
	case SrcQueue:
		by, _ := r.Ns("by")
		c.guard.Behind(r.T, by, &c.ev)
	default:
		if w := c.wires[src]; w != nil {
			c.wirePort(w, r, state, up)
			return
		}
		s, which, ok := c.streamOf(src)
		if !ok {
			return
		}
		s.state, s.name, s.reason = state, r.Str("name"), r.Str("reason")
		if state == acquire.StateOpen || state == acquire.StateLost {
			s.framer.Reset()
			if s == &c.stop {
				c.stopDec.Reset()
			}
			if src == SrcLoad {
				c.tension.slope.reset()
				c.tension.window.reset()
				c.gap()
			}
		}
		if state == acquire.StateClosed {
			return // by ourselves, at the end
		}
		c.guard.Port(r.T, which, up, &c.ev)
	}
}

// happened tells the Judge what else the record came to, behind its samples: in
// that order results read it out of the log.
func (c *Core) happened(r *logfmt.Record) {
	tell := func(in JudgeInput) { c.out.Samples = append(c.out.Samples, in) }
	for ; c.stops > 0; c.stops-- {
		tell(JudgeInput{T: c.t, Stop: true})
	}
	if stage := c.guard.State().Stage; stage != c.stage {
		c.stage = stage
		tell(JudgeInput{T: c.t, Enter: true, Stage: stage})
	}
	if r.Kind == logfmt.End {
		tell(JudgeInput{T: c.t, End: true})
	}
}

// gap tells the Judge that tension is not measured from here on.
func (c *Core) gap() { c.out.Samples = append(c.out.Samples, JudgeInput{T: c.t, Gap: true}) }

// flush turns the guard's events into the words of the record.
func (c *Core) flush(by uint64) {
	for _, e := range c.ev.All() {
		if e.What == safety.StopSet {
			c.stops++
		}
		fields := []logfmt.Field{{Key: "at", Val: logfmt.FormatNs(e.T)}}
		for _, f := range e.Fields() {
			fields = append(fields, logfmt.Field{Key: f.Key, Val: f.Val})
		}
		fields = append(fields, logfmt.Field{Key: "text", Val: e.Text(c.head.Trial.Show)})
		c.out.Says = append(c.out.Says, say(by, "core", fields...))
		c.tellQuiet(e)
	}
	c.ev.Reset()
}

// tell says something of Core's own, behind what the guard has said so far.
func (c *Core) tell(by uint64, text string, fields ...logfmt.Field) {
	c.flush(by)
	c.out.Says = append(c.out.Says, say(by, "core", append(fields, logfmt.Field{Key: "text", Val: text})...))
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
