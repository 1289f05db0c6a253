package main

import (
	"io"
	"os"

	"github.com/mattn/go-isatty"
)

// barTo is where progress is drawn: a terminal, and nothing else.
func barTo(w io.Writer) io.Writer {
	if f, ok := w.(*os.File); ok && isatty.IsTerminal(f.Fd()) {
		return w
	}
	return nil
}
