package acquire

import (
	"context"
	"math"
	"sync"
	"time"
)

// Clock tells monotonic nanoseconds since it was made. Now never falls.
type Clock interface{ Now() int64 }

// sleeper is a Clock that can also wait in its own time.
type sleeper interface {
	Sleep(ctx context.Context, until int64) error
}

// RealClock is the machine's monotonic clock: it does not follow steps of the
// wall clock.
type RealClock struct{ start time.Time }

// NewClock starts a real clock at zero.
func NewClock() *RealClock { return &RealClock{time.Now()} }

// Now is the time since the clock was made, ns.
func (c *RealClock) Now() int64 { return int64(time.Since(c.start)) }

// Sleep waits until Now is at least until. The error is the context's, nil when
// the time has come.
func (c *RealClock) Sleep(ctx context.Context, until int64) error {
	for {
		left := until - c.Now()
		if left <= 0 {
			return ctx.Err()
		}
		if err := pause(ctx, time.Duration(left)); err != nil {
			return err
		}
	}
}

// maxGap is the most real time one step of a scaled clock counts.
const maxGap = 20 * time.Millisecond

// ScaledClock runs a number of times faster than real time, for simulated runs.
// Each call of Now moves it on by at most that many times 20 ms, however long
// ago the last call was: a machine that stalls slows the simulated deck down
// instead of letting its time jump. Someone must therefore call Now or wait in
// Sleep for its time to pass.
type ScaledClock struct {
	n    float64
	mu   sync.Mutex
	last time.Time
	now  float64 // ns; exact to a nanosecond for 100 days
}

// NewScaledClock starts a clock at zero that runs n times real time. An n that is
// not a positive number is taken as 1.
func NewScaledClock(n float64) *ScaledClock {
	if !(n > 0) || math.IsInf(n, 0) {
		n = 1
	}
	return &ScaledClock{n: n, last: time.Now()}
}

// Now is the simulated time, ns.
func (c *ScaledClock) Now() int64 {
	c.mu.Lock()
	defer c.mu.Unlock()
	real := time.Now()
	c.now += c.n * float64(min(real.Sub(c.last), maxGap))
	c.last = real
	return int64(c.now)
}

// Sleep waits until Now is at least until. The error is the context's, nil when
// the time has come.
func (c *ScaledClock) Sleep(ctx context.Context, until int64) error {
	for {
		left := until - c.Now()
		if left <= 0 {
			return ctx.Err()
		}
		real := time.Duration(math.Ceil(float64(left) / c.n))
		if err := pause(ctx, min(real, maxGap/2)); err != nil {
			return err
		}
	}
}

// pause waits in real time; it returns the context's error if that ends first.
func pause(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
