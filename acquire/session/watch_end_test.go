package session

import (
	"fmt"
	"net"
	"path/filepath"
	"testing"
	"time"
)

// A capture that ends and goes is seen to have ended: by the last snapshot, which
// it keeps for a moment, or by its log where the watcher came too late for it.
func TestWatchSeesTheEnd(t *testing.T) {
	for range 20 {
		v, log, stop := watched(t, false)
		w := watching(t, log)
		v.set(func(s *Snapshot) { s.Ended, s.EndReason, s.N = true, "pull complete", 99 })
		stop()
		soon(t, "the end, told by the capture itself", func() bool { return w.Snapshot().Ended })
		if s := w.Snapshot(); s.N != 99 || s.EndReason != "pull complete" {
			t.Fatalf("record %d, %q; want the last snapshot", s.N, s.EndReason)
		}
	}

	h := byHand(t)
	h.run(2 * time.Second)
	for _, sealed := range []bool{false, true} {
		v, log, stop := watched(t, false)
		v.set(func(s *Snapshot) { s.Guard.Permit, s.Haul.Known = true, true })
		w := watching(t, log)
		soon(t, "the permit", func() bool { return w.Snapshot().Guard.Permit })
		if sealed {
			h.sealed(t, filepath.Dir(log), filepath.Base(log))
		} else {
			h.put(t, filepath.Dir(log), filepath.Base(log))
		}
		stop()
		if !sealed {
			time.Sleep(2 * watchAgain)
			if s := w.Snapshot(); s.Ended || time.Since(s.Made) < watchAgain {
				t.Errorf("a capture that is gone without an end in its log: ended %v, %v old; want it old", s.Ended, time.Since(s.Made))
			}
			continue
		}
		soon(t, "the end in the log", func() bool { return w.Snapshot().Ended })
		if s := w.Snapshot(); s.EndReason != "test" || s.Guard.Permit || s.Tension.Known || s.Haul.Known || s.Load.State != "closed" {
			t.Errorf("ended %q, permit %v, tension %v, hauled %v, load %s; want nothing known any more", s.EndReason, s.Guard.Permit, s.Tension.Known, s.Haul.Known, s.Load.State)
		}
	}
}

// A watcher that never reads again does not keep an ended capture for long.
func TestWatchEndWaitsForNobodyLong(t *testing.T) {
	v, log, stop := watched(t, false)
	conn, err := net.Dial("unix", WatchPath(log))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	fmt.Fprintln(conn, `{}`)
	time.Sleep(50 * time.Millisecond)
	v.set(func(s *Snapshot) { s.Ended = true })
	began := time.Now()
	stop()
	if took := time.Since(began); took > lastWord+watchPatient {
		t.Errorf("the end waited %v for a watcher that asks no more", took)
	}
}
