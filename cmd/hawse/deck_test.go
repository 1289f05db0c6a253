package main

import (
	"bytes"
	"context"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode/utf8"
)

// said is a command's output that can be read while it runs.
type said struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *said) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *said) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// Whoever rehearses orders the winch from the deck's own terminal; what is no
// order is told, and never printed raw.
func TestDeckTakesOrders(t *testing.T) {
	ctx, end := context.WithCancel(context.Background())
	defer end()
	var out said
	c := newDeck()
	c.SetIn(strings.NewReader("haul\n  EASE   1.2 m/min\ncell free\nfaster\n\n\x1b[2J\nstop\n"))
	c.SetOut(&out)
	c.SetErr(&out)
	c.SetArgs([]string{"textbook", "--dir", t.TempDir()})
	ended := make(chan error, 1)
	go func() { ended <- c.ExecuteContext(ctx) }()
	wants := []string{"cell free (for a zero)", "ordered: haul", "haul again once it is closed", "ordered: EASE 1.2 m/min", "say stop first", "faster", "is no order", " s  ease  hauled ", " s  stop  hauled "}
	missing := ""
	for until := time.Now().Add(30 * time.Second); time.Now().Before(until); time.Sleep(20 * time.Millisecond) {
		missing = ""
		for _, w := range wants {
			if !strings.Contains(out.String(), w) {
				missing = w
			}
		}
		if missing == "" {
			break
		}
	}
	end()
	<-ended
	for _, line := range strings.Split(out.String(), "\n") {
		if utf8.RuneCountInString(line) > 79 && !strings.Contains(line, "is no order") && !strings.HasPrefix(line, "ports: ") {
			t.Errorf("wider than 80 characters: %q", line)
		}
	}
	if missing != "" || strings.ContainsRune(out.String(), 0x1b) {
		t.Errorf("no %q, or a raw escape, in\n%q", missing, out.String())
	}
}
