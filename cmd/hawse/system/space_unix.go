//go:build linux || darwin || freebsd || dragonfly

package system

import "golang.org/x/sys/unix"

// FreeSpace is what this user may still write where path is, bytes; known is
// false where the system does not say.
func FreeSpace(path string) (bytes int64, known bool) {
	var s unix.Statfs_t
	if err := unix.Statfs(path, &s); err != nil {
		return 0, false
	}
	return int64(s.Bavail) * int64(s.Bsize), true
}
