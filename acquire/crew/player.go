package crew

import (
	"context"
	"sync/atomic"
	"time"

	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/safety"
)

// Clock is the time the script's waits are in: that of the capture.
type Clock interface{ Now() int64 }

// Player has a crew act on a live capture until a person takes over.
type Player struct {
	crew  *Crew
	clock Clock
	alone bool
	taken atomic.Bool
	fault atomic.Pointer[string]
}

// NewPlayer returns a player of a script. alone: nobody can take over, so it
// ends the capture when the script is over.
func NewPlayer(steps []deck.Step, clock Clock, alone bool) *Player {
	return &Player{crew: New(steps), clock: clock, alone: alone}
}

// TakeOver ends the script: from here on a person is in charge.
func (p *Player) TakeOver() { p.taken.Store(true) }

// Fault is what stopped the script, "" nothing. It may be called from any
// goroutine.
func (p *Player) Fault() string {
	if f := p.fault.Load(); f != nil {
		return *f
	}
	return ""
}

// Run works through the script. It returns when it is through, ctx ends, the
// capture is over, or a person takes over.
func (p *Player) Run(ctx context.Context, c *session.Capture) {
	tick := time.NewTicker(10 * time.Millisecond)
	defer tick.Stop()
	for !p.crew.Over() && !p.taken.Load() {
		if a, now := p.crew.Next(p.clock.Now(), c.Snapshot()); now {
			o, err := c.DoWait(ctx, a)
			if err != nil {
				return
			}
			p.crew.Answer(o)
			continue
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			return
		case <-c.Done():
			return
		}
	}
	if f := p.crew.Fault(); f != "" {
		p.fault.Store(&f)
	}
	select {
	case <-c.Done():
	case <-ctx.Done():
	default:
		p.leave(c)
	}
}

// leave says that the script is over and why.
func (p *Player) leave(c *session.Capture) {
	note := session.Act{Who: safety.Director, Name: Name, What: session.ActNote, Value: "the script is over; what is left is yours"}
	switch f := p.crew.Fault(); {
	case f != "":
		note.Value = "the script has stopped, you are in charge: " + f
	case p.taken.Load():
		note.Value = "a person has taken over; the script ends here"
	}
	c.Do(note)
	if p.alone {
		// Nobody is there to end it, so it ends: asked twice, since it may be
		// loaded.
		end := session.Act{Who: safety.Program, Name: Name, What: session.ActEnd, Value: note.Value}
		c.Do(end)
		c.Do(end)
	}
}
