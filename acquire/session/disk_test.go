package session

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
)

func TestForecastOfAFullDisk(t *testing.T) {
	const MB = 1_000_000
	type step struct {
		after time.Duration // from the last
		wrote int64
		free  int64
		want  string // the beginning of what is told; "" nothing
	}
	for _, tt := range []struct {
		name  string
		steps []step
		left  time.Duration
	}{
		{"room enough", []step{{0, 0, 500 * MB, ""}, {30e9, MB, 499 * MB, ""}}, 499 * 30 * time.Second},
		{"too early to say", []step{{0, 0, MB, ""}, {6e9, MB, 1000, ""}}, 0},
		{"short, shorter, and room again", []step{{0, 0, 26 * MB, ""}, {60e9, 2 * MB, 24 * MB, "short: 12 min left"}, {60e9, 2 * MB, 22 * MB, ""},
			{60e9, 2 * MB, 18 * MB, "short: 6 min left"}, {30e9, MB, 3 * MB, "short: 27 s left"}, {20e9, MB, 36 * MB, ""}, {20e9, MB, 900 * MB, "roomy: 900 MB"}}, 0},
		{"full", []step{{0, 0, 5 * MB, ""}, {60e9, 5 * MB, 0, "short: 1 s left, 0 kB"}}, time.Second},
		{"nothing is written", []step{{0, 0, MB, ""}, {60e9, 0, MB, ""}}, 0},
		{"others fill it", []step{{0, 0, 120 * MB, ""}, {60e9, 1000, 60 * MB, "short: 60 s left"}}, time.Minute},
		{"others fill it for a moment", []step{{0, 0, 120 * MB, ""}, {20e9, 1000, 60 * MB, ""}}, 60 * MB / 1000 * 20 * time.Second},
		{"looks too near each other", []step{{0, 0, 26 * MB, ""}, {time.Second, MB, 25 * MB, ""}, {59e9, MB, 24 * MB, "short: 12 min"}}, 12 * time.Minute},
		{"numbers beyond reason", []step{{0, 0, math.MaxInt64, ""}, {60e9, 1, math.MaxInt64, ""}, {60e9, 1, -5, "short: 1 s"}}, time.Second},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var f forecast
			var at time.Duration
			var bytes int64
			for i, s := range tt.steps {
				at, bytes = at+s.after, bytes+s.wrote
				state, reason := f.add(look{at, bytes, s.free})
				got := strings.TrimPrefix(state+": "+reason, ": ")
				if (s.want == "") != (got == "") || !strings.HasPrefix(got, s.want) {
					t.Errorf("step %d, %v, %d written, %d free: told %q, want %q", i, at, bytes, s.free, got, s.want)
				}
			}
			if tt.left != 0 && f.left.Round(time.Second) != tt.left {
				t.Errorf("left for %v, want %v", f.left, tt.left)
			}
		})
	}
}

// A disk that fills up is told before it is full, and the record of it too.
func TestShortDiskIsTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var free atomic.Int64
		free.Store(2_000_000_000)
		b := startBenchOf(t, func(c *Config) { c.Free = func(string) (int64, bool) { return free.Load(), true } })
		b.pulling()
		time.Sleep(20 * time.Second)
		s := b.c.Snapshot()
		if s.Log.Short != "" || s.Log.LeftFor <= roomShort {
			t.Errorf("2 GB free: short %q, left for %v", s.Log.Short, s.Log.LeftFor)
		}
		free.Store(200_000)
		time.Sleep(10 * time.Second)
		s = b.c.Snapshot()
		if s.Log.LeftFor <= 0 || s.Log.LeftFor > roomShort || !strings.Contains(s.Log.Short, " left, 200 kB free") || !s.Guard.Permit {
			t.Errorf("200 kB free: left for %v, short %q, permit %v; want it told and the pull to go on", s.Log.LeftFor, s.Log.Short, s.Guard.Permit)
		}
		loud := false
		for _, n := range s.News {
			loud = loud || n.Loud && strings.HasPrefix(n.Text, "record short: ")
		}
		if !loud {
			t.Errorf("no loud news of it: %+v", s.News)
		}
		free.Store(1 << 40)
		time.Sleep(10 * time.Second)
		if s := b.c.Snapshot(); s.Log.Short != "" {
			t.Errorf("room again, and still short: %q", s.Log.Short)
		}
		b.end()
	})
}

