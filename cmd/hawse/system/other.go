//go:build !unix

package system

import "os"

// IgnorePipeAndStops has nothing to do where such signals do not exist.
func IgnorePipeAndStops() {}

// IgnoreNoTerminal has nothing to do either.
func IgnoreNoTerminal() {}

// Private: on such systems the temporary folder is the user's own already.
func Private(string) bool { return true }

// Running cannot be told here without more; a stale word of a capture stays.
func Running(int) bool { return true }

// Lock does nothing: the socket tells who has a log.
func Lock(string) (release func()) { return func() {} }

// Locked is never so here.
func Locked(string) bool { return false }

// LockedFile is never so here.
func LockedFile(*os.File) bool { return false }
