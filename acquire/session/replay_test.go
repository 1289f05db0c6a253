package session

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// playedLog is a log of three seconds of pull that ends in a stop.
func playedLog(t *testing.T) string {
	t.Helper()
	ins := steady()
	at := int64(steadyEnd)
	for i := range 30 {
		at += 100e6
		ins = append(ins, rx(at, "line", fmt.Sprintf("N %+08d\r\n", i*40)), rx(at, "load", fmt.Sprintf("+%06.1f kgf\r\n", 50+float64(i*10))))
	}
	ins = append(ins, act(at+1e6, ActStop, ""))
	path := filepath.Join(t.TempDir(), "played.log")
	if err := os.WriteFile(path, written(t, testHead(t), ins), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestReplayShowsWhatWasShown(t *testing.T) {
	r, err := OpenReplay(playedLog(t), "test", 10000)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Run(context.Background()); err != nil {
		t.Fatal(err)
	}
	s := r.Snapshot()
	if s.Mode != "replay" || !s.Ended || !strings.Contains(s.EndReason, "cut short") {
		t.Errorf("at the end: mode %q, ended %v, reason %q; want a replay of a log cut short", s.Mode, s.Ended, s.EndReason)
	}
	if s.Guard.Stop.Cause != safety.PersonStop || s.Run.ID != "A1" || s.Peak.Value < 3300 {
		t.Errorf("at the end: stop %+v, run %q, peak %v", s.Guard.Stop, s.Run.ID, s.Peak.Value)
	}
	if n := len(r.Fold().Diffs); n > 0 {
		t.Errorf("%d differences: %v", n, r.Fold().Diffs)
	}
	cols := r.Trace(TraceQuery{ByHaul: true, From: 0, To: 2, Cols: 20}, nil)
	hi := trial.Force(0)
	for _, c := range cols {
		if c.N > 0 {
			hi = max(hi, c.Hi)
		}
	}
	if len(cols) != 20 || hi != s.Peak.Value {
		t.Errorf("trace of %d columns with greatest %v, want 20 and the peak %v", len(cols), hi, s.Peak.Value)
	}
	r.Do(Act{What: ActStop})
	if s := r.Snapshot(); !strings.Contains(s.Refusal.Text, "this is a replay") {
		t.Errorf("an act in a replay: refusal %q", s.Refusal.Text)
	}
}

func TestReplayPausesStepsAndSpeeds(t *testing.T) {
	r, err := OpenReplay(playedLog(t), "test", 0.1)
	if err != nil {
		t.Fatal(err)
	}
	r.SetPaused(true)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- r.Run(ctx) }()
	wait := func(what string, ok func() bool) {
		t.Helper()
		for end := time.Now().Add(5 * time.Second); !ok(); time.Sleep(time.Millisecond) {
			if time.Now().After(end) {
				t.Fatalf("never: %s", what)
			}
		}
	}
	n := r.Snapshot().N
	for i := range uint64(5) {
		r.Step()
		wait("a step", func() bool { return r.Snapshot().N > n+i })
	}
	if got := r.Snapshot().N; got > n+7 {
		t.Errorf("paused, five steps: record %d from %d", got, n)
	}
	r.SetSpeed(10000)
	r.SetPaused(false)
	if err := <-done; err != nil {
		t.Error(err)
	}
	cancel()
	if !r.Snapshot().Ended {
		t.Error("not at the end after it was let go")
	}
	if r.SetSpeed(-1); r.Speed() != 0.1 {
		t.Errorf("speed of -1 gives %v, want the least, 0.1", r.Speed())
	}
}

// TestReplayTellsDamage: a line is lost; the screen says so, and what differs
// after it is marked as no wonder.
func TestReplayTellsDamage(t *testing.T) {
	path := playedLog(t)
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(string(b), "\n")
	cut := 0
	for i, l := range lines {
		if strings.Contains(l, "act=payout") {
			cut = i
		}
	}
	if err := os.WriteFile(path, []byte(strings.Join(append(lines[:cut:cut], lines[cut+1:]...), "")), 0o644); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	fold, damage, err := Refold(f, "test")
	if err != nil || len(damage) != 1 || damage[0].Kind != logfmt.Missing {
		t.Fatalf("refold: %v, damage %v; want one missing record", err, damage)
	}
	if len(fold.Diffs) == 0 {
		t.Fatal("the pull without its payout judges the same")
	}
	for _, d := range fold.Diffs {
		if !d.After {
			t.Errorf("difference not marked as after the damage: %v", d)
		}
	}
	found := false
	for _, n := range fold.Snapshot().News {
		found = found || strings.Contains(n.Text, "damaged")
	}
	if !found {
		t.Errorf("the screen's news says nothing of the damage: %v", fold.Snapshot().News)
	}
}

func TestCallsOverTheSocket(t *testing.T) {
	log := filepath.Join(t.TempDir(), "a.log")
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	c, err := Start(ctx, Config{Head: testHead(t), LogPath: log, Clock: acquire.NewClock(), Dir: "/nowhere",
		Dial: func(name string, p trial.Port) (acquire.Conn, error) {
			return nil, &acquire.PortError{Name: name, Fault: acquire.Missing}
		}})
	if err != nil {
		t.Fatal(err)
	}
	served := make(chan error, 1)
	go func() { served <- ServeCalls(ctx, c, log, func() {}) }()
	var a Answer
	for range 500 {
		if a, err = PlaceCall(log, Call{Act: "status"}); err == nil {
			break
		}
		time.Sleep(2 * time.Millisecond)
	}
	if err != nil || a.Status == nil || a.Status.Run != "A1" || a.Status.TensionN != nil {
		t.Fatalf("status: %+v, %v; want run A1 and no tension", a, err)
	}
	if info, err := os.Stat(SocketPath(log)); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("socket: %v, %v; want mode 0600", info.Mode(), err)
	}
	tests := []struct {
		call Call
		done bool
		say  string
	}{
		{Call{Act: "stop", Who: "watcher"}, true, ""},
		{Call{Act: "arm"}, false, "not armed"},
		{Call{Act: "stage", Stage: "sideways"}, false, "sideways"},
		{Call{Act: "terminate"}, false, "unknown call"},
		{Call{Act: "mark", Value: "felt\x1b[31m"}, true, ""},
		{Call{Act: "mark", Who: "ghost"}, false, "unknown seat"},
		{Call{Act: "payout", Value: "60"}, false, "unit"},
		{Call{Act: "depth", Value: "6 m", Who: "watcher"}, false, "read-only"},
	}
	for _, tt := range tests {
		a, err := PlaceCall(log, tt.call)
		if err != nil || a.Done != tt.done || !strings.Contains(a.Refused, tt.say) {
			t.Errorf("%+v: %+v, %v; want done %v, saying %q", tt.call, a, err, tt.done, tt.say)
		}
	}
	for _, n := range c.Snapshot().News {
		if strings.ContainsRune(n.Text, 0x1b) {
			t.Errorf("news holds a raw escape: %q", n.Text)
		}
	}
	if err := ServeCalls(ctx, c, log, func() {}); err == nil || !strings.Contains(err.Error(), "another capture") {
		t.Errorf("a second server on one socket: %v", err)
	}
	cancel()
	<-c.Done()
	if err := <-served; err != nil {
		t.Error(err)
	}
	if _, err := PlaceCall(log, Call{Act: "stop"}); err == nil || !strings.Contains(err.Error(), "no running capture") {
		t.Errorf("a call after the end: %v", err)
	}
}
