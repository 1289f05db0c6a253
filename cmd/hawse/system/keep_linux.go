package system

import (
	"fmt"
	"os"
	"path/filepath"
)

// KeepDir is this user's own folder on the file system that Linux keeps in
// memory; "" if it cannot be had.
func KeepDir() string {
	dir := filepath.Join("/dev/shm", fmt.Sprintf("hawse-%d", os.Getuid()))
	if os.Mkdir(dir, 0o700) != nil && !Private(dir) {
		return ""
	}
	return dir
}
