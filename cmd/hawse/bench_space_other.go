//go:build !(linux || darwin || freebsd || dragonfly)

package main

// freeSpace is not known here.
func freeSpace(string) (bytes int64, known bool) { return 0, false }
