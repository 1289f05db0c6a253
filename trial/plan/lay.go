package plan

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hawse/trial"
	"hawse/trial/geo"
)

// lay puts the runs of a station on lanes: depth, payout, distances, lanes, drop
// points, what is expected. when is the time of the next run, if there is one.
func (st *Station) lay(t *trial.Trial, set *trial.Planning, spent []Spent, when *time.Time) (faults Faults) {
	fail := func(format string, a ...any) {
		faults = append(faults, fmt.Errorf("station %s: "+format, append([]any{st.Name}, a...)...))
	}
	say := t.Show.LengthText
	tideless := false
	for _, r := range st.Runs {
		r.At = *when
		if !when.IsZero() {
			*when = when.Add(set.Each)
		}
		st.depthFor(set, r, &tideless)
		height := float64(r.Depth + t.Vessel.Fairlead)
		if !(r.Depth > 0) {
			fail("run %s: a depth of %s: the ground dries or the tide is wrong; check charted and the tide's heights", r.ID, say(round(r.Depth)))
			return faults
		}
		if r.Payout > 0 {
			r.Scope = float64(r.Payout) / height
		}
		if l := t.Limits[trial.Pull].ScopeMin; r.Scope <= max(1, l) {
			fail("run %s: a scope of %.3g is not above %s; pay out more", r.ID, r.Scope, leastScope(l))
			return faults
		}
		w := reachOf(t, r.Scope, r.PresetScope, height)
		r.Payout, r.Distance, r.Near = trial.Length(w.out), trial.Length(w.start), trial.Length(w.near)
		r.LeastOut, r.Haul, r.EndBy = trial.Length(w.end), trial.Length(w.haul), w.endBy
		r.MinScope = t.Limits[trial.Pull].ScopeMin
		r.PresetOut, r.PresetDistance = trial.Length(w.preset), trial.Length(w.presetNear)
		if have := t.RodeLength(); r.Payout > have+1e-9 {
			fail("run %s: scope %.3g at a depth of %s wants %s of rode out, and the rode is %s; a lower scope, a shallower time of tide, or more rode", r.ID, r.Scope, say(r.Depth), say(round(r.Payout)), say(have))
			return faults
		}
		if w.haul <= 0 {
			fail("run %s: %s out, and hauling ends at %s by %s: nothing to haul", r.ID, say(round(r.Payout)), say(round(r.LeastOut)), w.endBy)
			return faults
		}
		if r.PresetScope > 0 && r.PresetScope >= r.Scope {
			fail("run %s: a preset at scope %.3g is not under the start at %.3g", r.ID, r.PresetScope, r.Scope)
			return faults
		}
		st.widen(w)
	}
	if tideless {
		st.Notes = append(st.Notes, "some runs lie outside the high and low waters entered, or no time or charted depth is said: their depth is the planned one, without tide")
	}
	if len(st.Runs) == 0 {
		return nil
	}
	gap := max(leastGap, flukesGap*float64(set.Flukes))
	if set.Gap > 0 {
		gap = float64(set.Gap)
		if least := max(leastGap, flukesGap*float64(set.Flukes)); gap < least {
			st.Notes = append(st.Notes, fmt.Sprintf("the gap of %s is under the %s that is usual: %d widths of the flukes and never under %d m", say(set.Gap), say(trial.Length(least)), flukesGap, leastGap))
		}
	}
	var err error
	if st.Lanes, err = Spokes(st.Widest.start, st.Widest.near, gap, float64(set.Step), float64(set.From), float64(set.To)); err != nil {
		fail("%v", err)
		return faults
	}
	faults = append(faults, st.give(t, spent)...)
	for _, r := range st.Runs {
		r.Bearing = st.Lanes.Bearing(r.Lane)
		if st.HasPos {
			r.Drop, _ = geo.Direct(st.Position, r.Bearing/degree, float64(r.Distance))
			r.HasDrop = true
		}
		expect(t, set, st, r)
	}
	return faults
}

func leastScope(min float64) string {
	if min > 1 {
		return fmt.Sprintf("scope_min of the pull, %.3g", min)
	}
	return "1: the rode does not reach the bottom"
}

