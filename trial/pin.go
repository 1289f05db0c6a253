package trial

import (
	"errors"
	"fmt"
	"math"

	"hawse/trial/rode"
)

// Where a load cell sits, as the key sits says it. Empty: the file does not say.
const (
	SitsOutboard = "outboard" // in the rode outside the roller: it feels the tension
	SitsInboard  = "inboard"  // between roller and winch: the tension, and the roller's friction
	SitsRoller   = "roller"   // a pin in the roller: it feels what the bent line presses on it
)

// pinLeast is [rode.PinRatio] over the larger of the two tensions, the least of it that
// friction mu allows whichever way the line runs, with a bend of that or more, up to
// that of a plumb line: so much at least is felt of the tension that counts. With
// much friction it falls again beyond a right angle.
func pinLeast(bend, plumb, mu float64) float64 {
	return math.Min(pinLeastAt(bend, mu), pinLeastAt(math.Min(math.Max(bend, plumb), math.Pi), mu))
}

func pinLeastAt(bend, mu float64) float64 {
	k := rode.Capstan(-mu, math.Max(bend, 0)) // the smaller tension over the larger one
	// 1 + k² - 2 k cos bend is least at k = cos bend.
	return rode.PinRatio(bend, math.Min(1, math.Max(k, math.Cos(bend))))
}

// What a pin's tension may be uncertain by until it counts as unknown: common
// practice, no source.
const (
	defaultAngleU = Angle(0.5 * math.Pi / 180) // of the bend: trim, lead of the inboard part, the ground's slope
	pinWorst      = 2.0                        // times the likely tension that the greatest possible one may be
	pinDoubt      = 2.0                        // standard uncertainties the greatest possible tension is taken at
	pinSolved     = 1e-5                       // relative, of the likely tension
	pinStretch    = 1.1                        // more than any line stretches under its load
)

// Pin turns what a pin in the roller feels into the tension of the rode. The
// angle at the fairlead is that of the statics at the very tension that is sought:
// at a small tension chain hangs steeply and a straight line from anchor to
// fairlead would make the tension several times too large.
//
// It is pure, and allocates nothing once it is made.
type Pin struct {
	lead, angleU float64 // rad
	mu           float64
	rode         *rode.Rode
	why          error // why there is none to solve
}

// PinAt is how the rode leads to the roller.
type PinAt struct {
	Out, Height   Length // rode out, and the fairlead over the bottom; NaN unknown
	OutU, HeightU Length // standard uncertainty of the two
	Longer        Length // by which the rode out may be longer than it was counted: what came in stretched
	Deeper        Length // by which the anchor's eye may be under the bottom, as it is in recovery until the anchor is out
	Way           int    // +1 hauling, -1 paying out, 0 standing or unknown
}

// PinTension is a tension as a pin tells it.
type PinTension struct {
	Known bool
	Why   string // it is not, and what to do
	Bend  Angle  // by which the line turns over the roller; NaN unknown
	Line  Angle  // of the outboard part under the horizontal; NaN unknown

	T    Force   // of the outboard part, as is likely
	Most Force   // the greatest that can be, of either part: by angle, length, height and friction
	U    Force   // standard uncertainty of T by the same
	Gain float64 // what a newton felt more makes of T
}

// eye is how far the anchor's eye can be under the bottom, m: no deeper than the
// line reaches.
func (at PinAt) eye() Length { return max(min(at.Deeper, at.Out-at.Height), 0) }

// NewPin is for a trial whose cell is a pin in the roller.
func NewPin(t *Trial, c LoadCell) *Pin {
	p := &Pin{lead: float64(t.Vessel.Lead), angleU: float64(c.AngleU), mu: t.Vessel.RollerFriction}
	if !(p.angleU > 0) {
		p.angleU = float64(defaultAngleU)
	}
	p.rode, p.why = t.Statics(1)
	return p
}

