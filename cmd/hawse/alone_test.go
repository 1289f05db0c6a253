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
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/charmbracelet/x/term"
	"github.com/creack/pty"

	"hawse/acquire"
	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/cmd/hawse/bench"
	"hawse/cmd/hawse/cli"
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

func TestAloneStoppedProgramOpensTheRelay(t *testing.T) {
	c := newRig(t).pull("a", false)
	c.hauling()
	since := c.now()
	c.cmd.Process.Signal(syscall.SIGSTOP)
	c.mustOpen(since, "SIGSTOP")
	time.Sleep(700 * time.Millisecond)
	c.cmd.Process.Signal(syscall.SIGCONT)
	c.eventually("the standstill is a trip", 3*time.Second, func() bool { return c.status().StopCause == "PROGRAM STOOD STILL" })
	time.Sleep(time.Second)
	if c.deck.State().RelayClosed {
		t.Error("after SIGCONT the relay closed by itself")
	}
	if a := c.call("rearm", "pull"); a.Done {
		t.Error("re-armed without an acknowledgement")
	}
	c.call("ack", "")
	if a := c.call("rearm", "pull"); !a.Done {
		t.Errorf("re-arm after the acknowledgement refused: %s", a.Refused)
	}
	c.eventually("relay closed anew", 2*time.Second, func() bool { return c.deck.State().RelayClosed })
}

// TestAloneModbusRelay: a relay that speaks Modbus opens like one that speaks
// words, when the program stands still and when it is told to stop.
func TestAloneModbusRelay(t *testing.T) {
	script := strings.Replace(slowPull, "[trial]\n", "relay modbus\n[trial]\nstop.kind = \"modbus\"\nstop.baud = 19200\n", 1)
	c := newRigOf(t, script).pull("a", false)
	c.hauling()
	since := c.now()
	c.call("stop", "")
	c.mustOpen(since, "a stop called, by Modbus")
	c.call("ack", "")
	c.eventually("re-armed", 5*time.Second, func() bool { return c.call("rearm", "pull").Done })
	c.eventually("relay closed again", 2*time.Second, func() bool { return c.deck.State().RelayClosed })
	since = c.now()
	c.cmd.Process.Signal(syscall.SIGSTOP)
	c.mustOpen(since, "SIGSTOP, by Modbus")
}

func TestAloneKilledProgramOpensTheRelay(t *testing.T) {
	r := newRig(t)
	c := r.pull("a", false)
	c.hauling()
	since := c.now()
	c.cmd.Process.Kill()
	c.mustOpen(since, "SIGKILL")
	<-c.dead
	rep, err := logfmt.VerifyFile(c.log)
	if err != nil || rep.Sealed || rep.Records == 0 {
		t.Errorf("log after SIGKILL: %v, %+v; want whole records without a seal", err, rep)
	}
	for _, d := range rep.Damages {
		if d.Kind != logfmt.Cut {
			t.Errorf("log after SIGKILL has damage: %s", d)
		}
	}
	again := r.pull("b", false)
	again.eventually("the socket answers", 10*time.Second, func() bool {
		_, err := session.PlaceCall(again.log, session.Call{Act: "status"})
		return err == nil
	})
	time.Sleep(time.Second)
	if r.deck.State().RelayClosed {
		t.Error("a restarted program closed the relay without being armed")
	}
	again.hauling()
}

func TestAloneTerminatedUnderLoad(t *testing.T) {
	c := newRig(t).pull("a", false)
	c.hauling()
	c.eventually("load above slack", 5*time.Second, func() bool { s := c.status(); return s.TensionN != nil && *s.TensionN > 300 })
	since := c.now()
	c.cmd.Process.Signal(syscall.SIGTERM)
	c.mustOpen(since, "SIGTERM under load")
	if s := c.status(); s.StopCause != "PROGRAM TOLD TO END" || s.Ended != "" {
		t.Errorf("after one SIGTERM: stop %q, ended %q; want the capture to go on", s.StopCause, s.Ended)
	}
	c.cmd.Process.Signal(syscall.SIGTERM)
	c.sealedAndWhole()
	if code := c.cmd.ProcessState.ExitCode(); code != cli.ExitTripped {
		t.Errorf("exit code %d, want %d", code, cli.ExitTripped)
	}
}

func TestAloneClosedTerminal(t *testing.T) {
	c := newRig(t).pull("a", true)
	c.drain()
	c.hauling()
	since := c.now()
	c.tty.Close()
	c.mustOpen(since, "terminal closed")
	if s := c.status(); s.StopCause != "SCREEN GONE" {
		t.Errorf("stop cause %q, want SCREEN GONE", s.StopCause)
	}
	n := c.status().Records
	c.eventually("capture goes on", 2*time.Second, func() bool { return c.status().Records > n+50 })
	c.call("end", "")
	c.call("end", "")
	c.sealedAndWhole()
}

