//go:build !linux

package main

import "time"

// benchSleep waits so many nanoseconds, about. It may return early; whoever
// sleeps looks at the clock.
func benchSleep(ns int64) {
	if ns > 0 {
		time.Sleep(time.Duration(ns))
	}
}
