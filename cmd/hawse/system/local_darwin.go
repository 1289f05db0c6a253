package system

import (
	"os"

	"golang.org/x/sys/unix"
)

// OnLocalDisk says whether a file lies where no program of another machine can
// write it.
func OnLocalDisk(f *os.File) bool {
	var st unix.Statfs_t
	return unix.Fstatfs(int(f.Fd()), &st) == nil && st.Flags&unix.MNT_LOCAL != 0
}
