package logfmt

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
)

// The disk is full at every byte of the log in turn, and room comes back:
// nothing is doubled, nothing is lost.
func TestDiskFullAtEveryByte(t *testing.T) {
	recs := sampleRecords(6)
	total := len(encode(recs, true)) + 64 + len("  pull.log\n")
	for room := range total {
		synctest.Test(t, func(t *testing.T) {
			f := newFaultFS(nil)
			f.room, f.full = room, syscall.ENOSPC
			l := mustCreate(t, Options{FS: f, Clock: func() int64 { return 77 }})
			putAll(l, recs)
			synctest.Wait()
			open := len(encode(recs, false))
			s := l.Status()
			if full := room < open; full != (s.Err != nil) || full && (!errors.Is(s.Err, syscall.ENOSPC) || s.Since != 77) {
				t.Fatalf("room for %d of %d bytes: %+v", room, open, s)
			}
			if s.Bytes != int64(min(room, open)) || s.Written != uint64(bytes.Count(encode(recs, false)[:min(room, open)], []byte("\n"))) {
				t.Fatalf("room for %d bytes: %+v", room, s)
			}
			go func() {
				time.Sleep(3 * time.Second)
				f.setRoom(-1)
			}()
			if err := l.Seal(endOf(recs)); err != nil {
				t.Fatalf("room for %d bytes: Seal: %v", room, err)
			}
			if s := l.Status(); s.Err != nil || s.Since != 0 || s.Dropped != 0 || s.OldestNotOnDisk != -1 || s.OnDisk != 7 {
				t.Errorf("room for %d bytes, then more: %+v", room, s)
			}
			checkSealed(t, f, recs)
		})
	}
}

// A disk that stays full lets Seal return and keep trying, and Close give up.
func TestDiskStaysFull(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFaultFS(nil)
		f.room, f.full = 200, syscall.ENOSPC
		l := mustCreate(t, Options{FS: f})
		recs := sampleRecords(6)
		putAll(l, recs)
		for range 2 {
			err := l.Seal(endOf(recs))
			if !errors.Is(err, ErrNotSealed) || !errors.Is(err, syscall.ENOSPC) {
				t.Fatalf("Seal on a full disk: %v", err)
			}
			for _, part := range []string{logPath, "byte 200", "no space left on device", "make room"} {
				if !strings.Contains(err.Error(), part) {
					t.Errorf("error %q does not say %q", err, part)
				}
			}
		}
		f.setRoom(-1)
		if err := l.Seal(Record{}); err != nil {
			t.Fatalf("Seal with room again: %v", err)
		}
		checkSealed(t, f, recs)
	})
	synctest.Test(t, func(t *testing.T) {
		f := newFaultFS(nil)
		f.room, f.full = 200, syscall.ENOSPC
		l := mustCreate(t, Options{FS: f})
		recs := sampleRecords(6)
		putAll(l, recs)
		err := l.Close()
		if !errors.Is(err, syscall.ENOSPC) || !strings.Contains(err.Error(), "5 records in memory were not written") {
			t.Errorf("Close on a full disk: %v", err)
		}
		if got := f.now(logPath); !bytes.Equal(got, encode(recs, false)[:200]) {
			t.Errorf("log after giving up: %q", got)
		}
		if err := l.Seal(endOf(recs)); !errors.Is(err, ErrClosed) {
			t.Errorf("Seal after giving up: %v", err)
		}
		if s := l.Status(); s.OldestNotOnDisk != recs[1].T || s.Written != 1 || s.Queued != 6 {
			t.Errorf("status after giving up: %+v", s)
		}
	})
}

// A call that never returns cannot hold up the program's end.
func TestDiskHangs(t *testing.T) {
	for _, what := range []string{"write", "sync", "close"} {
		t.Run(what, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				stall := make(chan struct{})
				f := newFaultFS(nil)
				f.plan = func(o op) (tr trouble) {
					if o.what == what {
						tr.stall = stall
					}
					return tr
				}
				l := mustCreate(t, Options{FS: f, CloseWait: time.Second})
				recs := sampleRecords(6)
				putAll(l, recs)
				start := time.Now()
				if err := l.Seal(endOf(recs)); !errors.Is(err, ErrNotSealed) || !strings.Contains(err.Error(), "does not answer") {
					t.Errorf("Seal: %v", err)
				}
				if err := l.Close(); err == nil || !strings.Contains(err.Error(), "does not answer") {
					t.Errorf("Close: %v", err)
				}
				if took := time.Since(start); took > 5*time.Second {
					t.Errorf("took %v", took)
				}
				close(stall)
				if err := l.Close(); what == "write" && err == nil {
					t.Error("Close after all, though the log was given up: no error")
				}
			})
		})
	}
}

