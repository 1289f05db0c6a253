package session

import (
	"fmt"
	"time"

	"hawse/logfmt"
)

// pulse does what time asks for: a tick after a silence, the wall clock, the
// state of the log, and a new snapshot for whoever looks. It returns how long,
// in real time, nothing more will be due.
func (c *Capture) pulse() time.Duration {
	c.awake()
	now := c.cfg.Clock.Now()
	if now-c.t >= c.patience(tickEvery) || now >= c.outputs(now) {
		c.put(logfmt.Record{T: now, Kind: logfmt.Tick}) // a heartbeat goes out only behind a record
	}
	if now-c.lastClock >= int64(clockEvery) {
		c.clock(now)
	}
	shown := time.Since(c.lastShot)
	if c.spoke || shown >= shotEvery {
		c.watchLog(now)
		c.watchCopy(now)
		c.watchRoom()
		c.judge.push()
		c.publish()
		shown = 0
	}
	// The next tick, heartbeat or clock; or sooner, if what has come since the
	// last snapshot is to be seen.
	next := min(c.t+c.patience(tickEvery), c.lastClock+int64(clockEvery), c.outputs(now))
	wait := time.Duration(float64(next-now) / c.scale)
	if c.n > c.shotN {
		wait = min(wait, shotEvery-shown)
	}
	return max(wait, time.Millisecond)
}

// outputs is when the stop output or the horn has something to say.
func (c *Capture) outputs(now int64) int64 { return min(c.out.next(), c.horn.next(now)) }

// patience is a real time in the capture's own clock, which a simulated run
// stretches.
func (c *Capture) patience(d time.Duration) int64 { return int64(float64(d) * c.scale) }

// shotEvery is how often a snapshot is taken and the Judge fed, at most.
const shotEvery = 20 * time.Millisecond

func (c *Capture) clock(now int64) {
	c.lastClock = now
	c.put(logfmt.Record{T: now, Kind: logfmt.Clock, Fields: clockFields(time.Now())})
}

// recordLate is how long a record may wait for the disk before the crew is told.
const recordLate = 2 * time.Second

// watchLog turns a failing log into a record, which reaches the guard like any
// other input (and the disk if it can).
func (c *Capture) watchLog(now int64) {
	st := c.log.Status()
	why := ""
	switch {
	case st.Dropped > 0:
		why = fmt.Sprintf("%d records are lost: the record has a hole", st.Dropped)
	case st.Err != nil:
		why = st.Err.Error()
	default:
		why = c.lateText(now, st)
	}
	bad := why != ""
	if bad == c.recordBad {
		return
	}
	c.recordBad = bad
	if bad && c.copy.good() {
		why = "the second log goes on; " + why
	}
	if bad {
		c.port(SrcRecord, stateFailing, why)
	} else {
		c.port(SrcRecord, stateGood, "")
	}
}

// lateText says so when a disk takes too long, which gives no error.
func (c *Capture) lateText(now int64, st logfmt.Status) string {
	if st.OldestNotOnDisk < 0 || now-st.OldestNotOnDisk <= c.patience(recordLate) {
		return ""
	}
	return fmt.Sprintf("the oldest record not on disk is %.1f s old", float64(now-st.OldestNotOnDisk)/1e9/c.scale)
}

func (c *Capture) publish() {
	s := c.core.shot(&c.board, &logfmt.Record{T: c.t, N: c.n})
	c.spoke = false
	c.lastShot, c.shotN = time.Now(), c.n
	s.Made = c.lastShot
	if c.pull != nil {
		c.pull.whole.onto(&s)
	}
	if j := c.judge.last.Load(); j != nil {
		j.into(&s)
		s.JudgeLag = c.judge.lag(j)
	}
	st := c.log.Status()
	s.Log = LogState{Path: st.Path, Bytes: st.Bytes, Written: st.Written, OnDisk: st.OnDisk, Lost: st.Dropped, Sealed: c.sealed,
		LeftFor: c.room.left, Short: s.Log.Short, Copy: c.copy.shot(c)}
	if st.OldestNotOnDisk >= 0 {
		s.Log.OldestAge = int64(float64(max(c.t-st.OldestNotOnDisk, 0)) / c.scale) // the disk keeps real time
	}
	if st.Err != nil {
		s.Log.Fault = st.Err.Error()
	}
	c.snap.Store(&s)
}
