//go:build unix

package tui

import (
	"os"
	"os/signal"
	"syscall"
)

const terminalFile = "/dev/tty"

// ignoreJobControl keeps the terminal from stopping the whole program, guard
// and record included: ctrl-z, and reading or writing from the background. A
// broken pipe comes back as an error instead of ending the program.
func ignoreJobControl() {
	signal.Ignore(syscall.SIGTSTP, syscall.SIGTTIN, syscall.SIGTTOU, syscall.SIGPIPE)
}

// hangUps sends on c when the terminal goes away.
func hangUps(c chan<- os.Signal) { signal.Notify(c, syscall.SIGHUP) }

// outliveHangUps lets the capture go on after the terminal went away: shells
// send a second hang-up to their jobs.
func outliveHangUps() { signal.Ignore(syscall.SIGHUP) }
