//go:build !linux

package main

// keepDir is nowhere: this system has no folder that it keeps in memory.
func keepDir() string { return "" }