// A question for the room that is never answered holds up nothing.
func TestFreeSpaceThatHangs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		hang := make(chan struct{})
		b := startBenchOf(t, func(c *Config) { c.Free = func(string) (int64, bool) { <-hang; return 0, false } })
		b.pulling()
		time.Sleep(5 * time.Second)
		if s := b.c.Snapshot(); !s.Guard.Permit || s.Log.LeftFor != 0 {
			t.Errorf("permit %v, left for %v; want the pull to go on, nothing known", s.Guard.Permit, s.Log.LeftFor)
		}
		b.end()
		close(hang)
	})
}

// disk is a file system that can stall and fail.
type disk struct {
	logfmt.FS
	mu    sync.Mutex
	stall chan struct{} // not nil: calls wait for it
	err   error         // not nil: calls fail
}

type diskFile struct {
	logfmt.File
	d *disk
}

func (d *disk) Create(name string) (logfmt.File, error) {
	if err := d.meet(); err != nil {
		return nil, err
	}
	f, err := d.FS.Create(name)
	return diskFile{f, d}, err
}

func (d *disk) meet() error {
	d.mu.Lock()
	stall, err := d.stall, d.err
	d.mu.Unlock()
	if stall != nil {
		<-stall
	}
	return err
}

func (d *disk) set(stall chan struct{}, err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.stall, d.err = stall, err
}

func (f diskFile) Write(p []byte) (int, error) {
	if err := f.d.meet(); err != nil {
		return 0, err
	}
	return f.File.Write(p)
}

func (f diskFile) Sync() error {
	if err := f.d.meet(); err != nil {
		return err
	}
	return f.File.Sync()
}

// A disk that stands still for 30 s is told, stops nothing and loses nothing.
func TestDiskThatStallsForHalfAMinute(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &disk{FS: logfmt.OS}
		b := startBench(t, d)
		b.pulling()
		stall := make(chan struct{})
		d.set(stall, nil)
		time.Sleep(30 * time.Second)
		s := b.c.Snapshot()
		if !s.Guard.Alarms[safety.RecordFailing].Standing() || !s.Guard.Permit || s.Guard.Stop.Kind != safety.NoStop || s.Log.OldestAge < 25e9 {
			t.Errorf("after 30 s: alarm %+v, permit %v, stop %v, oldest %.1f s; want it told and the pull to go on",
				s.Guard.Alarms[safety.RecordFailing].State, s.Guard.Permit, s.Guard.Stop.Cause.Title(), float64(s.Log.OldestAge)/1e9)
		}
		d.set(nil, nil)
		close(stall)
		time.Sleep(3 * time.Second)
		if s := b.c.Snapshot(); s.Log.Lost != 0 || s.Log.OldestAge > 1e9 || s.Guard.Alarms[safety.RecordFailing].Standing() {
			t.Errorf("the disk is back: lost %d, oldest %d, alarm %v", s.Log.Lost, s.Log.OldestAge, s.Guard.Alarms[safety.RecordFailing].State)
		}
		b.end()
	})
}

