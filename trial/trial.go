package trial

import "time"

// Trial is one trial file, checked: a value from [ParseTrial] has every
// quantity finite, every name resolved and no limits that contradict.
type Trial struct {
	Format int    // version of the trial file, 1
	Name   string // of the campaign
	Method string // how it pulls, in the crew's words

	Vessel Vessel
	Show   Show
	Rode   []Piece // from the anchor to the vessel
	Gear   []Gear  // everything else that carries the load
	Load   LoadCell
	Line   Encoder
	Others []OtherCell // load cells beside Load, in order of their tables; nil: none
	// LargerGuards: limits act on the largest tension that any of the cells tells.
	// Otherwise on that of Load alone.
	LargerGuards bool
	// Instruments a trial may do without; nil where the file has none.
	Sounder    *Sounder
	Positioner *Positioner
	Compass    *Compass
	SatClock   *SatClock

	Stop     StopOutput
	Horn     *Horn    // horn and lamp; nil where none is fitted
	Screens  *Screens // what screens may do; nil where the file does not say
	Winch    Winch
	Limits   [NumStages]Limits // by stage, inheritance and defaults resolved
	LimitsAt LimitKeys         // where the file says each of them
	Levels   Levels
	Phases   PhaseRules // the defaults where the file says none
	Anchors  []Anchor
	Stations []Station
	Runs     []Run
	Plan     *Planning // what runs are planned from; nil where the file does not say

	Disclosure Disclosure

	Text  []byte   // the file as it was read, byte for byte
	Notes []string // what was taken how, one sentence each
}

// Vessel is the vessel the winch stands on.
type Vessel struct {
	Name     string
	Fairlead Length // height of the roller above the water, m
	// KeepOut is the rode left between the fairlead and something that may not
	// pass it, when hauling must have ended; default 1 m.
	KeepOut Length
	// Lead is how the part of the rode inboard of the roller leads, under the
	// horizontal, rad: positive where it goes down to the winch; 0 a level lead. It
	// was said only if HasLead.
	Lead    Angle
	HasLead bool
	// RollerFriction is the most that the roller's friction may be: the coefficient
	// by which the tension grows over it, e^(mu x bend). 0: unsaid.
	RollerFriction float64
	// Roller is the line from where it is counted to where it hangs straight down
	// over the roller, which is no depth, m; HasRoller: it was said.
	Roller    Length
	HasRoller bool
}

// Show is the units a person reads. It changes nothing in the log.
type Show struct {
	Tension ForceUnit
	Length  LengthUnit
	Speed   SpeedUnit
}

// Piece is one length of the rode.
type Piece struct {
	Name   string
	Length Length     // m
	Weight LineWeight // in water, N/m; negative where the line floats
	EA     Force      // axial stiffness, N: tension for a strain of one
	// Friction is the coefficient between the piece and the seabed: tension lost
	// a metre dragged, over the weight in water. It says something only if
	// HasFriction.
	Friction    float64
	HasFriction bool
	WLL         Force   // working load limit, N; MBL over Factor where the file gives those; 0: unrated
	Source      string  // where WLL, EA and weight come from; empty: the file does not say
	MBL         Force   // minimum breaking load, N; 0: unsaid
	Factor      float64 // by which the breaking load is divided; 0: unsaid
}

// Gear is one thing that carries the load and is not rode: shackle, swivel,
// load cell, roller, cleat, winch.
type Gear struct {
	Name   string
	WLL    Force   // working load limit, N; MBL over Factor where the file gives those; 0: unrated
	MBL    Force   // minimum breaking load, N; 0: unsaid
	Factor float64 // by which the breaking load is divided; 0: unsaid
	Source string  // where the rating comes from; empty: the file does not say

	// Where it sits in the rode, m from the anchor, and whether it may pass the
	// fairlead. Both say something only if HasAt.
	At     Length
	HasAt  bool
	Passes bool
	Weight Force // in water, N, of what sits in the rode; 0: unsaid
}

// Joint is something in the rode, at a distance from the anchor along it, m.
type Joint struct {
	Name string
	At   Length
}

// Winch is how long line still comes in after a stop.
type Winch struct {
	Reaction time.Duration // from the alarm until a hand has stopped the winch, default 1.5 s
	RunOn    time.Duration // from then, or from the relay's opening, until the drum stands, default 0.5 s
	Assumed  bool          // the file does not say: both are the defaults
}

// Port is one serial port and how it is set.
type Port struct {
	Names []string // the port, then other names under which it may come back
	Baud  int      // bits a second, as a positive number
	Frame string   // data bits, parity and stop bits: "8N1", "7E1"

	// LinesDown opens the port with RTS and DTR down; otherwise opening raises
	// both. It is not said in the file: stop output and horn always have it.
	LinesDown bool
}

