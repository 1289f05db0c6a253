package trial

import (
	"fmt"
	"math"
	"slices"
)

// standardGravity, m/s²: exact by definition (3rd CGPM, 1901; from memory).
const standardGravity = 9.80665

// Why a quantity is not known.
const (
	whyNoPull  = "the stage pull was never said"
	whyNoCell  = "no valid reading of the load cell in the pull"
	whyNoBare  = "no bare-rode level: neither in the trial file nor from the friction of the rode"
	whyNoDead  = "no dead-weight level in the trial file"
	whyNoLine  = "line hauled is not known in the pull: the rode out was not said, or the line encoder was lost"
	whyNoScope = "scope was not known then: depth or rode out was not said, or the line encoder was lost"
	whyNoMass  = "no anchor is pulled in this run, so there is no weight to hold it against"
	whyNoKnee  = "the knee was not reached: tension and line have not told where the anchor begins to come"
	whyNoBreak = "no breakout in the pull"
	whyNoReset = "no breakout that was followed by a re-set"
	whyNoStand = "the winch did not stand so long in pull, hold or stopped"
	whyNoStop  = "no stop was set while line was hauled"
	whyNotUp   = "the anchor did not come off the bottom in what was recorded"
	whyOver    = "the load cell was over range then"
	whyNoUp    = "the stage recover was never said"

	whyStatics   = "the statics of the rode are not known in all of it"
	whyThen      = "the statics of the rode were not known then"
	whyNotHauled = "the winch did not haul in the stage pull"
	whyNoStretch = "no stretch of the pull is called " // a phase
	whyNotCome   = "not yet: the anchor had travelled "
)

// figures fills in the quantities.
func (f *pullFold) figures(out *Figures, s *Study) {
	out.Told = true
	breaks := slices.Clone(f.breaks)
	now := s.phase.Segments()
	f.causes(breaks, now)
	out.Breaks, out.Segments = breaks, f.series.with(now)
	for _, g := range out.Segments {
		p := &out.Phases[g.Phase]
		p.Time += g.T1 - g.T0
		p.Length += g.X1 - g.X0
		p.N++
	}
	out.Holds = slices.Clone(f.holds)
	if h, ok := f.stand.told(f.last.T); ok {
		out.Holds = append(out.Holds, h)
	}
	out.Anew = slices.Clone(f.told)
	out.Stops = slices.Clone(f.stops)
	if f.late.on {
		out.Stops = append(out.Stops, f.late.told)
	}
	q := &out.Quantities
	if f.began {
		f.tellPeaks(q, s)
		f.tellMeans(q, s, out)
		f.tellTravel(q, s, out)
		f.tellCourse(q, out)
		f.tellStands(q, out)
		f.tellSpeed(q)
	} else {
		why := whyNoPull
		if out.Stages[Pull].Time > 0 {
			why = whyNoCell
		}
		for i := range q {
			q[i] = missing(why)
		}
	}
	f.tellRecovery(q, s, out)
	if t := out.Stages[Soak].Time; t > 0 {
		q[SoakTime] = figureOf(Value{Known: true, V: float64(t) / 1e9, U: math.NaN()})
	} else {
		q[SoakTime] = missing("the stage soak was never said")
	}
}

// load is a tension in its three readings.
func (f *pullFold) load(l loads, in *sampledAt, s *Study) (out Figure) {
	v := l[atDeck]
	b := f.trial.Load.tension(v, in)
	out.Read[0] = known(v, b)
	out.Read[1], out.Read[2] = unknown(whyNoBare), unknown(whyStatics)
	if why := s.hang.Why(); why != nil && !finite(l[atAnchor]) {
		out.Read[2].Why = why.Error()
	}
	if finite(l[ofBare]) {
		out.Read[1] = known(v-l[ofBare], b.less(in))
	}
	if finite(l[atAnchor]) {
		out.Read[2] = known(l[atAnchor], b.anchor(in))
	}
	return out
}

func (f *Figure) place(g *Greatest, travel float64) {
	f.Placed, f.T, f.X, f.Scope, f.Travel = true, g.T, g.X, g.Scope, Length(travel)
}

// ofPeak is a peak with its place.
func (f *pullFold) ofPeak(k *windowCrest, g Greatest, s *Study) Figure {
	out := f.load(k.with.loads, &k.with.in, s)
	if k.with.over {
		out.Read[1], out.Read[2] = unknown(whyOver), unknown(whyOver)
	}
	out.Bound = g.Bound
	if g.Still {
		out.Note = "no line was being hauled then"
	}
	out.place(&g, k.with.travel)
	return out
}

