package bench

import (
	"golang.org/x/sys/unix"
)

// sleep waits so many nanoseconds in this thread. The runtime's own timers
// wait in whole milliseconds, too coarse for a grid of 0.2 ms. It may return
// early; whoever sleeps looks at the clock.
func sleep(ns int64) {
	if ns > 0 {
		ts := unix.NsecToTimespec(ns)
		_ = unix.ClockNanosleep(unix.CLOCK_MONOTONIC, 0, &ts, nil) // broken off by a signal: early
	}
}
