//go:build !linux && !darwin

package system

import "os"

// OnLocalDisk cannot be told here.
func OnLocalDisk(*os.File) bool { return false }
