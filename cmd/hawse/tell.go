package main

import (
	"io"
	"time"
)

// tell writes a message and waits a second for it at most: a terminal that is
// blocked keeps no program from ending.
func tell(w io.Writer, text string) {
	done := make(chan struct{})
	go func() {
		defer close(done)
		io.WriteString(w, text)
	}()
	select {
	case <-done:
	case <-time.After(time.Second):
	}
}