func TestAloneBlockedTerminal(t *testing.T) {
	c := newRig(t).pull("a", true) // nobody reads its screen
	c.hauling()
	since := c.now()
	n := c.status().Records
	time.Sleep(5 * time.Second)
	if after, why, opened := c.openedAfter(since); opened {
		t.Errorf("a blocked terminal opened the relay after %v (%s)", after, why)
	}
	if got := c.status().Records - n; got < 250 { // 50 + 20 lines a second
		t.Errorf("%d records in 5 s behind a blocked terminal, want 350 or so", got)
	}
	if a := c.call("stop", ""); !a.Done {
		t.Errorf("stop refused: %s", a.Refused)
	}
	c.call("end", "")
	c.call("end", "")
	c.sealedAndWhole()
}

// TestAloneFullDisk: a record that no longer fits is told, the guard goes on.
// The limit on the size of a file stands in for a disk with no room left.
func TestAloneFullDisk(t *testing.T) {
	r := newRig(t)
	r.under = []string{"sh", "-c", `ulimit -f 100; exec "$0" "$@"`} // blocks of 512 or 1024 bytes, by the shell
	c := r.pull("a", false)
	c.hauling()
	since := c.now()
	c.eventually("the disk is full and it is told", 40*time.Second, func() bool {
		return strings.Contains(c.out.String(), "RECORD FAILING")
	})
	time.Sleep(time.Second)
	if after, why, opened := c.openedAfter(since); opened {
		t.Errorf("a full disk opened the relay after %v (%s); want a warning, and the pull to go on", after, why)
	}
	since = c.now()
	if a := c.call("stop", ""); !a.Done {
		t.Errorf("stop refused: %s", a.Refused)
	}
	c.mustOpen(since, "a stop with a full disk")
}

func TestAloneKeysOnTheScreen(t *testing.T) {
	c := newRig(t).pull("a", true)
	c.drain()
	c.hauling()
	c.tty.WriteString("\x1a") // ctrl-z
	time.Sleep(600 * time.Millisecond)
	if s := c.status(); s.StopCause != "" || !s.HaulOpen {
		t.Errorf("ctrl-z: stop %q, haul permitted %v; want nothing to happen", s.StopCause, s.HaulOpen)
	}
	since := c.now()
	c.tty.WriteString(" ")
	c.mustOpen(since, "space")
	if s := c.status(); s.StopCause != "STOP CALLED" {
		t.Errorf("space: stop cause %q, want STOP CALLED", s.StopCause)
	}
}

// TestAloneRelayNobodyReads: a full stop port stalls nothing and is told.
func TestAloneRelayNobodyReads(t *testing.T) {
	r := newRig(t)
	master, slave, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer master.Close()
	defer slave.Close()
	if _, err := term.MakeRaw(slave.Fd()); err != nil {
		t.Fatal(err)
	}
	// Full to the brim, so that the first word to the relay has no room.
	fd := int(slave.Fd())
	syscall.SetNonblock(fd, true)
	for {
		if _, err := syscall.Write(fd, bytes.Repeat([]byte("#"), 64)); err != nil {
			break
		}
	}
	path := filepath.Join(r.dir, "trial.toml")
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	text = bytes.Replace(text, []byte(`"./deck/stop"`), fmt.Appendf(nil, "%q", slave.Name()), 1)
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	c := r.pull("a", false)
	c.eventually("scope known", 10*time.Second, func() bool {
		a, err := session.PlaceCall(c.log, session.Call{Act: "status"})
		return err == nil && a.Status.Scope != nil
	})
	c.arm()
	if a := c.call("stage", "pull"); !a.Done {
		t.Fatalf("stage pull refused: %s", a.Refused)
	}
	c.eventually("STOP OUTPUT LOST", 20*time.Second, func() bool { return c.status().StopCause == "STOP OUTPUT LOST" })
	n := c.status().Records
	c.eventually("capture goes on", 2*time.Second, func() bool { return c.status().Records > n+50 })
}

func TestAloneSecondCaptureOnOnePort(t *testing.T) {
	r := newRig(t)
	c := r.pull("a", false)
	c.hauling()
	since := c.now()
	second := r.pull("b", false)
	second.eventually("the second says the port is in use", 5*time.Second, func() bool {
		return strings.Contains(second.out.String(), "in use by another program")
	})
	time.Sleep(time.Second)
	if after, why, opened := c.openedAfter(since); opened {
		t.Errorf("a second capture opened the first one's relay after %v (%s)", after, why)
	}
	if s := c.status(); s.StopCause != "" {
		t.Errorf("first capture: stop %q", s.StopCause)
	}
}
