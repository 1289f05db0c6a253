package tui

import (
	"bytes"
	"context"
	"errors"
	"io"
	"strings"
	"sync"
	"testing"
	"time"

	tea "github.com/charmbracelet/bubbletea"
	"github.com/charmbracelet/x/vt"

	"hawse/acquire/session"
	"hawse/safety"
)

// patience is how long a test waits for what must come.
const patience = 10 * time.Second

// eventually waits until ok says so.
func eventually(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(patience); !ok(); time.Sleep(2 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("waited %v for: %s", patience, what)
		}
	}
}

// screen80 is a terminal of 80x24 that counts bells and answers nothing.
type screen80 struct {
	mu    sync.Mutex
	em    *vt.Emulator
	bells int
}

func newScreen80() *screen80 {
	s := &screen80{em: vt.NewEmulator(80, 24)}
	s.em.SetCallbacks(vt.Callbacks{Bell: func() { s.bells++ }})
	return s
}

func (s *screen80) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.em.Write(p)
}

func (s *screen80) Close() { _ = s.em.Close() }

func (s *screen80) text() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.em.String()
}

func (s *screen80) mainPage() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return !s.em.IsAltScreen()
}

// running is a screen that runs.
type running struct {
	t     *testing.T
	keys  *io.PipeWriter
	view  *fakeView
	lost  chan string
	ended chan error
	stop  context.CancelFunc
}

func start(t *testing.T, v session.View, f *fakeView, out io.Writer) *running {
	t.Helper()
	in, keys := io.Pipe()
	ctx, cancel := context.WithCancel(context.Background())
	r := &running{t: t, keys: keys, view: f, lost: make(chan string, 9), ended: make(chan error, 1), stop: cancel}
	o := Options{
		In: in, Out: out, Width: 80, Height: 24, FPS: 50, Stay: true,
		Now:  func() time.Time { return sceneStart },
		Lost: func(reason string) { r.lost <- reason },
	}
	go func() { r.ended <- Run(ctx, v, o) }()
	t.Cleanup(func() {
		cancel()
		_ = keys.Close()
	})
	return r
}

func (r *running) press(keys string) {
	r.t.Helper()
	if _, err := io.WriteString(r.keys, keys); err != nil {
		r.t.Fatalf("press %q: %v", keys, err)
	}
}

func (r *running) end() error {
	r.t.Helper()
	select {
	case err := <-r.ended:
		return err
	case <-time.After(patience):
		r.t.Fatal("Run does not return")
		return nil
	}
}

func (r *running) noLoss() {
	r.t.Helper()
	select {
	case reason := <-r.lost:
		r.t.Errorf("lost told: %q, want none", reason)
	default:
	}
}

func TestRunDrawsActsAndLeavesTheTerminalAsItWas(t *testing.T) {
	sc := sceneNamed("stop-called")
	v, f := sc.view()
	out := newScreen80()
	defer out.Close()
	r := start(t, v, f, out)
	eventually(t, "the screen", func() bool { return strings.Contains(out.text(), "STOP CALLED by winch") })
	if out.mainPage() {
		t.Error("the screen is drawn over the terminal's main page")
	}
	r.press("k") // after a STOP it would be refused for a time, and this clock stands still
	r.press(" ")
	eventually(t, "two acts", func() bool { return len(f.did()) == 2 })
	if got := f.did(); got[0].What != session.ActAck || got[1].What != session.ActStop {
		t.Errorf("acts = %v, want ack, stop", got)
	}
	r.stop()
	if err := r.end(); !errors.Is(err, context.Canceled) {
		t.Errorf("Run = %v, want the context's error", err)
	}
	r.noLoss()
	if !out.mainPage() {
		t.Error("the terminal is left on the screen's page")
	}
}

func TestRunEndsWhenTheCaptureDoes(t *testing.T) {
	v, f := sceneNamed("pull").view()
	out := newScreen80()
	defer out.Close()
	r := start(t, v, f, out)
	eventually(t, "the screen", func() bool { return strings.Contains(out.text(), "no stop in force") })
	r.press("q")
	eventually(t, "the question", func() bool { return strings.Contains(out.text(), "Leave?") })
	// The clock of this test stands still, so the answer waits for none.
	r.press("\x1b")
	ended := *f.snap
	ended.Ended = true
	f.set(&ended)
	eventually(t, "the end to show", func() bool { return strings.Contains(out.text(), "nothing is watched now") })
	r.press("q")
	if err := r.end(); err != nil {
		t.Errorf("Run = %v, want nil", err)
	}
	r.noLoss()
}

func TestBellRingsInTheTerminal(t *testing.T) {
	v, f := sceneNamed("pull").view()
	out := newScreen80()
	defer out.Close()
	r := start(t, v, f, out)
	eventually(t, "the screen", func() bool { return strings.Contains(out.text(), "no stop in force") })
	s := *f.snap
	tripped(&s, safety.TensionLimit, 8000, 8000, safety.OrderStop)
	f.set(&s)
	bells := func() int { out.mu.Lock(); defer out.mu.Unlock(); return out.bells }
	eventually(t, "a bell", func() bool { return bells() == 1 })
	at := f.pulls()
	eventually(t, "five more frames", func() bool { return f.pulls() > at+5 })
	if n := bells(); n != 1 {
		t.Errorf("%d bells for one stop, want 1", n)
	}
	r.stop()
	_ = r.end()
}

// stuck is a terminal that takes nothing until it is let go.
type stuck struct {
	out io.Writer
	mu  sync.Mutex // held while stuck
	n   int
}

func (s *stuck) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.n++
	return s.out.Write(p)
}

