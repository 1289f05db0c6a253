package main

import (
	"bytes"
	"context"
	"strings"
	"sync"
	"testing"
	"time"
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
	c.SetIn(strings.NewReader("  EASE   1.2 m/min\nfaster\n\n\x1b[2J\n"))
	c.SetOut(&out)
	c.SetErr(&out)
	c.SetArgs([]string{"textbook", "--dir", t.TempDir()})
	ended := make(chan error, 1)
	go func() { ended <- c.ExecuteContext(ctx) }()
	wants := []string{"ordered: ease 1.2 m/min", "faster", "no order to the winch", "winch ease"}
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
	if missing != "" || strings.ContainsRune(out.String(), 0x1b) {
		t.Errorf("no %q, or a raw escape, in\n%q", missing, out.String())
	}
}
