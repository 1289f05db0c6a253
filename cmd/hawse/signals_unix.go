//go:build unix

package main

import (
	"os/signal"
	"syscall"
)

// ignorePipeAndStops keeps a capture running when its output goes away and when
// someone presses ctrl-z: a stopped process neither captures nor guards.
func ignorePipeAndStops() {
	signal.Ignore(syscall.SIGPIPE, syscall.SIGTSTP, syscall.SIGTTIN, syscall.SIGTTOU)
}
