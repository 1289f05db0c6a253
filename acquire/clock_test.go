package acquire

import (
	"context"
	"errors"
	"math"
	"testing"
	"testing/synctest"
	"time"
)

const second = int64(time.Second)

func TestRealClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := NewClock()
		time.Sleep(3 * time.Second)
		if got := c.Now(); got != 3*second {
			t.Errorf("Now after 3 s = %d; want %d", got, 3*second)
		}
		if err := c.Sleep(t.Context(), 5*second); err != nil || c.Now() != 5*second {
			t.Errorf("Sleep until 5 s = %v at %d; want nil at %d", err, c.Now(), 5*second)
		}
		if err := c.Sleep(t.Context(), second); err != nil || c.Now() != 5*second {
			t.Errorf("Sleep until 1 s, at 5 s = %v at %d; want nil at once", err, c.Now())
		}
	})
}

func TestSleepEndsWithContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, c := range []sleeper{NewClock(), NewScaledClock(60)} {
			ctx, cancel := context.WithTimeout(t.Context(), time.Second)
			err := c.Sleep(ctx, math.MaxInt64)
			cancel()
			if !errors.Is(err, context.DeadlineExceeded) {
				t.Errorf("%T.Sleep under a context of 1 s = %v; want its error", c, err)
			}
			if err := c.Sleep(ctx, 0); !errors.Is(err, context.DeadlineExceeded) {
				t.Errorf("%T.Sleep until a past time under a context that is over = %v; want its error", c, err)
			}
		}
	})
}

func TestScaledClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := NewScaledClock(60)
		time.Sleep(10 * time.Millisecond)
		if got, want := c.Now(), int64(600e6); got != want {
			t.Errorf("Now 10 ms on, 60 times = %d; want %d", got, want)
		}
		time.Sleep(time.Hour) // the machine stands still
		if got, want := c.Now(), int64(600e6+1200e6); got != want {
			t.Errorf("Now after a standstill = %d; want %d: 60 x 20 ms more", got, want)
		}
		begin := time.Now()
		if err := c.Sleep(t.Context(), c.Now()+60*second); err != nil {
			t.Fatal(err)
		}
		if took := time.Since(begin); took < time.Second || took > time.Second+time.Millisecond {
			t.Errorf("Sleep of 60 s, 60 times, took %v of real time; want 1 s", took)
		}
	})
}

func TestScaledClockOddScale(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, n := range []float64{0, -3, math.NaN(), math.Inf(1)} {
			c := NewScaledClock(n)
			time.Sleep(10 * time.Millisecond)
			if got := c.Now(); got != int64(10e6) {
				t.Errorf("NewScaledClock(%v): Now 10 ms on = %d; want %d, as with 1", n, got, int64(10e6))
			}
		}
	})
}
