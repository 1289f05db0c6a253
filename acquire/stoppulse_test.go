package acquire

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.bug.st/serial"

	"hawse/trial"
)

// fakeLines is a device with modem lines, inside a synctest bubble.
type fakeLines struct {
	fakeDevice
	mu    sync.Mutex
	start time.Time
	up    [2]bool
	edges []edge
	err   error // what setting a line gives
}

type edge struct {
	at   time.Duration
	line Line
	up   bool
}

func newFakeLines(up bool) *fakeLines { return &fakeLines{start: time.Now(), up: [2]bool{up, up}} }

func (d *fakeLines) SetRTS(up bool) error { return d.put(RTS, up) }
func (d *fakeLines) SetDTR(up bool) error { return d.put(DTR, up) }

func (d *fakeLines) put(l Line, up bool) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	defer d.enter("Set" + l.String())()
	if d.err != nil {
		return d.err
	}
	if d.up[l] != up {
		d.up[l] = up
		d.edges = append(d.edges, edge{time.Since(d.start), l, up})
	}
	return nil
}

func (d *fakeLines) Close() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.fakeDevice.Close()
}

// now is whether the lines are up, and how many edges there were.
func (d *fakeLines) now() (up [2]bool, edges int) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.up, len(d.edges)
}

// shown is each edge as "12ms RTS up".
func (d *fakeLines) shown() (out []string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, e := range d.edges {
		out = append(out, fmt.Sprintf("%v %v %s", e.at, e.line, map[bool]string{true: "up", false: "down"}[e.up]))
	}
	return out
}

// longestUp is the longest time a line was up, until now.
func (d *fakeLines) longestUp(l Line) (most time.Duration) {
	d.mu.Lock()
	defer d.mu.Unlock()
	since := time.Duration(-1)
	for _, e := range append(d.edges, edge{time.Since(d.start), l, false}) {
		switch {
		case e.line != l:
		case e.up:
			since = e.at
		case since >= 0:
			most, since = max(most, e.at-since), -1
		}
	}
	return most
}

// retriggered replays the edges into a relay that closes at a rising edge and
// falls when none comes within its window. It returns when it fell, or -1.
func (d *fakeLines) retriggered(l Line, window time.Duration) time.Duration {
	d.mu.Lock()
	defer d.mu.Unlock()
	closedUntil := time.Duration(-1)
	for _, e := range d.edges {
		if e.line != l || !e.up {
			continue
		}
		if closedUntil >= 0 && e.at > closedUntil {
			return closedUntil
		}
		closedUntil = e.at + window
	}
	if closedUntil >= 0 && time.Since(d.start) > closedUntil {
		return closedUntil
	}
	return -1
}

// pulsePort is the form's connection on a guarded device.
func pulsePort(t *testing.T, line string) (Conn, StopForm, *fakeLines) {
	t.Helper()
	d := newFakeLines(true) // as some systems leave them when they open a port
	g := newGuard("a", d)
	g.linesDown = true
	form := NewStopForm(trial.StopOutput{Kind: trial.StopPulse, Line: line, Beat: 50 * time.Millisecond})
	c, err := form.Wrap(g)
	if err != nil {
		t.Fatal(err)
	}
	if d.up != [2]bool{} {
		t.Errorf("open: RTS and DTR up are %v; want both down", d.up)
	}
	d.edges = nil
	return c, form, d
}

const beat = 50 * time.Millisecond

func TestPulseTrain(t *testing.T) {
	for _, name := range []string{trial.LineRTS, trial.LineDTR} {
		synctest.Test(t, func(t *testing.T) {
			c, form, d := pulsePort(t, name)
			line := lineNamed(name)
			for n := range uint64(20) { // one second
				msg := form.Beat(nil, 7, n+1, false)
				if k, err := c.Write(msg); k != len(msg) || err != nil {
					t.Fatalf("Write = %d, %v", k, err)
				}
				time.Sleep(beat)
			}
			d.mu.Lock()
			edges := slices.Clone(d.edges)
			d.mu.Unlock()
			if len(edges) != 20 {
				t.Errorf("%s: 20 beats made %d edges, want 20:\n%s", name, len(edges), strings.Join(d.shown(), "\n"))
			}
			for i, e := range edges {
				if e.line != line || e.up != (i%2 == 0) || e.up && e.at != time.Duration(i)*beat {
					t.Errorf("edge %d is %+v; want every second one a rise of %v, 100 ms apart", i, e, line)
				}
			}
			if got := d.retriggered(line, 300*time.Millisecond); got != -1 {
				t.Errorf("the relay fell at %v while beats came", got)
			}
			// The guard hangs: no beat any more, whatever half of the train it was.
			c.Write(form.Beat(nil, 7, 21, false))
			hung := time.Since(d.start)
			time.Sleep(time.Second)
			if up, _ := d.now(); up[line] {
				t.Error("the line is still up a second after the last beat")
			}
			if fell := d.retriggered(line, 300*time.Millisecond); fell < 0 || fell > hung+300*time.Millisecond {
				t.Errorf("last beat at %v, the relay fell at %v; want it within its window", hung, fell)
			}
			if up := d.longestUp(line); up >= beat {
				t.Errorf("the line was up for %v; want less than a beat", up)
			}
			c.Close()
			if up, _ := d.now(); up != [2]bool{} || !d.closed {
				t.Errorf("closed: lines up %v, device closed %v; want both down", up, d.closed)
			}
		})
	}
}

