package session

import (
	"math"
	"time"

	"hawse/logfmt"
	"hawse/safety"
)

// wallState is the computer's clock beside the log's own time.
type wallState struct {
	last    time.Time
	lastT   int64
	stepped bool // at the last clock record
}

const (
	wallStep  = time.Second // by which the two may part from one clock record to the next
	wallFirst = 2025        // a computer that starts before this year has lost its clock
)

// judgeStart looks at the clock once, when the log begins.
func (c *Core) judgeStart() {
	if c.head.Started.Year() < wallFirst {
		c.guard.Port(c.t, safety.WallClock, false, &c.ev)
	}
}

// clock holds the computer's clock against the log's own time. In a scaled run
// the two part by design.
func (c *Core) clock(r *logfmt.Record) {
	wall, err := time.Parse(time.RFC3339Nano, r.Str("wall"))
	if err != nil || c.head.Scale != 1 {
		return
	}
	w := &c.wall
	step := time.Duration(0)
	if !w.last.IsZero() {
		step = wall.Sub(w.last)
		if own := time.Duration(r.T - w.lastT); step > math.MinInt64+own {
			step -= own
		}
	}
	w.last, w.lastT = wall, r.T
	switch {
	case step > wallStep || step < -wallStep:
		w.stepped = true
		c.guard.Fault(r.T, safety.ClockStepped, true, step.Seconds(), wallStep.Seconds(), &c.ev)
		c.guard.Port(r.T, safety.WallClock, false, &c.ev)
	case w.stepped:
		w.stepped = false
		c.guard.Fault(r.T, safety.ClockStepped, false, 0, 0, &c.ev)
	}
}
