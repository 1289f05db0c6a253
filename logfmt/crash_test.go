package logfmt

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"
)

// promised is how old a record is at most before a crash cannot cost it, with
// the options as they are by default and a disk whose fsync takes up to 90 ms.
const promised = 200 * time.Millisecond

// A crashRig is a log on a disk that will crash. Records have the time they
// were put at.
type crashRig struct {
	disk  *faultFS
	log   *Log
	start time.Time
	kept  []Record // put, and not dropped
	n     uint64
}

func newCrashRig(plan func(op) trouble, o Options) (*crashRig, error) {
	c := &crashRig{disk: newFaultFS(plan), start: time.Now()}
	o.FS, o.Clock = c.disk, c.now
	var err error
	c.log, err = Create(logPath, o)
	return c, err
}

func (c *crashRig) now() int64 { return 1 + int64(time.Since(c.start)) }

func (c *crashRig) put() {
	c.n++
	r := Record{T: c.now(), N: c.n, Kind: Rx, Fields: []Field{{"src", "load"}, {"chunk", strconv.FormatUint(c.n, 10)}, {"raw", fmt.Sprintf("%+09.3f kN\r\n", float64(c.n)/8)}}}
	before := c.log.Status().Dropped
	c.log.Put(r)
	if c.log.Status().Dropped == before {
		c.kept = append(c.kept, r)
	}
}

// judge holds a clone of the crashed disk against what was promised. s is what
// the log said at that moment. It returns what is wrong, "" for nothing.
func (c *crashRig) judge(clone []byte, s Status, mayBeNamed bool) string {
	recs, damage := readOnce(clone)
	there, last := map[uint64]bool{}, uint64(0)
	for _, r := range recs {
		if r.N <= last {
			return fmt.Sprintf("record n=%d comes after n=%d", r.N, last)
		}
		there[r.N], last = true, r.N
	}
	old, lost := c.now()-int64(promised), uint64(0)
	for i := range c.kept {
		r := &c.kept[i]
		switch {
		case there[r.N]:
			if i > 0 && r.N == c.kept[i-1].N {
				return fmt.Sprintf("record n=%d is there twice", r.N)
			}
			continue
		case r.N < last:
			lost++
		}
		if r.N <= s.OnDisk {
			return fmt.Sprintf("record n=%d is called on disk, the crash took it: %+v", r.N, s)
		}
		if r.T > old {
			continue
		}
		named := s.Err != nil || s.OldestNotOnDisk >= 0 && s.OldestNotOnDisk <= r.T
		if !mayBeNamed || !named {
			return fmt.Sprintf("record n=%d of t=%s s is not there at t=%s s: %+v", r.N, FormatNs(r.T), FormatNs(c.now()), s)
		}
	}
	told := uint64(0)
	for _, d := range damage {
		told += d.Lost
	}
	if told < lost {
		return fmt.Sprintf("%d records before n=%d are gone, the reader names %d: %v", lost, last, told, damage)
	}
	return ""
}

func readOnce(file []byte) (recs []Record, damage []Damage) {
	r := NewReader(bytes.NewReader(file))
	for r.Next() {
		recs = append(recs, r.Record())
	}
	return recs, r.Damage()
}

// everyWay judges the clone that keeps only what was synced, the one that keeps
// all, and some that keep this sector and not that one.
func (c *crashRig) everyWay(coin *rand.Rand, mayBeNamed bool) string {
	s := c.log.Status()
	all := func(least, most int) int { return most }
	clones := [][]byte{c.disk.afterPowerCut(logPath), c.disk.crash(logPath, func() bool { return true }, all)}
	for range 2 {
		clones = append(clones, c.disk.crash(logPath, func() bool { return coin.IntN(3) > 0 }, func(least, most int) int { return least + coin.IntN(most-least+1) }))
	}
	for i, clone := range clones {
		if fault := c.judge(clone, s, mayBeNamed); fault != "" {
			return fmt.Sprintf("clone %d: %s", i, fault)
		}
	}
	return ""
}

// On a disk that is slow but sound, a crash at any millisecond costs nothing
// that is older than 200 ms, whatever it leaves of the rest.
func TestAfterACrashAllOlderThan200msIsThereInOrder(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		coin := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "coin"), 1))
		slow := rapid.IntRange(0, 90).Draw(rt, "ms a sync")
		every := rapid.IntRange(4, 130).Draw(rt, "ms between records")
		fault := ""
		synctest.Test(t, func(t *testing.T) {
			c, err := newCrashRig(func(o op) (tr trouble) {
				if o.what == "sync" {
					tr.delay = time.Duration(coin.IntN(slow+1)) * time.Millisecond
				}
				return tr
			}, Options{})
			if err != nil {
				t.Fatal(err)
			}
			defer c.log.Close()
			for ms := 0; ms < 420 && fault == ""; ms++ {
				if ms%every == 0 {
					c.put()
				}
				synctest.Wait()
				if ms > 150 && ms%17 == 0 {
					fault = c.everyWay(coin, false)
				}
				time.Sleep(time.Millisecond)
			}
		})
		if fault != "" {
			rt.Fatal(fault)
		}
	})
}

