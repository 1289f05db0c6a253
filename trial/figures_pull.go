package trial

import "math"

// The windows of the peaks.
const (
	overInstant = iota
	over1s
	over10s
	over1m
	numOver
)

var overNames = [numOver]Window{Instant, "1 s", "10 s", "1 m hauled"}

// rollWidths are those of the windows that roll, s and m.
var rollWidths = [numOver]float64{over1s: 1, over10s: 10, over1m: 1}

// windowCrest is a peak over one window with all that stood beside it.
type windowCrest struct {
	crest
	with peakWith
}

// peakWith is what stood beside a peak.
type peakWith struct {
	loads
	in                  sampledAt
	fairlead, anchorway float64 // rad; NaN unknown
	out, height         float64 // m; 0 unknown
	travel              float64 // m; NaN not yet
	steps               travelParts
	over                bool // the cell was over range
}

// travelParts is what a travel is known from.
type travelParts struct {
	at, now      spanKnown
	vague, leapt float64
}

func (v *Travel) parts() travelParts {
	return travelParts{v.at, v.now, float64(v.vague), v.leapt}
}

// pullFold is what of a pull is folded for its quantities beside [FigureFold].
type pullFold struct {
	trial  *Trial
	run    Run
	source string // of the levels
	mass   Mass   // 0: no anchor

	winch winch
	stage Stage
	last  Reading // the newest that was good
	heard Reading // the one in hand
	prev  loads   // its tension in its readings
	any   bool    // there is one, and no hole since
	roll  [numOver]roll
	mean  [numOver]loads // over the window that ends here
	full  [numOver]bool

	began  bool
	stay   int64 // ns, when the present stay in pull began
	pull   [numOver]windowCrest
	best   [numOver]windowCrest // of the stays before
	isOver bool                 // in any stay
	after  windowCrest

	goes travelFold
	line lineFold

	stand    standFold
	holds    []HoldTold
	late     overshootFold
	stops    []OvershootTold
	breaks   []BreakTold
	anew     anewFold
	told     []AnewTold
	lows     lowRing
	recovery recoveryFold
	series   seriesFold
}

func (f *pullFold) begin(t *Trial, run Run, source string) {
	f.trial, f.run, f.source, f.mass = t, run, source, t.massOf(run)
	for i, w := range rollWidths {
		f.roll[i].width = w
	}
	f.line.begin()
}

// hole is told that samples are missing from here on.
func (f *pullFold) hole() { f.any = false }

// over takes a sample over range, or with no number: no mean reaches over it.
func (f *pullFold) over(r *Reading) {
	did := f.winch.follow(r.T, float64(r.X))
	f.any = false
	if r.Stage == Pull && (f.stage != Pull && f.stage != Hold || !f.began) {
		f.beginStay()
	}
	f.stage = r.Stage
	if r.Over && f.late.on {
		f.late.told.Over = true
	}
	f.recovery.over = f.recovery.over || r.Over && r.Stage == Recover && !f.recovery.free
	k := &f.after
	switch s := r.Stage; {
	case !r.Over || !f.began:
		return
	case s == Pull || s == Hold:
		f.isOver = true
		f.line.over(float64(r.X))
		k = &f.pull[overInstant]
	case s != Ease && s != Recover && s != Stopped:
		return
	}
	before := k.g
	if k.add(r, did, f.winch.still(r.T)); k.g != before && k.g.Known {
		nan := math.NaN()
		k.with = peakWith{loads: loads{float64(r.Tension), nan, nan}, over: true, out: float64(r.RodeOut), height: float64(r.Height), fairlead: nan, anchorway: nan, travel: nan}
		k.g.Window = Instant
	}
}

// add takes a good sample, with what the statics made of it.
func (f *pullFold) add(r *Reading, s *Study) {
	f.heard = *r
	did := f.winch.follow(r.T, float64(r.X))
	still := f.winch.still(r.T)
	now := loads{atDeck: float64(r.Tension), ofBare: math.NaN(), atAnchor: s.hang.anchorNow()}
	if r.Bare > 0 {
		now[ofBare] = float64(r.Bare)
	}
	f.any = f.any && r.T >= f.last.T
	f.rollOn(r, now)
	if f.anew.add(r) {
		f.saidAnew(r)
	}
	if r.Stage == Pull && (f.stage != Pull && f.stage != Hold || !f.began) {
		f.beginStay()
	}
	switch {
	case !f.began:
	case r.Stage == Pull || r.Stage == Hold:
		f.line.add(f, r, s, now)
		f.goes.add(f, r, s, now)
		f.peaks(r, s, now, did, still)
		f.follow(r)
	case r.Stage == Ease || r.Stage == Recover || r.Stage == Stopped:
		before := f.after.g
		if f.after.add(r, did, still); f.after.g != before {
			f.after.with = f.beside(r, s, now, overInstant)
		}
	}
	f.lows.add(r)
	f.standing(r, did)
	f.overshoot(r, still)
	f.recovery.add(f, r, s, still)
	f.series.add(r)
	f.stage, f.last, f.prev, f.any = r.Stage, *r, now, true
}

