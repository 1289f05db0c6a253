//go:build !(linux || darwin || freebsd || dragonfly)

package system

// FreeSpace is not known here.
func FreeSpace(string) (bytes int64, known bool) { return 0, false }
