//go:build unix

package bench

import (
	"context"
	"errors"
	"os"
	"sync/atomic"
	"time"

	"hawse/acquire/deck"
)

// relayBox is the stop relay at the far end of the stop output.
type relayBox struct {
	port    *port
	now     func() int64
	closed  atomic.Bool
	changes chan deck.RelayChange // stamped when the word that made it was read
}

// relayWindow is the relay's patience, as the trial file says it.
const relayWindow = 300 * time.Millisecond

func newRelayBox(p *port, now func() int64) *relayBox {
	return &relayBox{port: p, now: now, changes: make(chan deck.RelayChange, 1<<12)}
}

// run reads and answers until its port is closed.
func (b *relayBox) run() error {
	relay := deck.NewRelay(b.now(), relayWindow)
	buf, answer, told := make([]byte, 1024), []byte(nil), 0
	for {
		for _, ch := range relay.Log()[told:] {
			told++
			b.closed.Store(ch.Closed)
			select {
			case b.changes <- ch:
			default: // nobody counts them
			}
		}
		if answer = relay.Take(answer[:0]); len(answer) > 0 {
			if _, err := b.port.master.Write(answer); err != nil {
				return ended(err)
			}
		}
		_ = b.port.master.SetReadDeadline(time.Now().Add(time.Duration(max(relay.Due()-b.now(), 0))))
		n, err := b.port.master.Read(buf)
		t := b.now()
		relay.Advance(t)
		if n > 0 {
			relay.Feed(t, buf[:n])
		}
		if err != nil && !errors.Is(err, os.ErrDeadlineExceeded) {
			return ended(err)
		}
	}
}

// ended tells our own closing of a port from a fault.
func ended(err error) error {
	if errors.Is(err, os.ErrClosed) || errors.Is(err, os.ErrDeadlineExceeded) {
		return nil
	}
	return err
}

// forget drops the changes nobody has asked for.
func (b *relayBox) forget() {
	for {
		select {
		case <-b.changes:
		default:
			return
		}
	}
}

// await waits for a change at or after since; ok is false if none came in time.
func (b *relayBox) await(ctx context.Context, closed bool, since int64, within time.Duration) (ch deck.RelayChange, ok bool) {
	t := time.NewTimer(within)
	defer t.Stop()
	for {
		select {
		case ch := <-b.changes:
			if ch.Closed == closed && ch.T >= since {
				return ch, true
			}
		case <-t.C:
			return ch, false
		case <-ctx.Done():
			return ch, false
		}
	}
}
