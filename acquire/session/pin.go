package session

import (
	"fmt"
	"hash"
	"math"

	"hawse/acquire"
	"hawse/trial"
)

// pinned is a load cell that is a pin in the roller: it feels what the bent line
// presses on it, and the tension is worked out with the angle of the line now. The
// guard, and what is shown, work with the greatest tension with which it can feel
// that; the Judge and the figures with the likely one and its uncertainty.
type pinned struct {
	pin  *trial.Pin
	full trial.Force // the top of its range
	name string      // its table, for people
	felt trial.Force // less the zero
	now  trial.PinTension
	said string // why it was unknown, as told last; "" it was known
}

func newPinned(t *trial.Trial, name string, cell trial.LoadCell) *pinned {
	if cell.Sits != trial.SitsRoller {
		return nil
	}
	nan := math.NaN()
	return &pinned{pin: trial.NewPin(t, cell), full: cell.Range, name: name, felt: trial.Force(nan), now: trial.PinTension{T: trial.Force(nan), Most: trial.Force(nan)}}
}

// runsAt is how fast line must run to say which way the roller turns, m/s; common
// practice, no source.
const runsAt = 0.005

// way is +1 while line is hauled, -1 while it is paid out, and 0 while it stands
// or nobody knows.
func (c *Core) way() int {
	switch v := c.haul.speed.perSecond(c.t); {
	case v > runsAt:
		return 1
	case v < -runsAt:
		return -1
	}
	return 0
}

// outKnown is by how much the rode out is uncertain as it was said, and heightKnown
// the fairlead over the bottom, one standard deviation: common practice, no source.
const outKnown, heightKnown = trial.Length(0.1), trial.Length(0.1)

// deepestEye is as far under the bottom as the eye of a small anchor is that comes
// out of it: common practice, no source.
const deepestEye = trial.Length(2)

// leads is how the rode leads to the roller now. A count that is old says nothing:
// the winch may have moved since.
func (c *Core) leads() trial.PinAt {
	h := &c.haul
	at := trial.PinAt{Out: trial.Length(math.NaN()), Height: c.height(), OutU: outKnown, HeightU: heightKnown, Way: c.way()}
	if ended := c.line.state == acquire.StateClosed; !h.hasPayout || !c.lineFresh(c.t) && !ended { // the log ends: no port is open much longer
		return at
	}
	at.Out = h.rodeOut
	if c.guard.State().Stage == trial.Recover {
		at.Deeper = deepestEye
	}
	if d := trial.Length(c.doubt()); d > 0 {
		at.OutU += d
	}
	return at
}

// take works the tension out of what is felt.
func (p *pinned) take(c *Core, felt trial.Force, over bool) trial.PinTension {
	p.felt = felt
	at := c.leads()
	if x := c.haul.x; x > 0 && finite(float64(p.now.Most)) {
		// What came in was stretched, so that more is out than was counted.
		at.Longer = x * trial.Length(min(float64(p.now.Most)/c.softest(), pinStretchMost))
	}
	if over || !finite(float64(felt)) {
		gain := p.pin.Tension(p.full, at)
		p.now = trial.PinTension{T: felt, Most: felt, Gain: gain.Gain, U: gain.U}
		return p.now
	}
	p.now = p.pin.Tension(felt, at)
	if !p.now.Known {
		p.now.T, p.now.Most = trial.Force(math.NaN()), trial.Force(math.Inf(1))
	}
	if said := p.now.Why; said != p.said && (said == "" || p.said == "") {
		p.said = said
		if said == "" {
			said = "the line's angle at the roller is known, and the tension with it"
		}
		c.tell(c.by, "load pin ("+p.name+"): "+said, text("what", "pin"), text("known", map[bool]string{true: "1", false: "0"}[p.said == ""]))
	}
	return p.now
}

// pinStretchMost is more than any line stretches at its working load.
const pinStretchMost = 0.1

// softest is the least stiffness of the rode, N.
func (c *Core) softest() float64 {
	least := math.Inf(1)
	for _, p := range c.head.Trial.Rode {
		least = math.Min(least, float64(p.EA))
	}
	return least
}

// digest adds what a pin holds.
func (p *pinned) digest(h hash.Hash64) {
	if p == nil {
		return
	}
	bits := func(f trial.Force) uint64 { return math.Float64bits(float64(f)) }
	fmt.Fprintln(h, bits(p.felt), bits(p.now.T), bits(p.now.Most), bits(p.now.U), p.now.Known, p.said)
}
