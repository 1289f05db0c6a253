package logfmt

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
)

const logPath = "dir/pull.log"

func mustCreate(t *testing.T, o Options) *Log {
	t.Helper()
	l, err := Create(logPath, o)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func putAll(l *Log, recs []Record) {
	for _, r := range recs {
		l.Put(r)
	}
}

// endOf is the record that seals a log of those records.
func endOf(recs []Record) Record {
	last := recs[len(recs)-1]
	return Record{T: last.T, N: last.N + 1, Fields: []Field{{"reason", "done"}}}
}

// checkSealed compares both files with what they should be, byte by byte.
func checkSealed(t *testing.T, f *faultFS, recs []Record) {
	t.Helper()
	want := encode(recs, true)
	if diff := cmp.Diff(string(want), string(f.now(logPath))); diff != "" {
		t.Errorf("log (-want +got):\n%s", diff)
	}
	wantSum := fmt.Sprintf("%x  pull.log\n", sha256.Sum256(want))
	if got := f.now(logPath + ".sha256"); string(got) != wantSum {
		t.Errorf("checksum file %q, want %q", got, wantSum)
	}
}

func TestLogFromEndToEnd(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFaultFS(nil)
		l := mustCreate(t, Options{FS: f})
		if s := l.Status(); s != (Status{Path: logPath, OldestNotOnDisk: -1}) {
			t.Errorf("status of a new log %+v", s)
		}
		recs := sampleRecords(100)
		putAll(l, recs)
		synctest.Wait()
		time.Sleep(200 * time.Millisecond)
		size := int64(len(encode(recs, false)))
		want := Status{Path: logPath, Queued: 100, Written: 100, OnDisk: 100, Bytes: size, BytesOnDisk: size, OldestNotOnDisk: -1}
		if s := l.Status(); s != want {
			t.Errorf("status %+v, want %+v", s, want)
		}
		if got := f.afterPowerCut(logPath); !bytes.Equal(got, encode(recs, false)) {
			t.Errorf("after a power cut: %q", got)
		}
		if err := l.Seal(endOf(recs)); err != nil {
			t.Fatalf("Seal: %v", err)
		}
		checkSealed(t, f, recs)
		if rep, err := Verify(bytes.NewReader(f.afterPowerCut(logPath))); err != nil || !rep.Whole {
			t.Errorf("verified: %+v, %v; want whole", rep, err)
		}
		if f.afterPowerCut(logPath+".sha256") == nil {
			t.Error("the checksum file does not survive a power cut")
		}
		before := f.now(logPath)
		l.Put(Record{N: 999, Kind: Tick})
		if err := l.Seal(endOf(recs)); err != nil {
			t.Errorf("second Seal: %v", err)
		}
		if err := l.Close(); err != nil {
			t.Errorf("Close after Seal: %v", err)
		}
		if !bytes.Equal(before, f.now(logPath)) || l.Status().Queued != 101 {
			t.Errorf("a sealed log changed: %+v", l.Status())
		}
	})
}

func TestCloseWithoutSeal(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFaultFS(nil)
		l := mustCreate(t, Options{FS: f})
		recs := sampleRecords(5)
		putAll(l, recs)
		if err := l.Close(); err != nil {
			t.Errorf("Close: %v", err)
		}
		if got := f.afterPowerCut(logPath); !bytes.Equal(got, encode(recs, false)) {
			t.Errorf("log %q", got)
		}
		if f.now(logPath+".sha256") != nil {
			t.Error("a log without a seal has a checksum file")
		}
		if err := l.Close(); err != nil {
			t.Errorf("second Close: %v", err)
		}
		if err := l.Seal(endOf(recs)); !errors.Is(err, ErrClosed) {
			t.Errorf("Seal after Close: %v, want %v", err, ErrClosed)
		}
		l.Put(recs[0])
	})
}

// While one write hangs, Put does not wait, and all that queues up goes out in
// the next write.
func TestOneWriteForAllThatWaits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		stall := make(chan struct{})
		f := newFaultFS(nil)
		f.plan = func(o op) (tr trouble) {
			if o.what == "write" {
				tr.stall = stall
			}
			return tr
		}
		l := mustCreate(t, Options{FS: f})
		recs := sampleRecords(1000)
		l.Put(recs[0])
		synctest.Wait()
		putAll(l, recs[1:])
		synctest.Wait()
		if s := l.Status(); s.Queued != 1000 || s.Written != 0 || s.OldestNotOnDisk != recs[0].T || s.Err != nil {
			t.Errorf("status while a write hangs: %+v", s)
		}
		close(stall)
		synctest.Wait()
		if n := f.count("write", "pull.log"); n != 2 {
			t.Errorf("%d writes, want 2: the one that hung and one for the rest", n)
		}
		if err := l.Seal(endOf(recs)); err != nil {
			t.Fatal(err)
		}
		checkSealed(t, f, recs)
	})
}

// A sync that hangs holds up no write, and the status tells what is where.
func TestWritesBesideSync(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		stall := make(chan struct{})
		f := newFaultFS(nil)
		f.plan = func(o op) (tr trouble) {
			if o.what == "sync" {
				tr.stall = stall
			}
			return tr
		}
		l := mustCreate(t, Options{FS: f})
		recs := sampleRecords(20)
		sizes := []int64{0}
		for i, r := range recs {
			l.Put(r)
			synctest.Wait()
			sizes = append(sizes, int64(len(encode(recs[:i+1], false))))
			want := Status{Path: logPath, Queued: r.N, Written: r.N, Bytes: sizes[i+1], OldestNotOnDisk: recs[0].T}
			if s := l.Status(); s != want {
				t.Fatalf("after record %d: %+v, want %+v", r.N, s, want)
			}
		}
		stall <- struct{}{} // the first sync ends: it began after record 1
		synctest.Wait()
		want := Status{Path: logPath, Queued: 20, Written: 20, OnDisk: 1, Bytes: sizes[20], BytesOnDisk: sizes[1], OldestNotOnDisk: recs[1].T}
		if s := l.Status(); s != want {
			t.Errorf("after the first sync: %+v, want %+v", s, want)
		}
		time.Sleep(time.Second)
		close(stall)
		synctest.Wait()
		want.OnDisk, want.BytesOnDisk, want.OldestNotOnDisk = 20, sizes[20], -1
		if s := l.Status(); s != want {
			t.Errorf("after the second sync: %+v, want %+v", s, want)
		}
		if err := l.Close(); err != nil {
			t.Error(err)
		}
	})
}

