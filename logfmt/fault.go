package logfmt

import (
	"errors"
	"fmt"
	"io/fs"
)

// A Fault is what stands between a log and its disk.
type Fault struct {
	Path string // of the file
	Op   string // "create", "write", "fsync", "close"
	At   int64  // bytes of the file that were written before it
	Err  error  // what the system said
	Do   string // what follows from it, what to do
}

func (f *Fault) Error() string {
	cause := f.Err
	// The system's error names the operation and the path once more.
	if p, ok := errors.AsType[*fs.PathError](cause); ok {
		cause = p.Err
	}
	at := ""
	if f.Op != "create" {
		at = fmt.Sprintf(" at byte %d", f.At)
	}
	return fmt.Sprintf("logfmt: %s: %s%s: %v; %s", f.Path, f.Op, at, cause, f.Do)
}

// Unwrap returns what the system said.
func (f *Fault) Unwrap() error { return f.Err }

// ErrNotSealed is in the error of a [Log.Seal] that gave up waiting for the
// disk: the log is still trying, nothing is lost yet. Call Seal again to wait
// on, or Close to give up.
var ErrNotSealed = errors.New("log not sealed")

// ErrClosed is in the error of a Seal after Close.
var ErrClosed = errors.New("log is closed")
