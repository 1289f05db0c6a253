//go:build linux || darwin || freebsd || openbsd

package acquire

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"go.bug.st/serial"
	"golang.org/x/sys/unix"
)

// unixDevice is a port of the serial library, and beside it a descriptor of our
// own on the same device. Ours holds the lock that keeps a second program out;
// while it is open the system cannot give the device's name to another one. And
// ours does the writing: it does not block in the system, so that Close can
// break off a Write that nobody at the other end takes.
type unixDevice struct {
	serial.Port // reading, mode, flushing
	own         *os.File
}

// openDevice opens name, which may be a symbolic link.
func openDevice(name string, mode *serial.Mode) (device, error) {
	if name == "" { // which the path functions take for the folder they are in
		return nil, &PortError{Fault: Missing}
	}
	// The link is followed once: both descriptors must be the same device, also
	// if the link is pointed elsewhere meanwhile.
	path, err := filepath.EvalSymlinks(name)
	if err != nil {
		return nil, openFault(name, err)
	}
	info, err := os.Stat(path)
	if err != nil {
		return nil, openFault(name, err)
	}
	if info.Mode()&os.ModeCharDevice == 0 {
		return nil, &PortError{Name: name, Fault: NotPort, What: fileKind(info.Mode())}
	}
	own, err := os.OpenFile(path, os.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK, 0)
	if err != nil {
		return nil, openFault(name, err)
	}
	if err := lock(own); err != nil {
		own.Close()
		return nil, openFault(name, err)
	}
	if pseudoTerminal(path) {
		mode.InitialStatusBits = nil // it has no modem lines
	}
	port, err := openLibrary(path, mode, info)
	if err != nil && mode.InitialStatusBits != nil {
		// Some ports have no modem lines. Whoever needs one finds out; for the
		// others there is nothing on it.
		mode.InitialStatusBits = nil
		port, err = openLibrary(path, mode, info)
	}
	if err != nil {
		own.Close()
		if fault := serialFault(name, err); fault.Fault != Failed {
			return nil, fault
		}
		return nil, openFault(name, err)
	}
	if pseudoTerminal(path) {
		// The library asks for exclusive use, which a pseudo-terminal keeps when
		// its user is killed: nobody but root could open it again. Our lock ends
		// with the program, whatever ends it.
		_ = control(own, func(fd int) error { return unix.IoctlSetInt(fd, unix.TIOCNXCL, 0) })
	}
	return &unixDevice{port, own}, nil
}

// lock takes the device for this program. A system that has no locks on devices
// is left with what the serial library does.
func lock(f *os.File) error {
	err := control(f, func(fd int) error { return unix.Flock(fd, unix.LOCK_EX|unix.LOCK_NB) })
	switch {
	case errors.Is(err, unix.EWOULDBLOCK):
		return unix.EBUSY
	case errors.Is(err, unix.EOPNOTSUPP), errors.Is(err, unix.ENOTSUP), errors.Is(err, unix.EINVAL):
		return nil
	}
	return err
}

// openLibrary opens the device with the serial library, whose descriptors would
// be inherited by child programs: the fork lock keeps one from starting until
// they are marked.
func openLibrary(path string, mode *serial.Mode, info os.FileInfo) (serial.Port, error) {
	syscall.ForkLock.RLock()
	defer syscall.ForkLock.RUnlock()
	port, err := serial.Open(path, mode)
	if err != nil {
		return nil, err
	}
	if st, ok := info.Sys().(*syscall.Stat_t); ok {
		closeOnExec(uint64(st.Rdev))
	}
	if err := port.SetReadTimeout(readTimeout); err != nil {
		port.Close()
		return nil, err
	}
	return port, nil
}

// closeOnExec marks this program's descriptors of one device. The library keeps
// its own to itself, so they are found by their device number; it cannot read
// from one of 1,024 or above anyway.
func closeOnExec(device uint64) {
	const firstOwn, libraryMax = 3, 1023
	for fd := firstOwn; fd <= libraryMax; fd++ {
		flags, err := unix.FcntlInt(uintptr(fd), unix.F_GETFD, 0)
		if err != nil || flags&unix.FD_CLOEXEC != 0 {
			continue
		}
		var st unix.Stat_t
		if unix.Fstat(fd, &st) == nil && st.Mode&unix.S_IFMT == unix.S_IFCHR && uint64(st.Rdev) == device {
			unix.CloseOnExec(fd)
		}
	}
}

// Write hands p to the driver, waiting where it is full.
func (d *unixDevice) Write(p []byte) (int, error) { return d.own.Write(p) }

func (d *unixDevice) Wake() { _ = d.own.SetWriteDeadline(time.Unix(1, 0)) }

func (d *unixDevice) Flush() error { return d.ResetInputBuffer() }

// Close lets what was written go out for a moment, then drops it: a driver
// would wait up to 30 s for a line that takes nothing.
func (d *unixDevice) Close() error {
	const looks, interval = 20, 10 * time.Millisecond
	for range looks {
		left := 0
		err := control(d.own, func(fd int) (err error) {
			left, err = unix.IoctlGetInt(fd, unix.TIOCOUTQ)
			return err
		})
		if err != nil || left == 0 {
			break
		}
		_ = pause(context.Background(), interval)
	}
	_ = d.ResetOutputBuffer() // fails on a port that is gone
	err := d.Port.Close()
	return errors.Join(err, d.own.Close())
}

// control runs f with the descriptor, which stays open meanwhile.
func control(file *os.File, f func(fd int) error) error {
	raw, err := file.SyscallConn()
	if err != nil {
		return err
	}
	var inner error
	if err := raw.Control(func(fd uintptr) { inner = f(int(fd)) }); err != nil {
		return err
	}
	return inner
}

// openFault puts a system error into words.
func openFault(name string, err error) *PortError {
	out := &PortError{Name: name, Err: err}
	switch {
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, unix.ENOTDIR), deviceGone(err):
		out.Fault = Missing
	case errors.Is(err, unix.EBUSY):
		out.Fault = Busy
	case errors.Is(err, fs.ErrPermission):
		out.Fault = Denied
	case errors.Is(err, unix.ENOTTY):
		out.Fault = NotPort
	}
	return out
}

// deviceGone reports whether the system says that nothing is behind the port.
func deviceGone(err error) bool {
	return errors.Is(err, unix.EIO) || errors.Is(err, unix.ENXIO) || errors.Is(err, unix.ENODEV)
}

func fileKind(m os.FileMode) string {
	switch {
	case m.IsRegular():
		return "a regular file"
	case m.IsDir():
		return "a folder"
	case m&os.ModeNamedPipe != 0:
		return "a named pipe"
	case m&os.ModeSocket != 0:
		return "a socket"
	case m&os.ModeDevice != 0:
		return "a block device"
	}
	return "another kind of file"
}

// pseudoTerminal reports whether the path is that of a pseudo-terminal.
func pseudoTerminal(path string) bool {
	return strings.HasPrefix(path, "/dev/pts/") || strings.HasPrefix(path, "/dev/ttys")
}
