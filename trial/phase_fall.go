package trial

// A fall by half while hauling goes through these states. What it was is often
// known only by what comes after: tension that comes back along the rode's own
// stiffness was the vessel's, one that comes back as an anchor digs in, or not at
// all, the anchor's.
const (
	fallNone   = iota
	fallMaybe  // under half, not yet for long enough: a swell does that too
	fallOpen   // by half, and nobody knows yet whose
	fallBroken // said to be a breakout, and still watched for what comes back
)

type fallState struct {
	state     int
	top       float64 // N, what it fell from
	topT      int64   // ns, last time near that
	topX      float64
	halfT     int64   // ns, first time under half
	confirm   int64   // ns it must last
	fast      bool    // in about a second
	calm      bool    // no swell before
	wave      int64   // ns, of the swell there was
	low       float64 // N
	lowT      int64   // ns, where it stopped falling
	lowX      float64
	lowAt     float64 // N, there
	lowPull   float64 // N, what hauling had given until there, see stretch.stretched
	seen      float64 // m, the vessel's place at the top; NaN unknown
	marked    bool    // a mark of the vessel stands near, or its position says that it moved
	rose      bool    // above half again
	back      bool    // it has come back
	before    Phase
	hauled    bool  // while hauling
	said      bool  // a breakout has been said of it
	saidT     int64 // ns, the bin it was said at
	saidX     float64
	lastEvent PhaseEvent
}

func (f *fallState) open() bool { return f.state == fallOpen }

// judgeBin is asked after every bin.
func (d *PhaseDetector) judgeBin(b bin) {
	switch d.fall.state {
	case fallNone:
		d.seekFall(b)
	case fallMaybe:
		d.confirmFall(b)
	default:
		d.watchFall(b)
	}
	if d.stage == Recover {
		d.recover(b)
		return
	}
	if d.broken && d.fall.saidT != b.t && d.fall.state != fallOpen && d.fall.state != fallMaybe {
		d.seekReset()
	}
	d.judgeStand(b)
}

// worth is the tension from which a fall by half says something.
func (d *PhaseDetector) worth() float64 {
	if d.dead > 0 {
		return d.weights(d.rules.EngagedLevel)
	}
	if !d.rose {
		return tensionMost // no level and no rise yet: nothing to fall from
	}
	return worthPeak * d.peak
}

// worthPeak is in place of twice D, of P, where D is unknown; common practice, no
// source.
const worthPeak = 0.25

func (d *PhaseDetector) seekFall(b bin) {
	f, r := &d.fall, &d.rules
	if d.dead > 0 && !d.engaged && !d.reset && d.stage != Recover || d.paying() || d.perSample > float64(r.Coarse) {
		return
	}
	worth := d.worth()
	if b.mean >= d.lost(max(d.peak, d.rec.peak, d.lately(4*second))) && d.stage != Recover {
		return // spares the search
	}
	top := d.highest()
	if top <= worth || b.mean >= d.lost(top) {
		return
	}
	t, x := d.lastAbove(r.BackShare * top)
	last := f.lastEvent
	*f = fallState{state: fallMaybe, top: top, topT: t, topX: x, halfT: b.t, low: b.mean, lowT: b.t, lowX: b.x, lowAt: b.mean, lowPull: b.stretched,
		confirm: d.confirmTime(b.t, t), before: d.phase, wave: d.swell, hauled: d.hauling(b.t), seen: d.binOf(t).vessel, lastEvent: last}
	f.calm = d.swell == 0 && d.calm(t)
	f.fast = b.t-t <= int64(r.BreakFast) && d.every <= 6*second/10
	d.markFall(0)
}

// confirmTime is how long a fall must last not to be a swell's.
func (d *PhaseDetector) confirmTime(t, topT int64) int64 {
	z, r := &d.turns, &d.rules
	switch {
	case d.swell > 0 && t-z.turned < swellLasts:
		return max(d.swell*3/4, int64(r.ConfirmCalm))
	case d.calm(topT):
		return int64(r.ConfirmCalm)
	}
	return int64(r.Confirm)
}

func (d *PhaseDetector) confirmFall(b bin) {
	f := &d.fall
	if b.mean >= d.lost(f.top) || d.paying() {
		f.state = fallNone
		return
	}
	d.lower(b)
	long := b.t - f.halfT
	if long < f.confirm {
		return
	}
	if !f.hauled && !f.fast {
		f.state = fallNone // with the winch standing it is relaxing, unless it jumps
		return
	}
	if stood := f.topT - d.moved; !d.hauling(b.t) && stood < int64(d.rules.Calm) && long < int64(d.rules.Confirm) && d.stage != Recover {
		return // an anchor that slides hides a swell until the winch stops
	}
	f.state = fallOpen
	if d.stage == Recover && d.comesUp() {
		d.aweigh(f.top, f.topT, f.topX)
		f.state = fallNone
		return
	}
	if f.fast && d.dead > 0 && !f.marked {
		if c, told := d.fastCause(); told {
			d.breakout(c)
			return
		}
	}
	d.name(Unclear, f.topT, f.topX)
	d.tellFell(Undecided)
}

