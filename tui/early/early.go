// Package early keeps the screen's libraries from asking the terminal for its
// colours while the program starts.
//
// One of them asks in its init function, and a terminal that does not answer
// (a serial console, a recorder, a broken link) then costs five seconds before
// main begins: five seconds without a guard. It does not ask a terminal whose
// TERM begins with "tmux", so TERM wears that prefix until the libraries have
// been initialised, and [Restore] takes it off again.
//
// The order holds because Go initialises ready packages by import path: this
// package needs nothing but syscall, so it is ready, and sorts, before the
// packages that everything else of the screen waits for. A test with a
// terminal that does not answer holds it.
package early

import "syscall"

const (
	name   = "TERM"
	prefix = "tmux-"
)

var (
	was  string
	worn bool
)

func init() {
	v, ok := syscall.Getenv(name)
	if !ok {
		return
	}
	was, worn = v, syscall.Setenv(name, prefix+v) == nil
}

// Restore gives TERM its own value back. It is called from the init function
// of the package that imports the screen's libraries, and does nothing a
// second time.
func Restore() {
	if !worn {
		return
	}
	worn = false
	if v, ok := syscall.Getenv(name); ok && v == prefix+was {
		_ = syscall.Setenv(name, was) // it was set a moment ago: the same call with a shorter value
	}
}
