package deck

import (
	"fmt"

	"hawse/trial"
)

// Model is a pull that is not read from a table but worked out: what the ground,
// the anchor, the rode and the vessel are. MODEL.md has the equations, their
// sources, and what is invention. It is read from a script's [model] section.
type Model struct {
	Soil Soil

	Weight trial.Force  // of the anchor in air; 0: nothing at the rode's end
	Block  bool         // a plain block, which never digs in
	Fluke  trial.Length // side of a square as large as the flukes

	Su0, SuK float64      // soil strength at the seabed, Pa, and its growth with depth, Pa/m
	Bearing  float64      // bearing factor of the flukes
	Burial   trial.Length // ultimate depth of the flukes' middle
	In       trial.Length // travel in which 63 % of it is reached
	Bite     trial.Length // it slides so far before the flukes bite; below 0: they never do
	Weak     float64      // it holds no more than so many times a dead weight; 0: no such bound

	Breaks []Break // the first way to break out, the second, ...
	Again  []Again // what comes after each

	AngleFrom trial.Angle // of the line at the anchor: above it the capacity falls
	AngleLoss float64     // share a radian

	Rate      float64 // resistance gained for ten times the speed, share
	Saw       float64 // share of the resistance that a wedge of soil builds up and loses
	SawWave   trial.Length
	Rough     float64 // share by which the ground varies
	RoughWave trial.Length
	Firm      bool         // it does not come, whatever is pulled
	SnagAfter trial.Length // travel until it catches on something; 0: on nothing
	SnagHolds trial.Force  // at which that lets go; 0: it does not

	Drag     float64 // resistance of what lies on the bottom over its weight in water
	Pieces   []Piece // from the anchor to the vessel
	Slack    trial.Length
	Swell    Wave
	Thruster Wave

	Suction     trial.Force  // of the buried anchor, straight up
	SuctionOver trial.Length // it is lost over so much
}

// Soil is the kind of ground. It gives the defaults of a [Model].
type Soil string

// The kinds of ground.
const (
	Mud    Soil = "mud"
	Clay   Soil = "clay"
	Sand   Soil = "sand"
	Stones Soil = "stones"
)

// Soils are all of them.
var Soils = []Soil{Mud, Clay, Sand, Stones}

// Piece is a piece of the model's rode.
type Piece struct {
	Length   trial.Length
	Weight   trial.LineWeight // in water
	EA       trial.Force
	Friction float64 // on the bottom
}

// Wave is the vessel going to and fro along the rode.
type Wave struct {
	Amp   trial.Length
	Every float64 // s
}

// Break is one way to break out.
type Break struct {
	After  trial.Length // embedded travel; 0: by Chance
	Chance float64      // a metre of travel, near the ultimate capacity or at a steep line
	Over   trial.Length // in which the hold is lost
}

// Again is what an anchor does that has broken out.
type Again struct {
	Never   bool
	After   trial.Length // it slides so far
	Holding float64      // share of its capacity: clogged flukes hold less
}

// Contact is how the anchor and the ground are together: the model's own state,
// not read from tension.
type Contact uint8

// The states of contact.
const (
	Still         Contact = iota // slower than a hundredth of a millimetre a second
	Creeping                     // slower than a millimetre a second
	SlidingInSoil                // the flukes are in the ground and the anchor moves
	SlippingFree                 // it moves and the flukes hold nothing
	OffBottom
	NumContacts
)

var contactNames = [NumContacts]string{"still", "creeping", "sliding in soil", "slipping free", "off the bottom"}

func (c Contact) String() string {
	if c >= NumContacts {
		return fmt.Sprintf("contact(%d)", uint8(c))
	}
	return contactNames[c]
}

// Truth is what the model knows and no instrument tells. It is for whoever
// judges a detector, never for those who act on the deck.
type Truth struct {
	Contact Contact
	Engaged bool         // the flukes are in the ground and hold
	Travel  trial.Length // of the anchor towards the vessel
	Depth   trial.Length // of the flukes' middle
	// Capacity is what flukes and soil hold now, at a reference speed of 0.04 m/s
	// and the line's angle now; Resists is all that holds the anchor, its weight's
	// drag included, with wedge, roughness and speed.
	Capacity, Resists trial.Force
	Dead              trial.Force // what its weight alone resists
	AnchorTension     trial.Force // at the anchor
	AnchorAngle       trial.Angle // of the line there
	Tension           trial.Force // at the fairlead
	Span              trial.Length
	Breaks, Bites     int          // how often it broke out, and bit
	Teeth             int          // partial falls of a saw-tooth
	Moves             int          // surges and drifts of the vessel that have begun
	Astern            trial.Length // of the vessel's place, all waves and moves
	Surging           bool         // one of them is under way
	Snagged           bool
	Ahead             bool // the vessel has gone over the anchor
}

// Truth is the model's own state; false for a deck that plays a table.
func (m *Sim) Truth() (Truth, bool) {
	g, ok := m.w.ground.(*modelGround)
	if !ok {
		return Truth{}, false
	}
	t := g.truth()
	t.Moves, t.Surging = m.w.moved, surging(m.w.moves, m.w.t)
	return t, true
}

// bottom is what answers the winch: a table, or a model.
type bottom interface {
	start(x trial.Length)
	// move takes the rode from one length hauled to another in dt seconds.
	move(from, to trial.Length, dt float64)
	shift(astern trial.Length) // of the vessel, by surges and drifts
	goAhead(x trial.Length)
	snag()
	release()
	tension(x trial.Length) trial.Force
}