func TestQueueFull(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFaultFS(nil)
		f.room, f.full = 300, syscall.ENOSPC
		recs := sampleRecords(200)
		l := mustCreate(t, Options{FS: f, MaxQueueBytes: 6000})
		putAll(l, recs[:150])
		synctest.Wait()
		s := l.Status()
		if s.Dropped == 0 || s.Queued >= 150 || s.Queued < 20 || s.Queued+s.Dropped < 150 {
			t.Errorf("status with a full queue: %+v", s)
		}
		f.setRoom(-1)
		time.Sleep(time.Second)
		for i := 150; i < len(recs); i += 10 {
			putAll(l, recs[i:i+10])
			synctest.Wait()
		}
		if err := l.Seal(endOf(recs)); err != nil {
			t.Fatal(err)
		}
		if got := l.Status().Dropped; got != s.Dropped {
			t.Errorf("dropped %d, then %d with room again", s.Dropped, got)
		}
		read, damage, rep := readAll(f.now(logPath))
		if len(read) != 201-int(s.Dropped) || !rep.SealGood || rep.Whole || rep.Lost != s.Dropped {
			t.Errorf("%d records of 201, %d dropped, report %+v", len(read), s.Dropped, rep)
		}
		for _, d := range damage {
			if d.Kind != Missing || !strings.Contains(d.Text, "never reached the disk") {
				t.Errorf("damage %v, want only records that never reached the disk", d)
			}
		}
	})
}

// A failed sync is never made good by a later one.
func TestFailedSync(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var bad atomic.Bool
		f := newFaultFS(func(o op) (tr trouble) {
			if o.what == "sync" && bad.Load() {
				tr.err = syscall.EIO
			}
			return tr
		})
		l := mustCreate(t, Options{FS: f, Clock: func() int64 { return 99 }})
		recs := sampleRecords(20)
		putAll(l, recs[:5])
		time.Sleep(time.Second)
		bad.Store(true)
		putAll(l, recs[5:10])
		time.Sleep(time.Second)
		bad.Store(false)
		putAll(l, recs[10:])
		time.Sleep(time.Second)
		s := l.Status()
		if s.OnDisk != 5 || s.Written != 20 || s.OldestNotOnDisk != recs[5].T || s.BytesOnDisk != int64(len(encode(recs[:5], false))) || s.Since != 99 {
			t.Errorf("status after a failed sync and good ones: %+v", s)
		}
		if !errors.Is(s.Err, syscall.EIO) || !strings.Contains(s.Err.Error(), "may be lost") {
			t.Errorf("standing fault: %v", s.Err)
		}
		got, _, _ := readAll(f.afterPowerCut(logPath))
		if diff := cmp.Diff(append(recs[:5:5], recs[10:]...), got); diff != "" {
			t.Errorf("after a power cut (-want +got):\n%s", diff)
		}
		if err := l.Seal(endOf(recs)); !errors.Is(err, syscall.EIO) {
			t.Errorf("Seal: %v, want the failed sync told", err)
		}
		checkSealed(t, f, recs)
	})
}

// The first call fails, then the second, and so on until a run has no such
// call: once with a fault that passes, once with one that stays.
func TestEveryCallFails(t *testing.T) {
	recs := sampleRecords(12)
	whole := encode(recs, true)
	for _, stays := range []bool{false, true} {
		for _, kind := range []trouble{{err: syscall.EIO}, {err: syscall.ENOSPC, takes: 7}, {short: 5}} {
			for failAt, met := 0, true; met; failAt++ {
				met = false
				synctest.Test(t, func(t *testing.T) {
					var failed op
					f := newFaultFS(nil)
					f.plan = func(o op) trouble {
						if o.index == failAt || stays && met && o.what == failed.what {
							failed, met = o, true
							return kind
						}
						return trouble{}
					}
					name := fmt.Sprintf("stays %v, %+v, call %d", stays, kind, failAt)
					l, err := Create(logPath, Options{FS: f})
					if err != nil {
						if !met || l != nil {
							t.Errorf("%s: Create: %v", name, err)
						}
						return
					}
					for i := range recs {
						l.Put(recs[i])
						if i%4 == 3 {
							time.Sleep(150 * time.Millisecond)
						}
					}
					sealErr := l.Seal(endOf(recs))
					closeErr := l.Close()
					got := f.now(logPath)
					if !bytes.HasPrefix(whole, got) {
						t.Errorf("%s (%+v): the file is no beginning of the log:\n%s", name, failed, cmp.Diff(string(whole), string(got)))
					}
					s := l.Status()
					safe, _, _ := readAll(f.afterPowerCut(logPath))
					if uint64(len(safe)) < s.OnDisk {
						t.Errorf("%s: %d records survive a power cut, status says %d", name, len(safe), s.OnDisk)
					}
					// A write or create that fails once is tried again, and so is
					// a write that takes a little each time.
					again := failed.what == "write" && (!stays || kind.takes > 0) || failed.what == "create" && !stays
					fatal := met && kind.err != nil && !again ||
						met && stays && kind.short > 0 && failed.what == "write" // the last bytes never go
					if !fatal && (sealErr != nil || closeErr != nil) {
						t.Errorf("%s (%+v): Seal: %v, Close: %v", name, failed, sealErr, closeErr)
					}
					if fatal && sealErr == nil {
						t.Errorf("%s (%+v): Seal tells nothing", name, failed)
					}
					if sealErr == nil {
						checkSealed(t, f, recs)
					}
				})
			}
		}
	}
}
