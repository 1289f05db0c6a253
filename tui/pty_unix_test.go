//go:build linux || darwin

package tui

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/charmbracelet/x/term"
	"github.com/creack/pty"
	"github.com/google/go-cmp/cmp"
)

// child is this test program once more, showing a scene in a terminal of its
// own. Nothing answers what it asks the terminal.
type child struct {
	t    *testing.T
	cmd  *exec.Cmd
	tty  *os.File
	lost string // file it tells a lost screen in

	mu   sync.Mutex
	said bytes.Buffer
	gone chan struct{}
}

func show(t *testing.T, scene string) *child {
	t.Helper()
	c := &child{t: t, lost: filepath.Join(t.TempDir(), "lost"), gone: make(chan struct{})}
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	c.cmd = exec.CommandContext(ctx, os.Args[0], "-test.run", "^TestShow$")
	c.cmd.Env = append(os.Environ(), "HAWSE_SCENE="+scene, "HAWSE_LOST="+c.lost, "TERM=xterm-256color", "CI=", "NO_COLOR=")
	blocking, err := pty.StartWithSize(c.cmd, &pty.Winsize{Rows: 24, Cols: 80})
	if err != nil {
		t.Fatalf("start in a pseudo-terminal: %v", err)
	}
	// Only a descriptor that does not block can be closed under a reader.
	fd, err := syscall.Dup(int(blocking.Fd()))
	if err == nil {
		err = syscall.SetNonblock(fd, true)
	}
	if err != nil {
		t.Fatalf("pseudo-terminal: %v", err)
	}
	_ = blocking.Close()
	tty := os.NewFile(uintptr(fd), "terminal")
	c.tty = tty
	go func() {
		defer close(c.gone)
		buf := make([]byte, 4096)
		for {
			n, err := tty.Read(buf)
			c.mu.Lock()
			c.said.Write(buf[:n])
			c.mu.Unlock()
			if err != nil {
				return
			}
		}
	}()
	t.Cleanup(func() {
		cancel() // ends it, if it has not ended
		_ = tty.Close()
		<-c.gone
	})
	return c
}

func (c *child) has(text string) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return bytes.Contains(c.said.Bytes(), []byte(text))
}

func (c *child) press(keys string) {
	c.t.Helper()
	if _, err := c.tty.WriteString(keys); err != nil {
		c.t.Fatalf("press %q: %v", keys, err)
	}
}

func TestInATerminalThatDoesNotAnswer(t *testing.T) {
	c := show(t, "replay")
	eventually(t, "the screen", func() bool { return c.has("replay paused") })
	for _, query := range []string{"\x1b]11;?", "\x1b]10;?", "\x1b[6n"} {
		if c.has(query) {
			t.Errorf("the terminal is asked %q at the start: one that does not answer costs seconds without a guard", query)
		}
	}
	c.press("\x1a") // ctrl-z
	c.press("t")    // and the screen goes on
	eventually(t, "the other axis", func() bool { return c.has("min:s") })
	c.press("q")
	if err := c.cmd.Wait(); err != nil {
		t.Errorf("the screen ended with %v", err)
	}
	if !c.has("\x1b[?1049l") || !c.has("\x1b[?25h") {
		t.Error("the terminal's page and cursor were not put back")
	}
	if _, err := os.Stat(c.lost); err == nil {
		t.Error("leaving was told as a lost screen")
	}
}

func TestTheTerminalIsClosed(t *testing.T) {
	c := show(t, "replay")
	eventually(t, "the screen", func() bool { return c.has("replay paused") })
	_ = c.tty.Close() // hang up
	_ = c.cmd.Wait()  // it says so by its exit code; the file tells more
	got, err := os.ReadFile(c.lost)
	if err != nil || string(got) != "terminal closed\n" {
		t.Errorf("lost told %q, %v; want one line: terminal closed", got, err)
	}
}

// A terminal nobody reads from takes a few kilobytes and then blocks whoever
// writes to it.
func TestATerminalNobodyReads(t *testing.T) {
	master, slave, err := pty.Open()
	if err != nil {
		t.Fatalf("pseudo-terminal: %v", err)
	}
	defer master.Close()
	if err := pty.Setsize(master, &pty.Winsize{Rows: 60, Cols: 200}); err != nil {
		t.Fatal(err)
	}
	before, err := term.GetState(slave.Fd())
	if err != nil {
		t.Fatal(err)
	}
	snaps := allScenes()
	_, f := snaps[0].view()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	ended := make(chan error, 1)
	go func() { ended <- Run(ctx, f, Options{In: slave, Out: slave, FPS: 50, Stay: true}) }()
	// Frames of different scenes, so that whole screens are written.
	for i := range 60 {
		f.set(snaps[i%len(snaps)].snap)
		at := f.pulls()
		eventually(t, "another snapshot fetched", func() bool { return f.pulls() > at })
	}
	if _, err := master.WriteString(" "); err != nil {
		t.Fatal(err)
	}
	eventually(t, "a STOP handed over", func() bool { return len(f.did()) > 0 })
	cancel()
	if err := <-ended; !errors.Is(err, context.Canceled) {
		t.Errorf("Run = %v, want the context's error", err)
	}
	after, err := term.GetState(slave.Fd())
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(fmt.Sprint(*before), fmt.Sprint(*after)); d != "" {
		t.Errorf("the terminal's mode was not put back (-before +after):\n%s", d)
	}
	_ = slave.Close()
	_ = master.Close() // lets the one blocked write go
}

// BenchmarkGlyph is the time from a snapshot to its text on a pseudo-terminal, at
// 20 frames a second: half a frame's time on average, and the drawing.
func BenchmarkGlyph(b *testing.B) {
	for _, size := range [][2]int{{80, 24}, {160, 50}, {250, 70}} {
		b.Run(fmt.Sprintf("%dx%d", size[0], size[1]), func(b *testing.B) {
			host, tty, err := pty.Open()
			if err != nil {
				b.Skip(err)
			}
			defer host.Close()
			defer tty.Close()
			if err := pty.Setsize(tty, &pty.Winsize{Cols: uint16(size[0]), Rows: uint16(size[1])}); err != nil {
				b.Fatal(err)
			}
			v, f := sceneNamed("pull").view()
			ctx, cancel := context.WithCancel(context.Background())
			ended := make(chan struct{})
			go func() {
				defer close(ended)
				_ = Run(ctx, v, Options{In: tty, Out: tty, FPS: 20, Stay: true})
			}()
			said := make(chan []byte, 1024)
			go func() {
				defer close(said)
				buf := make([]byte, 1<<16)
				for {
					n, err := host.Read(buf)
					if err != nil {
						return
					}
					said <- bytes.Clone(buf[:n])
				}
			}()
			var took []time.Duration
			for i := 0; b.Loop(); i++ {
				s := *f.snap
				s.Made = time.Now()
				s.Caption = fmt.Sprintf("glyph %06d shown", i)
				begin := time.Now()
				f.set(&s)
				var seen []byte
				for !bytes.Contains(seen, []byte(s.Caption)) {
					seen = append(seen, <-said...)
				}
				took = append(took, time.Since(begin))
				time.Sleep(time.Duration(i*7%50) * time.Millisecond) // at no fixed time of the screen's own tick
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)/2])/1e6, "ms-p50")
			b.ReportMetric(float64(took[len(took)*99/100])/1e6, "ms-p99")
			cancel()
			<-ended
		})
	}
}
