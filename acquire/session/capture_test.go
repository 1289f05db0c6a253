package session

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.uber.org/goleak"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// box is one instrument behind a fake port: it sends line(i) every so often,
// and may be silenced or pulled out.
type box struct {
	mu     sync.Mutex
	every  time.Duration
	line   func(i int) string
	silent bool
	out    bool // unplugged
	sent   int
	got    strings.Builder // what was written to it
	answer []byte          // waits to be read
}

type boxConn struct {
	b      *box
	closed chan struct{}
	once   sync.Once
}

func (c *boxConn) Read(p []byte) (int, error) {
	select {
	case <-c.closed:
		return 0, acquire.ErrClosed
	case <-time.After(c.b.every):
	}
	c.b.mu.Lock()
	defer c.b.mu.Unlock()
	if c.b.out {
		return 0, acquire.ErrUnplugged
	}
	if len(c.b.answer) > 0 {
		n := copy(p, c.b.answer)
		c.b.answer = c.b.answer[n:]
		return n, nil
	}
	if c.b.silent || c.b.line == nil {
		return 0, nil
	}
	c.b.sent++
	return copy(p, c.b.line(c.b.sent)), nil
}

func (c *boxConn) Write(p []byte) (int, error) {
	c.b.mu.Lock()
	defer c.b.mu.Unlock()
	c.b.got.Write(p)
	return len(p), nil
}

func (c *boxConn) Close() error { c.once.Do(func() { close(c.closed) }); return nil }

func (b *box) set(f func()) { b.mu.Lock(); f(); b.mu.Unlock() }

func (b *box) written() string { b.mu.Lock(); defer b.mu.Unlock(); return b.got.String() }

// bench is a capture over three fake ports, in a bubble of fake time.
type bench struct {
	t                *testing.T
	load, line, stop *box
	c                *Capture
	log              string
}

func startBench(t *testing.T, fs logfmt.FS) *bench {
	t.Helper()
	return startBenchOf(t, func(c *Config) { c.Log.FS = fs })
}

