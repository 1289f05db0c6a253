//go:build unix

package bench

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/creack/pty"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
)

// capture is this program, capturing from a rig, as a process of its own.
type capture struct {
	cmd    *exec.Cmd
	log    string
	tail   lastBytes    // of what it printed
	tty    *os.File     // our end of its screen's terminal; nil headless
	drawn  atomic.Int64 // bytes to that terminal
	hold   atomic.Bool  // nobody reads that terminal now
	began  time.Time
	gone   chan struct{} // closed when it has ended
	peak   int64         // most memory, bytes, as last looked at; 0 unknown
	reader sync.WaitGroup
}

// usualScreen is the size of a measured screen where none is asked for.
var usualScreen = screenSize{cols: 160, rows: 50}

// startCapture starts the capture of a rig's trial, in a terminal of that
// size if it has a screen. It has a process group of its own, so that ctrl-c
// reaches only the bench, which then ends it.
func startCapture(r *deckRig, screen string, size screenSize) (*capture, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, fmt.Errorf("cannot find this program's own file to start it again: %w", err)
	}
	c := &capture{log: filepath.Join(r.dir, "bench.log"), gone: make(chan struct{})}
	args := []string{"pull", r.trial(), "--run", "A1", "--log", c.log, "--depth", "6 m", "--payout", "60 m"}
	if screen == screenNone {
		args = append(args, "--headless")
	}
	c.cmd = exec.Command(self, args...)
	// Its word of itself goes where it is removed with all the rest.
	c.cmd.Env = append(environWithout("XDG_RUNTIME_DIR", "TERM", "NO_COLOR"), "XDG_RUNTIME_DIR="+r.dir, "TERM=xterm-256color")
	c.began = time.Now()
	if screen == screenNone {
		c.cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
		c.cmd.Stdout, c.cmd.Stderr = &c.tail, &c.tail
		err = c.cmd.Start()
	} else {
		err = c.startOnScreen(size)
	}
	if err != nil {
		return nil, fmt.Errorf("cannot start %s: %w", self, err)
	}
	go func() {
		defer close(c.gone)
		_ = c.cmd.Wait() // how it ended is in its ProcessState
	}()
	return c, nil
}

func (c *capture) startOnScreen(size screenSize) error {
	m, err := pty.StartWithSize(c.cmd, &pty.Winsize{Cols: size.cols, Rows: size.rows})
	if err != nil {
		return err
	}
	defer m.Close()
	if c.tty, err = unblocked(m); err != nil {
		_ = c.cmd.Process.Kill()
		_ = c.cmd.Wait()
		return err
	}
	c.reader.Go(c.readScreen)
	return nil
}

// readScreen is a terminal that draws nothing.
func (c *capture) readScreen() {
	buf := make([]byte, 64<<10)
	for {
		if c.hold.Load() {
			time.Sleep(10 * time.Millisecond)
			continue
		}
		_ = c.tty.SetReadDeadline(time.Now().Add(100 * time.Millisecond)) // to see hold
		n, err := c.tty.Read(buf)
		c.drawn.Add(int64(n))
		_, _ = c.tail.Write(buf[:n])
		if err != nil && !errors.Is(err, os.ErrDeadlineExceeded) {
			return // closed, or the last program on it has ended
		}
	}
}

func environWithout(keys ...string) (env []string) {
	for _, e := range os.Environ() {
		drop := false
		for _, k := range keys {
			drop = drop || strings.HasPrefix(e, k+"=")
		}
		if !drop {
			env = append(env, e)
		}
	}
	return env
}

// call places a call; the error says what the child printed, if it has ended.
func (c *capture) call(call session.Call) (session.Answer, error) {
	if err := c.died(); err != nil {
		return session.Answer{}, err
	}
	call.Name = "bench"
	return session.PlaceCall(c.log, call)
}

// died is nil while the child runs.
func (c *capture) died() error {
	select {
	case <-c.gone:
		return fmt.Errorf("the capture has ended by itself (%v)%s", c.cmd.ProcessState, c.said())
	default:
		return nil
	}
}

// said is the end of what the child printed, unless it drew a screen.
func (c *capture) said() string {
	text := c.tail.text()
	if text == "" || c.tty != nil && c.drawn.Load() > lastKept {
		return ""
	}
	return "; the last it said: " + text
}

