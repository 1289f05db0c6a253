package session

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"hawse/safety"
)

// playing is a replay that waits, paused at its start.
func playing(t *testing.T, path string) *Replay {
	t.Helper()
	r, err := OpenReplay(path, "test", 1)
	if err != nil {
		t.Fatal(err)
	}
	r.SetPaused(true)
	r.Linger()
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- r.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-done; err != nil {
			t.Errorf("Run: %v", err)
		}
	})
	return r
}

// settled waits until a replay has come to where it hurries.
func settled(t *testing.T, r *Replay) *Snapshot {
	t.Helper()
	soon(t, "the replay has come to rest", func() bool {
		r.mu.Lock()
		defer r.mu.Unlock()
		return r.goal == nil
	})
	n := r.Snapshot().N
	for range 20 {
		time.Sleep(5 * time.Millisecond)
		if m := r.Snapshot().N; m != n {
			n = m
		}
	}
	return r.Snapshot()
}

func TestSeekToIsWhatPlayingThereShows(t *testing.T) {
	path := playedLog(t)
	r := playing(t, path)
	mid := int64(steadyEnd) + int64(1500*time.Millisecond)
	for _, to := range []int64{mid, int64(steadyEnd) + int64(2500*time.Millisecond), mid, 0, mid} {
		r.SeekTo(to)
		s := settled(t, r)
		if s.T < to || s.T > to+int64(200*time.Millisecond) {
			t.Fatalf("sought %v, the replay stands at %v", time.Duration(to), time.Duration(s.T))
		}
		if to != mid {
			continue
		}
		// However it came there, it shows what a replay shows that went straight there.
		straight := playing(t, path)
		straight.SeekTo(mid)
		want := settled(t, straight)
		if d := cmp.Diff(want.Guard, s.Guard, cmpopts.IgnoreUnexported(safety.State{})); d != "" || want.N != s.N || want.Tension.Big != s.Tension.Big {
			t.Errorf("at %v, record %d, want %d (-straight +there and back):\n%s", time.Duration(to), s.N, want.N, d)
		}
	}
}

func TestJumpsFromPointToPoint(t *testing.T) {
	r := playing(t, playedLog(t))
	var there []int64
	for range 50 {
		r.Jump(AnyPoint, false)
		s := settled(t, r)
		if s.Ended {
			break
		}
		there = append(there, s.T)
	}
	if len(there) < 3 || !slices.IsSorted(there) || len(slices.Compact(slices.Clone(there))) != len(there) {
		t.Fatalf("jumped on to %v: want several, each later than the last", there)
	}
	r.SeekTo(0)
	settled(t, r)
	s := settled(t, r)
	for range 10 { // others come before it
		r.Jump(AlarmPoint, false)
		if s = settled(t, r); s.Guard.Stop.Kind == safety.Trip || s.Ended {
			break
		}
	}
	if s.Guard.Stop.Kind != safety.Trip || s.Ended {
		t.Errorf("on from alarm to alarm: stop %v, ended %v; want the stop that was called", s.Guard.Stop.Kind, s.Ended)
	}
	r.Jump(AnyPoint, true)
	if before := settled(t, r); before.T >= s.T {
		t.Errorf("back from %v is %v", s.T, before.T)
	}
	r.SeekTo(1 << 62)
	if s := settled(t, r); !s.Ended {
		t.Error("sought behind the end, and not at the end")
	}
}

// Moves that come faster than the replay follows lead where they lead one by one,
// and steps are counted.
func TestMovesTooFastAreNotLost(t *testing.T) {
	path := playedLog(t)
	slow, fast := playing(t, path), playing(t, path)
	start := int64(steadyEnd)
	for _, tt := range []struct {
		name  string
		moves []func(*Replay)
	}{
		{"on from point to point", []func(*Replay){on(AnyPoint), on(AnyPoint), on(AnyPoint)}},
		{"back in time", []func(*Replay){by(-time.Second), by(-time.Second), by(-time.Second)}},
		{"on in time", []func(*Replay){by(300 * time.Millisecond), by(300 * time.Millisecond), by(-100 * time.Millisecond)}},
		{"back from point to point", []func(*Replay){back(AnyPoint), back(AnyPoint)}},
		{"there and back", []func(*Replay){on(AlarmPoint), by(-2 * time.Second), on(AnyPoint), back(AnyPoint)}},
		{"over the end and back", []func(*Replay){by(time.Hour), on(AnyPoint), by(-time.Second)}},
		{"over the end by points, and back", []func(*Replay){on(MarkPoint), on(MarkPoint), on(MarkPoint), back(AnyPoint), back(AnyPoint)}},
	} {
		for _, r := range []*Replay{slow, fast} {
			r.SeekTo(start)
			settled(t, r)
		}
		for _, m := range tt.moves {
			m(slow)
			settled(t, slow)
		}
		for _, m := range tt.moves {
			m(fast)
		}
		want, got := settled(t, slow), settled(t, fast)
		if apart := got.T - want.T; apart < -pointGap || apart > pointGap || got.Ended != want.Ended {
			t.Errorf("%s: at once to %v, ended %v; one by one to %v, ended %v", tt.name, time.Duration(got.T), got.Ended, time.Duration(want.T), want.Ended)
		}
	}
	fast.SeekTo(start)
	n := settled(t, fast).N
	for range 7 {
		fast.Step()
	}
	if got := settled(t, fast).N; got != n+7 {
		t.Errorf("seven steps at once go from record %d to %d", n, got)
	}
}

func on(k PointKind) func(*Replay)     { return func(r *Replay) { r.Jump(k, false) } }
func back(k PointKind) func(*Replay)   { return func(r *Replay) { r.Jump(k, true) } }
func by(d time.Duration) func(*Replay) { return func(r *Replay) { r.SeekBy(int64(d)) } }