// The copy is the same file to the byte, and a copy or a log that goes away
// leaves the other whole.
func TestSecondLog(t *testing.T) {
	copied := func(t *testing.T, edit func(*Config), and func(b *bench)) (b *bench, log, second []byte) {
		dir := t.TempDir()
		b = startBenchOf(t, func(c *Config) {
			c.CopyPath = filepath.Join(dir, "a.log")
			if edit != nil {
				edit(c)
			}
		})
		b.pulling()
		if and != nil {
			and(b)
		}
		b.do(ActEnd, "over")
		b.do(ActEnd, "over")
		for over := false; !over; { // the log may be one that cannot be sealed
			select {
			case <-b.c.Done():
				over = true
			case <-time.After(15 * time.Second):
				b.c.Do(Act{Who: safety.Director, Name: "test", What: ActEnd, Value: "over"})
			}
		}
		log, _ = os.ReadFile(b.log)
		second, _ = os.ReadFile(filepath.Join(dir, "a.log"))
		return b, log, second
	}
	whole := func(t *testing.T, b []byte, what string) {
		t.Helper()
		if rep, err := logfmt.Verify(bytes.NewReader(b)); err != nil || !rep.Whole {
			t.Errorf("%s: %v, %s; want it whole", what, err, rep.Verdict())
		}
	}
	t.Run("both well", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			b, log, second := copied(t, nil, nil)
			whole(t, log, "log")
			if !bytes.Equal(log, second) {
				t.Errorf("log of %d bytes, copy of %d: not equal", len(log), len(second))
			}
			if k := b.c.Snapshot().Log.Copy; !k.Sealed || k.Fault != "" {
				t.Errorf("copy %+v; want it sealed", k)
			}
		})
	})
	t.Run("the copy fails", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			d := &disk{FS: logfmt.OS}
			b, log, _ := copied(t, func(c *Config) { c.CopyFS = d }, func(b *bench) {
				d.set(nil, errors.New("input/output error"))
				time.Sleep(3 * time.Second)
				s := b.c.Snapshot()
				if s.Guard.Alarms[safety.RecordFailing].Standing() || !s.Guard.Permit || !strings.Contains(s.Log.Copy.Fault, "input/output") {
					t.Errorf("alarm %v, permit %v, copy's fault %q; want it told of the copy alone", s.Guard.Alarms[safety.RecordFailing].State, s.Guard.Permit, s.Log.Copy.Fault)
				}
			})
			whole(t, log, "log")
			if !strings.Contains(string(log), "src=copy state=failing") || b.c.Err() != nil {
				t.Errorf("the log does not tell of the copy, or the capture failed: %v", b.c.Err())
			}
		})
	})
	t.Run("the copy stalls for ever", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			d, stall := &disk{FS: logfmt.OS}, make(chan struct{})
			_, log, _ := copied(t, func(c *Config) { c.CopyFS = d }, func(*bench) { d.set(stall, nil); time.Sleep(30 * time.Second) })
			whole(t, log, "log")
			close(stall)
		})
	})
	t.Run("the log's disk goes", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			d := &disk{FS: logfmt.OS}
			b, _, second := copied(t, func(c *Config) { c.Log.FS, c.CopyFS = d, logfmt.OS }, func(b *bench) {
				d.set(nil, errors.New("no such device"))
				time.Sleep(3 * time.Second)
				s := b.c.Snapshot()
				if !s.Guard.Alarms[safety.RecordFailing].Standing() || !s.Guard.Permit {
					t.Errorf("alarm %v, permit %v; want it told and the pull to go on", s.Guard.Alarms[safety.RecordFailing].State, s.Guard.Permit)
				}
			})
			whole(t, second, "copy")
			if !strings.Contains(string(second), "the second log goes on") || b.c.Snapshot().Log.Sealed || b.c.Err() == nil {
				t.Error("the copy does not say that it goes on, or the log passes for sealed")
			}
			d.set(nil, nil) // else it tries for ever
			time.Sleep(time.Second)
		})
	})
	t.Run("cannot be made", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			dir := t.TempDir()
			h := testHead(t)
			_, err := Start(t.Context(), Config{Head: h, LogPath: filepath.Join(dir, "a.log"), CopyPath: filepath.Join(dir, "none", "a.log"), Clock: acquire.NewClock(), Dir: "/"})
			if err == nil || !strings.Contains(err.Error(), "second file of the record") {
				t.Errorf("a copy in no folder: %v; want it refused", err)
			}
		})
	})
}

