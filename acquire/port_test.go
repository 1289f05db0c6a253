package acquire

import (
	"errors"
	"io"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.bug.st/serial"

	"hawse/trial"
)

// fakeDevice is a device in the hands of a test, inside a synctest bubble.
type fakeDevice struct {
	reads    []string      // what the Reads give; "" is a timeout
	readErr  error         // after those
	hang     chan struct{} // not nil: Write waits for it
	deaf     bool          // Wake does not help
	short    int           // Write takes at most that many bytes a call; 0: all
	panics   bool          // Read panics
	closeErr error

	wrote  []string
	closed bool
	in     int // calls in the device
}

func (d *fakeDevice) enter(t string) func() {
	if d.closed {
		panic(t + " after the device was closed")
	}
	d.in++
	return func() { d.in-- }
}

func (d *fakeDevice) Read(p []byte) (int, error) {
	defer d.enter("Read")()
	if d.panics {
		panic("index out of range [16] with length 16")
	}
	if len(d.reads) == 0 {
		time.Sleep(readTimeout)
		return 0, d.readErr
	}
	s := d.reads[0]
	d.reads = d.reads[1:]
	if s == "" {
		time.Sleep(readTimeout)
	}
	return copy(p, s), nil
}

func (d *fakeDevice) Write(p []byte) (int, error) {
	defer d.enter("Write")()
	if d.hang != nil {
		<-d.hang
		return 0, errors.New("broken off")
	}
	if d.short > 0 {
		p = p[:min(len(p), d.short)]
	}
	d.wrote = append(d.wrote, string(p))
	return len(p), nil
}

func (d *fakeDevice) Wake() {
	if !d.deaf && d.hang != nil {
		close(d.hang)
	}
}

func (d *fakeDevice) Flush() error { return nil }

func (d *fakeDevice) Close() error {
	if d.in != 0 {
		panic("closed with a call in the device")
	}
	d.closed = true
	return d.closeErr
}

func TestGuardSettles(t *testing.T) {
	tests := []struct {
		name  string
		reads []string
		want  []string // what Read gives then
	}{
		{"silence", nil, []string{""}},
		{"silence, then a line", []string{"", "+00312.4 lb\r\n"}, []string{"+00312.4 lb\r\n"}},
		{"the tail of a line", []string{"2.4 lb\r\n", "+00312.5 lb\r\n"}, []string{"+00312.5 lb\r\n"}},
		{"a tail in pieces", []string{"2.4", " lb", "\r\n+003", "12.5 lb\r\n"}, []string{"+003", "12.5 lb\r\n"}},
		{"old lines and a new one", []string{"1\n2\n3", "4\n"}, []string{"3", "4\n"}},
		{"half a line, then silence", []string{"2.4", "", "+00312.5 lb\r\n"}, []string{"+00312.5 lb\r\n"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				g := newGuard("a", &fakeDevice{reads: tt.reads})
				g.settle()
				var got []string
				buf := make([]byte, 100)
				for range tt.want {
					n, err := g.Read(buf)
					if err != nil {
						t.Fatal(err)
					}
					got = append(got, string(buf[:n]))
				}
				if diff := cmp.Diff(tt.want, got); diff != "" {
					t.Errorf("Reads after settling on %q (-want +got):\n%s", tt.reads, diff)
				}
			})
		})
	}
}

// Noise without line ends does not keep a port from opening.
func TestGuardSettlesOnNoise(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &fakeDevice{}
		for range 100 {
			d.reads = append(d.reads, strings.Repeat("x", 1000))
		}
		newGuard("a", d).settle()
		if took := 100 - len(d.reads); took > 10 {
			t.Errorf("settling took %d Reads of 1,000 bytes of noise; want at most 10", took)
		}
	})
}

func TestGuardErrors(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		buf := make([]byte, 10)
		if n, err := newGuard("a", &fakeDevice{readErr: errOdd}).Read(buf); n != 0 || !errors.Is(err, errOdd) {
			t.Errorf("Read of a device with an odd error = %d, %v; want 0 and that error", n, err)
		}
		if _, err := newGuard("a", &fakeDevice{panics: true}).Read(buf); err == nil || !strings.Contains(err.Error(), "index out of range") {
			t.Errorf("Read that panics in the library = %v; want an error that says so", err)
		}
	})
}

func TestGuardOwnClose(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g := newGuard("a", &fakeDevice{})
		got := make(chan error)
		go func() {
			for {
				if _, err := g.Read(make([]byte, 10)); err != nil {
					got <- err
					return
				}
			}
		}()
		time.Sleep(5 * time.Millisecond) // the Read is in the device
		if err := g.Close(); err != nil {
			t.Errorf("Close = %v; want nil", err)
		}
		if err := <-got; !errors.Is(err, ErrClosed) || errors.Is(err, ErrUnplugged) {
			t.Errorf("Read over our own Close = %v; want ErrClosed", err)
		}
		if n, err := g.Write([]byte("x")); n != 0 || !errors.Is(err, ErrClosed) {
			t.Errorf("Write after Close = %d, %v; want 0, ErrClosed", n, err)
		}
		if err := g.Close(); err != nil {
			t.Errorf("second Close = %v; want nil", err)
		}
	})
}