// Tension is that of the rode when the pin feels so much. It is not known where
// the line's angle is not, or where the line bends so little that a small error
// of the angle is a large one of the tension.
func (p *Pin) Tension(felt Force, at PinAt) PinTension {
	nan := Angle(math.NaN())
	out := PinTension{Bend: nan, Line: nan, T: Force(math.NaN()), Most: Force(math.Inf(1)), U: Force(math.NaN()), Gain: math.NaN()}
	switch {
	case p.rode == nil:
		out.Why = "the angle of the line at the roller cannot be told: " + p.why.Error()
		return out
	case !finite(float64(at.Out)) || !(at.Out > 0):
		out.Why = "the angle of the line at the roller is unknown: say the rode out, and see the line counter"
		return out
	case !finite(float64(at.Height)) || !(at.Height > 0):
		out.Why = "the angle of the line at the roller is unknown: say the depth"
		return out
	case p.rode.SetHeight(float64(at.Height)) != nil:
		out.Why = "the angle of the line at the roller is unknown: the depth is none a rode can hang in"
		return out
	}
	if p.rode.SetHeight(float64(at.Height+at.eye()/2)) != nil {
		p.rode.SetHeight(float64(at.Height))
	}
	if err := p.rode.SetOut(math.Min(float64(at.Out), p.rode.Total())); err != nil {
		out.Why = "the angle of the line at the roller is unknown: more rode is out than the trial file has"
		return out
	}
	r := math.Abs(float64(felt))
	likely := p.likely(r, p.ratioOf(at.Way))
	line := p.line(likely, 0)
	bend := line + p.lead
	more := 0.01*r + 1
	gain := (p.likely(r+more, p.ratioOf(at.Way)) - likely) / more
	most, flattest := p.most(r, at)
	off := math.Max(most-likely, likely-p.frictionLow(likely, bend, gain*r, at.Way))
	out.Bend, out.Line, out.T, out.Most, out.U, out.Gain = Angle(bend), Angle(line), Force(likely), Force(most), Force(off/pinDoubt), gain
	if !(flattest > pinFlattest) || most > pinWorst*likely {
		out.Why = fmt.Sprintf("the line bends by %.1f deg over the roller, known to %.1f deg: too little for a pin to tell the tension; take in line, or use another cell",
			degrees(bend), degrees(bend-flattest))
		return out
	}
	if felt < 0 { // a roller is not pulled up by the line: that is the cell's zero or its sign
		out.T, out.Most = felt, felt
	}
	out.Known = true
	return out
}

// BendAt is by how much the line turns over the roller at a tension, rad; where
// that cannot be told it is up and down, the most it can be.
func (p *Pin) BendAt(t Force, at PinAt) Angle {
	most := Angle(math.Max(math.Pi/2+p.lead, 0))
	if p.rode == nil || !finite(float64(t)) || !(at.Out > 0) || !(at.Height > 0) || p.rode.SetHeight(float64(at.Height+at.eye())) != nil ||
		p.rode.SetOut(math.Min(float64(at.Out), p.rode.Total())) != nil {
		return most
	}
	return Angle(math.Max(p.line(math.Max(float64(t), 0), 0)+p.lead, 0))
}

func degrees(rad float64) float64 { return rad * 180 / math.Pi }

// ratioOf is R/T by the bend, with friction by the way the line runs: half of the
// most it may be, for a roller turns more or less freely and nobody knows how much.
func (p *Pin) ratioOf(way int) func(bend float64) float64 {
	return func(bend float64) float64 {
		return rode.PinRatio(bend, rode.Capstan(p.mu/2*float64(way), math.Max(bend, 0)))
	}
}

// frictionLow is the tension where friction holds the inboard part back the most;
// moves is what the tension grows by for each share more that is felt.
func (p *Pin) frictionLow(t, bend, moves float64, way int) float64 {
	if p.mu == 0 || !(t > 0) {
		return t
	}
	k := 1.0
	if way >= 0 {
		k = rode.Capstan(p.mu, bend)
	}
	return t * math.Pow(p.ratioOf(way)(bend)/rode.PinRatio(bend, k), math.Max(moves/t, 1))
}

