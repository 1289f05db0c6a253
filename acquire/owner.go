package acquire

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"sync/atomic"
	"time"

	"hawse/trial"
)

const (
	// retryEvery is how often a missing port is tried. Four tries a second cost
	// nothing and find it before a person has let go of the plug.
	retryEvery = 250 * time.Millisecond
	// grace is how long an owner that was told to end waits for its channel, its
	// last write, and each of its goroutines.
	grace = 250 * time.Millisecond
	// endWithin is how long an owner waits for a system call that does not return.
	endWithin = 1200 * time.Millisecond
	// muteMost is the longest a port that gives nothing is left open.
	muteMost = time.Minute
)

// OwnerOptions is what an [Owner] needs.
type OwnerOptions struct {
	Src  string // goes into every Item
	Port trial.Port
	Dial Dialer // nil: OpenSerial
	Form Form   // how the port is spoken to; nil: in lines, with the words of the stop output
	// Ask is what an instrument is asked; nil where it speaks of its own accord.
	// Then nothing can be posted. It is the owner's own.
	Ask *Asking
	// Whole ports send no lines: each Read is a cut of its own.
	Whole bool
	// Mute is how long the port may give nothing before it is opened again: an
	// adapter half gone reads no bytes for ever. Doubled each time, up to a
	// minute, until bytes come. 0: for ever.
	Mute  time.Duration
	Clock Clock
	Out   chan<- Item // must be read; the owner waits for it
	Dir   string      // where names that begin with ./ or ../ start

	list func() ([]PortInfo, error) // the ports of this machine; nil: ListPorts
}

// Owner looks after one port for as long as its Run runs.
type Owner struct {
	opt    OwnerOptions
	box    mailbox
	chunks atomic.Uint64 // Reads that brought bytes, over all connections
	deaf   atomic.Bool   // the context is done and nobody reads Out any more
}

// NewOwner makes an owner; nothing happens before Run.
func NewOwner(o OwnerOptions) *Owner {
	if o.Dial == nil {
		o.Dial = OpenSerial
	}
	if o.list == nil {
		o.list = ListPorts
	}
	own := &Owner{opt: o}
	if o.Form != nil {
		own.box.class = o.Form.Class
	}
	return own
}

// Post leaves a message for the port and never blocks. There is one place: a
// message replaces one that has not gone out, except that an OPEN of the stop
// output is never lost to a heartbeat. What is posted while the port is away is
// dropped when it comes back, all but an OPEN. msg is not kept.
func (o *Owner) Post(msg []byte) { o.box.post(msg) }

// Run opens the port, and opens it again whenever it is lost, until ctx is done.
// It opens the first of the port's names that opens; while none does it tries
// again every 250 ms of its clock. Everything goes to Out; after ctx is done Run
// still hands over what it has, but waits no longer than 250 ms for a channel
// that nobody reads.
//
// Its goroutines end before it returns. Only one that the system keeps in a
// Read, Write or open is left behind, after about a second; it ends when the
// system lets it go, and sends nothing more. A panic in any of them ends that
// connection, is told as the reason it was lost, and the port is opened again.
func (o *Owner) Run(ctx context.Context) {
	var h history
	for ctx.Err() == nil {
		o.round(ctx, &h)
	}
}

// history is what an owner remembers from one connection to the next.
type history struct {
	mute  time.Duration // how long the next connection may give nothing
	retry string        // the reason last told why it cannot be opened
	since int64         // when the port was lost
	lost  bool          // it was open once, and lost
}

// round opens the port once, serves it to its end, and rests.
func (o *Owner) round(ctx context.Context, h *history) {
	defer func() {
		if r := recover(); r != nil {
			o.fault(ctx, panicReason(r))
			_ = pause(ctx, retryEvery)
		}
	}()
	conn, name, err := o.open(ctx)
	switch {
	case ctx.Err() != nil:
		if conn != nil {
			o.close(conn)
		}
		return
	case err != nil:
		if why := err.Error(); why != h.retry {
			h.retry = why
			o.emit(ctx, Item{Kind: State, T: o.opt.Clock.Now(), State: StateRetry, Reason: why})
		}
	default:
		bell := o.box.attach() // before open is told: what is posted in answer to it must go out
		open := Item{Kind: State, T: o.opt.Clock.Now(), State: StateOpen, Name: name}
		if h.lost {
			open.Gap = open.T - h.since
		}
		o.emit(ctx, open)
		h.mute = max(h.mute, o.opt.Mute)
		why, heard := o.serve(ctx, conn, bell, h.mute)
		end := Item{Kind: State, State: StateLost, Name: name, Reason: why}
		end.T = o.opt.Clock.Now()
		if heard {
			h.mute = 0
		}
		*h = history{since: end.T, lost: true, mute: min(2*h.mute, muteMost)}
		if ctx.Err() != nil {
			end.State, end.Reason = StateClosed, ""
		}
		o.emit(ctx, end)
	}
	o.rest(ctx)
}

