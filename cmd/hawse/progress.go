package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/mattn/go-isatty"
)

// barTo is where progress is drawn: a terminal, and nothing else.
func barTo(w io.Writer) io.Writer {
	if f, ok := w.(*os.File); ok && isatty.IsTerminal(f.Fd()) {
		return w
	}
	return nil
}

// progressOn draws a bar, at most ten times a second.
func progressOn(w io.Writer, what string) func(done, of int) {
	if w == nil {
		return nil
	}
	var last time.Time
	return func(done, of int) {
		if time.Since(last) < 100*time.Millisecond && done < of {
			return
		}
		last = time.Now()
		const wide = 30
		full := wide * done / max(of, 1)
		fmt.Fprintf(w, "\r%-8s [%s%s] %d of %d", what, strings.Repeat("#", full), strings.Repeat(".", wide-full), done, of)
	}
}
