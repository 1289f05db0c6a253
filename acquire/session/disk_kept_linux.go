package session

import (
	"os"

	"golang.org/x/sys/unix"
)

// newKeeper makes the kept file of one port. Its room is taken before it is
// mapped: a page that the system could not give later would end the program.
func newKeeper(dir, log, src string) (*keeper, error) {
	path := keptPath(dir, log, src)
	os.Remove(path) // of a log of this name that is gone
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL|unix.O_NOFOLLOW, 0o600)
	if err != nil {
		return nil, err
	}
	defer f.Close() // the mapping stays
	if err := unix.Fallocate(int(f.Fd()), 0, 0, keptHead+keptRing); err != nil {
		os.Remove(path)
		return nil, err
	}
	mem, err := unix.Mmap(int(f.Fd()), 0, keptHead+keptRing, unix.PROT_READ|unix.PROT_WRITE, unix.MAP_SHARED)
	if err != nil {
		os.Remove(path)
		return nil, err
	}
	copy(mem, keptMagic)
	copy(mem[32:keptHead-1], fullPath(log))
	return &keeper{path: path, mem: mem, unmap: func() error { return unix.Munmap(mem) }}, nil
}
