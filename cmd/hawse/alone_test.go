//go:build alone && unix

package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/charmbracelet/x/term"
	"github.com/creack/pty"

	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/logfmt"
)

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
