package trial

import "time"

// Trial is one trial file, checked: a value from [ParseTrial] has every
// quantity finite, every name resolved and no limits that contradict.
type Trial struct {
	Format int    // version of the trial file, 1
	Name   string // of the campaign
	Method string // how it pulls, in the crew's words

	Vessel   Vessel
	Show     Show
	Rode     []Piece // from the anchor to the vessel
	Gear     []Gear  // everything else that carries the load
	Load     LoadCell
	Line     Encoder
	Stop     StopOutput
	Limits   [NumStages]Limits // by stage, inheritance and defaults resolved
	Levels   Levels
	Anchors  []Anchor
	Stations []Station
	Runs     []Run

	Text  []byte   // the file as it was read, byte for byte
	Notes []string // what was taken how, one sentence each
}

// Vessel is the vessel the winch stands on.
type Vessel struct {
	Name     string
	Fairlead Length // height of the roller above the water, m
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
	WLL    Force      // working load limit, N
	Source string     // where WLL, EA and weight come from
}

// Gear is one thing that carries the load and is not rode: shackle, swivel,
// load cell, roller, cleat, winch.
type Gear struct {
	Name   string
	WLL    Force // working load limit, N
	Source string
}

// Port is one serial port and how it is set.
type Port struct {
	Names []string // the port, then other names under which it may come back
	Baud  int      // bits a second, as a positive number
	Frame string   // data bits, parity and stop bits: "8N1", "7E1"
}

// LoadCell is the box that tells the tension.
type LoadCell struct {
	Port Port
	Line string // regular expression of one line: group value, and unit and status where the box sends them
	Unit string // unit of the numbers the box sends, as written; see ForceUnit

	Range Force    // the top of the box's range, N; a value at or past it is over range
	Over  []string // what the box sends, instead of a number, when over range

	Cal       []float64 // c0, c1, ...: true = c0 + c1 x + c2 x^2 ..., x and the result in CalUnit
	CalUnit   ForceUnit
	CalSource string

	Rate   Rate // lines a second as the box is set
	Place  string
	Serial string
	Filter string
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
	Line     string  // regular expression of one line, with the group counts
	PerMetre float64 // counts a metre of line, positive
	HaulSign int     // +1: counts rise while hauling, -1: they fall
	Rate     Rate    // lines a second as the box is set
}

// StopOutput is the port to the relay that takes haul away from the winch.
type StopOutput struct {
	Port   Port
	Beat   time.Duration // between two heartbeats, default 50 ms
	Window time.Duration // the relay opens after this long without one, default 300 ms
}

// Limits are the limits of one stage. A zero is a limit not said, except that
// the silence times are always filled in.
type Limits struct {
	TensionWarn, TensionStop Force
	WLLWarn, WLLStop         float64 // share of the weakest WLL, at most 1

	Haul     Length        // planned end: line hauled since the stage began, m
	ScopeMin float64       // planned end: least scope, incl. roller height
	Duration time.Duration // planned end: longest time in the stage

	SilentWarn, SilentStop         time.Duration // load cell sends nothing valid
	LineSilentWarn, LineSilentStop time.Duration // line box sends nothing valid
}

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
}

// Station is one position of the vessel and the ground under it.
type Station struct {
	Name, Bottom string
	Depth        Length // of water, as planned; the depth of the day is entered during the run, m
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

// Weakest is the piece of rode or gear with the least WLL; the first of
// equals, rode before gear. Bigger gear elsewhere changes nothing. A trial
// with neither gives "", 0.
func (t *Trial) Weakest() (name string, wll Force) {
	found := false
	take := func(n string, w Force) {
		if !found || w < wll {
			name, wll, found = n, w, true
		}
	}
	for _, p := range t.Rode {
		take(p.Name, p.WLL)
	}
	for _, g := range t.Gear {
		take(g.Name, g.WLL)
	}
	return name, wll
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
