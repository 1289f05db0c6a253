package trial

import "math"

// lineFold is what is folded along the line hauled in pull and hold.
type lineFold struct {
	along  profile
	front  float64 // m, how far the line has come in this stay, since it was last paid out; NaN not yet
	first  float64 // m, how far it has come in the pull
	seen   bool    // line hauled was known in the pull
	saying int     // of the rode out, on which along stands
	anewT  int64   // ns, when along began anew; 0 it did not

	overFrom, overTo float64 // m, between which the cell was over range; overNo: somewhere
	isOver, overNo   bool

	wait loads // sums of the samples since the line last moved
	deck moments

	work, length  float64 // J, and m of line
	bend, rubs    float64 // rad·m and N·m: of the line over the roller, and on the bottom
	angle, gain   float64 // N·m and m: see [sampledAt]
	hangs         float64 // N: see [sampledAt]
	hauled, hauls float64 // m and s in which the winch hauled
	stepX         float64
	stepT         int64 // 0 not begun
	samples       int
	sampled       float64 // s between samples
	heard         int64   // 0 not yet
	isSet         bool
	engaged       float64 // m on end above the level of an engagement
	drags         float64 // m hauled in all with that level known
	hasDead       bool
}

func (l *lineFold) begin() { l.first, l.front = math.Inf(-1), math.NaN() }

func (l *lineFold) beginStay() {
	l.front, l.stepT, l.heard, l.engaged = math.NaN(), 0, 0, 0
	l.forget()
}

func (l *lineFold) forget() { l.wait, l.deck = loads{}, moments{} }

// over takes where the cell was over range.
func (l *lineFold) over(x float64) {
	switch {
	case !(math.Abs(x) <= haulFarthest):
		l.overNo = true
	case !l.isOver:
		l.isOver, l.overFrom, l.overTo = true, x, x
	default:
		l.overFrom, l.overTo = min(l.overFrom, x), max(l.overTo, x)
	}
}

// bound is that of a mean over a stretch: what was over range is not in it.
func (l *lineFold) bound(parts [][2]float64) Bound {
	for _, p := range parts {
		if l.overNo || l.isOver && l.overFrom <= p[1] && l.overTo >= p[0] {
			return BoundOver
		}
	}
	return ""
}

// longestStep is the longest between two samples, or two steps of line, that
// still is a rate or a speed, s.
const longestStep = 5.0

// rate is how many samples a second really came.
func (l *lineFold) rate() float64 {
	if l.sampled <= 0 {
		return 0
	}
	return float64(l.samples) / l.sampled
}

// speed is that of the line while it is hauled, m/s; 0 unknown.
func (l *lineFold) speed() float64 {
	if !(l.hauls > 0) {
		return 0
	}
	return l.hauled / l.hauls
}

func (l *lineFold) add(f *pullFold, r *Reading, s *Study, now loads) {
	if step := float64(r.T-l.heard) / 1e9; l.heard != 0 && step > 0 && step <= longestStep {
		l.samples++
		l.sampled += step
	}
	l.heard = r.T
	x := float64(r.X)
	if !(math.Abs(x) <= haulFarthest) {
		l.front, l.stepT = math.NaN(), 0
		f.roll[over1m].begin()
		f.full[over1m] = false
		l.forget()
		return
	}
	l.seen, l.hasDead = true, l.hasDead || r.Dead > 0
	if l.saying != f.anew.count {
		if l.along.cell != 0 {
			l.anewT = r.T
		}
		clear(l.along.cells)
		l.along, l.saying = profile{cells: l.along.cells}, f.anew.count
		l.first, l.front, l.stepT = math.Inf(-1), math.NaN(), 0
	}
	l.speedOf(r, x)
	gap := !f.any || float64(r.T-f.last.T)/1e9 > rollTime
	switch {
	case math.IsNaN(l.front), gap, x-l.front > rollLine, x < l.front-winchCreep:
		f.roll[over1m].begin()
		f.full[over1m] = false
		l.front, l.engaged = x, 0
		l.forget()
		return
	}
	for i, v := range now {
		l.wait[i] += v
	}
	l.deck.add(now[atDeck], 1)
	step := x - l.front
	if !(step > 0) {
		return
	}
	mean := l.wait
	for i := range mean {
		mean[i] /= l.deck.w
	}
	deck := l.deck
	l.front = x
	l.forget()
	f.roll[over1m].add(step, mean)
	f.mean[over1m], f.full[over1m] = f.roll[over1m].mean()
	l.work += mean[atDeck] * step
	l.length += step
	bend, rubs, hangs := s.hang.bears()
	l.bend += f.trial.Vessel.bendOf(bend) * step
	l.angle += float64(r.TensionU) * step
	l.gain += r.Gain * step
	l.rubs += rubs * step
	l.hangs += hangs * step
	if x > l.first {
		l.along.add(x, min(step, x-l.first), mean, deck)
		l.first = x
	}
	l.engage(f, r, step, mean[atDeck])
}

