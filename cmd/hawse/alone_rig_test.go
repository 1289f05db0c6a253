//go:build alone && unix

// These tests watch real processes against the clock of the simulated deck, so
// they run with nothing beside them:
//
//	go test -tags alone -count=1 -p 1 -parallel 1 -run Alone ./cmd/hawse
package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"

	"hawse/acquire"
	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/cmd/hawse/bench"
	"hawse/logfmt"
)

// program is the program under test, built once.
var program = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "hawse-alone-")
	if err != nil {
		return "", err
	}
	path := filepath.Join(dir, "hawse")
	out, err := exec.Command("go", "build", "-o", path, ".").CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("go build: %w\n%s", err, out)
	}
	return path, nil
})

// rig is a folder with a trial file, the simulated deck running in this process,
// and captures started as processes of their own.
type rig struct {
	t    *testing.T
	dir  string
	deck *deck.Deck
	now  func() int64 // the deck's clock

	under []string // a command that starts the program; empty: none
}

// slowPull hauls for as long as a test may need.
const slowPull = `[facts]
title     Process test
caption   Invented data: a check for machines
depth     6 m
fairlead  1.5 m
payout    60 m
speed     2.4 m/min
window    300 ms
stiffness 400 kN
slack     0.08 kN
noise     0.003 kN
load      50 Hz
line      20 Hz
[trial]
load.rate = "50 Hz"
line.rate = "20 Hz"
[tension]
x 0 m    0.5 kN
x 40 m   3.0 kN
[winch]
until relay closed
haul
until x 29 m
done
`

func newRig(t *testing.T) *rig {
	t.Helper()
	return newRigOf(t, slowPull)
}

func newRigOf(t *testing.T, script string) *rig {
	t.Helper()
	sc, err := deck.ParseScenario("slow.txt", []byte(script))
	if err != nil {
		t.Fatal(err)
	}
	return newRigWith(t, sc)
}

func newRigWith(t *testing.T, sc *deck.Scenario) *rig {
	t.Helper()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "trial.toml"), []byte(sc.TrialFile()), 0o644); err != nil {
		t.Fatal(err)
	}
	clock := acquire.NewClock()
	d, err := deck.Open(sc, deck.Options{Dir: filepath.Join(dir, "deck"), Clock: clock, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); d.Run(ctx) }()
	t.Cleanup(func() { cancel(); <-done; d.Close() })
	return &rig{t: t, dir: dir, deck: d, now: clock.Now}
}

// child is a capture in a process of its own.
type child struct {
	*rig
	cmd  *exec.Cmd
	log  string
	out  *lockedBuffer
	tty  *os.File // the master side of its terminal; nil headless
	dead chan struct{}
}

type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// pull starts a capture; with a screen its terminal is a pseudo-terminal.
func (r *rig) pull(name string, screen bool) *child {
	r.t.Helper()
	path, err := program()
	if err != nil {
		r.t.Fatal(err)
	}
	c := &child{rig: r, log: filepath.Join(r.dir, name+".log"), out: &lockedBuffer{}, dead: make(chan struct{})}
	args := []string{"pull", filepath.Join(r.dir, "trial.toml"), "--run", "A1", "--log", c.log, "--depth", "6 m", "--payout", "60 m"}
	if !screen {
		args = append(args, "--headless")
	}
	whole := append(append(slices.Clone(r.under), path), args...)
	c.cmd = exec.Command(whole[0], whole[1:]...)
	if screen {
		c.cmd.Env = append(os.Environ(), "TERM=xterm-256color")
		if c.tty, err = pty.StartWithSize(c.cmd, &pty.Winsize{Rows: 40, Cols: 120}); err != nil {
			r.t.Fatal(err)
		}
	} else {
		c.cmd.Stdout, c.cmd.Stderr = c.out, c.out
		if err := c.cmd.Start(); err != nil {
			r.t.Fatal(err)
		}
	}
	go func() { c.cmd.Wait(); close(c.dead) }()
	r.t.Cleanup(func() {
		c.cmd.Process.Signal(syscall.SIGCONT)
		c.cmd.Process.Kill()
		<-c.dead
		if c.tty != nil {
			c.tty.Close()
		}
	})
	return c
}

// drain reads the screen as a terminal does.
func (c *child) drain() { go io.Copy(c.out, c.tty) }

func (c *child) call(act, stage string) session.Answer {
	c.t.Helper()
	a, err := session.PlaceCall(c.log, session.Call{Act: act, Stage: stage, Name: "test"})
	if err != nil {
		c.t.Fatalf("call %s: %v\n%s", act, err, c.out)
	}
	return a
}

func (c *child) status() *session.Status {
	c.t.Helper()
	return c.call("status", "").Status
}

// eventually waits for something that must come.
func (c *child) eventually(what string, within time.Duration, ok func() bool) {
	c.t.Helper()
	for end := time.Now().Add(within); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		if ok() {
			return
		}
	}
	c.t.Fatalf("not within %v: %s\n%s", within, what, c.out)
}

// hauling brings the capture to a closed relay and a winch that hauls.
func (c *child) hauling() {
	c.t.Helper()
	c.eventually("the socket answers", 10*time.Second, func() bool {
		_, err := session.PlaceCall(c.log, session.Call{Act: "status"})
		return err == nil
	})
	c.eventually("scope known", 5*time.Second, func() bool { return c.status().Scope != nil })
	c.arm()
	if a := c.call("stage", "pull"); !a.Done {
		c.t.Fatalf("stage pull refused: %s", a.Refused)
	}
	c.eventually("relay closed", 2*time.Second, func() bool { return c.deck.State().RelayClosed })
}

// arm does what stands before arming, and arms.
func (c *child) arm() {
	c.t.Helper()
	for _, check := range bench.MachineChecks {
		c.eventually(check.Act, 5*time.Second, func() bool {
			check.Name = "test"
			a, err := session.PlaceCall(c.log, check)
			return err == nil && a.Done
		})
	}
	c.eventually("armed", 5*time.Second, func() bool { return c.call("arm", "").Done })
}

// openedAfter returns when, on the deck's own clock, the relay opened first
// after t, and why.
func (r *rig) openedAfter(t int64) (after time.Duration, reason string, ok bool) {
	for _, ch := range r.deck.State().RelayLog {
		if ch.T >= t && !ch.Closed {
			return time.Duration(ch.T - t), ch.Reason, true
		}
	}
	return 0, "", false
}

// window is the relay's, with room for this machine to wake it.
const window = 300*time.Millisecond + 150*time.Millisecond

func (c *child) mustOpen(since int64, what string) {
	c.t.Helper()
	c.eventually("relay opens after "+what, 3*time.Second, func() bool { _, _, ok := c.openedAfter(since); return ok })
	after, reason, _ := c.openedAfter(since)
	if after > window {
		c.t.Errorf("%s: relay opened after %v, want %v at most", what, after, window)
	}
	c.t.Logf("%s: relay opened after %v (%s)", what, after.Round(time.Millisecond), reason)
}

func (c *child) sealedAndWhole() {
	c.t.Helper()
	select {
	case <-c.dead:
	case <-time.After(10 * time.Second):
		c.t.Fatalf("program still runs\n%s", c.out)
	}
	rep, err := logfmt.VerifyFile(c.log)
	if err != nil || !rep.Whole {
		c.t.Errorf("log: %v, %+v; want it sealed and whole", err, rep)
	}
	fold, _, err := refoldFile(c.log)
	if err != nil || len(fold.Diffs) > 0 {
		// This test program is another build, so only words are compared.
		c.t.Errorf("replay: %v, differences %v", err, fold.Diffs)
	}
}