// On a disk that fails in any way at any time, a crash costs nothing older than
// 200 ms unless the log said so before, and what is gone is named after.
func TestAfterACrashOnAFaultyDiskAllIsThereOrTheDamageIsNamed(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		script := drawScript(rt)
		coin := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "coin"), 2))
		fault := ""
		synctest.Test(t, func(t *testing.T) {
			c, err := newCrashRig(func(o op) trouble { return script.troubles[o.index] }, Options{MaxQueueBytes: script.queue})
			if err != nil {
				t.Fatal(err)
			}
			defer c.log.Close()
			c.disk.full = syscall.ENOSPC
			for i := 0; i < len(script.puts) && fault == ""; i++ {
				for range script.puts[i] {
					c.put()
				}
				c.disk.setRoom(script.rooms[i])
				for ms := time.Duration(0); ms <= script.sleeps[i] && fault == ""; ms += 40 * time.Millisecond {
					synctest.Wait()
					fault = c.everyWay(coin, true)
					time.Sleep(40 * time.Millisecond)
				}
			}
			c.disk.setRoom(-1)
		})
		if fault != "" {
			rt.Fatal(fault)
		}
	})
}

// Call 0 fails, then call 1, and so on until a run succeeds, once and for ever,
// with EIO, a full disk, a write that takes less than it was given, an fsync
// that loses its pages; and every 60 ms the machine crashes.
func TestEveryCallFailsAndTheMachineCrashesThenNothingIsLostUnsaid(t *testing.T) {
	for _, kind := range []trouble{{err: syscall.EIO}, {err: syscall.ENOSPC, takes: 7}, {short: 5}} {
		for _, stays := range []bool{false, true} {
			runs := 0
			for failAt, met := 0, true; met; failAt++ {
				met, runs = false, runs+1
				coin := rand.New(rand.NewPCG(uint64(failAt), 3))
				synctest.Test(t, func(t *testing.T) {
					var failed op
					c, err := newCrashRig(func(o op) trouble {
						if o.index == failAt || stays && met && o.what == failed.what {
							failed, met = o, true
							return kind
						}
						return trouble{}
					}, Options{CloseWait: time.Second})
					if err != nil {
						return // nothing was promised
					}
					defer c.log.Close() // what it says is judged elsewhere
					for step := range 24 {
						if step%5 == 0 {
							c.put()
							c.put()
						}
						synctest.Wait()
						if step%2 > 0 {
							time.Sleep(30 * time.Millisecond)
							continue
						}
						if fault := c.everyWay(coin, true); fault != "" {
							t.Fatalf("call %d fails with %+v, stays %v, step %d: %s", failAt, kind, stays, step, fault)
						}
						time.Sleep(30 * time.Millisecond)
					}
					s := c.log.Status()
					c.disk.mu.Lock()
					defer c.disk.mu.Unlock()
					if failed.what == "sync" && kind.err != nil && (s.Err == nil || s.OnDisk >= c.n) {
						t.Errorf("call %d, stays %v: an fsync failed, and later it is called clean: %+v", failAt, stays, s)
					}
				})
			}
			if runs < 10 {
				t.Errorf("%+v, stays %v: %d runs; want at least 10 calls to fail", kind, stays, runs)
			}
		}
	}
}

// The machine crashes just before each call into the file system in turn: all
// that was synced before that call is there.
func TestACrashBeforeEachCallCostsNothingThatWasSynced(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		recs := sampleRecords(30)
		var f *faultFS
		var clones [][]byte
		var synced []int // syncs that ended before each
		ended := 0
		f = newFaultFS(func(o op) trouble {
			clones = append(clones, f.syncedOnly(logPath))
			synced = append(synced, ended)
			if o.what == "sync" && o.name == "pull.log" {
				ended = len(f.files[logPath].data)
			}
			return trouble{}
		})
		l := mustCreate(t, Options{FS: f})
		for i, r := range recs {
			l.Put(r)
			if i%3 == 0 {
				time.Sleep(120 * time.Millisecond)
			}
		}
		if err := l.Seal(endOf(recs)); err != nil {
			t.Fatal(err)
		}
		whole := encode(recs, true)
		for i, clone := range clones {
			got, damage, _ := readAll(clone)
			// A sync covers what was written before it began, and ends before
			// the next call.
			want := bytes.Count(whole[:synced[i]], []byte("\n"))
			if len(got) < want || len(damage) > 0 {
				t.Errorf("crash before call %d (%+v): %d records, want %d; damage %v", i, f.ops[i], len(got), want, damage)
			}
		}
		if len(clones) < 25 {
			t.Errorf("%d calls, want at least 25", len(clones))
		}
	})
}

// A log is torn at every byte, and what stood behind that byte comes back as
// NUL bytes or as old text of another file: the records before are there, and
// the damage is named.
func TestTornAtEveryByteTheRecordsBeforeItAreThere(t *testing.T) {
	file := sampleLog(12, true)
	old := []byte(strings.Repeat("somebody's older text, or half a line of it\n", len(file)/40))
	for cut := range len(file) {
		whole := uint64(bytes.Count(file[:cut], []byte("\n")))
		for name, rest := range map[string][]byte{"NUL": make([]byte, len(file)-cut), "old text": old[:len(file)-cut]} {
			recs, damage, rep := readAll(append(bytes.Clone(file[:cut]), rest...))
			n := uint64(len(recs))
			// The torn line is whole if what comes back is the byte it had.
			if n < whole || n > whole+1 || rep.Whole || len(damage) == 0 {
				t.Fatalf("torn at byte %d, then %s: %d records, want %d; damage %v", cut, name, n, whole, damage)
			}
			for i, r := range recs {
				if r.N != uint64(i+1) {
					t.Fatalf("torn at byte %d, then %s: records %v", cut, name, numbers(recs))
				}
			}
		}
	}
}