// lower follows the lowest. A small step further down does not begin the way
// back anew.
func (d *PhaseDetector) lower(b bin) {
	f := &d.fall
	if f.rose {
		return
	}
	if b.mean < 0.95*f.lowAt {
		f.lowT, f.lowX, f.lowAt, f.lowPull = b.t, b.x, b.mean, b.stretched
	}
	f.low = min(f.low, b.mean)
}

func (d *PhaseDetector) watchFall(b bin) {
	f, r := &d.fall, &d.rules
	d.lower(b)
	wave := max(d.aWave(second), f.wave)
	f.rose = f.rose || b.t-f.halfT > wave && d.lately(wave) > d.lost(f.top) // what comes after is another fall
	then := d.binOf(b.t - wave/2)                                           // what the mean over a wave speaks of
	way := then.x - f.lowX
	d.seeVessel()
	if now := d.lately(wave); !f.back && now >= r.BackShare*f.top {
		f.back = true
		if c, none := d.backCause(now, way, then.stretched-f.lowPull); none {
			d.noBreakout(c)
			return
		}
	}
	wait := float64(r.BackNear)
	if f.marked {
		wait = float64(r.BackFar)
	}
	waited := b.t-max(f.halfT, d.moved) > int64(r.FallWait) // with the winch standing
	if f.state == fallOpen && (way > wait || waited) {
		if d.dead == 0 {
			d.noBreakout(Undecided) // without a level a breakout cannot be told
			return
		}
		d.breakout(Undecided)
	}
	if f.state == fallBroken && (way > float64(r.BackFar) || waited) {
		switch {
		case f.marked && d.stiff == 0:
			d.tellCause(Undecided)
		case !f.back && !f.marked && !waited:
			d.tellCause(AnchorMoved)
		}
		f.state = fallNone
	}
}

// breakout says it, and has all rules look at what came after only.
func (d *PhaseDetector) breakout(c Cause) {
	f := &d.fall
	f.state, f.said, f.saidT, f.saidX = fallBroken, true, d.binAt(0).t, d.front
	d.best = max(d.peak, f.top)
	d.broken, d.engaged, d.reset, d.weak, d.held, d.up = true, false, false, false, 0, excursion{}
	d.phase = Unclear // a breakout after a breakout is a new one
	d.name(Breakout, f.topT, f.topX)
	d.tellFell(c)
	least := max(d.since, d.n-phaseRing)
	d.since = d.n
	for d.since > least && d.cells[(d.since-1)%phaseRing].t > f.lowT {
		d.since--
	}
	d.told.keepFrom(f.lowT, f.lowX)
	d.say(EventBreakout, c)
}

// noBreakout says that the fall does not count. The phases go on as if it had not
// been: its cells are forgotten.
func (d *PhaseDetector) noBreakout(c Cause) {
	f := &d.fall
	f.state = fallNone
	if f.said {
		d.broken, d.engaged = false, true
		d.told.takeBack()
	} else if d.phase != Unclear {
		d.name(Unclear, f.topT, f.topX)
	}
	d.tellFell(c)
	d.say(EventFall, c)
	d.cut(f.topT)
	d.since = min(d.since, d.n)
	d.told.keepFrom(d.heard, d.x)
	d.name(f.before, d.heard, d.x)
}

func (d *PhaseDetector) say(k EventKind, c Cause) {
	f := &d.fall
	f.lastEvent = PhaseEvent{Kind: k, T: f.topT, X: Length(f.topX), From: Force(f.top), To: Force(f.low), Cause: c}
	d.event(f.lastEvent)
}

// tellFell and tellCause write what a fall was into its segment.
func (d *PhaseDetector) tellFell(c Cause) {
	if l := d.told.last(); l != nil {
		l.Fell, l.Cause = true, c
	}
}

func (d *PhaseDetector) tellCause(c Cause) { d.told.cause(d.fall.topT, c) }

// leaveFall ends a fall that can no longer be followed.
func (d *PhaseDetector) leaveFall() {
	if d.fall.state == fallOpen {
		d.tellFell(Undecided)
		d.say(EventFall, Undecided)
	}
	d.fall.state = fallNone
}

// resetOver is what a re-set is read over where a swell cannot be excluded, ns:
// half a wave of 6 s.
const resetOver = 3 * second

// seekReset: most of the peak again, whatever the length of the rise.
func (d *PhaseDetector) seekReset() {
	over := max(d.aWave(second/2), d.fall.wave)
	if d.swell == 0 && !d.fall.calm {
		over = max(over, resetOver) // there may be one
	}
	now := d.lately(over)
	if d.fall.state == fallBroken && d.front-d.fall.lowX <= float64(d.rules.BackNear) {
		return // it may yet be back, and no breakout
	}
	if now < d.shareOf(d.rules.ResetShare, d.best) || !d.hauling(d.heard) {
		return
	}
	d.broken, d.reset, d.engaged = false, true, true
	b := d.binAt(0)
	d.name(Reset, b.t, b.x)
	d.told.keepFrom(b.t, b.x)
	d.event(PhaseEvent{Kind: EventReset, T: b.t, X: Length(b.x), From: Force(d.best), To: Force(now)})
}