// fault tells of a panic of the owner itself.
func (o *Owner) fault(ctx context.Context, reason string) {
	defer func() { _ = recover() }() // if even telling it fails there is nobody left to tell
	o.emit(ctx, Item{Kind: State, T: o.opt.Clock.Now(), State: StateLost, Reason: reason})
}

// emit hands over one item, in order. Once ctx is done it gives up on a channel
// that nobody reads, for good.
func (o *Owner) emit(ctx context.Context, it Item) {
	it.Src = o.opt.Src
	select {
	case o.opt.Out <- it:
		return
	default:
	}
	select {
	case o.opt.Out <- it:
		return
	case <-ctx.Done():
	}
	if o.deaf.Load() {
		return
	}
	t := time.NewTimer(grace)
	defer t.Stop()
	select {
	case o.opt.Out <- it:
	case <-t.C:
		o.deaf.Store(true)
	}
}

// rest waits before the next try, in the owner's own time where it has one.
func (o *Owner) rest(ctx context.Context) {
	if c, ok := o.opt.Clock.(sleeper); ok {
		_ = c.Sleep(ctx, o.opt.Clock.Now()+int64(retryEvery))
		return
	}
	_ = pause(ctx, retryEvery)
}

type opened struct {
	conn Conn
	name string
	err  error
}

// open tries the names in order. Opening can hang in a driver, so it has its own
// goroutine; one that comes too late closes what it got.
func (o *Owner) open(ctx context.Context) (Conn, string, error) {
	if len(o.opt.Port.Names) == 0 {
		return nil, "", errors.New("no port named; give port= in the trial file")
	}
	done := make(chan opened)
	late := make(chan struct{})
	go func() {
		got := o.tryNames()
		select {
		case done <- got:
		case <-late:
			if got.conn != nil {
				o.close(got.conn)
			}
		}
	}()
	select {
	case got := <-done:
		return got.conn, got.name, got.err
	case <-ctx.Done():
	}
	t := time.NewTimer(endWithin)
	defer t.Stop()
	select {
	case got := <-done:
		return got.conn, got.name, got.err
	case <-t.C:
		close(late)
		return nil, "", ctx.Err()
	}
}

func (o *Owner) tryNames() (got opened) {
	defer func() {
		if r := recover(); r != nil {
			got.err = errors.New(panicReason(r))
		}
	}()
	var missing []string
	var telling error // a name that exists and does not open tells more than one that is missing
	for _, name := range o.opt.Port.Names {
		path, err := o.path(name)
		var conn Conn
		if err == nil {
			conn, err = o.dial(path)
		}
		if err == nil {
			if path != name && isUSB(name) {
				name += " at " + path
			}
			return opened{conn: conn, name: name}
		}
		switch bad, ok := errors.AsType[*PortError](err); {
		case ok && bad.Fault == Missing:
			missing = append(missing, Visible([]byte(cmp.Or(path, name))))
		case telling != nil:
		case ok:
			telling = bad
		default:
			telling = &PortError{Name: path, Err: err}
		}
	}
	if telling == nil {
		telling = errors.New(missingText(strings.Join(missing, " or ")))
	}
	return opened{err: telling}
}

// dial opens one name and makes it speak the port's form.
func (o *Owner) dial(path string) (Conn, error) {
	conn, err := o.opt.Dial(path, o.opt.Port)
	if err != nil || o.opt.Form == nil {
		return conn, err
	}
	return o.opt.Form.Wrap(conn)
}

// path is the system's name of a port.
func (o *Owner) path(name string) (string, error) { return portPath(o.opt.Dir, name, o.opt.list) }

// PortPath is the system's name of a port as a trial file in dir names it: one
// that begins with ./ or ../ starts there, and usb: finds an adapter by its serial
// number, which is an error where none has it.
func PortPath(dir, name string) (string, error) { return portPath(dir, name, ListPorts) }

func portPath(dir, name string, list func() ([]PortInfo, error)) (string, error) {
	if isUSB(name) {
		return findUSB(name, list)
	}
	for _, begins := range []string{"./", "../", `.\`, `..\`} {
		if strings.HasPrefix(name, begins) {
			return filepath.Join(dir, filepath.FromSlash(name)), nil
		}
	}
	return name, nil
}

// close closes a connection, and comes back even if its Close does not.
func (o *Owner) close(conn Conn) {
	done := make(chan struct{})
	go func() {
		defer close(done)
		defer func() { _ = recover() }() // it is being thrown away, and why it was lost is told already
		_ = conn.Close()
	}()
	wait(done, endWithin)
}

// wait reports whether done was closed in time.
func wait(done <-chan struct{}, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-done:
		return true
	case <-t.C:
		return false
	}
}

func panicReason(r any) string {
	return "a fault in this program: " + Visible([]byte(fmt.Sprint(r)))
}
