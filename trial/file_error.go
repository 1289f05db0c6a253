package trial

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// FileError is one fault in a trial file. Its texts are safe to print: what
// came from the file is quoted, with control characters made visible.
type FileError struct {
	File   string // as the caller named it
	Line   int    // from 1
	Key    string // "limits.pull.tension_stop"; "rode[2].wll" is the second [[rode]]; empty where no key is at fault
	Reason string // what is wrong
	Want   string // what is wanted and what to do
}

// Error is one line: file:line: key: reason; want.
func (e *FileError) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s:%d: ", escaped(e.File), e.Line)
	if e.Key != "" {
		b.WriteString(e.Key + ": ")
	}
	b.WriteString(e.Reason)
	if e.Want != "" {
		b.WriteString("; " + e.Want)
	}
	return b.String()
}

// FileErrors is every fault found in a trial file, in the order of its lines.
// [ParseTrial] returns no other kind of error.
type FileErrors []*FileError

// maxErrorsShown keeps a file that is no trial file at all from flooding a
// terminal; the slice holds them all.
const maxErrorsShown = 100

// Error is one line a fault.
func (e FileErrors) Error() string {
	var b strings.Builder
	for i, fe := range e {
		if i > 0 {
			b.WriteByte('\n')
		}
		if i == maxErrorsShown {
			fmt.Fprintf(&b, "and %d more", len(e)-i)
			break
		}
		b.WriteString(fe.Error())
	}
	return b.String()
}

// Unwrap gives each fault to errors.As.
func (e FileErrors) Unwrap() []error {
	out := make([]error, len(e))
	for i, fe := range e {
		out[i] = fe
	}
	return out
}

// inOrder sorts by line and drops a fault told twice, as a limit inherited by
// several stages would be.
func (e FileErrors) inOrder() FileErrors {
	slices.SortStableFunc(e, func(a, b *FileError) int { return cmp.Compare(a.Line, b.Line) })
	var out FileErrors
	seen := map[FileError]bool{}
	for _, fe := range e {
		if !seen[*fe] {
			seen[*fe] = true
			out = append(out, fe)
		}
	}
	return out
}