// until places a call again and again until it is taken.
func (c *capture) until(ctx context.Context, within time.Duration, call session.Call) (session.Answer, error) {
	why := ""
	for end := time.Now().Add(within); ; {
		a, err := c.call(call)
		switch {
		case err == nil && a.Done:
			return a, nil
		case err != nil:
			why = err.Error()
		default:
			why = a.Refused
		}
		select {
		case <-c.gone:
			return a, c.died()
		case <-ctx.Done():
			return a, ctx.Err()
		case <-time.After(10 * time.Millisecond):
		}
		if time.Now().After(end) {
			return a, fmt.Errorf("%s %s not taken within %v: %s", call.Act, call.Stage, within, why)
		}
	}
}

var statusCall = session.Call{Act: "status"}

// MachineChecks are what stands before arming, done without: nobody pulls.
var MachineChecks = []session.Call{
	{Act: session.ActWaive, Value: "zero nobody pulls, a machine is measured"},
	{Act: session.ActWaive, Value: "weight nobody pulls, a machine is measured"},
	{Act: session.ActRead},
	{Act: session.ActReady, Who: "logger", Value: "a machine"},
	{Act: session.ActReady, Who: "winch", Value: "a machine"},
	{Act: session.ActReady, Value: "a machine"},
}

// intoPull arms the capture and brings it to a closed relay, as on a deck: the
// guard guards and the heartbeats go out.
func (c *capture) intoPull(ctx context.Context, r *deckRig) error {
	calls := append([]session.Call{statusCall}, MachineChecks...)
	calls = append(calls, session.Call{Act: session.ActArm}, session.Call{Act: session.ActStage, Stage: "pull"})
	for _, call := range calls {
		if _, err := c.until(ctx, 15*time.Second, call); err != nil {
			return err
		}
	}
	if _, ok := r.relay.await(ctx, true, 0, 5*time.Second); !ok {
		return firstError(ctx.Err(), errors.New("the relay did not close within 5 s of the stage pull"))
	}
	return nil
}

// end seals the log and waits for the child. The rode counts as loaded, so end
// is asked for twice.
func (c *capture) end(ctx context.Context) (used, error) {
	c.peak = procPeak(c.cmd.Process.Pid)
	c.hold.Store(false)
	if _, err := c.until(ctx, 5*time.Second, session.Call{Act: session.ActEnd}); err != nil {
		select {
		case <-c.gone: // it ended before it could answer
		default:
			return used{}, err
		}
	}
	t := time.NewTimer(30 * time.Second)
	defer t.Stop()
	select {
	case <-c.gone:
	case <-ctx.Done():
		return used{}, ctx.Err()
	case <-t.C:
		return used{}, errors.New("the capture was told to end 30 s ago and still runs")
	}
	u := usedBy(c.cmd.ProcessState, time.Since(c.began))
	if c.peak > 0 {
		u.peak = c.peak
	}
	if u.exit != cli.ExitDone && u.exit != cli.ExitTripped {
		return u, fmt.Errorf("the capture ended with code %d%s", u.exit, c.said())
	}
	return u, nil
}

// peakOf is the most memory of a process that is over, bytes; 0 unknown. On Linux
// it is also that of the program that started it, so it is only used where nothing
// better is.
func peakOf(s *os.ProcessState) int64 {
	if ru, ok := s.SysUsage().(*syscall.Rusage); ok {
		return rusagePeak(int64(ru.Maxrss))
	}
	return 0
}

// kill makes sure that nothing of the child is left.
func (c *capture) kill() {
	_ = c.cmd.Process.Kill() // it may have ended
	c.hold.Store(false)
	<-c.gone
	if c.tty != nil {
		_ = c.tty.Close()
	}
	c.reader.Wait()
	_ = os.Remove(session.SocketPath(c.log))
}

// lastBytes keeps the end of what is written to it.
type lastBytes struct {
	mu sync.Mutex
	b  []byte
}

const lastKept = 200

func (l *lastBytes) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.b = append(l.b, p[max(len(p)-lastKept, 0):]...)
	if over := len(l.b) - lastKept; over > 0 {
		l.b = append(l.b[:0], l.b[over:]...)
	}
	return len(p), nil
}

func (l *lastBytes) text() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return acquire.Visible(l.b)
}

var _ io.Writer = (*lastBytes)(nil)
