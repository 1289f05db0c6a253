//go:build alone && unix

package main

import (
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/charmbracelet/x/vt"
	"github.com/creack/pty"

	"hawse/acquire/session"
	"hawse/logfmt"
)

// seatOf is a program on a terminal of its own, and what a person reads there.
type seatOf struct {
	t    *testing.T
	cmd  *exec.Cmd
	tty  *os.File
	em   *vt.SafeEmulator
	dead chan struct{}
}

// sit starts the program on a terminal of 80x24.
func sit(t *testing.T, args ...string) *seatOf {
	t.Helper()
	path, err := program()
	if err != nil {
		t.Fatal(err)
	}
	s := &seatOf{t: t, cmd: exec.Command(path, args...), em: vt.NewSafeEmulator(80, 24), dead: make(chan struct{})}
	s.cmd.Env = append(os.Environ(), "TERM=xterm-256color", "LC_ALL=C.UTF-8", "NO_COLOR=")
	if s.tty, err = pty.StartWithSize(s.cmd, &pty.Winsize{Rows: 24, Cols: 80}); err != nil {
		t.Fatal(err)
	}
	go io.Copy(io.Discard, s.em) // its answers go nowhere: a terminal need not answer
	go io.Copy(s.em, s.tty)
	go func() { s.cmd.Wait(); close(s.dead) }()
	t.Cleanup(func() {
		s.cmd.Process.Signal(syscall.SIGCONT)
		s.cmd.Process.Kill()
		<-s.dead
		s.tty.Close()
	})
	return s
}

func (s *seatOf) shows(within time.Duration, wants ...string) {
	s.t.Helper()
	text := ""
	for end := time.Now().Add(within); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		text = s.em.String()
		all := true
		for _, w := range wants {
			all = all && strings.Contains(text, w)
		}
		if all {
			return
		}
	}
	s.t.Fatalf("not within %v on the screen: %q\n%s", within, wants, text)
}

// recordsOf are the records of a log for which keep is true.
func recordsOf(t *testing.T, path string, keep func(logfmt.Record) bool) (out []logfmt.Record) {
	t.Helper()
	f, err := logfmt.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for r := logfmt.NewReader(f); r.Next(); {
		if rec := r.Record(); keep(rec) {
			out = append(out, rec)
		}
	}
	return out
}

// TestAloneWatchCallsStop: a second terminal shows the tension and can stop; the
// stop is told as its person's, and leaving it ends nothing.
func TestAloneWatchCallsStop(t *testing.T) {
	c := newRig(t).pull("a", false)
	c.hauling()
	w := sit(t, "watch", "--log", c.log)
	w.shows(10*time.Second, "PULL", "kN", "s old", "no stop in force", "watch")
	w.tty.WriteString("n") // the director's key: this screen has none
	w.shows(5*time.Second, "it can call STOP (space) and nothing else")
	since := c.now()
	w.tty.WriteString(" ")
	c.mustOpen(since, "STOP from a watching screen")
	if s := c.status(); s.StopCause != "STOP CALLED" {
		t.Errorf("stop cause %q, want STOP CALLED", s.StopCause)
	}
	w.shows(5*time.Second, "STOP CALLED")
	time.Sleep(700 * time.Millisecond) // keys that come with something new are no orders
	w.tty.WriteString("q")
	select {
	case <-w.dead:
	case <-time.After(5 * time.Second):
		t.Error("q does not leave the watching screen")
	}
	n := c.status().Records
	c.eventually("capture goes on", 2*time.Second, func() bool { return c.status().Records > n+50 })
	c.call("end", "")
	c.call("end", "")
	c.sealedAndWhole()
	stops := recordsOf(t, c.log, func(r logfmt.Record) bool { return r.Kind == logfmt.Act && r.Str("act") == session.ActStop })
	if len(stops) != 1 || stops[0].Str("who") != "watcher" {
		t.Errorf("acts of stop in the record: %v; want one, by the watcher", stops)
	}
}

