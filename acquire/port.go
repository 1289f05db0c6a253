package acquire

import (
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"go.bug.st/serial"

	"hawse/trial"
)

const (
	// readTimeout is how long a Read waits. Close wakes it and the supervisor cuts
	// half a line without it, so it may be long: on a silent port each wait that
	// ends is a wake-up for nothing.
	readTimeout = 100 * time.Millisecond
	// closeWithin bounds Close; some drivers take 30 s to let go.
	closeWithin = time.Second
	// wakeAfter is how long Close lets a Write finish before it breaks it off.
	wakeAfter = 100 * time.Millisecond

	// What an adapter still carries when the first flush comes is caught by the
	// second; a pseudo-terminal's 20 KiB go with the first (measured on Linux).
	flushes    = 2
	flushPause = 5 * time.Millisecond
	// settleReads and settleBytes bound the search for the start of a line in
	// bytes that may have no line ends at all.
	settleReads = 16
	settleBytes = 8192
)

// device is one open port as the system has it. Only its guard calls it.
type device interface {
	Read(p []byte) (int, error) // 0, nil after readTimeout
	Write(p []byte) (int, error)
	Wake()        // breaks off a Write in progress, if the system can
	Flush() error // throws away what has arrived and not been read
	Close() error
}

// modem is a device whose lines can be set.
type modem interface {
	SetRTS(up bool) error
	SetDTR(up bool) error
}

// OpenSerial opens a serial port by the system's name for it. The port is this
// program's alone, what waited in the driver is thrown away up to the start of a
// line, and reading begins there. The error is a *PortError.
//
// With p.LinesDown the modem lines RTS and DTR are put down as the port opens,
// and again before it is closed; the connection is a [LineConn]. Some systems
// raise both for a moment when a port is opened, before any program can put
// them down. A port without such lines opens all the same.
//
// The connection's Read and Write belong to one goroutine each; Close may be
// called from any. Close returns within a second and then reports if the system
// has not let go yet; no byte is written after it, whatever happens.
func OpenSerial(name string, p trial.Port) (Conn, error) {
	mode, err := parseMode(name, p)
	if err != nil {
		return nil, err
	}
	dev, err := openDevice(name, mode)
	if err != nil {
		return nil, err
	}
	g := newGuard(name, dev)
	g.linesDown = p.LinesDown
	g.settle()
	return g, nil
}

// parseMode reads baud and frame, such as 9600 and "8N1".
func parseMode(name string, p trial.Port) (*serial.Mode, error) {
	bad := func(format string, args ...any) error {
		return &PortError{Name: name, Fault: BadMode, What: fmt.Sprintf(format, args...)}
	}
	if p.Baud <= 0 {
		return nil, bad("baud %d is not above zero", p.Baud)
	}
	frame := p.Frame
	if frame == "" {
		frame = "8N1"
	}
	m := &serial.Mode{BaudRate: p.Baud}
	if p.LinesDown {
		m.InitialStatusBits = &serial.ModemOutputBits{} // without, the library raises both
	}
	parity := map[byte]serial.Parity{'N': serial.NoParity, 'E': serial.EvenParity, 'O': serial.OddParity,
		'M': serial.MarkParity, 'S': serial.SpaceParity}
	stop := map[string]serial.StopBits{"1": serial.OneStopBit, "1.5": serial.OnePointFiveStopBits, "2": serial.TwoStopBits}
	var ok1, ok2 bool
	if len(frame) >= 3 && frame[0] >= '5' && frame[0] <= '8' {
		m.DataBits, _ = strconv.Atoi(frame[:1])
		m.Parity, ok1 = parity[strings.ToUpper(frame[1:2])[0]]
		m.StopBits, ok2 = stop[frame[2:]]
	}
	if !ok1 || !ok2 {
		return nil, bad("frame %s is not data bits 5 to 8, parity N, E, O, M or S, stop bits 1, 1.5 or 2, such as 8N1", quoted(frame))
	}
	return m, nil
}

// serialFault puts an error of the serial library into words.
func serialFault(name string, err error) *PortError {
	out := &PortError{Name: name, Err: err}
	pe, ok := errors.AsType[*serial.PortError](err)
	if !ok {
		return out
	}
	switch pe.Code() {
	case serial.PortBusy:
		out.Fault = Busy
	case serial.PortNotFound:
		out.Fault = Missing
	case serial.PermissionDenied:
		out.Fault = Denied
	case serial.InvalidSerialPort:
		out.Fault = NotPort
	case serial.InvalidSpeed:
		out.Fault, out.What = BadMode, "it cannot be set to this baud"
	case serial.InvalidDataBits, serial.InvalidParity, serial.InvalidStopBits:
		out.Fault, out.What = BadMode, "it cannot be set to this frame"
	}
	return out
}

