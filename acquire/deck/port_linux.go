package deck

import (
	"os"

	"golang.org/x/sys/unix"
)

// canTellAlone: here our end is told when nobody has the other one open, so the
// deck need not hold it. Lines said to nobody are then lost, as on a real
// cable, and are not kept for a program that comes minutes later.
const canTellAlone = true

func makeRaw(fd int) error {
	t, err := unix.IoctlGetTermios(fd, unix.TCGETS)
	if err != nil {
		return err
	}
	rawTermios(t)
	return unix.IoctlSetTermios(fd, unix.TCSETS, t)
}

// forget drops what the last reader left unread, and undoes what it may have
// done to the terminal.
func (p *port) forget() {
	_ = p.raw.Control(func(fd uintptr) { _ = unix.IoctlSetInt(int(fd), unix.TCFLSH, unix.TCOFLUSH) })
	s, err := os.OpenFile(p.path, os.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK, 0)
	if err != nil {
		return // it is being pulled out
	}
	fd := int(s.Fd())
	_ = unix.IoctlSetInt(fd, unix.TCFLSH, unix.TCIFLUSH)
	if t, err := unix.IoctlGetTermios(fd, unix.TCGETS); err == nil && t.Lflag&(unix.ECHO|unix.ICANON) != 0 {
		_ = makeRaw(fd)
	}
	_ = s.Close()
}
