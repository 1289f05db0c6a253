package plan

import (
	"errors"
	"fmt"
	"math"

	"hawse/trial"
	"hawse/trial/geo"
	"hawse/trial/rode"
)

// Drop is where the anchor of a run is to be lowered.
type Drop struct {
	Point    geo.Point
	Bearing  float64 // from the roller at its berth, rad from true north
	Distance float64 // likewise, m
	Within   float64 // of the point is near enough, m
}

// DropOf is the drop point of a run of the trial file: the end of its lane, so far
// from the berth as the rode reaches when it is taut. The error says why none is
// known.
func DropOf(t *trial.Trial, run trial.Run) (Drop, error) {
	if t.Plan == nil {
		return Drop{}, errors.New("the trial file has no [plan]")
	}
	p, err := Make(t, nil)
	if err != nil {
		return Drop{}, err
	}
	for _, st := range p.Stations {
		switch {
		case st.Name != run.Station:
			continue
		case !st.HasPos:
			return Drop{}, fmt.Errorf("[[plan.berth]] says no position for %s", st.Name)
		case st.Lanes.Count == 0:
			return Drop{}, fmt.Errorf("the plan has no lanes at %s", st.Name)
		}
		d := Drop{Bearing: st.Lanes.Bearing(run.Lane), Distance: rode.TautSpan(float64(run.Payout), float64(st.Depth+t.Vessel.Fairlead)), Within: float64(t.Plan.DropWithin)}
		for _, r := range st.Runs {
			if r.ID == run.ID && r.Lane == run.Lane { // it knows of the tide
				d.Distance = float64(r.Distance)
			}
		}
		if d.Within == 0 {
			d.Within = st.Lanes.Gap / 2
		}
		if !(d.Distance > 0) {
			return Drop{}, fmt.Errorf("the rode of run %s does not reach the bottom", run.ID)
		}
		d.Point, _ = geo.Direct(st.Position, d.Bearing/degree, d.Distance)
		return d, nil
	}
	return Drop{}, fmt.Errorf("the plan has no station %s", run.Station)
}

// From is where the drop point lies, seen from the roller: bearing, rad from true
// north from 0 to 2 pi, and distance, m.
func (d Drop) From(roller geo.Point) (bearing, distance float64) {
	east, north := geo.Plane{Origin: roller}.To(d.Point)
	return math.Mod(math.Atan2(east, north)+turn, turn), math.Hypot(east, north)
}
