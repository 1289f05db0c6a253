//go:build unix

package main

import (
	"errors"
	"os"
	"time"

	"golang.org/x/sys/unix"

	"hawse/logfmt"
)

// own locks a log for as long as this program runs, so that the next start
// knows it has an owner, whatever became of its socket. Where the file system
// has no locks the socket alone tells. The returned func lets go.
func own(log string) (release func()) {
	f, err := logfmt.OpenFile(log)
	if err != nil {
		return func() {}
	}
	for range 50 { // whoever looks at the lock holds it for a moment
		if !errors.Is(unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB), unix.EWOULDBLOCK) {
			break
		}
		time.Sleep(2 * time.Millisecond)
	}
	return func() { f.Close() }
}

// locked says whether a program holds the lock of a log.
func locked(log string) bool {
	f, err := logfmt.OpenFile(log)
	if err != nil {
		return false
	}
	defer f.Close()
	return lockedFile(f)
}

// lockedFile is locked for a file that is open, whatever its name by now.
func lockedFile(f *os.File) bool {
	err := unix.Flock(int(f.Fd()), unix.LOCK_SH|unix.LOCK_NB)
	if err == nil {
		err = unix.Flock(int(f.Fd()), unix.LOCK_UN)
	}
	return errors.Is(err, unix.EWOULDBLOCK)
}
