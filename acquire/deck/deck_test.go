//go:build linux || darwin || freebsd || netbsd || openbsd || dragonfly

package deck

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// handClock is moved by the test.
type handClock struct {
	mu   sync.Mutex
	cond *sync.Cond
	now  int64
}

func newHandClock() *handClock {
	c := &handClock{}
	c.cond = sync.NewCond(&c.mu)
	return c
}

func (c *handClock) Now() int64 {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *handClock) set(t int64) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = t
	c.cond.Broadcast()
}

func (c *handClock) Sleep(ctx context.Context, until int64) error {
	defer context.AfterFunc(ctx, func() {
		c.mu.Lock()
		defer c.mu.Unlock()
		c.cond.Broadcast()
	})()
	c.mu.Lock()
	defer c.mu.Unlock()
	for c.now < until && ctx.Err() == nil {
		c.cond.Wait()
	}
	return ctx.Err()
}

// await waits for the other goroutines to make something so.
func await(t *testing.T, what string, so func() bool) {
	t.Helper()
	for end := time.Now().Add(10 * time.Second); !so(); runtime.Gosched() {
		if time.Now().After(end) {
			t.Fatalf("waited in vain: %s", what)
		}
	}
}

type running struct {
	*Deck
	t     *testing.T
	dir   string
	clock *handClock
	sent  *bytes.Buffer
	done  chan error
}

