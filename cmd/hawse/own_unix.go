//go:build unix

package main

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// own locks a log for as long as this program runs, so that the next start
// knows it has an owner, whatever became of its socket. Where the file system
// has no locks the socket alone tells. The returned func lets go.
func own(log string) (release func()) {
	f, err := os.Open(log)
	if err != nil {
		return func() {}
	}
	_ = unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	return func() { f.Close() }
}

// locked says whether a program holds the lock of a log.
func locked(log string) bool {
	f, err := os.Open(log)
	if err != nil {
		return false
	}
	defer f.Close()
	return errors.Is(unix.Flock(int(f.Fd()), unix.LOCK_SH|unix.LOCK_NB), unix.EWOULDBLOCK)
}
