//go:build unix

package main

import (
	"os"
	"os/signal"
	"syscall"
)

// ignorePipeAndStops keeps a capture running when its output goes away, when its
// log has reached the size a file may have, and when someone presses ctrl-z: a
// stopped process neither captures nor guards.
func ignorePipeAndStops() {
	signal.Ignore(syscall.SIGPIPE, syscall.SIGXFSZ, syscall.SIGTSTP, syscall.SIGTTIN, syscall.SIGTTOU)
}

// signalsOfNoTerminal lets a program in the background ask for keys and get none,
// where it would be stopped for it.
func signalsOfNoTerminal() { signal.Ignore(syscall.SIGTTIN) }

// private says whether a folder is this user's own and nobody else may enter.
func private(dir string) bool {
	info, err := os.Lstat(dir)
	if err != nil || !info.IsDir() || info.Mode().Perm()&0o077 != 0 {
		return false
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	return ok && int(st.Uid) == os.Getuid()
}

// running says whether a process of that number exists.
func running(pid int) bool { return syscall.Kill(pid, 0) != syscall.ESRCH }
