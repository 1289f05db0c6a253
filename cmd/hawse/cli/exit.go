// Package cli is what every command of the program shares: the exit codes that
// scripts rely on, the errors that carry them, and which program this is.
package cli

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"
)

// Exit codes. They are part of what scripts rely on.
const (
	ExitDone    = 0 // ended as asked, the log sealed; for verify: the log is whole
	ExitFailed  = 1 // something failed; the message says what
	ExitUsage   = 2 // the command line is wrong
	ExitTrial   = 3 // the trial file was refused
	ExitStart   = 4 // the capture could not start: log exists, folder not writable
	ExitTripped = 5 // the log ended with a trip still in force
	ExitRecord  = 6 // the record is not whole: damaged, cut short, or records were lost
	ExitDiffers = 7 // a replay judges otherwise than was said then
)

// ExitHelp tells them in the help of a command.
const ExitHelp = `Exit codes: 0 done, 1 failed, 2 wrong command line, 3 trial file refused,
4 could not start, 5 ended with a trip in force, 6 record not whole,
7 replay judges otherwise than was said then.`

// exitError carries an exit code with its message.
type exitError struct {
	code int
	err  error
}

func (e *exitError) Error() string { return e.err.Error() }
func (e *exitError) Unwrap() error { return e.err }

// Exit is an error that ends the program with that code.
func Exit(code int, format string, args ...any) error {
	return &exitError{code, fmt.Errorf(format, args...)}
}

// Usage is an error of the command line.
func Usage(format string, args ...any) error { return Exit(ExitUsage, format, args...) }

// Code is the exit code of an error: [ExitDone] of none, [ExitFailed] of one that
// carries no other.
func Code(err error) int {
	if err == nil {
		return ExitDone
	}
	if coded, ok := errors.AsType[*exitError](err); ok {
		return coded.code
	}
	return ExitFailed
}

// Exactly is cobra.ExactArgs with our exit code and a plain sentence.
func Exactly(n int, what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) != n {
			return Usage("%s wants %s; see '%s --help'", c.CommandPath(), what, c.CommandPath())
		}
		return nil
	}
}