// guard is the one way to a device. A descriptor that is closed may be given to
// another file at once, so the device is closed only while no Read or Write is
// in it, and neither enters it again.
type guard struct {
	name    string
	dev     device
	closed  atomic.Bool
	reading chan struct{} // holds one token while a Read is in the device
	writing chan struct{} // and a Write
	held    []byte        // read while looking for the start of a line
	// linesDown: the modem lines go down before the device is closed.
	linesDown bool
	once      sync.Once
	done      chan struct{} // the device is closed
	err       error         // what closing it gave; after done
}

func newGuard(name string, dev device) *guard {
	return &guard{name: name, dev: dev, reading: make(chan struct{}, 1), writing: make(chan struct{}, 1), done: make(chan struct{})}
}

// settle throws away what waited in the driver and goes on to the start of a
// line: the first line end, or a silence. What follows it is kept for Read. In
// bytes without line ends it gives up; then all that was read is dropped.
func (g *guard) settle() {
	for range flushes {
		if g.dev.Flush() != nil {
			break // Read will tell
		}
		wait(g.done, flushPause)
	}
	buf := make([]byte, readBuffer)
	total := 0
	for range settleReads {
		n, err := g.Read(buf)
		if n == 0 || err != nil {
			return
		}
		if i := strings.LastIndexAny(string(buf[:n]), "\r\n"); i >= 0 {
			g.held = append(g.held, buf[i+1:n]...)
			return
		}
		if total += n; total > settleBytes {
			return
		}
	}
}

// Read implements [Conn].
func (g *guard) Read(p []byte) (n int, err error) {
	g.reading <- struct{}{}
	defer func() { <-g.reading }()
	if g.closed.Load() {
		return 0, ErrClosed
	}
	if len(g.held) > 0 {
		n = copy(p, g.held)
		g.held = g.held[n:]
		return n, nil
	}
	defer g.recovered("read", &n, &err)
	n, err = g.dev.Read(p)
	if n > 0 {
		return n, nil // an error with bytes comes again, alone
	}
	return 0, g.explain(err)
}

// Write implements [Conn].
func (g *guard) Write(p []byte) (n int, err error) {
	g.writing <- struct{}{}
	defer func() { <-g.writing }()
	k := 0
	defer g.recovered("write", &n, &err)
	for n < len(p) {
		dev, shut := g.output()
		if shut != nil {
			return n, shut
		}
		k, err = dev.Write(p[n:])
		n += k
		if err != nil {
			return n, g.explain(err)
		}
		if k == 0 {
			return n, io.ErrShortWrite
		}
	}
	return n, nil
}

// SetLine implements [LineConn].
func (g *guard) SetLine(l Line, up bool) (err error) {
	g.writing <- struct{}{}
	defer func() { <-g.writing }()
	defer g.recovered("setting a line", new(int), &err)
	dev, err := g.output()
	if err != nil {
		return err
	}
	return g.explain(setLine(dev, l, up))
}

func setLine(dev device, l Line, up bool) error {
	m, ok := dev.(modem)
	switch {
	case !ok:
		return errNoLines
	case l == DTR:
		return m.SetDTR(up)
	}
	return m.SetRTS(up)
}

// output is the one way in which anything goes out of the port: it gives the
// device to whoever holds the writing token, and never after Close.
func (g *guard) output() (device, error) {
	if g.closed.Load() {
		return nil, ErrClosed
	}
	return g.dev, nil
}

// Close implements [Conn].
func (g *guard) Close() error {
	g.once.Do(func() {
		g.closed.Store(true)
		go g.shut()
	})
	if !wait(g.done, closeWithin) {
		return fmt.Errorf("port %s: the system has not let go of it after %v; unplug it before using it again",
			Visible([]byte(g.name)), closeWithin)
	}
	return g.err
}

// shut closes the device once no call is in it.
func (g *guard) shut() {
	defer close(g.done)
	defer g.recovered("close", new(int), &g.err)
	t := time.NewTimer(wakeAfter)
	defer t.Stop()
	select {
	case g.writing <- struct{}{}:
	case <-t.C:
		g.dev.Wake()
		g.writing <- struct{}{}
	}
	g.reading <- struct{}{}
	defer func() { // who waits to enter finds it closed
		<-g.writing
		<-g.reading
	}()
	if g.linesDown {
		for _, l := range []Line{RTS, DTR} {
			_ = setLine(g.dev, l, false) // a port without lines, or one that is gone
		}
	}
	g.err = g.dev.Close()
}

// explain tells our own Close from an unplug: the serial library says the same
// of both.
func (g *guard) explain(err error) error {
	if err == nil {
		return nil
	}
	if g.closed.Load() {
		return ErrClosed
	}
	if pe, ok := errors.AsType[*serial.PortError](err); ok && pe.Code() == serial.PortClosed || deviceGone(err) {
		return fmt.Errorf("%w: %w", ErrUnplugged, err)
	}
	return err
}

// recovered turns a panic of the serial library into an error: it indexes past
// its set of descriptors when the program has more than 1,023 open.
func (g *guard) recovered(what string, n *int, err *error) {
	if r := recover(); r != nil {
		*n = max(*n, 0)
		*err = fmt.Errorf("port %s: %s failed in the serial library: %v", Visible([]byte(g.name)), what, r)
	}
}
