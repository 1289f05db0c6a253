//go:build !linux

package session

import "time"

// Slept is not known here: a suspended computer shows as a step of its wall
// clock.
func Slept() (d time.Duration, known bool) { return 0, false }