// A suspended computer is a standstill, though no clock of the program shows it.
func TestSuspendedComputer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var slept atomic.Int64
		slept.Store(int64(time.Hour)) // before this pull
		b := startBenchOf(t, func(c *Config) { c.Slept = func() (time.Duration, bool) { return time.Duration(slept.Load()), true } })
		b.pulling()
		if s := b.c.Snapshot(); s.Guard.Stop.Kind != safety.NoStop {
			t.Fatalf("stop %v by a sleep before the pull", s.Guard.Stop.Cause.Title())
		}
		slept.Add(int64(3 * time.Minute))
		time.Sleep(100 * time.Millisecond)
		s := b.c.Snapshot()
		if s.Guard.Stop.Cause != safety.StoodStill || s.Guard.Permit {
			t.Errorf("stop %v, permit %v; want a standstill", s.Guard.Stop.Cause.Title(), s.Guard.Permit)
		}
		b.end()
		text, err := os.ReadFile(b.log)
		if err != nil || !strings.Contains(string(text), "k=port src=computer state=slept gap=180.000000000") {
			t.Errorf("the gap is not in the record: %v", err)
		}
	})
}

// brokenClock panics in whoever asks it, once it is told to.
type brokenClock struct {
	acquire.Clock
	breaks atomic.Bool
}

func (c *brokenClock) Now() int64 {
	if c.breaks.Load() {
		panic("made to fail")
	}
	return c.Clock.Now()
}

// A panic in the sequencer ends the capture; what is in the log is flushed as
// far as it goes, in the copy too.
func TestPanicInTheSequencer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := &brokenClock{Clock: acquire.NewClock()}
		second := filepath.Join(t.TempDir(), "a.log")
		b := startBenchOf(t, func(c *Config) { c.Clock, c.CopyPath = k, second })
		b.pulling()
		time.Sleep(time.Second)
		before := b.c.Snapshot().N
		k.breaks.Store(true)
		<-b.c.Done()
		if err := b.c.Err(); err == nil || !strings.Contains(err.Error(), "made to fail") {
			t.Errorf("capture ended with %v; want the panic", err)
		}
		if s := b.c.Snapshot(); s.Guard.Permit || s.Guard.Order != safety.OrderStop || s.Tension.Known {
			t.Errorf("permit %v, order %v, tension known %v; want nothing known and STOP", s.Guard.Permit, s.Guard.Order, s.Tension.Known)
		}
		for _, path := range []string{b.log, second} {
			rep, err := logfmt.VerifyFile(path)
			if err != nil || rep.Sealed || len(rep.Damages) > 0 || rep.LastN < before {
				t.Errorf("%s: %v, %s; want every record up to n=%d, whole, no end", filepath.Base(path), err, rep.Verdict(), before)
			}
		}
		k.breaks.Store(false)
	})
}

func TestClockStepsOfHoursWhileCapturing(t *testing.T) {
	for _, by := range []time.Duration{-5 * time.Hour, 5 * time.Hour} {
		t.Run(fmt.Sprint(by), func(t *testing.T) {
			h := byHand(t)
			h.run(2 * time.Second)
			h.must(safety.Logger, ActZero, "")
			h.pulling()
			wall := time.Date(2026, 4, 12, 9, 2, 11, 0, time.UTC)
			for i := range 5 {
				h.run(time.Second)
				if i >= 2 {
					h.d.Clock(h.at, wall.Add(by+time.Duration(i)*time.Second))
				} else {
					h.d.Clock(h.at, wall.Add(time.Duration(i)*time.Second))
				}
			}
			s := h.d.Snapshot()
			told := false
			for _, n := range s.News {
				told = told || strings.Contains(strings.ToLower(n.Text), "clock")
			}
			if !told || !s.Guard.Permit || s.Guard.Stop.Kind != safety.NoStop {
				t.Errorf("clock stepped by %v: told %v, permit %v, stop %v; want it told and the pull to go on", by, told, s.Guard.Permit, s.Guard.Stop.Cause.Title())
			}
			h.end()
		})
	}
}
