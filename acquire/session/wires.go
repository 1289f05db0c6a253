package session

import (
	"cmp"
	"time"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// The names of the ports in the record that a trial may do without.
const (
	SrcDepth    = trial.TableDepth
	SrcPosition = trial.TablePosition
	SrcHeading  = trial.TableHeading
	SrcClock    = trial.TableClock
)

// user is an instrument on a port: its own stream, and what takes its frames.
type user struct {
	table  string
	s      *stream
	source safety.Source // if guards
	guards bool
	fits   func(frame []byte) bool

	trouble string // as told last
	toldAt  int64
}

// troubleAgain is how long after a trouble of a box was told one is told again:
// common practice, no source.
const troubleAgain = 30e9

// tellTrouble says what a box that is asked has against it. It is no alarm: what
// no good answer means the guard knows.
func (c *Core) tellTrouble(u *user, why string) {
	if why == "" || why == u.trouble && c.t-u.toldAt < troubleAgain {
		return
	}
	u.trouble, u.toldAt = why, c.t
	c.tell(c.by, u.table+": "+why, text("what", "asked"), text("port", u.table))
}

// wire is a port whose frames are more than the lines of one instrument: others
// are on it too, or it is asked, or it sends no lines.
type wire struct {
	recv  *acquire.Reception
	users []user
	emit  func(table string, frame []byte, bad string)
	open  int // bytes since the last frame
}

// strayMost is how many bytes may come without making a frame before they are
// nobody's: more than a sentence or most lines have.
const strayMost = 100

// beginWires sets up the ports of the instruments. A port with one instrument
// that sends lines needs no wire.
func (c *Core) beginWires() error {
	t := c.head.Trial
	if err := c.beginAids(); err != nil {
		return err
	}
	if err := c.beginCells(); err != nil {
		return err
	}
	c.wires = map[string]*wire{}
	for _, host := range t.Instruments() {
		on := acquire.OnPort(t, host.Table)
		if len(on) == 0 || len(on) == 1 && host.Wire.Kind == "" && (host.Table == SrcLoad || host.Table == SrcLine) {
			continue
		}
		w, fits := &wire{}, map[string]func([]byte) bool{}
		for _, ins := range on {
			u := c.userOf(ins.Table)
			w.users = append(w.users, u)
			fits[ins.Table] = u.fits
		}
		w.recv = acquire.NewReception(on, fits)
		w.emit = func(table string, frame []byte, bad string) { c.route(w, table, frame, bad) }
		c.wires[host.Table] = w
	}
	return nil
}

func (c *Core) userOf(table string) user {
	u := user{table: table}
	switch table {
	case SrcLoad:
		u.s, u.source, u.guards = &c.load, safety.Load, true
		u.fits = func(f []byte) bool { return c.loadDec.Fits(f) } // a correction makes another decoder
	case SrcLine:
		u.s, u.source, u.guards, u.fits = &c.line, safety.LineEncoder, true, c.lineDec.Fits
	case SrcDepth:
		u.s, u.fits = &c.aids.depth.s, c.aids.depth.dec.Fits
	case SrcPosition:
		u.s, u.fits = &c.aids.position.s, func(f []byte) bool { return acquire.PositionFits(*c.head.Trial.Positioner, f) }
	case SrcHeading:
		u.s, u.fits = &c.aids.heading.s, func(f []byte) bool { return acquire.HeadingFits(*c.head.Trial.Compass, f) }
	case SrcClock:
		u.s, u.fits = &c.aids.clock.s, func(f []byte) bool { return acquire.ClockFits(*c.head.Trial.SatClock, f) }
	default:
		i, _ := c.head.Trial.Other(table)
		u.s, u.fits = &c.cells.list[i].s, c.cells.list[i].dec.Fits
	}
	return u
}

// hear takes the bytes of a wire.
func (c *Core) hear(w *wire, r *logfmt.Record) {
	c.scratch = append(c.scratch[:0], r.Str("raw")...)
	if w.open += len(c.scratch); len(w.users) == 1 || w.open > strayMost {
		for i := range w.users {
			c.heard(&w.users[i], r.T)
		}
	}
	w.recv.Feed(cameAt(r), c.scratch, w.emit)
}

// heard notes that bytes came which are an instrument's, or may be. On a port with
// others a frame of theirs says nothing of it: its box may be silent.
func (c *Core) heard(u *user, t int64) {
	u.s.heardAt = t
	if u.guards {
		c.guard.Heard(t, u.source)
	}
}

// cameAt is when bytes came, or went, which may be before their record.
func cameAt(r *logfmt.Record) int64 {
	if at, ok := r.Ns("at"); ok {
		return at
	}
	return r.T
}

// tx takes what an instrument was asked.
func (c *Core) tx(r *logfmt.Record) {
	if w := c.wires[r.Str("src")]; w != nil {
		w.recv.Sent(cameAt(r), []byte(r.Str("raw")))
	}
}

// route gives a frame to the instruments it is for. One that is nobody's is a
// bad frame of each that guards: any of them may have meant it.
func (c *Core) route(w *wire, table string, frame []byte, bad string) {
	taken := false
	w.open = 0
	for i := range w.users {
		u := &w.users[i]
		if table == u.table || table == "" && bad == "" && (len(w.users) == 1 && u.guards || u.fits(frame)) {
			c.heard(u, c.t)
			u.s.onFrame(frame, bad)
			c.tellTrouble(u, w.recv.Trouble(frame, bad))
			taken = true
		}
	}
	if taken {
		return
	}
	for i := range w.users {
		u := &w.users[i]
		// What a sounder or a receiver sends besides is none of ours, and no fault.
		if u.guards || bad != "" {
			c.heard(u, c.t)
			u.s.onFrame(frame, cmp.Or(bad, badForeign))
		}
	}
}

const badForeign = "of no instrument on this port"

// wirePort takes the state of a wire's port: it is that of all on it.
func (c *Core) wirePort(w *wire, r *logfmt.Record, state string, up bool) {
	broken := state == acquire.StateOpen || state == acquire.StateLost
	if broken {
		w.open = 0
		w.recv.Reset(r.T)
	}
	for i := range w.users {
		u := &w.users[i]
		u.s.state, u.s.name, u.s.reason = state, r.Str("name"), r.Str("reason")
		if broken && u.table == SrcLoad {
			c.tension.slope.reset()
			c.tension.window.reset()
			c.gap()
		}
		if u.guards && state != acquire.StateClosed {
			c.guard.Port(r.T, u.source, up, &c.ev)
		}
	}
}

// muteAfter is how long the port of an instrument may give nothing before it is
// opened again: common practice, no source. The guard has stopped long before.
const muteAfter = 10 * time.Second

// instrumentOptions is how the port of an instrument is looked after.
func instrumentOptions(o *acquire.OwnerOptions, t *trial.Trial) {
	on := acquire.OnPort(t, o.Src)
	o.Mute = muteAfter
	o.Whole = on[0].Wire.Kind == trial.WireFrames
	// Core has looked at the decoders when the head was folded.
	o.Ask, _ = acquire.AskingOf(t, o.Src)
}
