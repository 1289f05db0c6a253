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
}

const (
	// leastRode keeps the stiffness finite when a script hauls the rode to
	// nothing.
	leastRode = trial.Length(0.5)
	// aheadTau is how fast the tension goes over to the recovery table: the
	// vessel takes some seconds to come ahead over the anchor.
	aheadTau = 1.5 // s
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
	g.says = g.recovery.at(x)
}

// tension is that at x metres hauled.
func (g *ground) tension(x trial.Length) trial.Force {
	if x >= g.top {
		return g.hold
	}
	return max(g.hold-trial.Force(g.stiffness(x)*float64(g.top-x)), min(g.slack, g.hold))
}

// move takes the rode from one length hauled to another in dt seconds.
func (g *ground) move(from, to trial.Length, dt float64) {
	if over := g.hold - g.says; g.ahead && over > 0 {
		g.hold -= over * trial.Force(1-math.Exp(-dt/aheadTau))
	}
	if to == from {
		g.relaxFor(dt)
		return
	}
	g.rest = 0
	if to <= g.top {
		return
	}
	// What the tension stands off the table by: below after a rest, above
	// while the vessel is still coming ahead.
	off := g.hold - g.says
	if off < 0 {
		off = min(off+trial.Force(g.stiffness(to)*float64(to-g.top)), 0)
	} else if !g.ahead {
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
