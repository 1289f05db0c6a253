package trial

import "math"

// PhaseDetector names the [Phase] a pull is in, from its points in order.
//
// The phase now is causal: it is named once its rule has held over the rule's
// length, so an embedding is named up to 2 m and a plateau up to 3 m after it
// began; where no rule speaks it is [Unclear]. [PhaseDetector.Segments] dates the
// same back, [PhaseDetector.Events] says the moments.
//
// It judges along line hauled, over means of 5 cm weighted by length, so that
// speed, sampling rate and pauses do not change the reading; a fall is judged by
// time too, and so is a standing winch. A swell (waves of one length in time that
// fall as they rise) is taken out of levels and scatter. It is a pure function of
// its points and marks: the same ones give the same phases, bit for bit.
//
// It says [Unclear] while X is unknown, in stages that have no series, where a
// sample stands for more line than [PhaseRules.Coarse], and after any break in
// what it can follow: X leaping ahead or line paid out by more than the gap, no
// valid tension for the standing time. Then every rule waits for its full length
// again. Each haul series (see [Trace]) starts afresh, its running peak too, unless it is
// one that [PhaseDetector.GoOn] took over.
//
// Levels that are unknown leave their phases out. With the dead-weight level
// unknown that is all but slack, embedding and what is said of a standing winch:
// a fall is then told as [EventFall], never as a breakout. A decline and the
// phases of recovery need RodeOut and Height, anchor not moving needs Stiff, and
// snag needs Travel, of each [Point].
//
// Memory is fixed, and Add allocates nothing.
type PhaseDetector struct {
	rules  PhaseRules
	levels struct{ bare, dead float64 } // N; 0 unknown, those of the trial file
	phase  Phase
	stage  Stage
	goesOn Stage // a series that was taken over goes on when this stage is entered; stand by: none
	told   tellings
	marks  [4]int64 // ns, latest marks of the vessel; 0 none
	nmarks int

	vessel, vesselU float64 // m, its way towards the anchor by its position, and how uncertain; 0 unknown

	haulSeries
}

// haulSeries is what is known of the series.
type haulSeries struct {
	peak    float64 // N, highest cell, the swell taken out
	rose    bool    // an embedding has been named
	held    float64 // m on end above the drag level
	hasHeld bool    // for long enough to have been set
	up      excursion
	engaged bool    // above the engaged level for long enough, or far above it
	broken  bool    // a breakout, and no re-set yet
	reset   bool    // a re-set, and no new peak, drag or breakout yet
	best    float64 // N, the running peak when it broke out
	sawn    int64   // ns, until when a saw-tooth has been told
	weak    bool    // an excursion was too short to be a set
	unset   bool    // not set has been said: once a series
	fall    fallState
	rec     recoveryState

	stretch
}

// excursion is a stay above the engaged level.
type excursion struct {
	length, peak float64 // m, N
	x            float64
	t            int64

	was, left float64 // m, the length of the one before, and where that ended
}

// stretch is what is known of the unbroken stretch of line hauled.
type stretch struct {
	going                       bool
	begun                       int64   // ns
	front                       float64 // m, greatest X
	x                           float64 // m, latest X
	heard                       int64   // ns, last point
	every                       int64   // ns between the last two points
	moved                       int64   // ns, last progress by phaseCreep
	movedX                      float64 // m
	stride                      int64   // ns that progress took
	perSample                   float64 // m, running mean of line a sample
	bare, dead                  float64 // N; 0 unknown, at this line hauled
	rode, height, stiff, travel float64 // of the latest point; 0 unknown, travel NaN
	stretched                   float64 // N, what all hauling gives at the stiffness it had, the anchor still

	wait    struct{ sum, n float64 }      // tensions since the front last moved
	open    struct{ sum, length float64 } // the cell being filled, N·m and m
	cells   [phaseRing]cell
	n       int // cells filled
	since   int // first cell that may be judged
	filling struct {
		t      int64
		sum, n float64
	}
	bins  [binRing]bin
	nb    int
	turns turns // by turnShare
	teeth turns // by the swing of a saw-tooth
	tooth struct {
		sum, n, x float64
		t         int64
	}
	swell      int64 // ns, a wave of it; 0 none
	swellAt    int64 // ns, when last seen
	swellCells int
	stand      standing

	fits [6]struct { // of the newest cells, made once a cell
		n int
		phaseLine
	}
	nfits    int
	next     Phase // found, not yet named
	nextFor  int   // cells on end
	nextBack int   // cells back it began when first found
}

