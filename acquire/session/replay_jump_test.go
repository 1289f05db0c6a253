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
