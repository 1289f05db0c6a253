package deck

import (
	"math"

	"hawse/trial"
)

// ground is the tension at the fairlead, as a function of what the winch does.
//
// While line is hauled over new ground the tension is the table's. Line paid
// out comes off the rode's stretch: the tension falls with the stiffness EA/L
// down to that of a slack rode, and hauling the same line in again brings it
// back the same way. A winch that stops lets the tension relax by a few per
// cent; the next haul makes that good along the stiffness, too, and then goes
// on in the table where it stood.
//
// A vessel that goes astern stretches the rode, and one that goes ahead lets it
// come back, by EA/L a metre, on top of what the ground gives: the ground does
// not yield to it. Nothing relaxes while the vessel goes astern; afterwards the
// tension relaxes anew.
//
// On a snag the anchor no longer comes, so hauling, too, stretches the rode by
// EA/L a metre. The snag lets go when it is told to, and when the rode is eased
// to slack.
type ground struct {
	pull, recovery curve // recovery is against line hauled as well
	ahead          bool  // the recovery table holds
	payout         trial.Length
	ea             trial.Force
	slack          trial.Force
	relax          float64 // share lost at rest, below 1
	tau            float64 // s in which most of it goes, above 0

	top  trial.Length // furthest line hauled: new ground begins here
	hold trial.Force  // tension when hauled to top
	says trial.Force  // what the table says there
	rest float64      // s the winch has stood still; 0 while it moves

	vessel  trial.Length // how far the vessel lies astern of its place
	goes    bool         // it goes farther astern
	snagged bool
	loose   bool // a snag has let go, and the tension falls to the table's
}

const (
	// leastRode keeps the stiffness finite when a script hauls the rode to
	// nothing.
	leastRode = trial.Length(0.5)
	// aheadTau is how fast the tension goes over to the recovery table: the
	// vessel takes some seconds to come ahead over the anchor.
	aheadTau = 1.5 // s
	// looseTau is how fast it falls when a snag lets go: within some 0.3 s.
	looseTau = 0.1 // s
)

func (g *ground) curve() *curve {
	if g.ahead {
		return &g.recovery
	}
	return &g.pull
}

// stiffness is EA/L in N/m with x metres hauled.
func (g *ground) stiffness(x trial.Length) float64 {
	return float64(g.ea) / float64(max(g.payout-x, leastRode))
}

// start places the ground at x metres hauled, on the table.
func (g *ground) start(x trial.Length) {
	g.top, g.says = x, g.curve().at(x)
	g.hold = g.says
}

// goAhead makes the recovery table hold from x metres hauled on.
func (g *ground) goAhead(x trial.Length) {
	if g.ahead {
		return
	}
	g.hold = g.tension(x)
	g.ahead, g.top, g.rest = true, x, 0
	g.vessel, g.goes, g.snagged, g.loose = 0, false, false, false
	g.says = g.recovery.at(x)
}

// shift puts the vessel so far astern of its place.
func (g *ground) shift(astern trial.Length) { g.vessel, g.goes = astern, astern > g.vessel }

// snag catches the anchor where it is.
func (g *ground) snag() { g.snagged, g.loose = !g.ahead, false }

// release lets the anchor go again.
func (g *ground) release() {
	if g.snagged {
		g.snagged, g.loose = false, true
	}
}

// tension is that at x metres hauled.
func (g *ground) tension(x trial.Length) trial.Force {
	return max(g.hold+trial.Force(g.stiffness(x)*float64(x-g.top+g.vessel)), min(g.slack, g.hold))
}

// move takes the rode from one length hauled to another in dt seconds.
func (g *ground) move(from, to trial.Length, dt float64) {
	over := g.hold - g.says
	switch {
	case over > 0 && g.ahead:
		g.hold -= over * trial.Force(1-math.Exp(-dt/aheadTau))
	case over > 0 && g.loose:
		g.hold -= over * trial.Force(1-math.Exp(-dt/looseTau))
	default:
		g.loose = false
	}
	switch {
	case to != from || g.goes:
		g.rest = 0
	default:
		g.relaxFor(dt)
	}
	if g.snagged && to < g.top && g.tension(to) <= g.slack {
		g.snagged, g.hold = false, min(g.hold, g.says)
	}
	if to <= g.top {
		return
	}
	if g.snagged {
		g.hold += trial.Force(g.stiffness((to+g.top)/2) * float64(to-g.top))
		g.top, g.says = to, g.curve().at(to)
		return
	}
	// What the tension stands off the table by: below after a rest, above
	// while the vessel is still coming ahead.
	off := g.hold - g.says
	if off < 0 {
		off = min(off+trial.Force(g.stiffness(to)*float64(to-g.top)), 0)
	} else if !g.ahead && !g.loose {
		off = 0
	}
	g.top, g.says = to, g.curve().at(to)
	g.hold = max(g.says+off, min(g.says, g.slack))
}

// relaxFor lets the tension fall by its share, most of it within tau.
func (g *ground) relaxFor(dt float64) {
	was := g.rest
	g.rest += dt
	if g.hold <= g.slack {
		return
	}
	left := func(t float64) float64 { return 1 - g.relax*(1-math.Exp(-3*t/g.tau)) }
	g.hold = max(g.hold*trial.Force(left(g.rest)/left(was)), g.slack)
}
