//go:build darwin || freebsd || netbsd || openbsd || dragonfly

package deck

import "golang.org/x/sys/unix"

// canTellAlone: here the deck holds the other end too, so that readers may come
// and go; it cannot tell whether there is one. A reader that comes late finds
// what the system has kept and should flush.
const canTellAlone = false

func makeRaw(fd int) error {
	t, err := unix.IoctlGetTermios(fd, unix.TIOCGETA)
	if err != nil {
		return err
	}
	rawTermios(t)
	return unix.IoctlSetTermios(fd, unix.TIOCSETA, t)
}

func (p *port) forget() {}
