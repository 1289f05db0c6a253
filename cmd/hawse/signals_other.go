//go:build !unix

package main

// ignorePipeAndStops has nothing to do where such signals do not exist.
func ignorePipeAndStops() {}

func signalsOfNoTerminal() {}

// private: on such systems the temporary folder is the user's own already.
func private(string) bool { return true }

// running cannot be told here without more; a stale word of a capture stays.
func running(int) bool { return true }
