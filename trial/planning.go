package trial

import (
	"math"
	"time"

	"hawse/trial/geo"
)

// Planning is the table [plan] of a trial file: what `hawse plan` draws up runs
// from. Nothing in a pull depends on it. A zero is not said.
type Planning struct {
	Seed   int     // of the order drawn
	Blocks int     // at each station: how often each treatment is pulled
	Scope  float64 // wanted at the start of a pull, incl. roller height
	Speed  Speed   // of hauling, m/s
	Gap    Length  // least distance of two lanes at their near ends, m; 0: by the flukes
	Flukes Length  // greatest width of flukes, m; 0: unsaid
	// DropWithin is how far from the planned drop point an anchor may be lowered,
	// m; 0: half the least distance of two lanes.
	DropWithin Length
	Step       Angle  // from lane to lane, rad; 0: the least that keeps the gap
	From, To   Angle  // bearings between which lanes may lie, rad; both 0: all round
	Reference  string // id of the anchor pulled first and last at each station; empty: none
	Order      string // of "drawn" or "file"

	Start time.Time     // of the first run, by the clock the tide is in; zero: unsaid
	Each  time.Duration // from one run's start to the next; 0: unsaid

	Tides      []Tide      // in order of time
	Berths     []Berth     // at most one for each station
	Treatments []Treatment // none: every anchor as it is
	Laws       []HoldingLaw
}

// Tide is one high or low water.
type Tide struct {
	Time   time.Time
	Height Length // over chart datum, m
}

// Berth is where the vessel lies at a station.
type Berth struct {
	Station     string
	Position    geo.Point // of the roller
	HasPosition bool
	Blocks      int    // drawn here; 0: as many as the plan says
	Charted     Length // depth under chart datum, m; with the tide it takes the place of the planned depth
	HasCharted  bool
}

// Treatment is one anchor pulled in one way.
type Treatment struct {
	ID, Anchor string
	Scope      float64       // 0: that of the plan
	Preset     float64       // scope of the preset, 0: none
	Soak       time.Duration // between preset and pull
	Speed      Speed         // 0: that of the plan
	Station    string        // where it is pulled; empty: at every one
}

// HoldingLaw is HM = HR (W/WR)^B of UFC 4-159-03 (2005), equation 26: what an
// anchor of a pattern is expected to hold on one bottom.
type HoldingLaw struct {
	Pattern, Station string // Station empty: everywhere
	HR               Force  // of an anchor of the mass WR
	WR               Mass
	B                float64
	Source           string
}

// PlanClock is how times stand in [plan]; they name no zone, for only their
// differences count.
const PlanClock = "2006-01-02 15:04"

// DefaultPlanning is what holds where the file has no [plan].
func DefaultPlanning() *Planning {
	return &Planning{Seed: 1, Blocks: 1, To: 2 * math.Pi, Order: OrderFile}
}