// startBenchOf has the capture's configuration changed before it starts.
func startBenchOf(t *testing.T, edit func(*Config)) *bench {
	t.Helper()
	b := &bench{t: t, log: filepath.Join(t.TempDir(), "a.log"),
		load: &box{every: 100 * time.Millisecond, line: func(i int) string { return fmt.Sprintf("+%06.1f kgf\r\n", 50+float64(i%7)) }},
		line: &box{every: 100 * time.Millisecond, line: func(i int) string { return fmt.Sprintf("N +%07d\r\n", i*4) }},
		stop: &box{every: 20 * time.Millisecond},
	}
	h := testHead(t)
	names := map[string]*box{"./deck/load": b.load, "./deck/line": b.line, "./deck/stop": b.stop}
	dial := func(name string, p trial.Port) (acquire.Conn, error) {
		for n, bx := range names {
			if strings.HasSuffix(name, strings.TrimPrefix(n, ".")) {
				bx.mu.Lock()
				defer bx.mu.Unlock()
				if bx.out {
					return nil, &acquire.PortError{Name: name, Fault: acquire.Missing}
				}
				return &boxConn{b: bx, closed: make(chan struct{})}, nil
			}
		}
		return nil, fmt.Errorf("no box %s", name)
	}
	cfg := Config{Head: h, LogPath: b.log, Clock: acquire.NewClock(), Dial: dial, Dir: "/"}
	edit(&cfg)
	c, err := Start(context.Background(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	b.c = c
	return b
}

func (b *bench) do(what, value string) Outcome {
	b.t.Helper()
	a := Act{Who: safety.Director, Name: "test", What: what, Value: value}
	if what == ActStage || what == ActRearm {
		var err error
		if a.Stage, err = trial.ParseStage(value); err != nil {
			b.t.Fatal(err)
		}
		a.Value = ""
	}
	o, err := b.c.DoWait(context.Background(), a)
	if err != nil {
		b.t.Fatalf("act %s: %v", what, err)
	}
	return o
}

func (b *bench) must(what, value string) {
	b.t.Helper()
	if o := b.do(what, value); o.Refused != "" {
		b.t.Fatalf("act %s %s refused: %s", what, value, o.Refused)
	}
}

// pulling brings the bench to a permit, with the relay answering.
func (b *bench) pulling() {
	b.t.Helper()
	time.Sleep(time.Second)
	b.must(ActDepth, "6 m")
	b.must(ActPayout, "60 m")
	time.Sleep(2 * time.Second) // until the rates are known
	for _, a := range preArming {
		if o, err := b.c.DoWait(context.Background(), a); err != nil || o.Refused != "" {
			b.t.Fatalf("%+v: %v %s", a, err, o.Refused)
		}
	}
	b.must(ActArm, "")
	b.must(ActStage, "pull")
	time.Sleep(100 * time.Millisecond)
}

// preArming is what a crew does before it arms, with nothing to hang on the
// cell and a rode that is not slack.
var preArming = []Act{
	{Who: safety.Director, Name: "test", What: ActWaive, Value: "zero the rode is not slack"},
	{Who: safety.Director, Name: "test", What: ActWaive, Value: "weight none on board"},
	{Who: safety.Director, Name: "test", What: ActRead},
	{Who: safety.Logger, Name: "test", What: ActReady, Value: "logging, all live"},
	{Who: safety.WinchOperator, Name: "test", What: ActReady, Value: "winch ready, line clear"},
	{Who: safety.Director, Name: "test", What: ActReady, Value: "deck clear"},
}

// end ends the capture and holds the sealed log against a replay.
func (b *bench) end() {
	b.t.Helper()
	if o := b.do(ActEnd, "test over"); o.Refused != "" {
		b.must(ActEnd, "test over")
	}
	<-b.c.Done()
	if err := b.c.Err(); err != nil {
		b.t.Fatal(err)
	}
	rep, err := logfmt.VerifyFile(b.log)
	if err != nil || !rep.Whole {
		b.t.Errorf("log: %v, %+v; want it whole", err, rep)
	}
	f, err := os.Open(b.log)
	if err != nil {
		b.t.Fatal(err)
	}
	defer f.Close()
	fold, damage, err := Refold(f, "test")
	if err != nil || len(damage) > 0 || len(fold.Diffs) > 0 || fold.Unsaid > 0 {
		b.t.Errorf("replay of the live run: %v, damage %v, differences %v, %d unsaid", err, damage, fold.Diffs, fold.Unsaid)
	}
	// The state at the end is the same too, floats by their bits.
	live := b.c.Snapshot().Guard
	if b.c.pull != nil { // that is by the pull's time and line
		live = b.c.core.Guard()
	}
	if got := fold.core.Guard(); got != live {
		b.t.Errorf("replayed guard\n%+v\nwant the live one\n%+v", got, live)
	}
	if b.c.pull == nil {
		b.figures(fold)
	}
}

// figures holds what a screen showed last against a replay and the results of the
// log, bit for bit: a float prints to the digits that make it again.
func (b *bench) figures(fold *Fold) {
	b.t.Helper()
	live, played := b.c.Snapshot().Figures, fold.Snapshot().Figures
	if b.c.judge.dead || len(b.c.judge.gone) > 0 || live == nil {
		return
	}
	pulls, faults := FindPulls([]string{b.log}, nil)
	if len(pulls) != 1 || len(faults) > 0 {
		b.t.Fatalf("%d pulls, %v", len(pulls), faults)
	}
	r := ReadResult(pulls[0])
	want := fmt.Sprintf("%+v", r.Figures)
	for how, got := range map[string]*trial.Figures{"live": live, "replayed": played} {
		if diff := cmp.Diff(want, fmt.Sprintf("%+v", *got)); diff != "" {
			b.t.Errorf("figures: - out of the log, + %s:\n%.2000s", how, diff)
		}
	}
}

func TestLiveRunEqualsItsReplay(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := startBench(t, nil)
		b.pulling()
		b.load.set(func() { b.load.line = func(int) string { return "\x00garbage\xff\n" } })
		time.Sleep(1500 * time.Millisecond)
		b.load.set(func() { b.load.line = func(i int) string { return fmt.Sprintf("+%06.1f kgf\r", 60+float64(i%5)) } })
		time.Sleep(time.Second)
		b.do(ActMark, "noise on the load line")
		b.load.set(func() { b.load.out = true })
		time.Sleep(4 * time.Second)
		b.load.set(func() { b.load.out = false })
		time.Sleep(2 * time.Second)
		if s := b.c.Snapshot(); s.Guard.Stop.Cause != safety.LoadSilent || s.Guard.Permit {
			t.Errorf("after an unplug of 4 s: stop %+v, permit %v; want a trip by LOAD SILENT that stays", s.Guard.Stop, s.Guard.Permit)
		}
		b.do(ActAck, "")
		b.must(ActRearm, "pull")
		time.Sleep(time.Second)
		if s := b.c.Snapshot(); !s.Guard.Permit {
			t.Error("re-armed, but hauling is not permitted")
		}
		b.end()
	})
}