// round is to a centimetre, for a person.
func round(l trial.Length) trial.Length { return trial.Length(math.Round(float64(l)*100) / 100) }

// widen keeps the widest start and the nearest end: lanes must suit all runs.
func (st *Station) widen(w reach) {
	if st.Widest.start == 0 {
		st.Widest = w
		return
	}
	if w.start > st.Widest.start {
		st.Widest.start, st.Widest.out = w.start, w.out
	}
	if w.near < st.Widest.near {
		st.Widest.near, st.Widest.end, st.Widest.endBy = w.near, w.end, w.endBy
	}
}

// depthFor is the charted depth and the tide at the run's time, or the planned
// depth.
func (st *Station) depthFor(set *trial.Planning, r *Run, tideless *bool) {
	r.Depth, r.DepthFrom = st.Depth, "as planned"
	if len(set.Tides) == 0 {
		return
	}
	for _, b := range set.Berths {
		if b.Station != st.Name || !b.HasCharted || r.At.IsZero() {
			continue
		}
		if h, ok := TideAt(set.Tides, r.At); ok {
			r.Depth = b.Charted + h
			r.DepthFrom = fmt.Sprintf("charted %.2f m and tide %.2f m, cosine rule: an approximation", float64(b.Charted), float64(h))
			return
		}
	}
	*tideless = true
}

// give finds each run its lane: the one its own log shows, that of the file, or
// the next that nothing has touched.
func (st *Station) give(t *trial.Trial, spent []Spent) (faults Faults) {
	used := map[int]string{}
	for _, x := range spent {
		if x.Station != st.Name {
			continue
		}
		st.Spent = append(st.Spent, x)
		used[x.Lane] = x.Log
	}
	slices.SortStableFunc(st.Spent, func(a, b Spent) int { return a.Lane - b.Lane })
	done := func(r *Run) *Spent {
		for i, x := range st.Spent {
			if x.Planned && x.Run == r.ID && (r.Lane == 0 || r.Lane == x.Lane) {
				return &st.Spent[i]
			}
		}
		return nil
	}
	taken := map[int]string{}
	next, short := 1, 0
	for _, r := range st.Runs {
		if x := done(r); x != nil {
			r.Lane, r.Done = x.Lane, x.Log
			continue
		}
		if r.Lane == 0 {
			for used[next] != "" {
				next++
			}
			r.Lane = next
			next++
		} else if log := used[r.Lane]; log != "" {
			r.Warnings = append(r.Warnings, fmt.Sprintf("lane %d is spent, by %s: give the run another lane", r.Lane, log))
		} else if first := taken[r.Lane]; first != "" {
			r.Warnings = append(r.Warnings, fmt.Sprintf("lane %d is also that of run %s: ground already touched", r.Lane, first))
		}
		taken[r.Lane] = r.ID
		if r.Lane > st.Lanes.Count {
			short++
		}
	}
	if short > 0 {
		free := st.Free()
		faults = append(faults, fmt.Errorf("station %s: lanes there: %d, of them free: %d, and %d of the runs find none (%.1f m apart where they end, %.1f m from the roller); plan fewer blocks, more bearings or a smaller gap, or move more than %.0f m to a station with a name of its own",
			st.Name, st.Lanes.Count, free, short, st.Lanes.Gap, st.Lanes.End, math.Ceil(2*st.Lanes.Start)))
	}
	return faults
}

// Free is how many lanes nothing has touched.
func (st *Station) Free() int {
	used := map[int]bool{}
	for _, x := range st.Spent {
		used[x.Lane] = x.Lane >= 1 && x.Lane <= st.Lanes.Count
	}
	n := st.Lanes.Count
	for _, u := range used {
		if u {
			n--
		}
	}
	return n
}

