package trial

import (
	"errors"
	"math"

	"hawse/trial/rode"
)

// When the rode is solved anew: a rule over the records, so that a replay does
// it at the same ones. The steps are small against what a person can read off
// the result; common practice, no source.
const (
	hangHaul    = 0.05 // m hauled or paid out
	hangTension = 0.02 // of the tension it was solved at
	hangHeight  = 0.01 // m of depth
)

// Hang follows the statics of the rode through a pull: with each tension,
// length and depth it is told, it knows what the anchor feels. It is pure: the
// same calls give the same states, bit for bit.
//
// The counter sees the line stretched by the tension at the roller, and the
// statics want it unstretched: what was hauled is taken back by the tension it
// came in at ([rode.UnstretchedStep]). The rode out as it was said is taken as
// unstretched; it was paid out under little tension, or read off its marks.
type Hang struct {
	rode *rode.Rode
	why  error // why there is none to solve
	eas  []eaFrom

	state  rode.State
	known  bool
	tried  bool   // and it, or why there is none, stands until the rule asks anew
	atT    Force  // the state is of these
	atOut  Length // unstretched
	atTall Length

	base Length // rode out and line hauled together: changes when rode out is said anew
	x    Length
	tens Force  // at x
	out  Length // unstretched, now
	told bool

	less    Length // by which the line that came in since then is shorter than it was counted
	sayings int    // how often rode out was said
}

// eaFrom is the stiffness of the rode from a place on, m from the anchor.
type eaFrom struct {
	from Length
	ea   Force
}

// What keeps [Hang] from knowing.
var (
	ErrNoLength  = errors.New("rode out unknown: say it")
	ErrNoHeight  = errors.New("depth unknown: say it")
	ErrNoTension = errors.New("tension unknown")
	ErrOverRange = errors.New("load over range: at least what the cell can show")
)

// NewHang is for a pull with the rode of a trial file. A rode that cannot be
// solved, as one that floats, gives a Hang that says why.
func NewHang(t *Trial) *Hang {
	h := &Hang{}
	h.rode, h.why = t.Statics(1)
	at := Length(0)
	for _, p := range t.Rode {
		h.eas = append(h.eas, eaFrom{at, p.EA})
		at += p.Length
	}
	return h
}

// Follow takes a tension at the fairlead, line hauled and rode out as counted,
// and the height of the fairlead over the bottom, and says whether the state
// is another now. What is not a number is unknown, and so is the state then.
func (h *Hang) Follow(tension Force, x, rodeOut, height Length) (changed bool) {
	switch {
	case h.rode == nil:
		return false
	case !finite(float64(tension)):
		return false
	case !finite(float64(rodeOut+x)) || !(rodeOut > 0):
		return h.lose(ErrNoLength)
	case !finite(float64(height)) || !(height > 0):
		return h.lose(ErrNoHeight)
	}
	h.count(tension, x, rodeOut)
	if h.tried && math.Abs(float64(h.out-h.atOut)) < hangHaul && math.Abs(float64(tension-h.atT)) <= hangTension*math.Abs(float64(h.atT)) &&
		math.Abs(float64(height-h.atTall)) < hangHeight {
		return false
	}
	h.atT, h.atOut, h.atTall = tension, h.out, height
	if err := h.rode.SetHeight(float64(height)); err != nil {
		return h.fail(err)
	}
	if err := h.rode.SetOut(h.whole()); err != nil {
		return h.fail(err)
	}
	s, err := h.rode.AtTension(float64(tension))
	if err != nil {
		return h.fail(err)
	}
	h.state, h.known, h.tried, h.why = s, true, true, nil
	return true
}

// count keeps the unstretched rode out.
func (h *Hang) count(tension Force, x, rodeOut Length) {
	const same = 1e-6 // m: rounding of a sum
	if base := rodeOut + x; !h.told || math.Abs(float64(base-h.base)) > same {
		h.told, h.base, h.out, h.less = true, base, rodeOut, 0
		h.sayings++
	} else if x != h.x {
		in := Length(rode.UnstretchedStep(float64(x-h.x), max(float64(h.tens), 0), max(float64(tension), 0), float64(h.eaAt(h.out))))
		h.out -= in
		h.less += x - h.x - in
	}
	h.x, h.tens = x, tension
}

// whole is the rode out, less what rounding of counts has put past its end.
func (h *Hang) whole() float64 {
	const rounding = 1e-3 // m
	if over := float64(h.out) - h.rode.Total(); over > 0 && over < rounding {
		return h.rode.Total()
	}
	return float64(h.out)
}

// Gap is tension that is not measured from here on, or for that reason is only
// known to be above what the cell can show.
func (h *Hang) Gap(why error) { h.lose(why) }

// Unsolvable is why the rode can never be solved, as one that floats; nil: it
// can.
func (h *Hang) Unsolvable() error {
	if h.rode != nil {
		return nil
	}
	return h.why
}

// eaAt is the stiffness of the piece that is at the roller.
func (h *Hang) eaAt(out Length) Force {
	ea := h.eas[0].ea
	for _, e := range h.eas {
		if e.from < out {
			ea = e.ea
		}
	}
	return ea
}

func (h *Hang) lose(why error) (lost bool) {
	if h.rode == nil {
		return false // and that stays the reason
	}
	lost = h.known
	h.known, h.tried, h.why = false, false, why
	return lost
}

// fail is lose for what will fail again until the rule has it tried anew.
func (h *Hang) fail(why error) (lost bool) {
	lost = h.lose(why)
	h.tried = true
	return lost
}

// State is the rode as it was last solved; ok says whether it is known.
func (h *Hang) State() (s rode.State, ok bool) {
	if !h.known {
		return rode.State{}, false
	}
	return h.state, true
}

// Span is the distance from anchor to fairlead along the bottom now, m, and how
// much a newton more makes of it: the last solved state, carried on to the
// tension and length of now by its slopes. It is not ok while the rode is slack
// or straight without stretch, for then tension says nothing of distance.
func (h *Hang) Span() (span Length, perN float64, ok bool) {
	s := &h.state
	if !h.known || !(s.SpanTension > 0) || math.IsInf(s.SpanTension, 1) {
		return 0, 0, false
	}
	// T is a function of span and length: dT = SpanTension dX - Stiffness dL.
	more := float64(h.tens-h.atT) + s.Stiffness*float64(h.out-h.atOut)
	return Length(s.Span + more/s.SpanTension), 1 / s.SpanTension, true
}

// Why says why the state is not known; nil while it is, or while nothing was
// told yet.
func (h *Hang) Why() error { return h.why }

// Out is the unstretched rode out, m; 0 while unknown.
func (h *Hang) Out() Length { return h.out }

// Shape appends n points of the rode from anchor to fairlead, for a drawing.
func (h *Hang) Shape(n int, dst []rode.Point) []rode.Point {
	if !h.known {
		return dst
	}
	return h.rode.Shape(h.state, n, dst)
}