func TestPulseStops(t *testing.T) {
	form := NewStopForm(trial.StopOutput{Kind: trial.StopPulse, Line: "rts", Beat: beat})
	b := func(session uint32, n uint64) string { return string(form.Beat(nil, session, n, false)) }
	open := string(form.Open(nil, 1))
	tests := []struct {
		name  string
		words []string // one a beat
		want  []string
	}{
		{"OPEN while the line is up", []string{b(1, 1), open}, []string{"0s RTS up", "40ms RTS down"}},
		{"OPEN in the same message", []string{b(1, 1) + open}, []string{"0s RTS up", "0s RTS down"}},
		{"a session that was opened never pulses again", []string{b(1, 1), open, b(1, 2), b(1, 3), b(1, 4)}, []string{"0s RTS up", "40ms RTS down"}},
		{"a fresh one does", []string{b(1, 1), open, b(2, 1)}, []string{"0s RTS up", "40ms RTS down", "100ms RTS up", "140ms RTS down"}},
		{"a new session ends the old one", []string{b(1, 1), b(2, 1), b(1, 2)}, []string{"0s RTS up", "40ms RTS down", "50ms RTS up", "90ms RTS down"}},
		{"no session", []string{b(0, 1), b(0, 2)}, nil},
		{"words that are none", []string{"BEAT x\n", "HELLO\n", "BEAT \n"}, nil},
		{"a missing beat makes no edge", []string{b(1, 1), b(1, 2), "", b(1, 3)}, []string{"0s RTS up", "40ms RTS down", "150ms RTS up", "190ms RTS down"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				c, _, d := pulsePort(t, "rts")
				defer c.Close()
				for _, w := range tt.words {
					if n, err := c.Write([]byte(w)); n != len(w) || err != nil {
						t.Fatalf("Write(%q) = %d, %v", w, n, err)
					}
					time.Sleep(beat)
				}
				if diff := cmp.Diff(tt.want, d.shown()); diff != "" {
					t.Errorf("%q (-want +got):\n%s", tt.words, diff)
				}
			})
		})
	}
}

func TestPulseNeedsLines(t *testing.T) {
	form := NewStopForm(trial.StopOutput{Kind: trial.StopPulse, Line: "rts", Beat: beat})
	plain := &fakeDevice{}
	if c, err := form.Wrap(newGuard("a", plain)); c != nil || !errors.Is(err, errNoLines) || !plain.closed {
		t.Errorf("on a port without lines Wrap = %v, %v, closed %v; want an error and the port closed", c, err, plain.closed)
	}
	odd := errors.New("inappropriate ioctl")
	d := newFakeLines(false)
	d.err = odd
	if c, err := form.Wrap(newGuard("a", d)); c != nil || !errors.Is(err, odd) || !d.closed {
		t.Errorf("on a port that refuses Wrap = %v, %v, closed %v; want its error and the port closed", c, err, d.closed)
	}
	synctest.Test(t, func(t *testing.T) { // a port that is pulled out is lost at the next edge
		c, form, d := pulsePort(t, "rts")
		defer c.Close()
		d.err = &serial.PortError{} // code 0: busy; any error will do
		if n, err := c.Write(form.Beat(nil, 1, 1, false)); n != 0 || err == nil {
			t.Errorf("Write on a lost port = %d, %v; want an error", n, err)
		}
	})
}

