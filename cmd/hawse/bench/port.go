//go:build unix

package bench

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/charmbracelet/x/term"
	"github.com/creack/pty"
	"golang.org/x/sys/unix"
)

// port is one raw pseudo-terminal: an instrument's end, and the name under
// which a program opens the other.
type port struct {
	name   string
	master *os.File // non-blocking, so that a write can be broken off
	keep   *os.File // the other end, held so that it stays raw while nobody has it open
}

func openPort() (*port, error) {
	m, s, err := pty.Open()
	if err != nil {
		return nil, fmt.Errorf("no pseudo-terminal to be had: %w", err)
	}
	p := &port{name: s.Name(), keep: s}
	if _, err = term.MakeRaw(s.Fd()); err == nil {
		p.master, err = unblocked(m)
	}
	if err = errors.Join(err, m.Close()); err != nil {
		p.close()
		return nil, fmt.Errorf("pseudo-terminal %s: %w", p.name, err)
	}
	return p, nil
}

// unblocked is the same file on a descriptor of its own that joins the
// runtime's poller: its reads and writes have deadlines.
func unblocked(f *os.File) (*os.File, error) {
	fd, err := unix.FcntlInt(f.Fd(), unix.F_DUPFD_CLOEXEC, 0)
	if err != nil {
		return nil, err
	}
	if err := unix.SetNonblock(fd, true); err != nil {
		_ = unix.Close(fd)
		return nil, err
	}
	return os.NewFile(uintptr(fd), f.Name()), nil
}

// breakOff makes every call in progress fail, and later ones that set no
// deadline of their own.
func (p *port) breakOff() { _ = p.master.SetDeadline(time.Unix(1, 0)) }

// close is pulling the plug: whoever has the port open is hung up.
func (p *port) close() {
	if p.master != nil {
		_ = p.master.Close()
	}
	_ = p.keep.Close()
}

// sender is the instrument behind a port. It speaks on a fixed grid of times:
// a line that is late does not move the ones after it.
type sender struct {
	port *port
	box  instrument
	now  func() int64
	line []byte

	at      int     // the number it has come to
	sent    []int64 // when each numbered line was handed to the terminal
	longest int64   // the longest a write took, ns

	// instead, if it holds a text, is said in place of the next line; when it
	// was handed over comes back through said.
	instead chan string
	said    chan int64
}

func newSender(p *port, box instrument, now func() int64) *sender {
	return &sender{port: p, box: box, now: now, instead: make(chan string, 1), said: make(chan int64, 1)}
}

// numbered sends lines 1 to n, line i at start + i/rate.
func (s *sender) numbered(ctx context.Context, start int64, rate, n int) error {
	s.sent = make([]int64, 0, n)
	return s.grid(ctx, start, rate, n, func(i int) error {
		s.at = i
		s.line = s.box.append(s.line[:0], i, i)
		t, err := s.write(s.line)
		s.sent = append(s.sent, t)
		return err
	})
}

// uncounted sends lines with the number 0 until ctx ends.
func (s *sender) uncounted(ctx context.Context, rate int) error {
	err := s.grid(ctx, s.now(), rate, -1, func(int) error {
		select {
		case text := <-s.instead:
			t, err := s.write([]byte(text))
			s.said <- t
			return err
		default:
		}
		s.line = s.box.append(s.line[:0], s.at, 0)
		_, err := s.write(s.line)
		return err
	})
	if ctx.Err() != nil {
		return nil
	}
	return err
}

// grid calls each at every point of the grid, n times or, below 0, for ever.
func (s *sender) grid(ctx context.Context, start int64, rate, n int, each func(i int) error) error {
	const longestSleep = int64(20 * time.Millisecond) // to see ctx end
	for i := 1; n < 0 || i <= n; i++ {
		due := start + int64(i)*1e9/int64(rate)
		for left := due - s.now(); left > 0; left = due - s.now() {
			sleep(min(left, longestSleep))
			if ctx.Err() != nil {
				return ctx.Err()
			}
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err := each(i); err != nil {
			return fmt.Errorf("sending to %s: %w", s.port.name, err)
		}
	}
	return nil
}

// write hands bytes to the terminal and returns when that began.
func (s *sender) write(p []byte) (int64, error) {
	t := s.now()
	_, err := s.port.master.Write(p)
	s.longest = max(s.longest, s.now()-t)
	return t, err
}