// LoadCell is the box that tells the tension.
type LoadCell struct {
	Port Port
	Line string // regular expression of one line: group value, and unit and status where the box sends them
	Wire Wire   // how it speaks otherwise than in lines of its own accord
	Unit string // unit of the numbers the box sends, as written; see ForceUnit

	Range Force    // the top of the box's range, N; a value at or past it is over range
	Over  []string // what the box sends, instead of a number, when over range
	Step  Force    // the smallest change the box can show, N; 0: unsaid

	Cal       []float64 // c0, c1, ...: true = c0 + c1 x + c2 x^2 ..., x and the result in CalUnit
	CalUnit   ForceUnit
	CalSource string

	Rate     Rate // lines a second as the box is set
	SlowCell bool // a cell under 3 Hz may guard, if the director accepts it
	Place    string
	Sits     string // one of the Sits words; empty: the file does not say
	AngleU   Angle  // of SitsRoller: standard uncertainty of the bend over the roller, rad
	Serial   string
	Filter   string
}

// ForceUnit is the unit of the numbers the box sends; lb, kg and t are forces
// here.
func (c LoadCell) ForceUnit() ForceUnit {
	u, _ := ForceUnitNamed(c.Unit)
	return u
}

// Encoder is the box that counts the line.
type Encoder struct {
	Port     Port
	Line     string       // regular expression of one line, with the group counts
	Wire     Wire         // how it speaks otherwise than in lines of its own accord
	PerMetre float64      // counts a metre of line, positive; on a drum those of the first layer
	Drum     *Drum        // by whose layers line is counted; nil: by PerMetre or Layers
	Layers   []LayerScale // by which line is counted, the least rode out first; nil: by PerMetre
	HaulSign int          // +1: counts rise while hauling, -1: they fall
	Rate     Rate         // lines a second as the box is set
}

// Limits are the limits of one stage. A zero is a limit not said, except that
// the silence times, SoonWarn and ComeUp are filled in where they hold.
type Limits struct {
	TensionWarn, TensionStop Force
	WLLWarn, WLLStop         float64 // share of the weakest WLL, at most 1

	// Time left to the stop limit at the present slope; SoonStop only if said.
	SoonWarn, SoonStop time.Duration

	TensionEnd Force // planned end, in preset and pull: the tension to pull to, N

	Haul     Length        // planned end: line hauled since the stage began, m
	ScopeMin float64       // planned end: least scope, incl. roller height
	Duration time.Duration // planned end: longest time in the stage

	// ComeUp is how many times the tension stop of recover may be pulled before
	// a warning that the anchor may not come up again: preset, pull and hold.
	ComeUp float64

	SilentWarn, SilentStop         time.Duration // load cell sends nothing valid
	LineSilentWarn, LineSilentStop time.Duration // line box sends nothing valid
}

// LimitKeys tells, for each stage, which key of the file a limit comes from:
// "tension_stop" is said at "limits.pull.tension_stop", or, inherited, at
// "limits.tension_stop". A limit that has a value and no entry is a default.
type LimitKeys [NumStages]map[string]string

// Levels are the tensions of the two reference runs, which tell an anchor
// that holds from one that only drags.
type Levels struct {
	BareRode   Force  // mean of the rode dragged without an anchor, N
	DeadWeight Force  // mean of a plain block dragged on the same rode, N
	DeadMass   Mass   // of that block, kg
	Source     string // "assumed", or the logs the levels come from
	Known      bool   // false: the file has no levels
}

// Anchor is one anchor as measured, in one setting of its flukes.
type Anchor struct {
	ID, Pattern string
	Mass        Mass  // in air, weighed, kg
	Fluke       Angle // between fluke and shank, rad
	Note        string
	// Shank is what of the rode out, as it is counted, is anchor and no line: its
	// shank where the count is to the crown, 0 where it is to the shackle, m.
	Shank    Length
	HasShank bool // it was said
}

// Station is one position of the vessel and the ground under it.
type Station struct {
	Name, Bottom string
	Depth        Length // of water, as planned; the depth of the day is entered during the run, m

	DepthMin, DepthMax Length // between which the run is planned to be, m; 0: unsaid
}

// The kinds of run.
const (
	KindPull       = "pull"        // an anchor
	KindBareRode   = "bare rode"   // the rode with nothing on it
	KindDeadWeight = "dead weight" // a plain block
)

// Run is one planned pull.
type Run struct {
	ID              string
	Anchor, Station string // Anchor is empty unless Kind is KindPull
	Lane            int    // from 1
	Kind            string
	Payout          Length // rode out at the start, m
	Speed           Speed  // of hauling, m/s
}

// RodeLength is the whole rode, m.
func (t *Trial) RodeLength() Length {
	var sum Length
	for _, p := range t.Rode {
		sum += p.Length
	}
	return sum
}

// Run finds a run by its id, exactly as written.
func (t *Trial) Run(id string) (Run, bool) {
	for _, r := range t.Runs {
		if r.ID == id {
			return r, true
		}
	}
	return Run{}, false
}

// Station finds a station by its name, exactly as written.
func (t *Trial) Station(name string) (Station, bool) {
	for _, s := range t.Stations {
		if s.Name == name {
			return s, true
		}
	}
	return Station{}, false
}

// Anchor finds an anchor by its id, exactly as written.
func (t *Trial) Anchor(id string) (Anchor, bool) {
	for _, a := range t.Anchors {
		if a.ID == id {
			return a, true
		}
	}
	return Anchor{}, false
}