func TestPulseAllocatesNothing(t *testing.T) {
	d := newFakeLines(false)
	g := newGuard("a", d)
	form := NewStopForm(trial.StopOutput{Kind: trial.StopPulse, Line: "rts", Beat: beat})
	c, err := form.Wrap(g)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	var buf []byte
	d.edges = make([]edge, 0, 1<<12)
	n := uint64(0)
	for _, tt := range []struct {
		name string
		form StopForm
		out  func([]byte)
	}{
		{"pulse", form, func(p []byte) { c.Write(p) }},
		{"text", textForm{}, func([]byte) {}},
		{"modbus", modbusForm{at: trial.DefaultModbus}, func([]byte) {}},
	} {
		if got := testing.AllocsPerRun(1000, func() {
			n++
			buf = tt.form.Beat(buf[:0], 7, n, true)
			tt.out(buf)
		}); got != 0 {
			t.Errorf("%s: %v allocations a beat, want 0", tt.name, got)
		}
	}
}

// TestModeLinesDown: of a port that is opened with its lines down, the library
// is asked for both down; any other is opened as it comes.
func TestModeLinesDown(t *testing.T) {
	for _, down := range []bool{true, false} {
		m, err := parseMode("a", trial.Port{Baud: 9600, Frame: "8E1", LinesDown: down})
		if err != nil {
			t.Fatal(err)
		}
		var want *serial.ModemOutputBits
		if down {
			want = &serial.ModemOutputBits{RTS: false, DTR: false}
		}
		if diff := cmp.Diff(want, m.InitialStatusBits); diff != "" {
			t.Errorf("LinesDown %v: lines at opening (-want +got):\n%s", down, diff)
		}
	}
}

// TestLinesDown: a stop port puts both lines down as it opens and closes; a
// load port leaves them alone.
func TestLinesDown(t *testing.T) {
	for _, down := range []bool{true, false} {
		synctest.Test(t, func(t *testing.T) {
			d := newFakeLines(true)
			g := newGuard("a", d)
			g.linesDown = down
			if err := g.Close(); err != nil {
				t.Fatal(err)
			}
			if want := [2]bool{!down, !down}; d.up != want || !d.closed {
				t.Errorf("linesDown %v: closed with lines up %v, want %v", down, d.up, want)
			}
		})
	}
}

// TestNothingGoesOutAfterClose: in whatever form, a write or an edge after Close
// does not reach the device, also one that was on its way.
func TestNothingGoesOutAfterClose(t *testing.T) {
	horn := func(kind string) Form { return NewHornForm(&trial.Horn{Kind: kind, Line: "rts", LampCoil: 1}) }
	stop := func(kind string) Form {
		return NewStopForm(trial.StopOutput{Kind: kind, Line: "rts", Beat: beat, Modbus: trial.DefaultModbus})
	}
	for name, form := range map[string]Form{
		"text": stop(trial.StopText), "modbus": stop(trial.StopModbus), "pulse": stop(trial.StopPulse),
		"horn text": horn(trial.StopText), "horn modbus": horn(trial.StopModbus), "horn level": horn(trial.StopLevel), "horn pulse": horn(trial.StopPulse),
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				d := newFakeLines(false)
				g := newGuard("a", d)
				g.linesDown = true
				c, err := form.Wrap(g)
				if err != nil {
					t.Fatal(err)
				}
				msg := func(n uint64) []byte {
					if f, ok := form.(StopForm); ok {
						return f.Beat(nil, 9, n, true)
					}
					return form.(HornForm).Signal(nil, true, true)
				}
				if _, err := c.Write(msg(1)); err != nil {
					t.Fatal(err)
				}
				var racing sync.WaitGroup
				for n := range uint64(3) { // whoever comes too late
					racing.Go(func() { c.Write(msg(n + 2)) })
				}
				if err := c.Close(); err != nil {
					t.Fatal(err)
				}
				racing.Wait()
				at := len(d.wrote)
				_, edges := d.now()
				for range 5 {
					if n, err := c.Write(msg(9)); n != 0 || !errors.Is(err, ErrClosed) {
						t.Errorf("Write after Close = %d, %v; want 0, ErrClosed", n, err)
					}
					if err := g.SetLine(RTS, true); !errors.Is(err, ErrClosed) {
						t.Errorf("SetLine after Close = %v; want ErrClosed", err)
					}
					time.Sleep(beat) // timers too
				}
				if up, n := d.now(); len(d.wrote) != at || n != edges || up != [2]bool{} {
					t.Errorf("after Close %d writes and %d edges reached the device, lines up %v", len(d.wrote)-at, n-edges, up)
				}
			})
		})
	}
}