// NewPhaseDetector returns a detector at the start of a run. Levels that are not
// known, or not above zero, are treated as unknown; a rule out of its bounds is
// the default.
func NewPhaseDetector(l Levels, r PhaseRules) *PhaseDetector {
	d := &PhaseDetector{rules: r.within()}
	if l.Known {
		d.levels.bare, d.levels.dead = knownLevel(float64(l.BareRode), 0), knownLevel(float64(l.DeadWeight), 0)
	}
	return d
}

// knownLevel is v where it says something, else the other.
func knownLevel(v, other float64) float64 {
	if v > 0 && v <= tensionMost {
		return v
	}
	return other
}

// tensionMost is past any tension, N; a number beyond it is none.
const tensionMost = 1e12

// Phase is the phase now.
func (d *PhaseDetector) Phase() Phase { return d.phase }

// Add takes the next point and returns the phase now, and whether it has changed.
// A tension that is not finite is no news.
func (d *PhaseDetector) Add(p Point) (phase Phase, changed bool) {
	before := d.phase
	d.follow(p)
	d.vesselU = 0
	return d.phase, d.phase != before
}

// Mark takes a mark a person made; vessel tells that it speaks of the vessel:
// thruster, engine, wake. It may come late.
func (d *PhaseDetector) Mark(t int64, vessel bool) {
	if !vessel || t <= 0 {
		return
	}
	d.marks[d.nmarks%len(d.marks)] = t
	d.nmarks++
	d.markFall(t)
}

// inPhases tells whether a stage has phases: those of a haul series, and the stop
// that may follow them.
func inPhases(s Stage) bool { return inSeries(s) || s == Stopped }

func (d *PhaseDetector) follow(p Point) {
	if entersSeries(d.stage, p.Stage) {
		if p.Stage != d.goesOn {
			d.haulSeries = haulSeries{}
		}
		d.goesOn = StandBy
		d.told.newSeries(p.T, float64(p.X))
		d.name(Unclear, p.T, float64(p.X))
	}
	if d.stage = seriesStage(d.stage, p.Stage); !inSeries(d.stage) && d.stage != StandBy {
		d.goesOn = StandBy
	}
	x, tension := float64(p.X), float64(p.Tension)
	if !inPhases(p.Stage) || !(math.Abs(x) <= haulFarthest) {
		d.breakOff()
		return
	}
	if d.going && (p.T < d.heard || p.T-d.heard > int64(d.rules.Standing)) {
		d.breakOff()
	}
	if !(math.Abs(tension) <= tensionMost) {
		return
	}
	if dx := x - d.front; d.going && (dx > float64(d.rules.Gap) || dx < -float64(d.rules.Gap)) {
		d.breakOff()
	}
	d.take(p, x)
	d.bin(p.T, tension)
	d.wait.sum += tension
	d.wait.n++
	if x > d.front {
		mean, dx := d.wait.sum/d.wait.n, x-d.front
		d.stretched += d.stiff * dx
		d.wait.sum, d.wait.n = 0, 0
		d.front = x
		d.haul(mean, dx, p.T)
	}
}

// take notes what a point says beside its tension.
func (d *PhaseDetector) take(p Point, x float64) {
	if !d.going {
		d.going, d.begun, d.front, d.x = true, p.T, x, x
		d.heard, d.moved, d.movedX = p.T, p.T, x
		d.swellCells, d.tooth.x = 1, x
		d.told.at(p.T, x)
	}
	d.every, d.heard = p.T-d.heard, p.T
	d.perSample += (max(x-d.x, 0) - d.perSample) / 16
	d.x = x
	if x >= d.movedX+phaseCreep {
		d.stride, d.moved, d.movedX = p.T-d.moved, p.T, x
		d.restart()
	}
	d.bare, d.dead = knownLevel(float64(p.Bare), d.levels.bare), knownLevel(float64(p.Dead), d.levels.dead)
	d.stiff, d.travel = knownLevel(p.Stiff, 0), float64(p.Travel)
	d.rode, d.height = knownLevel(float64(p.RodeOut), 0), knownLevel(float64(p.Height), 0)
	d.told.now(p.T, x, d.rode, d.height)
}