// TestAloneStalledWatchersHoldUpNothing: a watching screen that was stopped, and
// watchers that ask without end and read nothing, make no record late.
func TestAloneStalledWatchersHoldUpNothing(t *testing.T) {
	c := newRig(t).pull("a", false)
	c.hauling()
	w := sit(t, "watch", "--log", c.log)
	w.shows(10*time.Second, "no stop in force")
	w.cmd.Process.Signal(syscall.SIGSTOP)
	ask := []byte(`{"traces":[{"From":0,"To":100,"Cols":2000,"ByHaul":true},{"From":0,"To":1e12,"Cols":2000}]}` + "\n")
	for range 4 {
		conn, err := net.Dial("unix", session.WatchPath(c.log))
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		go func() {
			for {
				if _, err := conn.Write(ask); err != nil {
					return
				}
			}
		}()
	}
	n := c.status().Records
	c.eventually("400 records more behind watchers that read nothing", 30*time.Second, func() bool { return c.status().Records > n+400 })
	if s := c.status(); s.StopCause != "" || !s.HaulOpen || s.Lost > 0 {
		t.Errorf("stop %q, haul permitted %v, %d lost; want the pull to go on", s.StopCause, s.HaulOpen, s.Lost)
	}
	c.call("stop", "")
	c.call("end", "")
	c.call("end", "")
	c.sealedAndWhole()
	late := recordsOf(t, c.log, func(r logfmt.Record) bool {
		return r.Kind == logfmt.PortEvent && (r.Str("src") == session.SrcQueue || r.Str("src") == session.SrcJudge || r.Str("src") == session.SrcRecord && r.Str("state") != "ok")
	})
	if len(late) > 0 {
		t.Errorf("stalled watchers made the capture late: %v", late)
	}
}

// TestAloneWatchBlanksWhatItDoesNotHear: a capture that stands still is told on
// the watching screen, with the age, and no tension is shown.
func TestAloneWatchBlanksWhatItDoesNotHear(t *testing.T) {
	c := newRig(t).pull("a", false)
	c.hauling()
	w := sit(t, "watch", "--log", c.log)
	w.shows(10*time.Second, "no stop in force", "s old")
	c.cmd.Process.Signal(syscall.SIGSTOP)
	w.shows(5*time.Second, "SCREEN DATA STALLED", "Tension unknown: treat as loaded.", "order unknown")
	if text := w.em.String(); strings.Contains(text, "s old") || strings.Contains(text, "no stop in force") {
		t.Errorf("a capture that stands still is shown as if it spoke:\n%s", text)
	}
	c.cmd.Process.Signal(syscall.SIGCONT)
	w.shows(10*time.Second, "PROGRAM STOOD STILL")
	c.call("end", "")
	c.call("end", "")
	c.sealedAndWhole()
	w.shows(5*time.Second, "ended: nothing is watched now")
	if text := w.em.String(); strings.Contains(text, "STALLED") {
		t.Errorf("a capture that has ended is shown as one that hangs:\n%s", text)
	}
}

// TestAloneWatchWithTheDirectorsKeys: only where the trial file allows it.
func TestAloneWatchWithTheDirectorsKeys(t *testing.T) {
	r := newRig(t)
	path := filepath.Join(r.dir, "trial.toml")
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, append(text, "\n[screens]\nwatch_keys = true\n"...), 0o644); err != nil {
		t.Fatal(err)
	}
	c := r.pull("a", false)
	c.hauling()
	w := sit(t, "watch", "--log", c.log, "--view", "director")
	w.shows(10*time.Second, "no stop in force")
	w.tty.WriteString("s")
	w.shows(5*time.Second, "Which stage is it now?")
	time.Sleep(300 * time.Millisecond)
	w.tty.WriteString("6") // ease
	c.eventually("the stage said at the watching screen", 5*time.Second, func() bool { return c.status().Stage == "ease" })
}

// TestAloneDemoEndsWithItsTerminal: a demo whose terminal is gone tells the loss
// in its record, and ends.
func TestAloneDemoEndsWithItsTerminal(t *testing.T) {
	log := filepath.Join(t.TempDir(), "demo.log")
	d := sit(t, "demo", "--log", log, "--speed", "20")
	d.shows(60*time.Second, "PULL", "haul permitted")
	d.tty.Close()
	select {
	case <-d.dead:
	case <-time.After(20 * time.Second):
		t.Fatal("the demo runs on without its terminal")
	}
	rep, err := logfmt.VerifyFile(log)
	if err != nil || !rep.Whole {
		t.Errorf("log: %v, %+v; want it sealed and whole", err, rep)
	}
	told := recordsOf(t, log, func(r logfmt.Record) bool {
		return r.Kind == logfmt.PortEvent && r.Str("src") == session.SrcScreen && r.Str("state") == "lost" ||
			r.Kind == logfmt.Say && r.Str("what") == "stop-set" && r.Str("cause") == "screen-gone" || r.Kind == logfmt.End
	})
	if len(told) != 3 || told[2].Str("reason") != "the demo's terminal is gone" {
		t.Errorf("told in the record: %s; want the screen lost, a stop for it, and the end", fmt.Sprint(told))
	}
}