// apart refuses stations whose lanes reach into each other.
func (p *Plan) apart() (faults Faults) {
	for i, a := range p.Stations {
		for _, b := range p.Stations[i+1:] {
			if !a.HasPos || !b.HasPos || len(a.Runs) == 0 || len(b.Runs) == 0 {
				continue
			}
			if d, need := geo.Between(a.Position, b.Position), a.Lanes.Start+b.Lanes.Start; d <= need {
				faults = append(faults, fmt.Errorf("stations %s and %s overlap: %.0f m apart, and their lanes reach %.0f m and %.0f m; lay them more than %.0f m apart", a.Name, b.Name, d, a.Lanes.Start, b.Lanes.Start, math.Ceil(need)))
			}
		}
	}
	return faults
}

// Holding is what a law expects of a mass: HM = HR (W/WR)^B, UFC 4-159-03 (2005),
// equation 26.
func Holding(l trial.HoldingLaw, mass trial.Mass) trial.Force {
	return trial.Force(float64(l.HR) * math.Pow(float64(mass/l.WR), l.B))
}

// Share of the range a peak should lie in: common practice, no source.
const (
	rangeLow  = 0.2
	rangeHigh = 0.8
)

// expect works out what the run will reach and holds it against cell, winch,
// gear, limits and recovery.
func expect(t *trial.Trial, set *trial.Planning, st *Station, r *Run) {
	warn := func(format string, a ...any) { r.Warnings = append(r.Warnings, fmt.Sprintf(format, a...)) }
	say := func(f trial.Force) string { return t.Show.ForceText(threeDigits(f)) }
	if r.Depth > 0 && (st.DepthMin > 0 && r.Depth < st.DepthMin || st.DepthMax > 0 && r.Depth > st.DepthMax) {
		warn("depth %s is outside the %s to %s planned for the station", t.Show.LengthText(round(r.Depth)), t.Show.LengthText(st.DepthMin), t.Show.LengthText(st.DepthMax))
	}
	switch r.Kind {
	case trial.KindBareRode:
		r.Expected = t.Levels.BareRode
	case trial.KindDeadWeight:
		r.Expected = t.Levels.DeadWeight
	}
	a, ok := t.Anchor(r.Anchor)
	if !ok {
		return
	}
	for _, l := range set.Laws {
		if l.Pattern == a.Pattern && (l.Station == st.Name || l.Station == "" && r.Expected == 0) {
			r.Expected, r.Law = Holding(l, a.Mass), l
		}
	}
	if r.Expected == 0 {
		return
	}
	f := r.Expected
	if stop, by := t.TensionStop(trial.Pull); stop > 0 && f >= stop {
		warn("this pull will reach the limit before it breaks out: %s expected, %s %s; the peak will be a lower bound", say(f), by.Key, say(stop))
	}
	if name, wll := t.Weakest(); wll > 0 && f > wll {
		warn("the weakest piece would not carry it: %s expected, WLL of %s %s", say(f), name, say(wll))
	}
	for _, g := range t.Gear {
		if strings.Contains(strings.ToLower(g.Name), "winch") && g.WLL > 0 && f > g.WLL {
			warn("the winch does not pull it: %s expected, %s %s", say(f), g.Name, say(g.WLL))
		}
	}
	switch share := float64(f / t.Load.Range); {
	case share >= 1:
		warn("the load cell ends first: %s expected, range %s", say(f), say(t.Load.Range))
	case share > rangeHigh:
		warn("%.0f %% of the load cell's range is expected, more than %.0f %%", 100*share, 100*rangeHigh)
	case share < rangeLow:
		warn("%.0f %% of the load cell's range is expected, under %.0f %%: a smaller cell reads it better", 100*share, 100*rangeLow)
	}
	most := f
	if stop, _ := t.TensionStop(trial.Pull); stop > 0 && stop < most {
		most = stop
	}
	up := t.Limits[trial.Pull].ComeUp
	if up == 0 {
		up = 1
	}
	if stop, _ := t.TensionStop(trial.Recover); stop > 0 && most > trial.Force(up)*stop {
		warn("it may need more than the recovery limit to come up: %s may be pulled, the stop of recover is %s", say(most), say(stop))
	}
}

func threeDigits(f trial.Force) trial.Force {
	if f == 0 {
		return 0
	}
	scale := math.Pow(10, 2-math.Floor(math.Log10(math.Abs(float64(f)))))
	return trial.Force(math.Round(float64(f)*scale) / scale)
}
