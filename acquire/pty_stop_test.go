//go:build linux || darwin

package acquire

import (
	"errors"
	"strings"
	"testing"
	"time"

	"hawse/trial"
)

// TestLinesDownOnAPseudoTerminal: it has no modem lines. A stop output of words
// opens all the same; one with a pulse train does not, and says why.
func TestLinesDownOnAPseudoTerminal(t *testing.T) {
	w := newWire(t)
	p := anyPort(w.name)
	p.LinesDown = true
	c, err := OpenSerial(w.name, p)
	if err != nil {
		t.Fatal(err)
	}
	if err := c.(LineConn).SetLine(RTS, true); err == nil {
		t.Error("a pseudo-terminal took a modem line; then these tests could use it")
	}
	if _, err := c.Write([]byte("BEAT\n")); err != nil {
		t.Errorf("Write = %v", err)
	}
	if err := c.Close(); err != nil {
		t.Errorf("Close = %v", err)
	}
	if err := c.(LineConn).SetLine(RTS, false); !errors.Is(err, ErrClosed) {
		t.Errorf("SetLine after Close = %v, want ErrClosed", err)
	}

	out := make(chan Item, 100)
	o := NewOwner(OwnerOptions{Src: "stop", Port: p, Clock: NewClock(), Out: out,
		Form: NewStopForm(trial.StopOutput{Kind: trial.StopPulse, Line: trial.LineRTS, Beat: 50 * time.Millisecond})})
	ctx, cancel := cancelAfter(t, 5*time.Second)
	done := make(chan struct{})
	go func() { defer close(done); o.Run(ctx) }()
	it := <-out
	cancel()
	<-done
	if it.State != StateRetry || !strings.Contains(it.Reason, w.name) || !strings.Contains(it.Reason, "its lines RTS and DTR cannot be set") {
		t.Errorf("a pulse train on a pseudo-terminal: %+v; want that it has no such lines", it)
	}
	if c, err := OpenSerial(w.name, p); err != nil { // nobody keeps it
		t.Errorf("opened again: %v", err)
	} else {
		c.Close()
	}
}
