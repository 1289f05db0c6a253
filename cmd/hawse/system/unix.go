//go:build unix

package system

import (
	"errors"
	"os"
	"os/signal"
	"syscall"
	"time"

	"golang.org/x/sys/unix"

	"hawse/logfmt"
)

// IgnorePipeAndStops keeps a capture running when its output goes away, when its
// log has reached the size a file may have, and when someone presses ctrl-z: a
// stopped process neither captures nor guards.
func IgnorePipeAndStops() {
	signal.Ignore(syscall.SIGPIPE, syscall.SIGXFSZ, syscall.SIGTSTP, syscall.SIGTTIN, syscall.SIGTTOU)
}

// IgnoreNoTerminal lets a program in the background ask for keys and get none,
// where it would be stopped for it.
func IgnoreNoTerminal() { signal.Ignore(syscall.SIGTTIN) }

// Private says whether a folder is this user's own and nobody else may enter.
func Private(dir string) bool {
	info, err := os.Lstat(dir)
	if err != nil || !info.IsDir() || info.Mode().Perm()&0o077 != 0 {
		return false
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	return ok && int(st.Uid) == os.Getuid()
}

// Running says whether a process of that number exists.
func Running(pid int) bool { return syscall.Kill(pid, 0) != syscall.ESRCH }

// Lock locks a log for as long as this program runs, so that the next start
// knows it has an owner, whatever became of its socket. Where the file system
// has no locks the socket alone tells. The returned func lets go.
func Lock(log string) (release func()) {
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

// Locked says whether a program holds the lock of a log.
func Locked(log string) bool {
	f, err := logfmt.OpenFile(log)
	if err != nil {
		return false
	}
	defer f.Close()
	return LockedFile(f)
}

// LockedFile is [Locked] for a file that is open, whatever its name by now.
func LockedFile(f *os.File) bool {
	err := unix.Flock(int(f.Fd()), unix.LOCK_SH|unix.LOCK_NB)
	if err == nil {
		err = unix.Flock(int(f.Fd()), unix.LOCK_UN)
	}
	return errors.Is(err, unix.EWOULDBLOCK)
}