// TestStopOutputWords: nothing is sent before arming; then one ARM, repeated
// until the relay answers, heartbeats, and OPEN at once when someone calls stop.
func TestStopOutputWords(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := startBench(t, nil)
		time.Sleep(time.Second)
		if got := b.stop.written(); got != "" {
			t.Errorf("sent before arming: %q", got)
		}
		b.pulling()
		session := b.c.Snapshot().Guard.Session
		arm := string(acquire.AppendArm(nil, session))
		if got := b.stop.written(); !strings.HasPrefix(got, arm+"BEAT ") {
			t.Errorf("first words to the relay: %q, want %q and a heartbeat", got, arm)
		}
		b.stop.set(func() {
			b.stop.answer = []byte(fmt.Sprintf("RELAY CLOSED %d*%02X\n", session, xor(fmt.Sprintf("RELAY CLOSED %d", session))))
		})
		time.Sleep(200 * time.Millisecond)
		b.stop.set(func() { b.stop.got.Reset() })
		time.Sleep(time.Second)
		got := b.stop.written()
		if n := strings.Count(got, "BEAT "); n < 18 || n > 21 || strings.Contains(got, "ARM") {
			t.Errorf("in one second after the relay has answered: %d heartbeats, want 20, and no ARM in %q", n, got)
		}
		b.stop.set(func() { b.stop.got.Reset() })
		stopped := b.do(ActStop, "")
		time.Sleep(10 * time.Millisecond)
		// A heartbeat may just have been on its way when STOP was called.
		open := string(acquire.AppendOpen(nil, session))
		if got := b.stop.written(); !strings.HasSuffix(got, open) {
			t.Errorf("10 ms after STOP the relay has heard %q, want OPEN last", got)
		}
		time.Sleep(time.Second)
		if got := b.stop.written(); !strings.HasSuffix(got, open) {
			t.Errorf("after STOP and OPEN the relay hears more: %q", got)
		}
		b.end()
		log, err := os.ReadFile(b.log)
		if want := fmt.Sprintf(" n=%d k=act who=director name=test act=stop ", stopped.N); err != nil || !strings.Contains(string(log), want) {
			t.Errorf("the act is said to stand in record %d, but the log has no%q (%v)", stopped.N, want, err)
		}
	})
}

func xor(s string) (x byte) {
	for i := range len(s) {
		x ^= s[i]
	}
	return x
}

func TestSilenceIsToldInTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := startBench(t, nil)
		b.pulling()
		b.load.set(func() { b.load.silent = true })
		time.Sleep(1200 * time.Millisecond)
		if s := b.c.Snapshot(); s.Tension.Known || !s.Guard.Permit {
			t.Errorf("1.2 s silent: tension known %v, permit %v; want the number blanked and no stop yet", s.Tension.Known, s.Guard.Permit)
		}
		time.Sleep(time.Second)
		s := b.c.Snapshot()
		if s.Guard.Permit || s.Guard.Stop.Cause != safety.LoadSilent || s.Guard.Order != safety.OrderStop {
			t.Errorf("2.2 s silent: %+v; want a trip by LOAD SILENT", s.Guard.Stop)
		}
		if late := s.Guard.Stop.At - s.Tension.At - 2e9; late != 0 {
			t.Errorf("the trip is stamped %v off its due time", time.Duration(late))
		}
		b.end()
	})
}

