//go:build alone && unix

package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/cmd/hawse/system"
	"hawse/logfmt"
)

// start starts a headless capture with its log at the given place.
func (r *rig) start(log string, more ...string) *child {
	r.t.Helper()
	path, err := program()
	if err != nil {
		r.t.Fatal(err)
	}
	c := &child{rig: r, log: log, out: &lockedBuffer{}, dead: make(chan struct{})}
	c.cmd = exec.Command(path, append([]string{"pull", filepath.Join(r.dir, "trial.toml"), "--run", "A1", "--headless", "--log", log}, more...)...)
	c.cmd.Stdout, c.cmd.Stderr = c.out, c.out
	r.run(c, c.cmd.Start)
	return c
}

// run starts a child and ends it with the test.
func (r *rig) run(c *child, start func() error) {
	r.t.Helper()
	if err := start(); err != nil {
		r.t.Fatal(err)
	}
	go func() { c.cmd.Wait(); close(c.dead) }()
	r.t.Cleanup(func() {
		c.cmd.Process.Kill()
		<-c.dead
		if c.tty != nil {
			c.tty.Close()
		}
	})
}

// refoldFile folds a log without waiting and says how it compares with what was
// said then.
func refoldFile(path string) (*session.Fold, []logfmt.Damage, error) {
	f, err := logfmt.Open(path)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	return session.Refold(f, cli.Build())
}

func (c *child) answers() {
	c.t.Helper()
	c.eventually("the socket answers", 10*time.Second, func() bool {
		_, err := session.PlaceCall(c.log, session.Call{Act: "status"})
		return err == nil
	})
}

func (c *child) say(act, value string) session.Answer {
	c.t.Helper()
	a, err := session.PlaceCall(c.log, session.Call{Act: act, Value: value, Name: "test"})
	if err != nil {
		c.t.Fatalf("call %s: %v\n%s", act, err, c.out)
	}
	return a
}

// TestAloneKillLosesNothing: what the sender knows it sent is in the log, or in
// the memory beside it, or still in the terminal.
func TestAloneKillLosesNothing(t *testing.T) {
	path, err := program()
	if err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(path, "bench", "kill", "--times", "20", "--seed", fmt.Sprint(time.Now().UnixNano())).CombinedOutput()
	t.Logf("%s", out)
	if err != nil {
		t.Errorf("%v", err)
	}
}