// onMean is how tensions were taken in the whole of the pull, for a mean over so
// many metres of it: many waves of a swell are in that.
func (l *lineFold) onMean(f *pullFold, width, bare float64) sampledAt {
	return sampledAt{width: width, slip: f.trial.Vessel.RollerFriction, angle: l.angle / l.length, gain: l.gain / l.length, bend: l.bend / l.length, rubs: l.rubs / l.length, hangs: l.hangs / l.length, bare: bare, assumed: assumedLevel(f.source)}
}

// speedOf follows how fast the winch hauls, by steps of 2 cm.
func (l *lineFold) speedOf(r *Reading, x float64) {
	switch took := float64(r.T-l.stepT) / 1e9; {
	case r.Stage != Pull:
		l.stepT = 0
		return
	case l.stepT == 0 || x < l.stepX-winchCreep || took > longestStep || x > l.stepX+10*rollLine:
	case x >= l.stepX+winchCreep:
		l.hauled += x - l.stepX
		l.hauls += took
	default:
		return
	}
	l.stepX, l.stepT = x, r.T
}

// engage judges whether the anchor has set.
func (l *lineFold) engage(f *pullFold, r *Reading, step, mean float64) {
	dead := float64(r.Dead)
	if !(dead > 0) {
		return
	}
	l.drags += step
	rules := &f.trial.Phases
	if mean > rules.weights(rules.EngagedLevel, float64(r.Bare), dead) {
		l.engaged += step
	} else {
		l.engaged = 0
	}
	l.isSet = l.isSet || l.engaged >= float64(rules.EngagedLength) || mean > rules.weights(rules.EngagedPeak, float64(r.Bare), dead)
}

// travelSteps are the travels at which the holding is told, m.
var travelSteps = [...]struct {
	at float64
	q  Quantity
}{{1, Travel1m}, {2, Travel2m}, {5, Travel5m}, {10, Travel10m}, {20, Travel20m}}

// travelFold is what is folded along the anchor's travel in pull and hold. A stay
// that follows another goes on where that ended.
type travelFold struct {
	base, total, most float64 // m; total NaN not known now
	known             bool
	steps             travelParts // of the farthest
	work              float64     // J
	worked            bool
	held              [len(travelSteps)]heldAtTravel
}

// heldAtTravel is the tension at one travel.
type heldAtTravel struct {
	has, full bool
	g         Greatest
	with      peakWith
}

func (v *travelFold) beginStay() { v.base, v.total = v.most, math.NaN() }

func (v *travelFold) add(f *pullFold, r *Reading, s *Study, now loads) {
	at, _, ok := s.travel.Now()
	if !ok {
		v.total = math.NaN()
		return
	}
	v.total = v.base + float64(at)
	if !v.known || v.total > v.most {
		if v.known && finite(now[atAnchor]) {
			v.work += now[atAnchor] * (v.total - v.most)
			v.worked = true
		}
		v.known, v.most, v.steps = true, v.total, s.travel.parts()
	}
	for i := range travelSteps {
		h := &v.held[i]
		if h.has || v.total < travelSteps[i].at {
			continue
		}
		h.has, h.full = true, f.full[over1s]
		if h.full {
			mean := f.mean[over1s]
			h.g = Greatest{Known: true, Window: overNames[over1s], Value: Force(mean[atDeck]), T: r.T, X: r.X, Scope: r.Scope, Stage: r.Stage}
			h.with = f.beside(r, s, mean, over1s)
		}
	}
}
