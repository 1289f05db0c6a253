package session

import (
	"time"

	"hawse/trial"
)

// Segments implements [View]: the phases of the pull so far, dated back. A Judge
// that hangs, or is busy, tells none this time.
func (c *Capture) Segments() []trial.Segment {
	for range 20 {
		if c.judge.mu.TryLock() {
			defer c.judge.mu.Unlock()
			return c.judge.shown().Segments()
		}
		time.Sleep(time.Millisecond)
	}
	return nil
}

// Segments implements [View].
func (r *Replay) Segments() []trial.Segment {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.judge.Segments()
}
