package logfmt

import (
	"bytes"
	"fmt"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"
)

// A logScript is what happens to a log, in steps.
type logScript struct {
	puts     []int           // so many records, then
	sleeps   []time.Duration // so long a pause, then
	rooms    []int           // so much room on the disk, -1 without end
	troubles map[int]trouble // of calls by their index
	queue    int64
}

func drawScript(t *rapid.T) logScript {
	s := logScript{troubles: map[int]trouble{}, queue: int64(rapid.IntRange(500, 20000).Draw(t, "queue"))}
	for range rapid.IntRange(1, 12).Draw(t, "steps") {
		s.puts = append(s.puts, rapid.IntRange(0, 12).Draw(t, "puts"))
		s.sleeps = append(s.sleeps, time.Duration(rapid.IntRange(0, 400).Draw(t, "ms"))*time.Millisecond)
		s.rooms = append(s.rooms, rapid.SampledFrom([]int{-1, -1, 0, 10, 300}).Draw(t, "room"))
	}
	for range rapid.IntRange(0, 8).Draw(t, "troubles") {
		// The first four calls are those of Create.
		s.troubles[rapid.IntRange(4, 60).Draw(t, "call")] = rapid.SampledFrom([]trouble{
			{err: syscall.EIO}, {err: syscall.EIO, takes: 30}, {short: 11}, {delay: 350 * time.Millisecond},
		}).Draw(t, "trouble")
	}
	return s
}

// Whatever the disk does: what the status calls on disk survives a power cut,
// the file is the records that were not dropped, one after another, and a fault
// that stands is told.
func TestLogOnAnyDisk(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		script := drawScript(rt)
		var fault string
		synctest.Test(t, func(t *testing.T) { fault = script.run() })
		if fault != "" {
			rt.Fatal(fault)
		}
	})
}

// run returns what went wrong, "" for nothing.
func (s logScript) run() string {
	f := newFaultFS(func(o op) trouble { return s.troubles[o.index] })
	f.full = syscall.ENOSPC
	start := time.Now()
	l, err := Create(logPath, Options{FS: f, MaxQueueBytes: s.queue, Clock: func() int64 { return 1 + int64(time.Since(start)) }})
	if err != nil {
		return err.Error()
	}
	defer l.Close()
	recs := sampleRecords(200)
	var kept []Record
	n := 0
	for i := range s.puts {
		for range s.puts[i] {
			before := l.Status().Dropped
			l.Put(recs[n])
			if l.Status().Dropped == before {
				kept = append(kept, recs[n])
			}
			n++
		}
		f.setRoom(s.rooms[i])
		time.Sleep(s.sleeps[i])
		synctest.Wait()
		if fault := checkStatus(l.Status(), f, kept); fault != "" {
			return fmt.Sprintf("after step %d: %s", i, fault)
		}
	}
	f.setRoom(-1)
	if n == 0 {
		return ""
	}
	_ = l.Seal(endOf(recs[:n])) // a failed sync is told by it; the file is judged here
	_ = l.Seal(Record{})
	var want []byte
	var prev uint32
	for i := range kept {
		want, prev = AppendRecord(want, &kept[i], prev)
	}
	if got := f.now(logPath); !bytes.HasPrefix(got, want) {
		return fmt.Sprintf("the file is not the records kept:\n%s\nwant\n%s", got, want)
	}
	if rep, err := Verify(bytes.NewReader(f.now(logPath))); err != nil || !rep.SealGood || rep.Lost != uint64(n-len(kept)) {
		return fmt.Sprintf("verified: %+v, %v; want a good seal and %d lost", rep, err, n-len(kept))
	}
	return checkStatus(l.Status(), f, append(kept, endOf(recs[:n])))
}

func checkStatus(s Status, f *faultFS, kept []Record) string {
	safe, _, _ := readAll(f.afterPowerCut(logPath))
	survives := map[uint64]bool{}
	for _, r := range safe {
		survives[r.N] = true
	}
	oldest := int64(-1)
	for _, r := range kept {
		if r.N <= s.OnDisk && !survives[r.N] {
			return fmt.Sprintf("record n=%d does not survive a power cut, status %+v", r.N, s)
		}
		if r.N > s.OnDisk && oldest < 0 {
			oldest = r.T
		}
	}
	if s.OldestNotOnDisk != oldest {
		return fmt.Sprintf("oldest not on disk %d, want %d, status %+v", s.OldestNotOnDisk, oldest, s)
	}
	if s.OnDisk > s.Written || s.Written > s.Queued || s.BytesOnDisk > s.Bytes || s.Bytes != int64(len(f.now(logPath))) {
		return fmt.Sprintf("status %+v of a file of %d bytes", s, len(f.now(logPath)))
	}
	if last := kept; len(last) > 0 && s.Queued != last[len(last)-1].N {
		return fmt.Sprintf("queued %d, want %d", s.Queued, last[len(last)-1].N)
	}
	if (s.Err == nil) != (s.Since == 0) {
		return fmt.Sprintf("fault %v since %d", s.Err, s.Since)
	}
	return ""
}
