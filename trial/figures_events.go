package trial

import "math"

// lowRing has the lowest sample of each of the last 64 seconds, for the valley of
// a breakout that is told late.
type lowRing struct {
	at [64]struct {
		second int64
		v      Force
		t      int64
		x      Length
		some   bool
	}
}

func (k *lowRing) add(r *Reading) {
	second := floorDiv(r.T, 1e9)
	c := &k.at[((second%64)+64)%64]
	if !c.some || c.second != second || r.Tension < c.v {
		c.second, c.v, c.t, c.x, c.some = second, r.Tension, r.T, r.X, true
	}
}

// since is the lowest from t on.
func (k *lowRing) since(t, now int64) (v Force, at int64, x Length, ok bool) {
	for i := range k.at {
		if c := &k.at[i]; c.some && c.t >= t && c.t <= now && (!ok || c.v < v) {
			v, at, x, ok = c.v, c.t, c.x, true
		}
	}
	return v, at, x, ok
}

// event takes what the phases say has happened.
func (f *pullFold) event(e PhaseEvent) {
	switch e.Kind {
	case EventAweigh:
		f.recovery.aweigh(e)
		return
	case EventNotSet:
		f.series.notSet = f.series.notSet || f.series.stage == Pull
		return
	}
	if f.series.stage != Pull {
		return
	}
	switch e.Kind {
	case EventBreakout, EventFall:
		for i := range f.breaks { // said before: taken back, or its cause bettered
			if b := &f.breaks[i]; b.T == e.T {
				b.Breakout, b.Cause = e.Kind == EventBreakout, e.Cause
				return
			}
		}
		if len(f.breaks) == mostBreaks {
			return
		}
		b := BreakTold{Breakout: e.Kind == EventBreakout, T: e.T, X: e.X, From: e.From, To: e.To, Cause: e.Cause, Low: e.To, LowT: e.SaidT, LowX: e.SaidX}
		if k := f.finalPeak(over1s); k.g.Known {
			b.Before = k.g.Value
		}
		if v, t, x, ok := f.lows.since(e.T, e.SaidT); ok {
			b.Low, b.LowT, b.LowX = v, t, x
		}
		f.breaks = append(f.breaks, b)
	case EventReset:
		for i := len(f.breaks) - 1; i >= 0; i-- {
			if f.breaks[i].Breakout {
				f.breaks[i].Reset = true
				return
			}
		}
	}
}

// follow follows what comes after the newest breakout, sample by sample.
func (f *pullFold) follow(r *Reading) {
	n := len(f.breaks)
	if n == 0 {
		return
	}
	b := &f.breaks[n-1]
	if !b.Reset && r.Tension < b.Low && r.T > b.T {
		b.Low, b.LowT, b.LowX, b.Top = r.Tension, r.T, r.X, 0
	}
	if m := Force(f.mean[over1s][atDeck]); f.full[over1s] && m > b.Top && float64(r.T-b.LowT) >= 1e9 {
		b.Top, b.TopT, b.TopX = m, r.T, r.X
	}
}

// standFold follows a standing of the winch.
type standFold struct {
	on        bool
	moved     int64 // ns, the last line hauled
	x         Length
	some      bool
	from      Force // greatest mean in the 2 s after
	least     float64
	now       float64
	ten, sixt float64 // shares left; NaN not yet
}

const (
	standAfter = int64(2e9)
	standLeast = int64(10e9) // ns: a shorter standing is not told
)

// standing follows the tension while the winch stands, in pull, hold and stopped.
func (f *pullFold) standing(r *Reading, did winchDid) {
	k := &f.stand
	in := f.began && (r.Stage == Pull || r.Stage == Hold || r.Stage == Stopped)
	if !in || did == winchHauled {
		f.endStand(r.T)
		if in {
			*k = standFold{on: true, moved: r.T, x: r.X, ten: math.NaN(), sixt: math.NaN(), least: math.Inf(1)}
		}
		return
	}
	if !k.on || !f.full[over1s] {
		return
	}
	mean, been := f.mean[over1s][atDeck], r.T-k.moved
	if been <= standAfter {
		k.from, k.some = max(k.from, Force(mean)), true
		return
	}
	if !k.some || !(k.from > 0) {
		return
	}
	k.now = mean / float64(k.from)
	k.least = min(k.least, k.now)
	if been >= 10e9 && math.IsNaN(k.ten) {
		k.ten = k.now
	}
	if been >= 60e9 && math.IsNaN(k.sixt) {
		k.sixt = k.now
	}
}

func (k *standFold) told(t int64) (h HoldTold, ok bool) {
	if !k.on || !k.some || t-k.moved < standLeast || math.IsInf(k.least, 1) {
		return h, false
	}
	return HoldTold{T: k.moved, End: t, X: k.x, From: k.from, Left10: k.ten, Left60: k.sixt, Least: k.least}, true
}