// All that is older than 200 ms is on the disk, at no more than ten syncs a
// second, on a disk that takes 40 ms for each.
func TestSyncInTime(t *testing.T) {
	for _, every := range []time.Duration{time.Millisecond, 30 * time.Millisecond, 130 * time.Millisecond} {
		t.Run(every.String(), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				f := newFaultFS(nil)
				f.plan = func(o op) (tr trouble) {
					if o.what == "sync" {
						tr.delay = 40 * time.Millisecond
					}
					return tr
				}
				start := time.Now()
				now := func() int64 { return int64(time.Since(start)) }
				l := mustCreate(t, Options{FS: f, Clock: now})
				next := time.Duration(0)
				n := uint64(0)
				for at := time.Duration(0); at < time.Second; at += time.Millisecond {
					if at == next {
						n++
						l.Put(Record{T: now(), N: n, Kind: Tick})
						next += every
					}
					synctest.Wait()
					if s := l.Status(); s.OldestNotOnDisk >= 0 && now()-s.OldestNotOnDisk > int64(200*time.Millisecond) {
						t.Fatalf("at %v a record of %s s is not on disk: %+v", at, FormatNs(s.OldestNotOnDisk), s)
					}
					time.Sleep(time.Millisecond)
				}
				if syncs := f.count("sync", "pull.log"); syncs > 11 {
					t.Errorf("%d syncs in 1 s, want at most 11", syncs)
				}
				if err := l.Close(); err != nil {
					t.Error(err)
				}
			})
		})
	}
}

func TestTooLongRecord(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFaultFS(nil)
		l := mustCreate(t, Options{FS: f})
		recs := sampleRecords(4)
		recs[1].Fields = []Field{{"raw", strings.Repeat("\x00", MaxLine/4)}}
		putAll(l, recs)
		if err := l.Seal(endOf(recs)); err != nil {
			t.Fatal(err)
		}
		if s := l.Status(); s.Dropped != 1 || s.OldestNotOnDisk != -1 {
			t.Errorf("status %+v, want one dropped", s)
		}
		if read, damage, rep := readAll(f.now(logPath)); len(read) != 4 || !rep.SealGood || len(damage) != 1 || damage[0].Kind != Missing {
			t.Errorf("%d records, %v, %+v", len(read), damage, rep)
		}
	})
}

func TestSealOwnsItsFields(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFaultFS(nil)
		l := mustCreate(t, Options{FS: f})
		recs := sampleRecords(4)
		putAll(l, recs)
		end := endOf(recs)
		end.Kind, end.Fields = Tick, append([]Field{{"count", "7"}, {"sha256", "none"}, {"bytes", "0"}}, end.Fields...)
		if err := l.Seal(end); err != nil {
			t.Fatal(err)
		}
		checkSealed(t, f, recs)
	})
}

// Through the system's own files.
func TestOnDisk(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "pull.log")
	l, err := Create(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	recs := sampleRecords(5000)
	putAll(l, recs)
	if err := l.Seal(endOf(recs)); err != nil {
		t.Fatal(err)
	}
	if s := l.Status(); s.OnDisk != 5001 || s.Err != nil || s.Dropped != 0 {
		t.Errorf("status %+v", s)
	}
	got, err := os.ReadFile(path)
	if err != nil || !bytes.Equal(got, encode(recs, true)) {
		t.Errorf("log of %d bytes, %v; want %d", len(got), err, len(encode(recs, true)))
	}
	if rep, err := VerifyFile(path); err != nil || !rep.Whole || rep.Beside != BesideAgrees {
		t.Errorf("verified: %s, beside %q %s, %v", rep.Verdict(), rep.Beside, rep.BesideText, err)
	}

	tests := []struct {
		name, path string
		make       func() error
		want       error
	}{
		{"log exists", path, nil, fs.ErrExist},
		{"checksum file exists", filepath.Join(dir, "two.log"), func() error { return os.WriteFile(filepath.Join(dir, "two.log.sha256"), nil, 0o644) }, fs.ErrExist},
		{"is a folder", filepath.Join(dir, "folder"), func() error { return os.Mkdir(filepath.Join(dir, "folder"), 0o755) }, fs.ErrExist},
		{"no such folder", filepath.Join(dir, "none", "x.log"), nil, fs.ErrNotExist},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if tt.make != nil {
				if err := tt.make(); err != nil {
					t.Fatal(err)
				}
			}
			l, err := Create(tt.path, Options{})
			if !errors.Is(err, tt.want) {
				t.Fatalf("Create(%q) = %v, %v; want %v", tt.path, l, err, tt.want)
			}
			if msg := err.Error(); !strings.Contains(msg, tt.path) || !strings.Contains(msg, "; ") {
				t.Errorf("error %q does not say where and what to do", msg)
			}
		})
	}
	if again, err := os.ReadFile(path); err != nil || !bytes.Equal(again, got) {
		t.Error("the log that existed was touched")
	}
}
