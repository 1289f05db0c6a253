package safety

import "math"

// confirm holds the last two words of the load cell. A level is confirmed by
// two good samples in a row at or above it, that is by the lower of the two,
// or by one that stood alone for [Config].Confirm. Bad frames are no word.
//
// A sample over range or not a number trips on its own account; as the one
// before a good sample it counts as above every level.
type confirm struct {
	prev, cur float64 // N; +Inf for over range and not a number
	at        int64   // of cur
	n         uint8   // words so far, up to two
	alone     bool    // cur has stood alone long enough
}

func (c *confirm) push(t int64, v float64) {
	c.prev, c.cur, c.at, c.alone = c.cur, v, t, false
	c.n = min(c.n+1, 2)
}

// pending says whether cur still waits for another sample or its time.
func (c *confirm) pending() bool {
	return c.n > 0 && !c.alone && !math.IsInf(c.cur, 1)
}

// bounds are the confirmed tensions: levels up to lo are reached, levels above
// hi are left. With nothing to judge they are -Inf and +Inf.
func (c *confirm) bounds() (lo, hi float64) {
	switch {
	case c.n == 0 || math.IsInf(c.cur, 1):
		return math.Inf(-1), math.Inf(1)
	case c.alone:
		return c.cur, c.cur
	case c.n == 1:
		return math.Inf(-1), math.Inf(1)
	}
	return min(c.prev, c.cur), max(c.prev, c.cur)
}
