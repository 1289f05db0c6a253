package trial

import (
	"math"

	"hawse/trial/rode"
)

// Along is the reference levels along the line hauled: less chain lies on the
// bottom as the rode comes in, so the bare rode takes less. The shape comes from
// the statics with the friction the trial file says; where the file has the mean
// of a bare-rode run the shape is scaled to it, and where it has not the statics
// stand alone and are assumed; what hangs from the roller is no friction and is
// not scaled. The dead-weight level is the bare rode's and what
// the block added, by the ratio of the masses: an assumption, too.
type Along struct {
	rode   *rode.Rode
	pieces []Piece
	bare   Force   // the file's mean, 0 unknown
	scale  float64 // of the statics; 0: no statics, the file's number everywhere
	extra  Force   // of a dead weight of this anchor's mass over the bare rode, 0 unknown
	source string

	out, height Length // what the next is of
	now         Force
	has         bool
}

// alongEvery is how far the line comes in, or the depth changes, until the level
// is worked out anew, m: it changes by a hundredth or so in that.
const alongEvery = 0.25

// NewAlong is for one run of the trial. planned is how far it may haul, m; the
// mean of a bare-rode run is taken over that.
func NewAlong(t *Trial, run Run, planned Length) *Along {
	a := &Along{source: "unknown"}
	l := t.Levels
	if l.Known {
		a.bare, a.source = l.BareRode, l.Source
		if mass := t.massOf(run); l.DeadMass > 0 && mass > 0 && l.DeadWeight > l.BareRode {
			a.extra = Force(float64(l.DeadWeight-l.BareRode) * float64(mass/l.DeadMass))
		} else if l.DeadWeight > l.BareRode {
			a.extra = l.DeadWeight - l.BareRode
		}
	}
	rubs := false
	for _, p := range t.Rode {
		rubs = rubs || p.HasFriction && p.Friction > 0
	}
	if !rubs {
		return a
	}
	height := t.HeightOf(run)
	var err error
	if a.rode, err = t.Statics(height); err != nil {
		return a
	}
	a.pieces, a.scale = t.Rode, 1
	if a.bare == 0 {
		a.source = "assumed, from the friction in the trial file"
		return a
	}
	const parts = 8
	rub, left := 0.0, 0.0 // friction by the statics, and what the file's mean leaves for it
	for i := range parts + 1 {
		if hangs, v := a.drag(run.Payout-planned*Length(i)/parts, height); v > 0 {
			rub += float64(v - hangs)
			left += float64(a.bare - hangs)
		}
	}
	if a.scale = left / rub; !(a.scale > 0) || math.IsInf(a.scale, 1) {
		a.scale = 0
	}
	return a
}

// HeightOf is the height of the fairlead over the bottom as planned for a run, m.
func (t *Trial) HeightOf(run Run) Length {
	height := t.Vessel.Fairlead
	for _, s := range t.Stations {
		if s.Name == run.Station {
			height += s.Depth
		}
	}
	return height
}

func (t *Trial) massOf(run Run) Mass {
	a, _ := t.Anchor(run.Anchor)
	return a.Mass
}

// drag is what the statics give, N, and how much of it only hangs; 0 unknown.
func (a *Along) drag(out, height Length) (hangs, all Force) {
	if a.rode == nil || !(height > 0) || !(out > 0) {
		return 0, 0
	}
	if out <= height { // all of it hangs
		for _, p := range a.pieces {
			hangs += Force(p.Weight) * Force(min(p.Length, out))
			out -= min(p.Length, out)
		}
		return hangs, hangs
	}
	if a.rode.SetHeight(float64(height)) != nil || a.rode.SetOut(min(float64(out), a.rode.Total())) != nil {
		return 0, 0
	}
	slack, err := a.rode.AtSpan(0)
	if err != nil {
		return 0, 0
	}
	v, err := a.rode.Dragged()
	if err != nil {
		return 0, 0
	}
	return Force(slack.T), Force(v)
}

// At is both levels with so much rode out over that height, N; 0 unknown. Rode
// out or height that are unknown give the levels as the file says them.
func (a *Along) At(out, height Length) (bare, dead Force) {
	bare = a.bare
	if a.scale > 0 && finite(float64(out)) && finite(float64(height)) {
		if !a.has || math.Abs(float64(out-a.out)) >= alongEvery || math.Abs(float64(height-a.height)) >= alongEvery {
			a.out, a.height, a.has = out, height, true
			hangs, all := a.drag(out, height)
			a.now = hangs + Force(float64(all-hangs)*a.scale)
		}
		if a.now > 0 {
			bare = a.now
		}
	}
	if bare > 0 && a.extra > 0 {
		dead = bare + a.extra
	}
	return bare, dead
}

// Source is where the levels come from, in words.
func (a *Along) Source() string { return a.source }