// hauling tells whether line came in just now.
func (d *PhaseDetector) hauling(t int64) bool {
	return d.moved > d.begun && t-d.moved <= max(second, 2*d.stride)
}

// paying tells whether line has gone out again.
func (d *PhaseDetector) paying() bool { return d.x < d.front-phaseCreep }

// breakOff forgets the stretch, but not the series.
func (d *PhaseDetector) breakOff() {
	if !d.going {
		return
	}
	d.leaveFall()
	d.up = excursion{}
	d.held = 0
	d.name(Unclear, d.heard, d.x)
	d.stretch = stretch{}
}

// judgeCell is asked after every cell.
func (d *PhaseDetector) judgeCell() {
	if d.stage == Recover {
		return // judged by time, in recovery
	}
	d.engage()
	if d.fall.open() || d.stand.on {
		return // what happens is judged by time
	}
	found, back, prompt := Unclear, 0, false
	if d.perSample <= float64(d.rules.Coarse) {
		found, back, prompt = d.judge()
	}
	switch {
	case found == d.phase:
		d.next, d.nextFor = found, 0
		return
	case found != d.next || d.nextFor == 0:
		d.next, d.nextFor, d.nextBack = found, 1, back
	default:
		d.nextFor++
	}
	if prompt || d.nextFor >= cellsIn(d.rules.Settle) {
		d.nameBack(found, d.nextBack+d.nextFor)
		if found == SawTooth {
			d.tellSawTooth()
		}
	}
}

// judge tries the rules in their order. A plateau is heard before all others but the
// saw-tooth while there is one: the wider figures to stay in it are what keeps
// ripple from ending it.
func (d *PhaseDetector) judge() (found Phase, back int, prompt bool) {
	if d.have() < 2 {
		return Unclear, 0, false
	}
	if d.phase == Plateau {
		if back, ok := d.isSawTooth(false); ok && d.swell == 0 {
			return SawTooth, back, true
		}
		if back, ok := d.isPlateau(true); ok {
			return Plateau, back, false
		}
	}
	for i := range phaseRules {
		r := &phaseRules[i]
		if back, ok := r.holds(d, d.phase == r.phase); ok {
			calm := (r.phase == NotMoving || r.phase == Snagged) && d.calm(d.heard)
			return r.phase, back, r.prompt || calm
		}
	}
	return Unclear, 0, false
}

// nameBack names a phase that began some cells ago.
func (d *PhaseDetector) nameBack(p Phase, back int) {
	back = min(max(back, 1), d.have())
	t := d.begun
	if d.n > back && back < phaseRing {
		t = d.at(back).t
	}
	d.name(p, t, d.at(back-1).x-phaseCell)
}

// name makes a phase the present one, from a time and place on that may be past.
func (d *PhaseDetector) name(p Phase, t int64, x float64) {
	switch {
	case p == d.phase && d.told.n > 0:
		return
	case p == Embedding:
		d.rose = true
	case p == Slack:
		d.rose = false
	case p == NotSet && !d.unset:
		d.unset = true
		d.event(PhaseEvent{Kind: EventNotSet, T: t, X: Length(x)})
	}
	switch p {
	case NotSet, Dragging:
		d.engaged, d.reset, d.weak, d.up = false, false, false, excursion{}
	case Slack, WeakEngagement:
		d.weak = false
	case Plateau, Decline, SawTooth:
		d.reset = false
	}
	d.phase, d.next, d.nextFor = p, p, 0
	d.told.segment(p, t, x)
}

// event says what happened, from now on known.
func (d *PhaseDetector) event(e PhaseEvent) {
	e.SaidT, e.SaidX = d.heard, Length(d.x)
	d.told.event(e)
}

// threshold is the threshold to take a phase up by, or the one to stay in it by.
func threshold(stay bool, enter, by float64) float64 {
	if stay {
		return enter * by
	}
	return enter
}