func (f *pullFold) tellPeaks(q *[NumQuantities]Figure, s *Study) {
	noLine := !f.line.seen
	weight := float64(f.mass) * standardGravity
	for i, at := range [numOver]struct{ peak, over Quantity }{{PeakInstant, EfficiencyInstant}, {Peak1s, Efficiency1s}, {Peak10s, Efficiency10s}, {Peak1m, Efficiency1m}} {
		k := f.finalPeak(i)
		g := k.greatest(noLine)
		if f.isOver {
			g.Bound = BoundOver
		}
		if !g.Known {
			q[at.peak] = missing(f.whyNoWindow(i))
			q[at.over] = q[at.peak]
			continue
		}
		q[at.peak] = f.ofPeak(&k, g, s)
		if rate := f.line.rate(); i == overInstant && rate > 0 && rate < slowForPeaks {
			q[at.peak].Note = fmt.Sprintf("%.2g samples a second: rate too slow for peaks", rate)
		}
		if weight == 0 {
			q[at.over] = missing(whyNoMass)
			continue
		}
		e := q[at.peak]
		for j := range e.Read {
			if r := &e.Read[j]; r.Known {
				*r = known(r.V/weight, r.Budget.over(weight, r.V/weight))
			}
		}
		q[at.over] = e
	}
	k := f.finalPeak(overInstant)
	if !k.g.Known {
		for _, i := range []Quantity{HauledAtPeak, TravelAtPeak, ScopeAtPeak, FairleadAngleAtPeak, AnchorAngleAtPeak, HeightAtPeak} {
			q[i] = missing(whyNoCell)
		}
		return
	}
	f.tellPlace(q, &k)
	if k.greatest(noLine).Bound == "" && !f.isOver {
		return
	}
	for i := HauledAtPeak; i <= HeightAtPeak; i++ {
		if q[i].Read[0].Known {
			q[i].Note = withNote(q[i].Note, "of a peak that is a lower bound: the true one may lie elsewhere")
		}
	}
}

// whyNoWindow says why there is no peak over a window.
func (f *pullFold) whyNoWindow(i int) string {
	switch rate := f.line.rate(); {
	case i == overInstant:
		return "the load cell was over range and gave no number, or gave no valid reading"
	case i == over1m && !f.line.seen:
		return whyNoLine
	case i == over1m:
		return fmt.Sprintf("no metre was hauled in one without a hole in the samples: %.2g m in all", f.line.length)
	case rate > 0 && 1/rate > min(rollHole*rollWidths[i], rollTime):
		return fmt.Sprintf("the load cell sends too slowly for it: %.2g samples a second", rate)
	}
	return "the pull has no such time without a hole in the samples"
}

func (f *pullFold) tellPlace(q *[NumQuantities]Figure, k *windowCrest) {
	g, w := &k.g, &k.with
	put := func(i Quantity, v float64, b Budget, why string) {
		if q[i] = missing(why); finite(v) {
			q[i] = figureOf(known(v, b))
			q[i].place(g, w.travel)
		}
	}
	put(HauledAtPeak, float64(g.X), Budget(nil).and("line count", Normal, countKnown*float64(g.X), "0.5 % of the line hauled: "+whyPractice), "line hauled was not known then: the rode out was not said, or the line encoder was lost")
	if h := &q[HauledAtPeak]; h.Read[0].Known && g.T < f.line.anewT {
		h.Note = noteBefore
	}
	knee, angle := whyNoKnee, whyThen
	if w.over {
		knee, angle = whyOver, whyOver
	}
	put(TravelAtPeak, w.travel, w.steps.budget(), knee)
	scope := scopeBudget(w.out, w.height, float64(g.X))
	put(ScopeAtPeak, g.Scope, scope, whyNoScope)
	// Of a straight line the angle's sine is 1 over the scope.
	steep := 1 / (g.Scope * math.Sqrt(max(g.Scope*g.Scope-1, 0.01)))
	put(FairleadAngleAtPeak, w.fairlead, scope.by(steep), angle)
	put(AnchorAngleAtPeak, w.anchorway, scope.by(steep), angle)
	height := math.NaN()
	if w.height > 0 {
		height = w.height
	}
	put(HeightAtPeak, height, Budget(nil).and("depth", Normal, heightKnown, "0.1 m: "+whyPractice), whyNoScope)
}

// stretches are those the means are told over, m of line hauled.
var stretches = [...]struct {
	q    Quantity
	a, b float64
}{{Mean0to10m, 0, 10}, {Mean10to20m, 10, 20}, {Mean20to30m, 20, 30}}

// covers is how much of a stretch must have a tension.
const covers = 0.95