// rollOn goes on with the windows of time, in every stage.
func (f *pullFold) rollOn(r *Reading, now loads) {
	step := float64(r.T-f.last.T) / 1e9
	for _, i := range [...]int{over1s, over10s} {
		k := &f.roll[i]
		switch {
		case !f.any, step > min(rollHole*k.width, rollTime):
			k.begin()
			f.full[i] = false
			continue
		case step == 0:
			continue
		}
		between := loads{}
		for j := range now {
			between[j] = (now[j] + f.prev[j]) / 2
		}
		k.add(step, between)
		f.mean[i], f.full[i] = k.mean()
	}
}

// beginStay begins a stay in pull: no window reaches back over its beginning.
func (f *pullFold) beginStay() {
	if f.began {
		for i := range f.pull {
			if f.pull[i].above(&f.best[i].crest) {
				f.best[i] = f.pull[i]
			}
		}
	}
	f.began, f.stay = true, math.MinInt64
	f.pull = [numOver]windowCrest{}
	f.line.beginStay()
	f.goes.beginStay()
	f.roll[over1m].begin()
	f.full[over1m] = false
}

// peaks follows the peak over each window.
func (f *pullFold) peaks(r *Reading, s *Study, now loads, did winchDid, still bool) {
	if f.stay == math.MinInt64 {
		f.stay = r.T
	}
	one := r.Tension
	for i := range f.pull {
		taken := now
		if i != overInstant {
			within := i == over1m || float64(r.T-f.stay)/1e9 >= rollWidths[i]*(1-1e-9)
			if taken = f.mean[i]; !f.full[i] || !within {
				taken = loads{math.NaN(), math.NaN(), math.NaN()}
			}
		}
		k := &f.pull[i]
		before := k.g.Value
		had := k.g.Known
		r.Tension = Force(taken[atDeck])
		k.add(r, did, still)
		if k.g.Known && (!had || k.g.Value != before) {
			k.g.Window = overNames[i]
			k.with = f.beside(r, s, taken, i)
		}
	}
	r.Tension = one
}

// beside is what stands beside a peak now.
func (f *pullFold) beside(r *Reading, s *Study, taken loads, window int) peakWith {
	w := peakWith{loads: taken, out: float64(r.RodeOut), height: float64(r.Height), fairlead: math.NaN(), anchorway: math.NaN(), travel: f.goes.total}
	w.steps = s.travel.parts()
	if st, ok := s.hang.State(); ok {
		w.fairlead, w.anchorway = st.FairleadAngle, st.AnchorAngle
	}
	w.in = f.sampledIn(s, taken, rollWidths[window])
	switch window {
	case overInstant:
		if f.full[over1s] {
			w.in.rough = max(0, taken[atDeck]-f.mean[over1s][atDeck])
		}
	case over1m:
		if v := f.line.speed(); v > 0 {
			w.in.width = rollWidths[window] / v
		}
	}
	return w
}

// sampledIn is what a tension was taken in, for its uncertainty.
func (f *pullFold) sampledIn(s *Study, taken loads, width float64) sampledAt {
	in := sampledAt{width: width, rate: f.line.rate(), bare: taken[ofBare], assumed: assumedLevel(f.source)}
	in.wave, in.swing = s.phase.swellNow()
	in.bend, in.rubs, in.hangs = s.hang.bears()
	in.bend = float64(f.trial.Vessel.bendOf(in.bend))
	in.slip = f.trial.Vessel.RollerFriction
	in.angle, in.gain = float64(f.heard.TensionU), f.heard.Gain
	return in
}

// finalPeak is the peak over a window of all stays.
func (f *pullFold) finalPeak(i int) (k windowCrest) {
	if k = f.best[i]; f.pull[i].above(&k.crest) {
		k = f.pull[i]
	}
	return k
}