// badDisk fails every write once it is told to.
type badDisk struct {
	logfmt.FS
	mu   sync.Mutex
	full bool
}

type badFile struct {
	logfmt.File
	d *badDisk
}

func (d *badDisk) Create(name string) (logfmt.File, error) {
	f, err := d.FS.Create(name)
	return badFile{f, d}, err
}

func (f badFile) Write(p []byte) (int, error) {
	f.d.mu.Lock()
	defer f.d.mu.Unlock()
	if f.d.full {
		return 0, fmt.Errorf("no space left on device")
	}
	return f.File.Write(p)
}

func TestFailingRecordIsToldAndNothingIsLost(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &badDisk{FS: logfmt.OS}
		b := startBench(t, d)
		b.pulling()
		d.mu.Lock()
		d.full = true
		d.mu.Unlock()
		time.Sleep(3 * time.Second)
		s := b.c.Snapshot()
		if !s.Guard.Alarms[safety.RecordFailing].Standing() || !strings.Contains(s.Log.Fault, "no space") || !s.Guard.Permit {
			t.Errorf("disk full: alarm %+v, fault %q, permit %v; want it told, and the guard to go on", s.Guard.Alarms[safety.RecordFailing], s.Log.Fault, s.Guard.Permit)
		}
		d.mu.Lock()
		d.full = false
		d.mu.Unlock()
		time.Sleep(2 * time.Second)
		if s := b.c.Snapshot(); s.Log.Fault != "" || s.Log.Lost != 0 {
			t.Errorf("room again: fault %q, lost %d; want none", s.Log.Fault, s.Log.Lost)
		}
		b.end()
	})
}

// TestJudgeMayFail: the part that explains the pull panics; that is told, and
// the guard and the record go on.
func TestJudgeMayFail(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := startBench(t, nil)
		b.pulling()
		b.c.judge.mu.Lock()
		b.c.judge.j.phase = nil
		b.c.judge.mu.Unlock()
		time.Sleep(time.Second)
		s := b.c.Snapshot()
		if !s.Guard.Alarms[safety.JudgeGone].Standing() || !s.Guard.Permit {
			t.Errorf("Judge gone: alarm %+v, permit %v; want it told and no stop", s.Guard.Alarms[safety.JudgeGone], s.Guard.Permit)
		}
		b.do(ActEnd, "test over") // refused once: it is loaded
		b.must(ActEnd, "test over")
		<-b.c.Done()
		if rep, err := logfmt.VerifyFile(b.log); err != nil || !rep.Whole {
			t.Errorf("log: %v, %+v; want it whole", err, rep)
		}
	})
}

func TestEndByContextSealsTheLog(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancel(context.Background())
		h := testHead(t)
		log := filepath.Join(t.TempDir(), "a.log")
		c, err := Start(ctx, Config{Head: h, LogPath: log, Clock: acquire.NewClock(), Dir: "/",
			Dial: func(name string, p trial.Port) (acquire.Conn, error) {
				return nil, &acquire.PortError{Name: name, Fault: acquire.Missing}
			}})
		if err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Second)
		if s := c.Snapshot(); s.Load.State != acquire.StateRetry || !strings.Contains(s.Load.Reason, "no such port") {
			t.Errorf("missing port: state %q, reason %q", s.Load.State, s.Load.Reason)
		}
		cancel()
		<-c.Done()
		if rep, err := logfmt.VerifyFile(log); err != nil || !rep.Whole {
			t.Errorf("log: %v, %+v; want it whole", err, rep)
		}
		if _, err := c.DoWait(context.Background(), Act{What: ActStop}); err == nil {
			t.Error("an act after the end gets no error")
		}
	})
}