func (f *pullFold) tellMeans(q *[NumQuantities]Figure, s *Study, out *Figures) {
	for _, r := range stretches {
		q[r.q] = f.meanOver(s, [][2]float64{{r.a, r.b}}, r.b-r.a, false)
	}
	for _, p := range []struct {
		q     Quantity
		phase Phase
	}{{MeanPlateau, Plateau}, {MeanSawTooth, SawTooth}} {
		var parts [][2]float64
		whole := 0.0
		for _, g := range f.ofPull(out.Segments) {
			if g.Phase == p.phase && g.X1 > g.X0 && g.T0 >= f.line.anewT { // what came before is by another count
				parts = append(parts, [2]float64{float64(g.X0), float64(g.X1)})
				whole += float64(g.X1 - g.X0)
			}
		}
		if len(parts) == 0 {
			q[p.q] = missing(whyNoStretch + p.phase.String())
			continue
		}
		q[p.q] = f.meanOver(s, parts, whole, true)
	}
}

// ofPull is the segments of the pull, without those of the recovery.
func (f *pullFold) ofPull(segs []Segment) []Segment {
	return slices.DeleteFunc(slices.Clone(segs), func(g Segment) bool {
		return g.Phase == ShortStay || g.Phase == UpAndDown || g.Phase == BreakingOut || g.Phase == Aweigh
	})
}

// meanOver is the mean by distance over stretches of line hauled. Where it stands
// for a level, about which the tension scatters, the scatter is in its uncertainty;
// of a stretch that is asked for, all of which was measured, the mean is what it is.
func (f *pullFold) meanOver(s *Study, parts [][2]float64, whole float64, level bool) Figure {
	var m stretchMean
	for _, p := range parts {
		m.take(&f.line.along, p[0], p[1])
	}
	switch {
	case !f.line.seen:
		return missing(whyNoLine)
	case m.deck.w < covers*whole:
		return missing(fmt.Sprintf("%.2g of its %.2g m were hauled and measured in the pull", m.deck.w, whole))
	}
	mean := loads{m.mean(atDeck), m.mean(ofBare), m.mean(atAnchor)}
	in := f.line.onMean(f, whole, mean[ofBare])
	if level {
		cells := f.line.along.seriesOver(parts)
		u, r, independent := cells.meanKnown()
		in.scatter = u
		in.scatters = fmt.Sprintf("of %d means of %.2g m, lag-1 autocorrelation %.2f, so %.2g independent", len(cells.v), f.line.along.cell, r, independent)
	}
	out := f.load(mean, &in, s)
	if sd := m.deck.scatter(); sd > 0 {
		out.Note = fmt.Sprintf("scatter %.2g %% of it, as standard deviation by distance", 100*sd/math.Abs(mean[atDeck]))
	}
	out.Bound = f.line.bound(parts)
	if f.line.anewT != 0 {
		out.Note = withNote(out.Note, noteAnew)
	}
	return out
}

func (f *pullFold) tellTravel(q *[NumQuantities]Figure, s *Study, out *Figures) {
	g := &f.goes
	q[TravelEnd] = missing(f.whyNoTravel(s))
	if g.known {
		q[TravelEnd] = figureOf(known(g.most, g.steps.budget()))
	}
	for i := range travelSteps {
		to := &q[travelSteps[i].q]
		switch h := &g.held[i]; {
		case !g.known:
			*to = missing(f.whyNoTravel(s))
		case !h.has:
			*to = missing(fmt.Sprintf(whyNotCome+"%.2g m", g.most))
		case !h.full:
			*to = missing("a hole in the samples where it had travelled so far")
		default:
			*to = f.load(h.with.loads, &h.with.in, s)
			to.place(&h.g, h.with.travel)
		}
	}
	q[HauledInPull] = missing(whyNoLine)
	if x := float64(out.InPull); finite(x) {
		q[HauledInPull] = figureOf(known(x, Budget(nil).and("line count", Normal, countKnown*x, "0.5 % of the line hauled: "+whyPractice)))
	}
	q[WorkLine], q[WorkAnchor] = missing(whyNoLine), missing(f.whyNoTravel(s))
	if f.line.length > 0 {
		mean := f.line.work / f.line.length
		in := f.line.onMean(f, f.line.length, math.NaN())
		b := f.trial.Load.tension(mean, &in).by(f.line.length)
		q[WorkLine] = figureOf(known(f.line.work, b.and("line count", Normal, countKnown*f.line.work, "0.5 % of the line hauled: "+whyPractice)))
	}
	if f.isOver {
		q[WorkLine].Bound = BoundOver
	}
	if g.worked && g.most > 0 {
		mean := g.work / g.most
		in := f.line.onMean(f, g.most, math.NaN())
		b := f.trial.Load.tension(mean, &in).anchor(&in).by(g.most)
		for _, p := range g.steps.budget() {
			b = b.and("travel: "+p.Name, p.Shape, mean*p.U, p.Why)
		}
		q[WorkAnchor] = figureOf(known(g.work, b))
		q[WorkAnchor].Bound = q[WorkLine].Bound
	}
}

func (f *pullFold) whyNoTravel(s *Study) string {
	if why := s.hang.Why(); why != nil {
		return whyNoKnee + "; " + why.Error()
	}
	return whyNoKnee
}
