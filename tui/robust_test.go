package tui

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"

	"hawse/acquire/session"
	"hawse/trial"
)

// slowLine is a terminal behind a line of so many bytes a second.
type slowLine struct {
	*screen80
	rate int
}

func (s slowLine) Write(p []byte) (int, error) {
	const piece = 256 // as a line hands on what it has
	for i := 0; i < len(p); i += piece {
		part := p[i:min(i+piece, len(p))]
		time.Sleep(time.Duration(len(part)) * time.Second / time.Duration(s.rate))
		if n, err := s.screen80.Write(part); err != nil {
			return i + n, err
		}
	}
	return len(p), nil
}

// moving gives a view another tension at every record until its context ends.
func moving(ctx context.Context, f *fakeView) {
	base := *f.snap
	for i := int64(1); ctx.Err() == nil; i++ {
		s := base
		s.N, s.T = s.N+uint64(i), s.T+i*second/100
		s.Tension.Big = trial.Force(1000 + i%977*7)
		f.set(&s)
		time.Sleep(10 * time.Millisecond)
	}
}

// On a line of 8 kB/s, and on a serial console at 9600 baud, the screen goes on
// pulling snapshots at its own pace, takes STOP at once, and shows in the end
// what is.
func TestASlowTerminal(t *testing.T) {
	for _, rate := range []int{8000, 960} {
		v, f := sceneNamed("pull").view()
		out := slowLine{newScreen80(), rate}
		defer out.Close()
		r := start(t, v, f, out)
		ctx, cancel := context.WithCancel(context.Background())
		moved := make(chan struct{})
		go func() { defer close(moved); moving(ctx, f) }()
		eventually(t, "a frame", func() bool { return strings.Contains(out.text(), "PULL") })
		before := f.pulls()
		time.Sleep(500 * time.Millisecond)
		if n := f.pulls() - before; n < 5 {
			t.Errorf("%d B/s: %d snapshots pulled in half a second, want the screen's own pace", rate, n)
		}
		r.press(" ")
		eventually(t, "STOP", func() bool {
			acts := f.did()
			return len(acts) > 0 && acts[len(acts)-1].What == session.ActStop
		})
		cancel()
		<-moved
		s := *f.snap
		s.Caption = "the last of all"
		f.set(&s)
		eventually(t, "the last frame", func() bool { return strings.Contains(out.text(), s.Caption) })
		r.noLoss()
		r.stop()
		if err := r.end(); !errors.Is(err, context.Canceled) {
			t.Errorf("%d B/s: Run = %v", rate, err)
		}
	}
}

// A window that is dragged about resizes hundreds of times; what is left is a
// whole screen of the last size.
func TestResizedFiveHundredTimes(t *testing.T) {
	for s := range numStands {
		v, f := sceneNamed("trip-ease").view()
		out := newScreen80()
		defer out.Close()
		in, keys := io.Pipe()
		defer keys.Close()
		ctx, cancel := context.WithCancel(context.Background())
		progs, done := make(chan *tea.Program, 1), make(chan error, 1)
		o := Options{In: in, Out: out, Width: 80, Height: 24, FPS: 50, Stay: true, Stand: s, Now: func() time.Time { return sceneStart },
			Lost: func(reason string) { t.Errorf("%v: lost: %s", s, reason) }}
		go func() { done <- run(ctx, v, o, func(p *tea.Program) { progs <- p }) }()
		p := <-progs
		for i := range 500 {
			p.Send(tea.WindowSizeMsg{Width: 1 + i*37%300, Height: 1 + i*23%100})
			time.Sleep(time.Millisecond)
		}
		p.Send(tea.WindowSizeMsg{Width: 80, Height: 24})
		eventually(t, "the screen of the last size", func() bool {
			return strings.Contains(out.text(), "SPACE STOP") && strings.Contains(out.text(), "TENSION LIMIT")
		})
		if f.pulls() == 0 {
			t.Error("no snapshot was pulled")
		}
		cancel()
		if err := <-done; !errors.Is(err, context.Canceled) {
			t.Errorf("%v: Run = %v", s, err)
		}
	}
}