// opened is a deck that is not running yet.
func opened(t *testing.T, s *Scenario) *running {
	t.Helper()
	r := &running{t: t, dir: filepath.Join(t.TempDir(), "deck"), clock: newHandClock(), sent: &bytes.Buffer{}, done: make(chan error, 1)}
	d, err := Open(s, Options{Dir: r.dir, Clock: r.clock, Seed: 7, Sent: r.sent})
	if err != nil {
		t.Fatal(err)
	}
	r.Deck = d
	t.Cleanup(func() {
		if err := d.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	return r
}

func (r *running) run() *running {
	go func() { r.done <- r.Run(context.Background()) }()
	await(r.t, "the first line", func() bool { s := r.State(); return s.Load.Sent+s.Load.Unheard > 0 })
	return r
}

// reader opens a port as any program would.
func (r *running) reader(name string) *lineReader {
	r.t.Helper()
	f, err := os.OpenFile(filepath.Join(r.dir, name), os.O_RDWR, 0)
	if err != nil {
		r.t.Fatal(err)
	}
	r.t.Cleanup(func() { f.Close() })
	return &lineReader{r.t, f, bufio.NewReader(f)}
}

type lineReader struct {
	t *testing.T
	*os.File
	in *bufio.Reader
}

func (l *lineReader) line() string {
	l.t.Helper()
	if err := l.SetReadDeadline(time.Now().Add(10 * time.Second)); err != nil {
		l.t.Fatal(err)
	}
	text, err := l.in.ReadString('\n')
	if err != nil {
		l.t.Fatalf("after %q: %v", text, err)
	}
	return text
}

func (l *lineReader) want(text string) {
	l.t.Helper()
	if got := l.line(); got != text {
		l.t.Fatalf("read %q, want %q", got, text)
	}
}

func (l *lineReader) say(format string, a ...any) {
	l.t.Helper()
	if _, err := l.WriteString(say(format, a...)); err != nil {
		l.t.Fatal(err)
	}
}

// TestLinesComeOnTheGrid reads both boxes and holds what came against the pure
// world at the same times.
func TestLinesComeOnTheGrid(t *testing.T) {
	s := mustParse(t, strings.Replace(ramped, "[tension]", "noise 20 N\n[tension]", 1))
	r := opened(t, s)
	load, line := r.reader("load"), r.reader("line")
	r.clock.set(5e9) // between Open and Run no time passes for the deck
	r.run()
	twin := newWorld(s, 5e9, 7)
	var want strings.Builder
	for at := int64(0); at <= 2000; at += 50 { // the two boxes speak in turn
		r.clock.set(5e9 + at*ms)
		port, in := portLoad, load
		if at%100 == 50 {
			port, in = portLine, line
		}
		twin.advance(5e9 + at*ms)
		twin.say(port, func(p []byte) {
			in.want(string(p))
			fmt.Fprintf(&want, "%d.%03d000000 %s %q\n", 5+at/1000, at%1000, portNames[port], p)
		})
	}
	// A deck that was held up makes up for it and stays on its grid.
	r.clock.set(5e9 + 4025*ms)
	for at := int64(2050); at <= 4025; at += 50 {
		port, in := portLoad, load
		if at%100 == 50 {
			port, in = portLine, line
		}
		twin.advance(5e9 + at*ms)
		twin.say(port, func(p []byte) {
			in.want(string(p))
			fmt.Fprintf(&want, "9.025000000 %s %q\n", portNames[port], p)
		})
	}
	if err := r.Close(); err != nil {
		t.Error(err)
	}
	if err := <-r.done; err != nil {
		t.Errorf("Run: %v", err)
	}
	if d := cmp.Diff(want.String(), r.sent.String()); d != "" {
		t.Errorf("lines sent (-want +got):\n%s", d)
	}
	if _, err := os.Lstat(r.dir); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the folder is still there: %v", err)
	}
}

func TestRelayOverItsPort(t *testing.T) {
	r := opened(t, mustParse(t, ramped+"[winch]\nuntil relay closed\nhaul\n")).run()
	stop := r.reader("stop")
	r.clock.set(1000 * ms)
	stop.want("RELAY OPEN 0 boot*51\n")
	stop.say("BEAT 12 1")
	stop.say("ARM 12")
	stop.want("RELAY CLOSED 12*52\n")
	r.clock.set(1250 * ms)
	stop.say("BEAT 12 2")
	stop.say("ARM 12 ") // no word: known to be read when it has been counted
	await(t, "the beat to be read", func() bool { return r.State().RelayBad == 1 })
	r.clock.set(1400 * ms)
	await(t, "the winch to haul", func() bool { return r.State().Speed > 0 })
	r.clock.set(1900 * ms) // silence
	stop.want("RELAY OPEN 12 beat-lost*4F\n")
	await(t, "the relay to open", func() bool { return r.State().T == 1900*ms })
	got := r.State()
	want := []RelayChange{
		{T: 0, Reason: "boot"}, {T: 1000 * ms, Closed: true, Session: 12}, {T: 1550 * ms, Session: 12, Reason: "beat-lost"},
	}
	if d := cmp.Diff(want, got.RelayLog); d != "" {
		t.Errorf("relay's log (-want +got):\n%s", d)
	}
	if got.RelayClosed || got.RelayReason != "beat-lost" || got.Session != 12 || got.Lever != leverHaul {
		t.Errorf("state %+v", got)
	}
	r.clock.set(4000 * ms)
	await(t, "the winch to stop", func() bool { return r.State().T == 4000*ms })
	if s := r.State(); s.Speed != 0 || s.X > 0.1 {
		t.Errorf("the winch hauled on to x %v at %v", s.X, s.Speed)
	}
	if err := r.Order("ease"); err != nil {
		t.Error(err)
	}
	x := r.State().X
	r.clock.set(6000 * ms)
	await(t, "the winch to pay out", func() bool { return r.State().X < x-0.15 })
	if s := r.State(); !s.Hand || s.RelayClosed {
		t.Errorf("state %+v", s)
	}
	if err := r.Order("faster"); err == nil {
		t.Error("an unknown order was taken")
	}
}

func TestReaderComesAndGoes(t *testing.T) {
	if !canTellAlone {
		t.Skip("this system cannot tell a port nobody has open")
	}
	r := opened(t, mustParse(t, ramped+"[winch]\nuntil relay closed\nhaul\n")).run()
	r.clock.set(60e9)
	await(t, "a minute of lines to nobody", func() bool { return r.State().T == 60e9 })
	if s := r.State(); s.Load.Sent != 0 || s.Load.Unheard != 601 || s.Load.Heard || !s.Load.Plugged || s.Stop.Unheard != 61 {
		t.Fatalf("load %+v, stop %+v", s.Load, s.Stop)
	}
	// Two readers one after the other; each finds what is said in its time
	// only, and the first leaves some of its own unread.
	first := r.reader("line")
	r.clock.set(60.1e9)
	first.want("N +0000000\r\n")
	r.clock.set(61e9)
	await(t, "more lines", func() bool { return r.State().T == 61e9 })
	first.Close()
	r.clock.set(62e9)
	await(t, "a second without a reader", func() bool { return r.State().T == 62e9 })

	stop := r.reader("stop")
	stop.say("ARM 3")
	stop.want("RELAY CLOSED 3*62\n") // of the minute without a reader nothing came
	r.clock.set(62.2e9)
	await(t, "hauling", func() bool { return r.State().X > 0.005 })
	second := r.reader("line")
	r.clock.set(62.25e9)
	if got := second.line(); got < "N +0000005" {
		t.Errorf("the second reader began with %q, said before it came", got)
	}
}

func TestReaderThatDoesNotRead(t *testing.T) {
	r := opened(t, mustParse(t, strings.Replace(ramped, "[tension]", "load 5000 Hz\nnoise 100 N\n[tension]", 1))).run()
	load, line := r.reader("load"), r.reader("line")
	for at := int64(1); at <= 20; at++ {
		r.clock.set(at * 100 * ms)
		line.line() // the other port is not held up
	}
	await(t, "lines to be dropped", func() bool { return r.State().Load.Dropped > 0 })
	s := r.State()
	if s.Line.Dropped != 0 || s.Load.Sent+s.Load.Dropped+s.Load.Unheard < 9900 {
		t.Errorf("load %+v, line %+v", s.Load, s.Line)
	}
	// Whatever was handed over is whole, also on both sides of the gap. Of the
	// last line before it the end may come with the first one after it.
	read := func(n uint64) {
		for range n {
			if text := load.line(); len(text) != len("+0008.2 kgf\r\n") || !strings.HasSuffix(text, " kgf\r\n") {
				t.Fatalf("a broken line %q", text)
			}
		}
	}
	read(s.Load.Sent - 1)
	r.clock.set(2002 * ms)
	await(t, "sending again", func() bool { return r.State().Load.Sent >= s.Load.Sent+10 })
	read(11)
}

func TestUnplug(t *testing.T) {
	r := opened(t, mustParse(t, ramped+"[faults]\nat 1 s: unplug load 2 s\nat 1 s: unplug stop 2 s\n")).run()
	load, line, stop := r.reader("load"), r.reader("line"), r.reader("stop")
	for at := int64(100); at <= 900; at += 100 {
		r.clock.set(at * ms)
		load.line()
	}
	stop.say("ARM 5")
	stop.want("RELAY CLOSED 5*64\n")
	r.clock.set(1000 * ms)
	await(t, "the plug to be pulled", func() bool { return !r.State().Load.Plugged && !r.State().Stop.Plugged })
	for _, p := range []*lineReader{load, stop} {
		if err := p.SetReadDeadline(time.Now().Add(10 * time.Second)); err != nil {
			t.Fatal(err)
		}
		if _, err := p.in.ReadString('\n'); err == nil || errors.Is(err, os.ErrDeadlineExceeded) {
			t.Errorf("reading an unplugged port: %v, want a hang-up", err)
		}
	}
	if _, err := os.Lstat(filepath.Join(r.dir, "load")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the link is still there: %v", err)
	}
	r.clock.set(2900 * ms)
	for range 28 {
		line.line() // the other box speaks on
	}
	if s := r.State(); s.RelayClosed {
		t.Error("the relay is still closed with its port unplugged")
	}
	r.clock.set(3000 * ms)
	await(t, "the plug to be back", func() bool { return r.State().Load.Plugged && r.State().Stop.Plugged })
	load, stop = r.reader("load"), r.reader("stop")
	r.clock.set(3100 * ms)
	load.want("+0008.2 kgf\r\n")
	stop.say("ARM 6")
	stop.want("RELAY CLOSED 6*67\n")
}

// TestPortThatCannotComeBack: the deck ends with an error rather than go on
// with two instruments.
func TestPortThatCannotComeBack(t *testing.T) {
	r := opened(t, mustParse(t, ramped+"[faults]\nat 1 s: unplug load 2 s\n")).run()
	r.clock.set(2000 * ms)
	await(t, "the plug to be pulled", func() bool { return !r.State().Load.Plugged })
	load := filepath.Join(r.dir, "load")
	if err := os.WriteFile(load, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	r.clock.set(3000 * ms)
	if err := <-r.done; err == nil || !strings.Contains(err.Error(), load) {
		t.Errorf("Run: %v; want an error that names %s", err, load)
	}
}

func TestOrders(t *testing.T) {
	s := mustParse(t, ramped+"[recovery]\nrode out 60 m 0.5 kN\n[winch]\nease\nuntil rode out 61 m\nstop\ndone\n")
	r := opened(t, s)
	if err := r.Order("haul"); err != nil { // said before the deck runs, it holds
		t.Fatal(err)
	}
	r.run()
	at := func(ns int64) State {
		t.Helper()
		r.clock.set(ns)
		await(t, "the time to pass", func() bool { return r.State().T == ns })
		return r.State()
	}
	if got := at(2e9); got.X != 0 || !got.Hand || got.Lever != "haul" || got.Done {
		t.Errorf("a person's haul with the relay open: %+v", got)
	}
	if err := r.Order("script"); err != nil {
		t.Fatal(err)
	}
	if got := at(6e9); got.Hand || got.Lever != "ease" || got.X > -0.35 {
		t.Errorf("the lever given back to a script that eases: %+v", got)
	}
	if err := errors.Join(r.Order("stop"), r.Order("ahead")); err != nil {
		t.Fatal(err)
	}
	if got := at(30e9); !got.Hand || got.Lever != "stop" || got.Speed != 0 || got.Done {
		t.Errorf("a person's stop: %+v", got)
	}
	if err := r.Order("script"); err != nil {
		t.Fatal(err)
	}
	if got := at(60e9); !got.Done || got.Step != 0 || got.L < 61 || got.L > 61.1 {
		t.Errorf("the script at its end: %+v", got)
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	if err := r.Order("haul"); err == nil {
		t.Error("a closed deck takes orders")
	}
	if got := r.State(); got.T != 60e9 {
		t.Errorf("state of a closed deck: %+v", got)
	}
}

func BenchmarkState(b *testing.B) {
	s, err := Load("textbook")
	if err != nil {
		b.Fatal(err)
	}
	d, err := Open(s, Options{Dir: b.TempDir(), Clock: newHandClock()})
	if err != nil {
		b.Fatal(err)
	}
	defer d.Close()
	b.ReportAllocs()
	for b.Loop() {
		_ = d.State()
	}
}