// line is the angle of the outboard part under the horizontal at a tension. Where
// the tension does not carry what hangs, or the rode does not reach, it is plumb.
func (p *Pin) line(t, flatter float64) float64 {
	s, err := p.rode.AtTension(t)
	switch {
	case err == nil:
		return s.FairleadAngle - flatter
	case errors.Is(err, rode.ErrCannotHang), errors.Is(err, rode.ErrTooShort):
		return math.Pi/2 - flatter
	}
	return p.straight() - flatter
}

// straight is the angle of a straight line, which no hanging one is flatter than.
func (p *Pin) straight() float64 {
	return math.Asin(math.Min(1, p.rode.Height()/(p.rode.Out()*pinStretch)))
}

// start is a tension no less than the one sought: by the straight line.
func (p *Pin) start(r, flatter float64, ratio func(float64) float64) float64 {
	return r / ratio(math.Max(p.straight()+p.lead-flatter, pinFlattest))
}

// pinFlattest, rad, keeps a first guess finite.
const pinFlattest = 1e-3

// likely solves T = R / ratio(angle(T) + lead). The tension falls with the angle
// and the angle with the tension, so that from a tension that is too large each
// step comes nearer without passing it; as the steps shrink like a power they are
// carried on to their end (Aitken's rule on the logarithms, from memory).
func (p *Pin) likely(r float64, ratio func(float64) float64) float64 {
	if !(r > 0) {
		return 0
	}
	next := func(l float64) float64 {
		return math.Log(r / ratio(math.Max(p.line(math.Exp(l), 0)+p.lead, pinFlattest)))
	}
	l := math.Log(p.start(r, 0, ratio))
	for range 8 {
		l1 := next(l)
		l2 := next(l1)
		d1, d2 := l1-l, l2-l1
		if l = l2; math.Abs(d2) < pinSolved {
			break
		}
		if share := d2 / d1; share > 0 && share < 0.98 {
			l += d2 * share / (1 - share)
		}
	}
	return math.Exp(l)
}

// most is the greatest tension of either part with which the pin feels r, and the
// bend at it: the fairlead as low, the rode as long and the line as flat as they
// may be. It begins above and comes down, so that it is no less than that wherever
// it ends.
func (p *Pin) most(r float64, at PinAt) (t, bend float64) {
	const steps, near = 6, 0.998
	flatter := pinDoubt * p.angleU
	low := float64(at.Height) - pinDoubt*float64(at.HeightU)
	long := math.Min(float64(at.Out+at.Longer)+pinDoubt*float64(at.OutU), p.rode.Total())
	short := math.Max(math.Min(float64(at.Out)-pinDoubt*float64(at.OutU), long), float64(at.Out)/2)
	if !(low > 0) || p.rode.SetHeight(low) != nil || p.rode.SetOut(long) != nil {
		return math.Inf(1), 0
	}
	plumb := math.Pi/2 + p.lead + flatter
	ratio := func(bend float64) float64 { return pinLeast(math.Max(bend, pinFlattest), plumb, p.mu) }
	t = p.start(r, flatter, ratio)
	for range steps {
		was := t
		bend = p.line(t, flatter) + p.lead
		if p.rode.SetOut(short) == nil { // a longer rode is flatter while it is taut, and sags more while it is not
			bend = math.Min(bend, p.line(t, flatter)+p.lead)
		}
		p.rode.SetOut(long)
		if t = r / ratio(bend); t > near*was {
			break
		}
	}
	return t, bend
}

// upAndDown is what a tension is taken in while the rode leads plumb down.
func (t *Trial) upAndDown(v float64) *sampledAt {
	bend := t.Vessel.bendOf(math.Pi / 2)
	return &sampledAt{bend: bend, slip: t.Vessel.RollerFriction, gain: 1 / rode.PinRatio(bend, 1), angle: v * float64(t.Load.AngleU) / (2 * math.Tan(bend/2))}
}

// bendOf is by how much the line turns over the roller with its outboard part so
// far under the horizontal, rad; 0 where that is unknown.
func (v Vessel) bendOf(line float64) float64 {
	if line <= 0 {
		return line
	}
	return math.Max(line+float64(v.Lead), 0)
}