func (f *pullFold) endStand(t int64) {
	if h, ok := f.stand.told(t); ok && len(f.holds) < mostHolds {
		f.holds = append(f.holds, h)
	}
	f.stand = standFold{}
}

// overshootFold follows what comes after a stop was set.
type overshootFold struct {
	on   bool
	from Force
	told OvershootTold
	x    Length
}

const overshootFor = int64(10e9) // ns

// stop is told that a stop was set at t.
func (f *pullFold) stop(t int64) {
	f.endOvershoot()
	if !f.any || !f.last.Stage.Hauls() || !f.winch.ever || f.winch.moved < t-2e9 {
		return // nobody was hauling
	}
	f.late = overshootFold{on: true, from: f.last.Tension, x: f.last.X, told: OvershootTold{T: t}}
}

func (f *pullFold) overshoot(r *Reading, still bool) {
	k := &f.late
	if !k.on {
		return
	}
	if still || r.T-k.told.T > overshootFor {
		f.endOvershoot()
		return
	}
	k.told.Tension = max(k.told.Tension, r.Tension-k.from)
	if by := r.X - k.x; !(by <= k.told.Line) {
		k.told.Line = by
	}
}

func (f *pullFold) endOvershoot() {
	if f.late.on && len(f.stops) < mostStops {
		f.stops = append(f.stops, f.late.told)
	}
	f.late = overshootFold{}
}

// recoveryFold follows the anchor's way up.
type recoveryFold struct {
	began       bool
	loaded      bool
	t           int64 // ns, when the load came on
	out, height Length
	most        Force
	waits       int
	waited      int64
	wait        int64 // ns, when the present wait began; 0 none
	free        bool
	force       Force
	freeT       int64
	hasDead     bool
	hasLine     bool
	over        bool // the load cell was over range before it came off
}

func (k *recoveryFold) add(f *pullFold, r *Reading, s *Study, still bool) {
	if r.Stage != Recover {
		k.endWait(r.T)
		return
	}
	k.began = true
	k.hasDead = k.hasDead || r.Dead > 0
	k.hasLine = k.hasLine || r.RodeOut > 0 && r.Height > 0
	if k.free {
		return
	}
	rules := &f.trial.Phases
	up := r.RodeOut > 0 && r.Height > 0 && float64(r.RodeOut) <= rules.UprightScope*float64(r.Height)
	switch {
	case !k.loaded && up && r.Dead > 0 && f.full[over1s] && f.mean[over1s][atDeck] > rules.EngagedLevel*float64(r.Dead):
		k.loaded, k.t, k.out, k.height = true, r.T, r.RodeOut, r.Height
	case !k.loaded:
		return
	}
	k.most = max(k.most, r.Tension)
	if !still {
		k.endWait(r.T)
	} else if k.wait == 0 {
		k.wait = max(f.winch.moved, k.t)
		k.waits++
	}
}

func (k *recoveryFold) endWait(t int64) {
	if k.wait != 0 {
		k.waited += t - k.wait
		k.wait = 0
	}
}

func (k *recoveryFold) aweigh(e PhaseEvent) {
	if !k.began || k.free {
		return
	}
	k.endWait(e.T)
	k.free, k.force, k.freeT = true, e.From, e.T
}

// seriesFold keeps the phases of the series that have ended.
type seriesFold struct {
	stage  Stage // with which the present one began
	before Stage
	segs   []Segment // of those that have ended, of pull and recover
	notSet bool
}

// mostSegments bounds what is kept of series that have ended: a pull has two or
// three.
const mostSegments = 1000

func (k *seriesFold) add(r *Reading) {
	if entersSeries(k.before, r.Stage) {
		k.stage = r.Stage
	}
	k.before = seriesStage(k.before, r.Stage)
}

// endSeries takes the phases of the series that ends.
func (f *pullFold) endSeries(segs []Segment) {
	f.causes(f.breaks, segs)
	f.series.segs = f.series.with(segs)
}

// with is the segments that have ended with those of the present series.
func (k *seriesFold) with(segs []Segment) []Segment {
	if k.stage != Pull && k.stage != Recover || len(k.segs)+len(segs) > mostSegments {
		return k.segs
	}
	return append(k.segs[:len(k.segs):len(k.segs)], segs...)
}

// causes gives each fall the cause that its segment has: that has the last word.
func (f *pullFold) causes(breaks []BreakTold, segs []Segment) {
	if f.series.stage != Pull {
		return
	}
	for i := range breaks {
		b := &breaks[i]
		for j := len(segs) - 1; j >= 0; j-- {
			if s := &segs[j]; s.Fell && s.T0 <= b.T && b.T <= s.T1 {
				b.Breakout, b.Cause = s.Phase == Breakout, s.Cause
				break
			}
		}
	}
}