func TestABlockedTerminalBlocksOnlyTheDrawing(t *testing.T) {
	v, f := sceneNamed("pull").view()
	em := newScreen80()
	defer em.Close()
	out := &stuck{out: em}
	r := start(t, v, f, out)
	eventually(t, "the screen", func() bool { return strings.Contains(em.text(), "no stop in force") })

	out.mu.Lock()
	s := *f.snap
	tripped(&s, safety.TensionLimit, 8000, 8000, safety.OrderStop)
	f.set(&s)
	at := f.pulls()
	eventually(t, "thirty snapshots fetched while blocked", func() bool { return f.pulls() > at+30 })
	r.press(" ")
	eventually(t, "a STOP handed over while blocked", func() bool { return len(f.did()) == 1 })
	out.mu.Unlock()

	eventually(t, "the newest frame after the block", func() bool { return strings.Contains(em.text(), "TENSION LIMIT") })
	r.stop()
	_ = r.end()
	if !em.mainPage() {
		t.Error("the terminal is left on the screen's page")
	}
	r.noLoss()
}

func TestRunReturnsThoughTheTerminalStaysBlocked(t *testing.T) {
	v, f := sceneNamed("pull").view()
	out := &stuck{out: io.Discard}
	r := start(t, v, f, out)
	eventually(t, "the first frame", func() bool { out.mu.Lock(); defer out.mu.Unlock(); return out.n > 0 })
	out.mu.Lock()
	at := f.pulls()
	eventually(t, "more snapshots", func() bool { return f.pulls() > at+5 })
	r.stop()
	err := r.end()
	out.mu.Unlock()
	if !errors.Is(err, context.Canceled) {
		t.Errorf("Run = %v, want the context's error", err)
	}
}

// burst is a terminal that loses frames: it is stuck, and more is written than
// can wait.
func TestLostFramesAreDrawnAnew(t *testing.T) {
	var em bytes.Buffer
	out := &stuck{out: &em}
	out.mu.Lock()
	o := newOutlet(out, func(error) {})
	for range outletDepth + 10 {
		_, _ = o.Write([]byte("frame"))
	}
	if !o.busy() || o.stained() {
		t.Errorf("busy %v, stained %v while stuck, want true, false", o.busy(), o.stained())
	}
	out.mu.Unlock()
	eventually(t, "the outlet to catch up", func() bool { return !o.busy() })
	if !o.stained() {
		t.Error("frames were dropped and nobody is told")
	}
	if o.stained() {
		t.Error("told twice")
	}
	if !o.close([]byte("last"), patience) {
		t.Fatal("the outlet does not end")
	}
	if got := em.String(); !strings.HasSuffix(got, "framelast") {
		t.Errorf("the last words are %q, want them after the frames", got[max(0, len(got)-20):])
	}
	_, _ = o.Write([]byte("later")) // a late bell must not panic
}

type brokenPipe struct {
	mu   sync.Mutex
	left int
}

func (b *brokenPipe) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.left--; b.left < 0 {
		return 0, io.ErrClosedPipe
	}
	return len(p), nil
}

func TestLostScreens(t *testing.T) {
	tests := []struct {
		name string
		out  io.Writer
		lose func(*running)
		want string
	}{
		{"input ends", io.Discard, func(r *running) { _ = r.keys.Close() }, "terminal closed"},
		{"input fails", io.Discard, func(r *running) { _ = r.keys.CloseWithError(io.ErrUnexpectedEOF) }, "terminal closed"},
		{"output fails", &brokenPipe{left: 7}, func(*running) {}, "terminal closed"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			v, f := sceneNamed("pull").view()
			r := start(t, v, f, tt.out)
			eventually(t, "a snapshot fetched", func() bool { return f.pulls() > 0 })
			tt.lose(r)
			err := r.end()
			var lost *LostError
			if !errors.As(err, &lost) || lost.Reason != tt.want {
				t.Errorf("Run = %v, want a LostError %q", err, tt.want)
			}
			if got := <-r.lost; got != tt.want {
				t.Errorf("lost told %q, want %q", got, tt.want)
			}
			r.noLoss()
		})
	}
}

// failing is a view whose trace panics when told to.
type failing struct {
	*fakeView
	mu   sync.Mutex
	fail bool
}

func (f *failing) Snapshot() *session.Snapshot {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.fail {
		panic("made to fail")
	}
	return f.fakeView.Snapshot()
}

func TestAPanicCostsOnlyTheScreen(t *testing.T) {
	_, f := sceneNamed("pull").view()
	v := &failing{fakeView: f}
	out := newScreen80()
	defer out.Close()
	r := start(t, v, f, out)
	eventually(t, "the screen", func() bool { return strings.Contains(out.text(), "no stop in force") })
	v.mu.Lock()
	v.fail = true
	v.mu.Unlock()
	err := r.end()
	var lost *LostError
	if !errors.As(err, &lost) || lost.Reason != "the screen failed: made to fail" || !bytes.Contains(lost.Stack, []byte("Snapshot")) {
		t.Errorf("Run = %v, want a LostError with the panic and its stack", err)
	}
	if got := <-r.lost; got != "the screen failed: made to fail" {
		t.Errorf("lost told %q", got)
	}
	r.noLoss()
	if !out.mainPage() {
		t.Error("the terminal is left on the screen's page")
	}
}

func TestRunWithoutAFirstFrame(t *testing.T) {
	v, f := sceneNamed("pull").view()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	in, keys := io.Pipe()
	defer keys.Close()
	err := run(ctx, v, Options{In: in, Out: io.Discard, Width: 80, Height: 24}, func(*tea.Program) {})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("Run = %v, want the context's error", err)
	}
	_ = f
}
