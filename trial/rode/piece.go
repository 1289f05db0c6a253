package rode

import (
	"fmt"
	"math"
)

// MaxPieces is the largest number of pieces of a rode.
const MaxPieces = 64

// Bounds beyond which an input is taken for a slip of units. They are far
// outside anything on a small vessel: common practice, no source.
const (
	maxLength  = 1e5  // m, of a piece, and the height
	maxWeight  = 1e7  // N/m
	maxJoint   = 1e9  // N
	maxMu      = 100  // friction coefficient
	maxTension = 1e12 // N
	minEA      = 1    // N
)

// Unlimited is the axial stiffness of a piece that does not stretch.
var Unlimited = math.Inf(1)

// NoBottom is the friction of a piece with no bottom under it: it may hang
// below the level of the anchor.
var NoBottom = math.NaN()

// Piece is one uniform piece of rode.
type Piece struct {
	// Length is unstretched, m.
	Length float64
	// Weight is submerged, N for each metre of Length. It must be positive.
	Weight float64
	// EA is the axial stiffness, N; [Unlimited] for none of the stretch.
	EA float64
	// Friction on the bottom, a ratio; 0 is a smooth bottom, [NoBottom] none.
	// Pieces with a bottom come first, from the anchor up: under a piece
	// without bottom the ground has fallen away, and it does not come back.
	// Where it falls away stands an edge at the anchor's level.
	Friction float64
	// JointWeight is the submerged weight at the upper end of the piece, N: a
	// shackle, a sinker. On the bottom it rubs with the Friction of this piece,
	// the one below it. Weight at the fairlead hangs on the vessel, so the last
	// piece has none, and none counts once the rode is cut at its joint.
	JointWeight float64
}

// piece is a Piece made ready to sum over.
type piece struct {
	l, w, wl float64
	inv      float64 // 1/EA; 0 where nothing stretches
	mu       float64 // 0 where there is no bottom
	joint    float64 // weight at the lower end, N
	floor    bool    // a bottom lies under it
}

// Rode is a rode between anchor and fairlead. Solving does not change it, so
// several goroutines may solve one Rode as long as none sets it.
type Rode struct {
	full []piece // all of it
	use  []piece // what is out: a prefix of full, the last one cut
	rodeSums

	height, out float64
}

// New makes a rode of the height of the fairlead over the anchor, m, and its
// pieces from the anchor up. All of it is out until [Rode.SetOut] is called.
//
// It returns an error that wraps [ErrInput], [ErrFloats] or [ErrBottomGap] and
// names the piece, counted from 1 at the anchor.
func New(height float64, pieces []Piece) (*Rode, error) {
	if len(pieces) == 0 || len(pieces) > MaxPieces {
		return nil, fmt.Errorf("%w: a rode has 1 to %d pieces, not %d; list them from the anchor up", ErrInput, MaxPieces, len(pieces))
	}
	r := &Rode{full: make([]piece, len(pieces)), use: make([]piece, len(pieces))}
	total := 0.0
	for i, p := range pieces {
		if err := p.check(i+1, i == len(pieces)-1); err != nil {
			return nil, err
		}
		floor := !math.IsNaN(p.Friction)
		if floor && i > 0 && !r.full[i-1].floor {
			return nil, fmt.Errorf("%w: piece %d has a bottom but piece %d below it has none; give piece %d a friction (0 for a smooth bottom) or take it from piece %d", ErrBottomGap, i+1, i, i, i+1)
		}
		q := piece{l: p.Length, w: p.Weight, wl: p.Weight * p.Length, inv: 1 / p.EA, floor: floor}
		if floor {
			q.mu = p.Friction
		}
		if i > 0 {
			q.joint = pieces[i-1].JointWeight
		}
		r.full[i] = q
		total += p.Length
	}
	if err := checkHeight(height); err != nil {
		return nil, err
	}
	r.height = height
	return r, r.SetOut(total)
}

func (p Piece) check(number int, last bool) error {
	bad := func(what string, v float64, want string) error {
		return fmt.Errorf("%w: piece %d from the anchor: %s %v; %s", ErrInput, number, what, v, want)
	}
	switch {
	case !(p.Length > 0 && p.Length <= maxLength):
		return bad("length", p.Length, fmt.Sprintf("give its unstretched length, above 0 and up to %g m", float64(maxLength)))
	case p.Weight <= 0:
		return fmt.Errorf("%w: piece %d from the anchor weighs %v N/m in water; only a line that sinks can be solved, give its submerged weight", ErrFloats, number, p.Weight)
	case !(p.Weight <= maxWeight):
		return bad("submerged weight", p.Weight, fmt.Sprintf("give newtons a metre, up to %g", maxWeight))
	case !(p.EA >= minEA):
		return bad("stiffness EA", p.EA, "give newtons, 1 or more; left out, it does not stretch")
	case !math.IsNaN(p.Friction) && !(p.Friction >= 0 && p.Friction <= maxMu):
		return bad("friction", p.Friction, "give a ratio from 0 up, or leave it out where there is no bottom")
	case p.JointWeight < 0:
		return fmt.Errorf("%w: the joint above piece %d weighs %v N in water; a float cannot be solved, leave it out or give a sinker", ErrFloats, number, p.JointWeight)
	case !(p.JointWeight <= maxJoint):
		return bad("joint weight", p.JointWeight, fmt.Sprintf("give newtons, up to %g, or 0 for none", maxJoint))
	case last && p.JointWeight != 0:
		return bad("joint weight", p.JointWeight, "the upper end of the last piece is at the fairlead, where a weight hangs on the vessel: give 0")
	}
	return nil
}

func checkHeight(h float64) error {
	if !(h > 0 && h <= maxLength) {
		return fmt.Errorf("%w: height of the fairlead over the anchor %v; give metres, above 0 and up to %g (depth and fairlead height, and burial if known)", ErrInput, h, float64(maxLength))
	}
	return nil
}

// SetHeight sets the height of the fairlead over the anchor, m. After an error
// the rode is as it was.
func (r *Rode) SetHeight(h float64) error {
	if err := checkHeight(h); err != nil {
		return err
	}
	r.height = h
	r.settle()
	return nil
}

// SetOut sets how much rode is outboard of the fairlead, m unstretched: the
// rest is cut off at the vessel's end. A rode out that is shorter than the
// height is taken; solving it may then need a stretch, or fail. After an error
// the rode is as it was.
func (r *Rode) SetOut(length float64) error {
	if !(length > 0) || math.IsInf(length, 0) {
		return fmt.Errorf("%w: rode out %v; give metres above 0", ErrInput, length)
	}
	total := r.Total()
	if length > total {
		if length > total*(1+1e-12) {
			return fmt.Errorf("%w: rode out %v m is more than the %v m its pieces make; check the count, or add the piece that is missing", ErrInput, length, total)
		}
		length = total
	}
	r.out, r.use = length, r.use[:0]
	for left := length; ; {
		p := r.full[len(r.use)]
		last := left <= p.l || len(r.use) == len(r.full)-1
		if last {
			p.l = math.Min(left, p.l)
			p.wl = p.w * p.l
		}
		left -= p.l
		r.use = append(r.use, p)
		if last {
			break
		}
	}
	r.settle()
	return nil
}

// Total is the unstretched length of all pieces, m.
func (r *Rode) Total() float64 {
	var sum float64
	for i := range r.full {
		sum += r.full[i].l
	}
	return sum
}

// Out is the unstretched rode out, m.
func (r *Rode) Out() float64 { return r.out }

// Height is the height of the fairlead over the anchor, m.
func (r *Rode) Height() float64 { return r.height }
