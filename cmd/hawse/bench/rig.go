//go:build unix

package bench

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"time"
)

// deckRig is a deck as a capture sees it: two instruments that speak, and a
// relay that answers, on three pseudo-terminals, and a trial file that names
// them.
type deckRig struct {
	dir   string
	now   func() int64 // monotonic, ns; the one clock of a bench
	ports []*port
	send  [instruments]*sender
	relay *relayBox

	cool    func() error // ends the uncounted lines
	running sync.WaitGroup
	over    chan struct{} // closed by close
	release func() bool
}

// procs is how many goroutines may be in the system at once: senders and
// tailer each keep a thread there, and must not keep the relay waiting.
const procs = 8

// openRig makes the deck in dir. Its boxes say nothing yet.
func openRig(ctx context.Context, dir string, rate int, boxes [instruments]instrument) (*deckRig, error) {
	runtime.GOMAXPROCS(max(runtime.NumCPU(), procs))
	begin := time.Now()
	r := &deckRig{dir: dir, now: func() int64 { return int64(time.Since(begin)) }, cool: func() error { return nil }, over: make(chan struct{})}
	for range instruments + 1 {
		p, err := openPort()
		if err != nil {
			r.closePorts()
			return nil, err
		}
		r.ports = append(r.ports, p)
	}
	text, err := trialFile(rate, r.ports[0].name, r.ports[1].name, r.ports[2].name)
	if err == nil {
		err = os.WriteFile(r.trial(), []byte(text), 0o644)
	}
	if err != nil {
		r.closePorts()
		return nil, err
	}
	for i, box := range boxes {
		r.send[i] = newSender(r.ports[i], box, r.now)
	}
	r.relay = newRelayBox(r.ports[instruments], r.now)
	r.running.Go(func() { _ = r.relay.run() }) // a relay that is gone shows as a stop
	r.release = context.AfterFunc(ctx, r.breakOff)
	return r, nil
}

// breakOff makes the calls in progress on the ports fail.
func (r *deckRig) breakOff() {
	for _, p := range r.ports {
		p.breakOff()
	}
}

// watch breaks off once gone is closed: a program that has died reads no port,
// and a box would wait for it for ever.
func (r *deckRig) watch(gone <-chan struct{}) {
	r.running.Go(func() {
		select {
		case <-gone:
			r.breakOff()
		case <-r.over:
		}
	})
}

func (r *deckRig) trial() string { return filepath.Join(r.dir, "trial.toml") }

// talk lets both boxes say uncounted lines until cool is called.
func (r *deckRig) talk(ctx context.Context, rate int) {
	ctx, cancel := context.WithCancel(ctx)
	var both group
	for _, s := range r.send {
		both.do(func() error { return s.uncounted(ctx, rate) })
	}
	r.cool = func() error { cancel(); return both.wait() }
}

// flood sends n numbered lines from both boxes at rate, the second half a
// period after the first, and goes on with uncounted ones.
func (r *deckRig) flood(ctx context.Context, rate, n int) error {
	if err := r.cool(); err != nil {
		return err
	}
	start := r.now() + int64(5*time.Millisecond)
	var both group
	for i, s := range r.send {
		both.do(func() error { return s.numbered(ctx, start+int64(i)*5e8/int64(rate), rate, n) })
	}
	if err := both.wait(); err != nil {
		return err
	}
	r.talk(ctx, min(rate, uncountedRate))
	return nil
}

// uncountedRate is how often a box speaks before and after a measurement, at
// most, and what the trial file says: nothing is armed at another rate.
const uncountedRate = 20

// close ends everything; it may be called twice.
func (r *deckRig) close() {
	select {
	case <-r.over:
		return
	default:
	}
	close(r.over)
	r.release()
	r.breakOff()
	_ = r.cool() // what a box says of its broken port is no news
	r.closePorts()
	r.running.Wait()
}

func (r *deckRig) closePorts() {
	for _, p := range r.ports {
		p.close()
	}
}

// writeSent leaves what was sent as text: instrument, number, monotonic time.
func (r *deckRig) writeSent(path string) error {
	var b []byte
	for i, s := range r.send {
		for n, t := range s.sent {
			b = fmt.Appendf(b, "%s %d %d.%09d\n", sources[i], n+1, t/1e9, t%1e9)
		}
	}
	return os.WriteFile(path, b, 0o644)
}

// group runs functions and keeps the first of their errors.
type group struct {
	wg   sync.WaitGroup
	mu   sync.Mutex
	errs []error
}

func (g *group) do(f func() error) {
	g.wg.Go(func() {
		if err := f(); err != nil {
			g.mu.Lock()
			defer g.mu.Unlock()
			g.errs = append(g.errs, err)
		}
	})
}

func (g *group) wait() error {
	g.wg.Wait()
	return firstError(g.errs...)
}