// TestAloneGoesOnAfterAKill: a pull that was killed under a latched stop goes on
// in a new log that names the old one, with what a person confirms.
func TestAloneGoesOnAfterAKill(t *testing.T) {
	r := newRig(t)
	a := r.pull("a", false)
	a.hauling()
	if got := a.say("lower", "tension_stop 5 kN"); !got.Done {
		t.Fatalf("lower refused: %s", got.Refused)
	}
	a.eventually("something hauled", 10*time.Second, func() bool { s := a.status(); return s.HauledM != nil && *s.HauledM > 0.3 })
	a.say("stop", "")
	time.Sleep(300 * time.Millisecond)
	was := a.status()
	out := was.RodeOutM
	if out == nil || was.PeakN == nil {
		t.Fatal("rode out or peak unknown before the kill")
	}
	a.cmd.Process.Kill()
	<-a.dead

	b := r.start(filepath.Join(r.dir, "b.log"))
	b.answers()
	for _, want := range []string{"a.log was not ended", "records whole", "going on from it", "haul, lower tension_stop"} {
		if !strings.Contains(b.out.String(), want) {
			t.Errorf("the start does not say %q:\n%s", want, b.out)
		}
	}
	if s := b.status(); s.StopCause != "STOP CALLED" || s.HaulOpen || s.Scope != nil {
		t.Errorf("after the kill: stop %q, haul %v, scope %v; want the stop latched, the rest not yet in force", s.StopCause, s.HaulOpen, s.Scope)
	}
	if s := b.status(); s.PeakN == nil || *s.PeakN != *was.PeakN || s.TimeS < was.TimeS {
		t.Errorf("after the kill: peak %v at %.1f s; want %.1f N, and time to go on from %.1f s", s.PeakN, s.TimeS, *was.PeakN, was.TimeS)
	}
	b.eventually("all is carried over", 10*time.Second, func() bool { return b.say("carry", "all").Done })
	b.eventually("scope known", 5*time.Second, func() bool { return b.status().Scope != nil })
	if got := b.status().RodeOutM; got == nil || *got < *out-0.5 || *got > *out+0.5 {
		t.Errorf("rode out %v, was %v", got, *out)
	}
	b.say("ack", "")
	b.eventually("re-armed into the stage", 5*time.Second, func() bool { return b.call("rearm", "pull").Done })
	time.Sleep(300 * time.Millisecond)
	if r.deck.State().RelayClosed {
		t.Error("the relay closed before anybody armed")
	}
	b.arm()
	b.eventually("relay closed", 2*time.Second, func() bool { return r.deck.State().RelayClosed })
	b.call("end", "")
	b.call("end", "")
	b.sealedAndWhole()
	code, said, errOut := hawse("replay", "--check", a.log)
	if code != cli.ExitDone || !strings.Contains(said, "part 2 of 2") || strings.Contains(said, "broken") {
		t.Errorf("both as one pull: code %d\n%s%s", code, said, errOut)
	}
	o, err := session.ReadOpening(b.log)
	if err != nil || o.Predecessor != "a.log" || len(o.PredSHA256) != 64 {
		t.Errorf("chain in the head: %+v, %v", o, err)
	}
	for _, k := range []*child{a, b} {
		if left, err := session.KeptOf(system.KeepDir(), k.log); err != nil || len(left) > 0 {
			t.Errorf("still kept of %s: %d, %v", filepath.Base(k.log), len(left), err)
		}
	}

	// Ended, so that the next one begins anew; and --new does in any case.
	c := r.start(filepath.Join(r.dir, "c.log"))
	c.answers()
	c.cmd.Process.Kill()
	<-c.dead
	d := r.start(filepath.Join(r.dir, "d.log"), "--new")
	d.answers()
	for _, k := range []*child{c, d} {
		if o, err := session.ReadOpening(k.log); err != nil || o.Predecessor != "" || strings.Contains(k.out.String(), "not ended") {
			t.Errorf("%s goes on from %q, %v\n%s", filepath.Base(k.log), o.Predecessor, err, k.out)
		}
	}
}

