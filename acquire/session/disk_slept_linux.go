package session

import (
	"time"

	"golang.org/x/sys/unix"
)

// Slept is how long this computer has been suspended since it was switched on:
// by so much the clock that counts a suspension is ahead of the one that does
// not. known is false when the two could not be read together.
func Slept() (d time.Duration, known bool) {
	const together = 200 * time.Microsecond
	for range 3 {
		var before, boot, after unix.Timespec
		if unix.ClockGettime(unix.CLOCK_MONOTONIC, &before) != nil || unix.ClockGettime(unix.CLOCK_BOOTTIME, &boot) != nil ||
			unix.ClockGettime(unix.CLOCK_MONOTONIC, &after) != nil {
			return 0, false
		}
		if after.Nano()-before.Nano() < int64(together) {
			return time.Duration(boot.Nano() - before.Nano()), true
		}
	}
	return 0, false
}