var errOdd = errors.New("odd")

func TestGuardCloseTellsItsError(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		if err := newGuard("a", &fakeDevice{closeErr: errOdd}).Close(); !errors.Is(err, errOdd) {
			t.Errorf("Close = %v; want %v", err, errOdd)
		}
	})
}

func TestGuardWritesAll(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &fakeDevice{short: 3}
		if n, err := newGuard("a", d).Write([]byte("BEAT 17")); n != 7 || err != nil || strings.Join(d.wrote, "|") != "BEA|T 1|7" {
			t.Errorf("Write = %d, %v, in pieces %q; want 7, nil, three pieces", n, err, d.wrote)
		}
		z := &zeroDevice{}
		if n, err := newGuard("a", z).Write([]byte("x")); n != 0 || !errors.Is(err, io.ErrShortWrite) {
			t.Errorf("Write that takes nothing = %d, %v; want 0, %v", n, err, io.ErrShortWrite)
		}
	})
}

type zeroDevice struct{ fakeDevice }

func (*zeroDevice) Write([]byte) (int, error) { return 0, nil }

// A Write that hangs is broken off; where the system cannot, Close still comes
// back within its deadline, the device stays open until the Write has left, and
// nothing enters it again.
func TestGuardCloseWithHungWrite(t *testing.T) {
	for _, deaf := range []bool{false, true} {
		synctest.Test(t, func(t *testing.T) {
			d := &fakeDevice{hang: make(chan struct{}), deaf: deaf}
			g := newGuard("a", d)
			got := make(chan error, 1)
			go func() {
				_, err := g.Write([]byte("x"))
				got <- err
			}()
			synctest.Wait()
			began := time.Now()
			err := g.Close()
			took := time.Since(began)
			if deaf {
				if err == nil || took != closeWithin || d.closed {
					t.Errorf("Close with a Write that cannot be broken off = %v after %v, device closed %v; want an error after %v, device open", err, took, d.closed, closeWithin)
				}
				close(d.hang)
			} else if err != nil || took > 200*time.Millisecond {
				t.Errorf("Close with a Write that can be broken off = %v after %v; want nil within 200 ms", err, took)
			}
			if err := <-got; !errors.Is(err, ErrClosed) {
				t.Errorf("the Write that hung = %v; want ErrClosed", err)
			}
			synctest.Wait()
			if !d.closed {
				t.Error("device still open after its Write has left")
			}
			if _, err := g.Write([]byte("y")); !errors.Is(err, ErrClosed) || len(d.wrote) != 0 {
				t.Errorf("Write after that = %v, device got %q; want ErrClosed and nothing", err, d.wrote)
			}
		})
	}
}

func TestParseMode(t *testing.T) {
	for _, tt := range []struct {
		baud  int
		frame string
		want  serial.Mode
	}{
		{9600, "8N1", serial.Mode{BaudRate: 9600, DataBits: 8}},
		{9600, "", serial.Mode{BaudRate: 9600, DataBits: 8}},
		{4800, "7e1", serial.Mode{BaudRate: 4800, DataBits: 7, Parity: serial.EvenParity}},
		{115200, "8O2", serial.Mode{BaudRate: 115200, DataBits: 8, Parity: serial.OddParity, StopBits: serial.TwoStopBits}},
		{300, "5N1.5", serial.Mode{BaudRate: 300, DataBits: 5, StopBits: serial.OnePointFiveStopBits}},
	} {
		got, err := parseMode("a", trial.Port{Baud: tt.baud, Frame: tt.frame})
		if err != nil || *got != tt.want {
			t.Errorf("parseMode(%d, %q) = %+v, %v; want %+v", tt.baud, tt.frame, got, err, tt.want)
		}
	}
	for _, tt := range []trial.Port{{Baud: 0, Frame: "8N1"}, {Baud: -1}, {Baud: 9600, Frame: "9N1"}, {Baud: 9600, Frame: "8X1"},
		{Baud: 9600, Frame: "8N3"}, {Baud: 9600, Frame: "8N"}, {Baud: 9600, Frame: "\x1b[2J"}} {
		_, err := parseMode("a", tt)
		if bad, ok := errors.AsType[*PortError](err); !ok || bad.Fault != BadMode || strings.ContainsRune(err.Error(), '\x1b') {
			t.Errorf("parseMode(%+v) = %v; want a BadMode error fit to be shown", tt, err)
		}
	}
}
