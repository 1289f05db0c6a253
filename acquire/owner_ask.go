package acquire

import (
	"sync"
	"time"
)

// asker is the order of question and answer on an open port that is asked: the
// writer asks, the reader hears. The zero value asks nothing.
type asker struct {
	mu   sync.Mutex
	a    *Asking
	wake chan struct{} // an answer has come: the next question may be due sooner
}

func newAsker(a *Asking, now int64) *asker {
	k := &asker{a: a, wake: make(chan struct{}, 1)}
	if a != nil {
		a.Reset(now)
	}
	return k
}

// due takes the question that is due, nil none, and says how long to wait else.
func (k *asker) due(now int64) (q []byte, wait time.Duration) {
	if k.a == nil {
		return nil, -1
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	i, again := k.a.Due(now)
	if i < 0 {
		return nil, max(time.Duration(again-now), time.Millisecond)
	}
	q = k.a.Ask(i)
	k.a.Asked(now, q)
	return q, 0
}

func (k *asker) heard(now int64, raw []byte) {
	if k.a == nil {
		return
	}
	k.mu.Lock()
	k.a.Bytes(now, raw, func(string, []byte, string) {})
	k.mu.Unlock()
	select {
	case k.wake <- struct{}{}:
	default:
	}
}

// ask sends each question when it is due, until it is time to write something
// else or to end. A question is told as sent before it is, so that no answer
// stands in the record before it.
func (c *connection) ask() (reason error) {
	timer := time.NewTimer(time.Hour)
	defer timer.Stop()
	for {
		now := c.o.opt.Clock.Now()
		q, wait := c.asker.due(now)
		if len(q) == 0 {
			timer.Reset(c.real(wait))
			select {
			case <-c.dead:
				return nil
			case <-c.finish:
				return nil
			case <-c.asker.wake:
			case <-timer.C:
			}
			continue
		}
		c.give(Item{Kind: Sent, T: now, Raw: q})
		c.writes.Add(1)
		_, err := c.conn.Write(q)
		c.writes.Add(1)
		if err != nil {
			return err
		}
		select {
		case <-c.dead:
			return nil
		default:
		}
	}
}

// real is how long to wait in real time for so much time of the clock. A clock
// that runs faster is looked at often.
func (c *connection) real(d time.Duration) time.Duration {
	if _, scaled := c.o.opt.Clock.(*ScaledClock); scaled {
		return min(d, maxGap/4)
	}
	return d
}
