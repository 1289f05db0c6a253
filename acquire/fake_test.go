package acquire

import (
	"context"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"hawse/trial"
)

// fakePort is a Conn in the hands of a test.
type fakePort struct {
	reads  chan fakeRead
	wrote  chan []byte   // what Write took
	gate   chan struct{} // not nil: Write waits for it, also beyond Close
	block  chan struct{} // not nil: Close waits for it
	once   sync.Once
	closed chan struct{}
}

type fakeRead struct {
	text string
	err  error
	do   func() // called inside Read
}

func newFakePort() *fakePort {
	return &fakePort{reads: make(chan fakeRead), wrote: make(chan []byte, 1000), closed: make(chan struct{})}
}

func (f *fakePort) Read(p []byte) (int, error) {
	t := time.NewTimer(readTimeout)
	defer t.Stop()
	select {
	case r := <-f.reads:
		if r.do != nil {
			r.do()
		}
		return copy(p, r.text), r.err
	case <-f.closed:
		return 0, ErrClosed
	case <-t.C:
		return 0, nil
	}
}

func (f *fakePort) Write(p []byte) (int, error) {
	if f.gate != nil {
		<-f.gate
	}
	f.wrote <- append([]byte(nil), p...)
	return len(p), nil
}

func (f *fakePort) Close() error {
	f.once.Do(func() { close(f.closed) })
	if f.block != nil {
		<-f.block
	}
	return nil
}

func (f *fakePort) sends(text string) { f.reads <- fakeRead{text: text} }
func (f *fakePort) fails(err error)   { f.reads <- fakeRead{err: err} }

// fakePorts is a Dialer over names that come and go.
type fakePorts struct {
	mu    sync.Mutex
	ports map[string]func() (Conn, error)
	dials int
}

func (d *fakePorts) set(name string, f func() (Conn, error)) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.ports == nil {
		d.ports = map[string]func() (Conn, error){}
	}
	d.ports[name] = f
}

func (d *fakePorts) plug(name string) *fakePort {
	p := newFakePort()
	d.set(name, func() (Conn, error) { d.set(name, nil); return p, nil })
	return p
}

func (d *fakePorts) dial(name string, _ trial.Port) (Conn, error) {
	d.mu.Lock()
	d.dials++
	f := d.ports[name]
	d.mu.Unlock()
	if f == nil {
		return nil, &PortError{Name: name, Fault: Missing}
	}
	return f()
}

// plainClock is a Clock without Sleep, in the bubble's time.
type plainClock struct{ start time.Time }

func (c plainClock) Now() int64 { return int64(time.Since(c.start)) }

// rig runs one owner over fake ports inside a synctest bubble.
type rig struct {
	t     *testing.T
	ports *fakePorts
	first *fakePort // there from the start, or nil
	out   chan Item
	owner *Owner
	stop  context.CancelFunc
	done  chan struct{}
}

// openPort runs f with an owner whose first port is there and was just opened.
func openPort(t *testing.T, f func(r *rig, p *fakePort), names ...string) {
	t.Helper()
	ports := &fakePorts{}
	bubble(t, ports, func(r *rig) {
		if it := r.wantState(StateOpen, ""); it.Name != names[0] || it.Gap != 0 {
			t.Errorf("open %+v; want name %s, no gap", it, names[0])
		}
		f(r, r.first)
	}, true, names...)
}

// noPort runs f with an owner whose ports are all missing.
func noPort(t *testing.T, f func(r *rig), names ...string) {
	t.Helper()
	bubble(t, &fakePorts{}, f, false, names...)
}

// bubble runs f with an owner of the names; afterwards the owner must end.
func bubble(t *testing.T, ports *fakePorts, f func(r *rig), plugged bool, names ...string) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		r := &rig{t: t, ports: ports, out: make(chan Item, 1000), done: make(chan struct{})}
		if plugged {
			r.first = ports.plug(names[0])
		}
		r.owner = NewOwner(OwnerOptions{Src: "load", Port: trial.Port{Names: names, Baud: 9600}, Dial: r.ports.dial,
			Clock: plainClock{time.Now()}, Out: r.out})
		ctx, cancel := context.WithCancel(t.Context())
		r.stop = cancel
		defer func() {
			cancel()
			<-r.done
		}()
		go func() {
			defer close(r.done)
			r.owner.Run(ctx)
		}()
		f(r)
	})
}

// next is the next item; the bubble's clock runs on while it is waited for.
func (r *rig) next() Item {
	r.t.Helper()
	select {
	case it := <-r.out:
		if it.Src != "load" {
			r.t.Errorf("item of %q; want load", it.Src)
		}
		return it
	case <-time.After(time.Minute):
		r.t.Fatal("no item within a minute")
		return Item{}
	}
}

func (r *rig) wantState(state, reason string) Item {
	r.t.Helper()
	it := r.next()
	if it.Kind != State || it.State != state || it.Reason != reason {
		r.t.Fatalf("item %+v; want state %q, reason %q", it, state, reason)
	}
	return it
}

func (r *rig) wantData(raw, why string) Item {
	r.t.Helper()
	it := r.next()
	if it.Kind != Data || string(it.Cut.Raw) != raw || it.Cut.Why != why {
		r.t.Fatalf("item %+v; want data %q, cut %q", it, raw, why)
	}
	return it
}

func (r *rig) wantSent(raw string) Item {
	r.t.Helper()
	it := r.next()
	if it.Kind != Sent || string(it.Raw) != raw {
		r.t.Fatalf("item %+v; want sent %q", it, raw)
	}
	return it
}

func (r *rig) wantNothing(d time.Duration) {
	r.t.Helper()
	select {
	case it := <-r.out:
		r.t.Fatalf("item %+v; want none for %v", it, d)
	case <-time.After(d):
	}
}

func cancelAfter(t *testing.T, d time.Duration) (context.Context, context.CancelFunc) {
	return context.WithTimeout(t.Context(), d)
}
