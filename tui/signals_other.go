//go:build !unix

package tui

import "os"

const terminalFile = "CONIN$"

// These systems have neither job control nor hang-ups.
func ignoreJobControl()        {}
func hangUps(chan<- os.Signal) {}
func outliveHangUps()          {}
