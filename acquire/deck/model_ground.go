package deck

import (
	"math"

	"hawse/trial"
)

// modelGround is the tension at the fairlead by a [Model].
type modelGround struct {
	m      *Model
	rode   *rodeTable
	anchor *anchorModel
	payout float64

	t     float64 // s since it began
	x     float64 // line hauled
	span0 float64 // from the anchor's first place to the fairlead's
	moved float64 // of the vessel astern, by surges and drifts
	seed  uint64
	now   held
	rises riseModel
	ahead bool
}

func newModelGround(s *Scenario, seed uint64) *modelGround {
	m := s.model
	table, err := newRodeTable(s.Depth+s.Fairlead, m.Pieces, s.Payout)
	if err != nil {
		panic(err) // the parser has built this very table
	}
	return &modelGround{m: m, rode: table, anchor: newAnchorModel(m, seed), payout: float64(s.Payout), seed: seed}
}

func (g *modelGround) out(x float64) float64 { return g.payout - x }

// start lays the rode out: with so much slack hauled the line is just taut, which
// is the bare rode's own level.
func (g *modelGround) start(x trial.Length) {
	g.x = float64(x)
	_, g.span0 = g.rode.atAnchor(g.out(g.x+float64(g.m.Slack)), nothing)
	g.look()
}

// span is the fairlead's distance from the anchor, level.
func (g *modelGround) span() float64 { return g.span0 + g.astern() - g.anchor.travel }

// astern is where the vessel lies: waves, surges and drifts.
func (g *modelGround) astern() float64 {
	return g.moved + g.m.Swell.at(g.t, g.seed) + g.m.Thruster.at(g.t, g.seed+1)
}

func (g *modelGround) look() { g.now = g.rode.atSpan(g.out(g.x), g.span()) }

func (g *modelGround) shift(astern trial.Length) { g.moved = float64(astern) }

func (g *modelGround) move(_, to trial.Length, dt float64) {
	g.x, g.t = float64(to), g.t+dt
	if g.ahead {
		g.rises.step(g, dt)
		return
	}
	g.look()
	if g.anchor.step(g.now, dt) > 0 {
		g.look()
	}
	if g.anchor.snagged && g.m.SnagHolds > 0 && g.now.anchor >= float64(g.m.SnagHolds) {
		g.release()
	}
}

func (g *modelGround) tension(x trial.Length) trial.Force {
	if g.ahead {
		return trial.Force(g.rises.tension)
	}
	if float64(x) != g.x {
		return trial.Force(g.rode.atSpan(g.out(float64(x)), g.span()).tension)
	}
	return trial.Force(g.now.tension)
}

func (g *modelGround) snag() { g.anchor.snagged = true }

func (g *modelGround) release() {
	if g.anchor.snagged {
		g.anchor.snagged, g.anchor.freed = false, true
	}
}

func (g *modelGround) goAhead(x trial.Length) {
	if g.ahead {
		return
	}
	was := float64(g.tension(x))
	g.ahead, g.moved = true, 0
	g.release()
	g.rises.begin(g, was)
}

func (g *modelGround) truth() Truth {
	a := g.anchor
	t := Truth{
		Contact: a.contact(), Engaged: a.bites && a.breaking >= 1, Travel: trial.Length(a.travel), Depth: trial.Length(a.depth()),
		Capacity: trial.Force(a.capacity()), Resists: trial.Force(a.resists()), Dead: trial.Force(a.dead()), AnchorTension: trial.Force(g.now.anchor),
		AnchorAngle: trial.Angle(g.now.angle), Tension: g.tension(trial.Length(g.x)), Span: trial.Length(g.span()),
		Breaks: a.breaks, Bites: a.bitten, Teeth: a.teeth, Astern: trial.Length(g.astern()), Snagged: a.snagged, Ahead: g.ahead,
	}
	if g.ahead {
		t.Contact, t.Depth = g.rises.contact(), trial.Length(max(g.rises.depth-g.rises.up, 0))
		t.AnchorTension, t.AnchorAngle = trial.Force(g.rises.pull), trial.Angle(math.Pi/2)
	}
	return t
}

// at is where a wave has the vessel at time t: a sine whose height comes and goes.
func (w Wave) at(t float64, seed uint64) float64 {
	if w.Amp == 0 {
		return 0
	}
	first, second := 3*lattice(seed, 1), 3*lattice(seed, 2)
	height := 1 + 0.4*math.Sin(2*math.Pi*t/(7.3*w.Every)+first)
	return float64(w.Amp) * height / 1.4 * math.Sin(2*math.Pi*t/w.Every+second)
}

// riseModel is the recovery: the vessel lies over the anchor and the line is up
// and down. All its figures are invention, but that suction gives way slowly.
type riseModel struct {
	depth   float64 // of the flukes when it began, m
	buried  float64 // share of the flukes that is in the ground
	ea      float64 // N, of the rode above
	began   float64 // s
	was     float64 // tension then
	up      float64 // m the anchor has risen
	v       float64 // m/s
	free    bool
	tension float64
	pull    float64 // at the anchor
}

const (
	riseRef  = 0.005 // m/s: speed at which the suction is given
	riseRate = 0.08  // share for ten times the speed: a viscous soil, from memory
	heave    = 0.2   // of the swell along the rode, up and down at the roller
	clearOf  = 0.1   // m over the bottom: one that lies on it stands on end first
	mudOn    = 1.3   // weight of what comes up over the anchor's own in water: mud on the flukes
)

func (r *riseModel) begin(g *modelGround, was float64) {
	*r = riseModel{depth: g.anchor.depth(), buried: g.anchor.buried(), began: g.t, was: was, tension: was, ea: float64(g.m.Pieces[0].EA)}
}

func (r *riseModel) step(g *modelGround, dt float64) {
	out, height := g.out(g.x), g.rode.height
	need := height + r.depth - r.up + heave*g.m.Swell.at(g.t, g.seed) // line that reaches from roller to anchor
	weight := float64(g.m.Weight) * inWater
	line := g.hangs(min(out, height))
	stretch := max(need-out, 0)
	stiff := r.ea / max(out, float64(leastRode))
	r.pull = stiff * stretch
	r.v = 0
	switch {
	case r.free:
		r.up = max(r.up, height+r.depth-out) // it comes with the line
		r.pull = weight * mudOn
		if out > height+r.depth {
			r.pull = 0
		}
		r.pull *= 1 + heave*g.m.Swell.at(g.t, g.seed)
	default:
		hold := max(weight, nothing)
		if over := float64(g.m.SuctionOver); over > 0 {
			hold += float64(g.m.Suction) * r.buried * max(1-r.up/over, 0)
		}
		r.v = creepAt(r.pull, stiff*dt, hold, hold*riseRate, riseRef, mostSpeed)
		r.up += r.v * dt
		// Out of its hole it hangs, however shallow that was.
		r.free = r.up >= max(min(float64(g.m.SuctionOver), r.depth), clearOf)
	}
	want := line + r.pull
	r.tension = max(want+(r.was-want)*math.Exp(-(g.t-r.began)/aheadTau), 0)
}

// hangs is the weight in water of the length of rode next to the anchor's end of
// what is out.
func (g *modelGround) hangs(length float64) (sum float64) {
	for _, p := range g.m.Pieces {
		part := min(float64(p.Length), length)
		sum += part * float64(p.Weight)
		length -= part
	}
	return sum
}

func (r *riseModel) contact() Contact {
	switch {
	case r.free:
		return OffBottom
	case r.v < stillSpeed:
		return Still
	case r.v < creepSpeed:
		return Creeping
	}
	return SlidingInSoil
}
