//go:build !linux

package system

// KeepDir is nowhere: this system has no folder that it keeps in memory.
func KeepDir() string { return "" }
