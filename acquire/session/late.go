package session

import (
	"fmt"
	"time"

	"hawse/logfmt"
)

// lateness finds lines that come late and all at once: an adapter held them back,
// and hands them over after it had given nothing. When each was measured nobody
// knows; it was between the last line on time and its arrival.
//
// The guard takes them like any others, at once. What is counted by their times is
// not: rate, slope, and the time of a peak.
type lateness struct {
	period int64 // ns between lines as the box is set; 0: this port is not looked at
	last   int64 // of the last good line; -1 none yet
	from   int64 // of the last one before the gap
	came   int64 // of the first after it
	after  int   // lines since the gap, while none has come at its time; 0 no gap

	lines, bursts uint64
}

// When lines are late: common practice, no source.
const (
	lateGap     = 3            // periods without a line, and
	lateGapMost = int64(300e6) // ns, the least of such a gap
	lateFast    = 2            // lines so many times as fast as the box is set to cannot be on time
	lateLeast   = 3            // of them are a burst; two may be one Read
)

func newLateness(hz float64) lateness {
	l := lateness{last: -1}
	if hz > 0 {
		l.period = int64(1e9 / hz)
	}
	return l
}

// take notes a good line at t. late says that it came in a burst, ended that one
// has come to its end before it, with so many lines.
func (l *lateness) take(t int64) (late bool, ended int) {
	gap := t - l.last
	was := l.last
	l.last = t
	switch {
	case l.period == 0 || was < 0:
		return false, 0
	case gap >= max(lateGap*l.period, lateGapMost):
		ended, l.after, l.from, l.came = l.burst(), 1, was, t
		return false, ended
	case l.after == 0:
		return false, 0
	case gap*lateFast < l.period:
		l.after++
		if l.after == lateLeast {
			l.bursts++
			l.lines += lateLeast - 1
		}
		if l.after >= lateLeast {
			l.lines++
		}
		return l.after >= lateLeast, 0
	}
	ended, l.after = l.burst(), 0
	return false, ended
}

// burst is how many lines came late since the gap; 0: it was no burst.
func (l *lateness) burst() int {
	if l.after >= lateLeast {
		return l.after
	}
	return 0
}

// since is from when on a line that comes now may have been measured: the last one
// before a gap, for all that come until one is on time; -1: it is on time.
func (l *lateness) since() int64 {
	if l.after > 0 {
		return l.from
	}
	return -1
}

// lateTimes looks at the time of a good line. It says the end of a burst, and
// returns whether this line came in one.
func (c *Core) lateTimes(src string, s *stream, t int64) (late bool) {
	from, came, last := s.late.from, s.late.came, s.late.last
	late, n := s.late.take(t)
	if n > 0 {
		gap := time.Duration(came - from)
		c.tell(c.by, fmt.Sprintf("%s: %d lines came late and at once, after %s without any; when each was measured is not known", src, n, gap.Round(100*time.Millisecond)),
			text("what", "late"), text("port", src), text("lines", fmt.Sprint(n)), text("from", logfmt.FormatNs(from)), text("to", logfmt.FormatNs(last)))
	}
	return late
}
