//go:build linux || darwin || freebsd || netbsd || openbsd || dragonfly

package deck

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"regexp"
	"syscall"
	"time"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
)

// port is one pseudo-terminal: the deck's end of it, and the link under which
// others find their end.
type port struct {
	link   string
	path   string   // of the end others open
	master *os.File // ours, non-blocking
	raw    syscall.RawConn
	keep   *os.File // the others' end, held where that is the only way to let readers come and go
	rest   []byte   // of a line the terminal took only half of
	alone  bool     // nobody had it open at the last line
}

// written is what became of a line.
type written uint8

const (
	sent    written = iota
	unheard         // nobody has the port open
	dropped         // whoever has it open does not read
)

// openPort makes a raw pseudo-terminal and puts its link in place.
func openPort(link string) (*port, error) {
	if err := clearLink(link); err != nil {
		return nil, err
	}
	m, s, err := pty.Open()
	if err != nil {
		return nil, fmt.Errorf("deck: no pseudo-terminal for %s: %w", link, err)
	}
	p := &port{link: link, path: s.Name(), keep: s, alone: true}
	if err := p.adopt(m); err != nil {
		return nil, errors.Join(fmt.Errorf("deck: pseudo-terminal for %s: %w", link, err), m.Close(), p.keep.Close())
	}
	if err := os.Symlink(p.path, link); err != nil {
		return nil, errors.Join(fmt.Errorf("deck: link to the port: %w", err), p.closeEnds())
	}
	return p, nil
}

// adopt makes the terminal raw and our end of it non-blocking.
func (p *port) adopt(m *os.File) error {
	if err := makeRaw(int(p.keep.Fd())); err != nil {
		return err
	}
	// A new file over a copy of the descriptor, so that it joins the poller:
	// then reads can be woken and writes return at once.
	fd, err := unix.FcntlInt(m.Fd(), unix.F_DUPFD_CLOEXEC, 0)
	if err != nil {
		return err
	}
	if err := unix.SetNonblock(fd, true); err != nil {
		_ = unix.Close(fd)
		return err
	}
	p.master = os.NewFile(uintptr(fd), m.Name())
	if p.raw, err = p.master.SyscallConn(); err == nil && canTellAlone {
		err = p.keep.Close()
		p.keep = nil
	}
	if err != nil {
		_ = p.master.Close()
		return err
	}
	return m.Close()
}

// write hands over one whole line, or nothing. It never waits.
func (p *port) write(line []byte) written {
	if canTellAlone && p.nobody() {
		if !p.alone {
			p.alone, p.rest = true, nil
			p.forget()
		}
		return unheard
	}
	p.alone = false
	if len(p.rest) > 0 {
		p.rest = p.rest[p.put(p.rest):]
		if len(p.rest) > 0 {
			return dropped
		}
	}
	n := p.put(line)
	if n == 0 {
		return dropped
	}
	p.rest = append(p.rest[:0], line[n:]...) // the end of a line is sent before the next one
	return sent
}

// put writes what fits and returns how much that was.
func (p *port) put(b []byte) (n int) {
	err := p.raw.Write(func(fd uintptr) bool {
		for {
			var err error
			n, err = unix.Write(int(fd), b)
			if !errors.Is(err, unix.EINTR) {
				return true
			}
		}
	})
	if err != nil {
		return 0
	}
	return max(n, 0)
}

// nobody reports whether no program has the port open.
func (p *port) nobody() bool {
	fds := []unix.PollFd{{Events: unix.POLLOUT}}
	err := p.raw.Control(func(fd uintptr) {
		fds[0].Fd = int32(fd)
		_, _ = unix.Poll(fds, 0)
	})
	return err != nil || fds[0].Revents&unix.POLLHUP != 0
}

func (p *port) read(b []byte) (int, error) { return p.master.Read(b) }

// wakeReader makes a read in progress return.
func (p *port) wakeReader() { _ = p.master.SetReadDeadline(time.Unix(1, 0)) }

func isClosed(err error) bool { return errors.Is(err, os.ErrClosed) }

// close is pulling the plug: whoever has the port open is hung up. The link
// goes only if it still is ours.
func (p *port) close() error {
	var err error
	if target, e := os.Readlink(p.link); e == nil && target == p.path {
		err = os.Remove(p.link)
	}
	return errors.Join(err, p.closeEnds())
}

func (p *port) closeEnds() error {
	err := p.master.Close()
	if p.keep != nil {
		err = errors.Join(err, p.keep.Close())
	}
	return err
}

// deckLink is what a deck's link points at.
var deckLink = regexp.MustCompile(`^/dev/(pts/[0-9]+|ttys[0-9]+|ttyp[0-9a-z]+)$`)

// clearLink takes away what a deck that was killed has left. The folder is
// locked, so no living deck owns it.
func clearLink(link string) error {
	info, err := os.Lstat(link)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("deck: %w", err)
	}
	if info.Mode()&fs.ModeSymlink != 0 {
		if target, err := os.Readlink(link); err == nil && deckLink.MatchString(target) {
			if err := os.Remove(link); err != nil {
				return fmt.Errorf("deck: old link: %w", err)
			}
			return nil
		}
	}
	return fmt.Errorf("deck: %s exists and is not a link to a deck's port; move it away or choose another folder", link)
}

// dirLock keeps a second deck out of the folder, also after a crash: the
// system gives the lock back with the process.
type dirLock struct {
	path string
	f    *os.File
	made bool // the folder was not there before
}

func lockDir(path string) (*dirLock, error) {
	l := &dirLock{path: path}
	if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
		l.made = true
	}
	if err := os.MkdirAll(path, 0o755); err != nil {
		return nil, fmt.Errorf("deck: folder for the ports: %w", err)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("deck: folder for the ports: %w", err)
	}
	if err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB); err != nil {
		return nil, errors.Join(fmt.Errorf("deck: %s is in use by another deck; end it or choose another folder (%w)", path, err), f.Close())
	}
	l.f = f
	return l, nil
}

// release gives the folder back, and takes it away if the deck made it and
// nothing else is in it.
func (l *dirLock) release() error {
	if l.made {
		_ = os.Remove(l.path) // fails when something is in it, which is right
	}
	return l.f.Close()
}
