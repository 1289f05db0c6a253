//go:build !linux

package bench

import "time"

// sleep waits so many nanoseconds, about. It may return early; whoever
// sleeps looks at the clock.
func sleep(ns int64) {
	if ns > 0 {
		time.Sleep(time.Duration(ns))
	}
}
