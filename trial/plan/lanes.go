package plan

import (
	"fmt"
	"math"

	"hawse/trial"
	"hawse/trial/rode"
)

// Least distance of two lanes at their near ends, and how many widths of the
// flukes it is: common practice, no source.
const (
	leastGap   = 3 // m
	flukesGap  = 5
	turn       = 2 * math.Pi
	degree     = math.Pi / 180
	roundAngle = 1e-9 // rad, so that 36 steps of 10 degrees are a turn
)

// Lanes are the spokes round one station.
type Lanes struct {
	Start, End float64 // radii, m: where the anchor is dropped, and the nearest it may come
	Gap        float64 // wanted at the near ends, m
	Step       float64 // from lane to lane, rad
	From       float64 // bearing of lane 1, rad
	Count      int
}

// Gap is the distance of two spokes at a radius: 2 r sin(step/2).
func Gap(radius, step float64) float64 { return 2 * radius * math.Sin(step/2) }

// Spokes lays lanes between two bearings (both 0, or 0 and a turn: all round).
// step 0 takes the least that keeps the gap at the end radius; a step that does
// not keep it is refused.
func Spokes(start, end, gap, step, from, to float64) (Lanes, error) {
	l := Lanes{Start: start, End: end, Gap: gap, Step: step, From: from}
	if !(end > 0) || !(start > end) || !(gap > 0) {
		return l, fmt.Errorf("a lane from %.1f m to %.1f m leaves nothing to haul", start, end)
	}
	half := gap / (2 * end)
	least := turn // not even opposite ones are far enough apart: one lane
	if half <= 1 {
		least = 2 * math.Asin(half)
	}
	switch {
	case step == 0:
		l.Step = least
	case step < least-roundAngle:
		return l, fmt.Errorf("lanes overlap: %.4g deg apart they are %.1f m apart where they end, %.1f m from the roller, and %.1f m is wanted; make step %.3g deg or more, or end the pulls further out",
			step/degree, Gap(end, step), end, gap, math.Ceil(least/degree*10)/10)
	}
	arc := to - from
	if arc <= 0 {
		arc += turn
	}
	if arc >= turn-roundAngle {
		l.Count = max(1, int(turn/l.Step+roundAngle))
		if step == 0 { // evenly round
			l.Step = turn / float64(l.Count)
		}
	} else {
		// Nearly all round, the last must keep its distance from the first.
		l.Count = max(1, min(1+int(arc/l.Step+roundAngle), int(turn/l.Step+roundAngle)))
	}
	return l, nil
}

// Bearing of a lane, from 1, rad from true north, under a turn.
func (l Lanes) Bearing(lane int) float64 {
	return math.Mod(l.From+float64(lane-1)*l.Step, turn)
}

// reach is what the rode allows at one height of the roller over the bottom.
type reach struct {
	out, end           float64 // rode out at the start, and the least, m
	start, near, haul  float64 // taut distances of both, and the most that may be hauled, m
	endBy              string  // what ends it
	preset, presetNear float64 // rode out and taut distance of the preset, m; 0 none
}

// reachOf works out a pull of a scope at a height. limits are those of the pull.
func reachOf(t *trial.Trial, scope, preset, height float64) reach {
	l := t.Limits[trial.Pull]
	r := reach{out: scope * height, endBy: "the roller itself"}
	r.end = height
	if s := l.ScopeMin; s > 0 && s*height > r.end {
		r.end, r.endBy = s*height, fmt.Sprintf("scope_min %.3g", s)
	}
	if left := r.out - float64(l.Haul); l.Haul > 0 && left > r.end {
		r.end, r.endBy = left, fmt.Sprintf("haul %s", t.Show.LengthText(l.Haul))
	}
	for _, j := range t.NoPass() {
		if keep := float64(j.At + t.Vessel.KeepOut); keep > r.end {
			r.end, r.endBy = keep, j.Name+" at the roller"
		}
	}
	r.start, r.near = rode.TautSpan(r.out, height), rode.TautSpan(r.end, height)
	r.haul = r.out - r.end
	if preset > 0 {
		r.preset = preset * height
		r.presetNear = rode.TautSpan(r.preset, height)
	}
	return r
}

// EndBy is what ends the pull that comes nearest to the roller.
func (st *Station) EndBy() string { return st.Widest.endBy }