// TestAloneDiskFull: a small disk fills up. It is told before, the guard goes on,
// the copy on another disk is whole, and so is the log once there is room.
func TestAloneDiskFull(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("no small disk to be had here")
	}
	r := newRig(t)
	small, other := filepath.Join(r.dir, "small"), filepath.Join(r.dir, "other")
	for _, dir := range []string{small, other} {
		if err := os.Mkdir(dir, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if err := mountSmall(small, "size=2m"); err != nil {
		t.Skipf("no small disk to be had here: %v", err)
	}
	t.Cleanup(func() { unmountSmall(small) })
	filler := filepath.Join(small, "filler")
	if err := os.WriteFile(filler, bytes.Repeat([]byte("x"), 2<<20-220<<10), 0o644); err != nil {
		t.Fatal(err)
	}
	c := r.start(filepath.Join(small, "a.log"), "--also-to", other, "--depth", "6 m", "--payout", "60 m")
	c.hauling()
	since := c.now()
	c.eventually("it is told that the disk will be full", 40*time.Second, func() bool { return strings.Contains(c.out.String(), "record short: ") })
	if strings.Contains(c.out.String(), "RECORD FAILING") {
		t.Error("told only when it was full")
	}
	c.eventually("the disk is full and it is told", 90*time.Second, func() bool { return strings.Contains(c.out.String(), "RECORD FAILING") })
	if !strings.Contains(c.out.String(), "the second log goes on") {
		t.Errorf("nothing of the copy:\n%s", c.out)
	}
	time.Sleep(2 * time.Second)
	if after, why, opened := c.openedAfter(since); opened {
		t.Errorf("a full disk opened the relay after %v (%s); want a warning, and the pull to go on", after, why)
	}
	if err := os.Remove(filler); err != nil {
		t.Fatal(err)
	}
	c.eventually("nothing waits any more", 10*time.Second, func() bool { s := c.status(); return s.Lost == 0 && s.OnDisk > s.Records-100 })
	c.call("end", "")
	c.call("end", "")
	c.sealedAndWhole()
	one, _ := os.ReadFile(c.log)
	two, err := os.ReadFile(filepath.Join(other, "a.log"))
	if err != nil || !bytes.Equal(one, two) {
		t.Errorf("log of %d bytes, copy of %d, %v: not equal", len(one), len(two), err)
	}
	if rep, err := logfmt.VerifyFile(filepath.Join(other, "a.log")); err != nil || !rep.Whole || rep.Beside != logfmt.BesideAgrees {
		t.Errorf("copy: %v, %s", err, rep.Verdict())
	}
}

// TestAloneHangUpHeadless: without a screen a hang-up means nothing.
func TestAloneHangUpHeadless(t *testing.T) {
	c := newRig(t).pull("a", false)
	c.hauling()
	since := c.now()
	c.cmd.Process.Signal(syscall.SIGHUP)
	time.Sleep(time.Second)
	if after, why, opened := c.openedAfter(since); opened {
		t.Errorf("SIGHUP without a screen opened the relay after %v (%s)", after, why)
	}
	if s := c.status(); s.StopCause != "" || s.Ended != "" {
		t.Errorf("stop %q, ended %q; want neither", s.StopCause, s.Ended)
	}
}

// panicView is a capture whose screen panics once a file is there.
type panicView struct {
	*session.Capture
	when string
}

func (v panicView) Snapshot() *session.Snapshot {
	if _, err := os.Stat(v.when); err == nil {
		panic("the screen was made to fail")
	}
	return v.Capture.Snapshot()
}

const panicEnv = "HAWSE_TEST_PANIC_IN"

// TestAloneHelperWithAScreenThatPanics is the capture of the test below, as a
// process of its own.
func TestAloneHelperWithAScreenThatPanics(t *testing.T) {
	dir := os.Getenv(panicEnv)
	if dir == "" {
		t.Skip("only as a process of its own")
	}
	tr, run, err := readTrial(filepath.Join(dir, "trial.toml"), "A1")
	if err != nil {
		t.Fatal(err)
	}
	c := newPull()
	c.SetContext(t.Context())
	err = pullOf{Head: session.Head{Mode: "live", Scale: 1, Trial: tr, File: "trial.toml", Run: run},
		Log: filepath.Join(dir, "a.log"), Dir: dir, Clock: acquire.NewClock(),
		View: func(cap *session.Capture) session.View { return panicView{cap, filepath.Join(dir, "panic now")} }}.run(c)
	if err != nil {
		t.Log(err)
	}
}

// TestAloneScreenPanics: STOP, haul drops, capture and guard go on headless.
func TestAloneScreenPanics(t *testing.T) {
	r := newRig(t)
	c := &child{rig: r, log: filepath.Join(r.dir, "a.log"), out: &lockedBuffer{}, dead: make(chan struct{})}
	c.cmd = exec.Command(os.Args[0], "-test.run=^TestAloneHelperWithAScreenThatPanics$")
	c.cmd.Env = append(slices.Clone(os.Environ()), panicEnv+"="+r.dir, "TERM=xterm-256color")
	r.run(c, func() (err error) {
		c.tty, err = pty.StartWithSize(c.cmd, &pty.Winsize{Rows: 40, Cols: 120})
		return err
	})
	c.drain()
	c.answers()
	c.eventually("counts", 5*time.Second, func() bool { return c.status().HauledAge != nil })
	c.say("depth", "6 m")
	c.eventually("rode out said", 5*time.Second, func() bool { return c.say("payout", "60 m").Done })
	c.hauling()
	since := c.now()
	write(t, filepath.Join(r.dir, "panic now"), "")
	c.mustOpen(since, "a panic in the screen")
	if s := c.status(); s.StopCause != "SCREEN GONE" {
		t.Errorf("stop cause %q, want SCREEN GONE", s.StopCause)
	}
	n := c.status().Records
	c.eventually("capture goes on", 2*time.Second, func() bool { return c.status().Records > n+50 })
	c.call("end", "")
	c.call("end", "")
	c.sealedAndWhole()
}
