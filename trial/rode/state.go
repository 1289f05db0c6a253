package rode

import "math"

// Regime says how a rode lies.
type Regime uint8

// The regimes, from slack to up and down.
const (
	// Slack: no horizontal force. The hanging part is plumb, the rest lies on
	// the bottom anyhow, and the span may be anything from SpanMin to SpanMax.
	Slack Regime = iota + 1
	// OnBottom: some of the rode lies on the bottom.
	OnBottom
	// AtJoint: the rode leaves the bottom at a joint and carries part of its
	// weight, or all of it beyond the edge of the bottom. It holds over a range
	// of tension.
	AtJoint
	// Lifted: clear of the bottom, and longer unstretched than the straight
	// line from anchor to fairlead.
	Lifted
	// Taut: clear of the bottom and stretched longer than it was; the straight
	// line is at least as long as the rode unstretched.
	Taut
	// Vertical: up and down, no span, none of it on the bottom.
	Vertical
)

// String names the regime as the deck would.
func (g Regime) String() string {
	switch g {
	case Slack:
		return "slack"
	case OnBottom:
		return "on bottom"
	case AtJoint:
		return "joint lifting"
	case Lifted:
		return "lifted"
	case Taut:
		return "taut"
	case Vertical:
		return "up and down"
	}
	return "unknown"
}

// State is one equilibrium of a rode, dragged in towards the vessel.
type State struct {
	Regime Regime

	Out, Height float64 // of the rode that was solved, m

	// Span is the horizontal distance from anchor to fairlead, m. SpanMin and
	// SpanMax equal it, but a slack rode may have any span between them.
	Span, SpanMin, SpanMax float64

	// At the fairlead: H and V are what the rode pulls the vessel with,
	// horizontally and downwards, T their resultant, N. FairleadAngle is that
	// of the line under the horizontal, rad.
	H, V, T, FairleadAngle float64

	// At the anchor: AnchorV is positive when the line lifts it, negative when
	// the line sags below it; it is 0 with line on the bottom. AnchorAngle is
	// over the horizontal, rad. AnchorT is 0 where friction eats all.
	AnchorH, AnchorV, AnchorT, AnchorAngle float64

	OnBottom float64 // unstretched length on the bottom, m
	Friction float64 // the most the bottom can hold of it, N
	Stretch  float64 // all of it, m
	Energy   float64 // elastic, J: half the square of tension over EA, along the rode

	// Stiffness is the rise of T for each metre of unstretched rode hauled,
	// anchor and vessel fixed, N/m: -dT/dL. StiffnessCounted is for each metre
	// that a counter at the fairlead sees pass, which is stretched.
	// SpanStiffness is dH/dX, N/m, for a vessel that moves, and SpanTension is
	// dT/dX. They are +Inf where nothing stretches and the rode is straight. Friction is taken as in a pull,
	// so they hold for hauling and for a vessel that moves away, not for easing.
	Stiffness, StiffnessCounted, SpanStiffness, SpanTension float64

	// Scope is Out over Height, the height being that over the anchor.
	Scope float64
}

// AnchorBand is the tension at the anchor, lo to hi in N, when it is not known
// which way friction acts. AnchorT takes the rode as dragged in; after easing
// some or all of the friction points the other way. With nothing on the bottom
// both are AnchorT.
func (s State) AnchorBand() (lo, hi float64) {
	if s.OnBottom == 0 {
		return s.AnchorT, s.AnchorT
	}
	return min(max(s.H-s.Friction, 0), s.AnchorT), s.H + s.Friction
}

// bare is a state with what does not depend on the sums.
func (r *Rode) bare(h, v float64) State {
	t := math.Hypot(h, v)
	return State{
		Out: r.out, Height: r.height, Scope: r.out / r.height,
		H: h, V: v, T: t, FairleadAngle: math.Atan2(v, h),
	}
}

// state fills a State from the forces at the fairlead; h is positive.
func (r *Rode) state(h, v float64) State {
	s, at := r.bare(h, v), r.reach(h, v)
	s.fill(&at)
	s.Span, s.SpanMin, s.SpanMax = at.x, at.x, at.x
	r.stiffen(&s, &at)
	switch {
	case at.bottom > 0 && at.joint:
		s.Regime = AtJoint
	case at.bottom > 0:
		s.Regime = OnBottom
	case math.Hypot(at.x, r.height) >= r.out:
		s.Regime = Taut
	default:
		s.Regime = Lifted
	}
	return s
}

func (s *State) fill(at *reached) {
	s.AnchorH, s.AnchorV = at.end, at.low
	if s.AnchorT = math.Hypot(at.end, at.low); s.AnchorT > 0 {
		s.AnchorAngle = math.Atan2(at.low, at.end)
	}
	s.OnBottom, s.Friction = at.bottom, at.rubs
	s.Stretch, s.Energy = at.stretch, at.energy
}

// stiffen works out the stiffnesses from the four derivatives of the end. The
// end and the height are held; taking in dL draws the end by (1+T/EA) dL along
// the line and takes w dL from the weight that hangs.
func (r *Rode) stiffen(s *State, at *reached) {
	last := &r.use[len(r.use)-1]
	det := at.xh*at.zv - at.xv*at.zh
	if !(det > 1e-15*at.xh*at.zv) { // straight to the last digit
		inf := math.Inf(1)
		s.Stiffness, s.StiffnessCounted, s.SpanStiffness, s.SpanTension = inf, inf, inf, inf
		return
	}
	a, b := s.H/s.T, s.V/s.T
	k := (a*a*at.zv - a*b*(at.xv+at.zh) + b*b*at.xh) / det
	longer := 1 + s.T*last.inv
	s.Stiffness = longer*k - last.w*b
	s.StiffnessCounted = s.Stiffness / longer
	s.SpanStiffness = at.zv / det
	s.SpanTension = (a*at.zv - b*at.zh) / det
}

// plumbState is the rode with no horizontal force under v, which must be a
// vertical force at which it hangs to the right height.
func (r *Rode) plumbState(v float64) State {
	s := r.bare(0, v)
	i, length, low := r.touch(v)
	at := reached{laid: r.lay(0, i, length, low)}
	if i == 0 && length == 0 {
		at.low = low
	}
	for j := len(r.use) - 1; j >= i; j-- {
		p := &r.use[j]
		l := p.l
		if j == i {
			l -= length
		}
		// Each half of a bight has tension of its own sign.
		v1 := v - p.w*l
		at.stretch += p.inv * (v*math.Abs(v) - v1*math.Abs(v1)) / (2 * p.w)
		at.energy += p.work(0, v, l)
		v = v1 - p.joint
	}
	s.fill(&at)
	s.SpanMax = s.OnBottom
	s.Span = s.SpanMax
	// Hauled straight up: the horizontal force stays nothing.
	last := &r.use[len(r.use)-1]
	_, give := r.upright(s.V)
	longer := 1 + s.T*last.inv
	s.Stiffness = longer/give - last.w
	s.StiffnessCounted = s.Stiffness / longer
	if low > 0 { // a pendulum over the anchor or over a joint
		s.SpanStiffness = 1 / r.reach(0, s.V).xh
	}
	switch {
	case at.bottom == 0 && low >= 0:
		s.Regime = Vertical
	case at.bottom > 0 && s.V > r.hang*(1+2*eps):
		s.Regime = AtJoint
	default:
		s.Regime = Slack
	}
	return s
}