// TestBehindIsAStandstill: bytes that waited long before they are judged stop
// the pull, also when time itself never jumped.
func TestBehindIsAStandstill(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := startBench(t, nil)
		b.pulling()
		old := b.c.cfg.Clock.Now() - 400e6
		b.c.items <- acquire.Item{Src: SrcLoad, Kind: acquire.Data, T: old,
			Cut: acquire.Cut{T0: old, T: old, Chunk: 1, Why: acquire.CutEnd, Raw: []byte("+0050.0 kgf\r\n")}}
		time.Sleep(50 * time.Millisecond)
		if s := b.c.Snapshot(); s.Guard.Permit || s.Guard.Stop.Cause != safety.StoodStill {
			t.Errorf("a line 0.4 s old when judged: permit %v, stop %+v; want a trip", s.Guard.Permit, s.Guard.Stop)
		}
		b.end()
	})
}

// TestLostEncoderIsNotKnown: also in a stage that does not guard the line, an
// old count is no number to show, nor one to tie a rode out to.
func TestLostEncoderIsNotKnown(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := startBench(t, nil)
		b.pulling()
		b.must(ActStage, "ease")
		b.line.set(func() { b.line.out = true })
		time.Sleep(10 * time.Second)
		if s := b.c.Snapshot(); s.Haul.Known || s.Haul.ScopeOK {
			t.Errorf("encoder gone for 10 s: hauled %v known, scope %v known", s.Haul.X, s.Haul.Scope)
		}
		if o := b.do(ActPayout, "40 m"); !strings.Contains(o.Refused, "count is old") {
			t.Errorf("rode out tied to an old count: refusal %q", o.Refused)
		}
		b.end()
	})
}

// slowConn takes its time to close, as some drivers do.
type slowConn struct{ acquire.Conn }

func (c slowConn) Close() error { time.Sleep(800 * time.Millisecond); return c.Conn.Close() }

func TestSlowPortAtTheEndIsNoTrip(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := testHead(t)
		bx := &box{every: 100 * time.Millisecond, line: func(int) string { return "+0001.0 kgf\r\n" }}
		log := filepath.Join(t.TempDir(), "a.log")
		c, err := Start(context.Background(), Config{Head: h, LogPath: log, Clock: acquire.NewClock(), Dir: "/",
			Dial: func(string, trial.Port) (acquire.Conn, error) {
				return slowConn{&boxConn{b: bx, closed: make(chan struct{})}}, nil
			}})
		if err != nil {
			t.Fatal(err)
		}
		b := &bench{t: t, c: c, log: log}
		time.Sleep(time.Second)
		b.end()
		if s := c.Snapshot(); s.Guard.Alarms[safety.StoodStill].State != safety.Normal {
			t.Errorf("a port slow to close at the end: %+v", s.Guard.Alarms[safety.StoodStill])
		}
	})
}

// TestHungJudgeDoesNotHoldTheEnd: the log is sealed although the Judge never
// comes back, and that is told. In real time: a held mutex stops the fake one.
func TestHungJudgeDoesNotHoldTheEnd(t *testing.T) {
	defer func(d time.Duration) { judgeLast = d }(judgeLast)
	judgeLast = 50 * time.Millisecond
	b := startBench(t, nil)
	time.Sleep(300 * time.Millisecond)
	b.c.judge.mu.Lock()
	time.Sleep(300 * time.Millisecond) // until it has something to hang on
	b.do(ActEnd, "test over")
	b.must(ActEnd, "test over")
	<-b.c.Done()
	s := b.c.Snapshot()
	if rep, err := logfmt.VerifyFile(b.log); err != nil || !rep.Whole || !s.Guard.Alarms[safety.JudgeGone].Standing() {
		t.Errorf("with a hung Judge: log %v %+v, alarm %+v; want it whole, and told", err, rep, s.Guard.Alarms[safety.JudgeGone])
	}
	b.c.judge.mu.Unlock()
	<-b.c.judge.done
}
