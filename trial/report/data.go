package report

import (
	"time"

	"hawse/trial"
)

// Campaign is what a report is made of.
type Campaign struct {
	Tool    string // the program that makes it, with its build
	Trial   *trial.Trial
	Text    string // name and SHA-256 of the trial file, where it is one
	Pulls   []Pull // in the order in which they were started
	LeftOut []LeftOut
	Mixed   []string // what of the trial file differs between the logs
	// Planned is what the plan says of runs, by their ids; nil: there is none.
	Planned map[string]Planned
	// By is the quantity by which anchors are held against each other.
	By   trial.Quantity
	Seed uint64 // of tests that draw lots
	// Reference is the id of the reference anchor of the class-society rule; "" none.
	Reference string
}

// Pull is one pull, whose head could be read.
type Pull struct {
	ID         string // its run
	Run        trial.Run
	Anchor     *trial.Anchor // nil: none
	Trial      *trial.Trial
	Started    time.Time
	Length     time.Duration
	NotSeen    time.Duration // of it not recorded
	Mode       string
	Caption    string
	Files      []File
	Holds      bool // the record is whole
	Figures    *trial.Figures
	Corrected  *trial.Figures // nil: no correction
	Stops      []Stop
	Checks     []Check
	Marks      []Mark
	Drops      []string // where rode began to go out, against the planned drop point
	CameUp     *CameUp  // nil: nobody said
	Doubts     []string
	Addenda    []string
	Trace      Trace
	Excluded   string // why it is held against no other; "" it is
	CalledStop bool   // a person ended hauling
}

// Planned is a run's place in a plan.
type Planned struct {
	Block   int     // from 1; 0: in none
	Place   int     // in the order drawn for the block, from 1
	Drawn   bool    // that order was drawn by lot
	Bearing float64 // of the lane from the vessel, rad from north; NaN unknown
}

// File is one log of a pull.
type File struct {
	Name, State, SHA256 string
	Records             uint64
	Notes               []string
}

// LeftOut is a file that is no part of any pull that is told, and why.
type LeftOut struct{ Name, Why string }

// Stop is a stop as it was told on deck.
type Stop struct {
	T          time.Duration
	Kind, Text string
	Person     bool // called, by no limit
	Lifted     string
}

// Check is a check of the load cell.
type Check struct {
	At          time.Time
	Weight      bool // a known weight; else a zero
	Cells       bool // neither: a further load cell that told no tension, gone without
	Done        bool // else it failed, or was gone without
	Waived      bool // gone without
	Text        string
	Zero        float64 // N; NaN none
	Shown, Want float64 // N; NaN none
	Moved       bool    // the zero, by more than 0.5 % of the range
}

// CameUp is what the anchor came up with, and who said so and where.
type CameUp struct {
	trial.CameUp
	Said string
}

// Mark is what a person marked or noted.
type Mark struct {
	T    time.Duration
	Who  string
	Text string
}

// Trace is a pull's samples, joined to columns: of each the least and the greatest
// tension, so that no peak is lost.
type Trace struct {
	Cols []Col
}

// Col is a stretch of a trace. A value that is not known is NaN.
type Col struct {
	T0, T1    float64 // s
	Low, High float64 // N
	X         float64 // m hauled, at its end
	Travel    float64 // m, of the anchor
	Scope     float64
	Depth     float64 // m, of the water
	Stage     trial.Stage
	Falls     bool // the greatest came before the least
	Gap       bool // nothing joins it to the one before
}

// Invented says that the pull's data are no real anchor's.
func (p *Pull) Invented() bool { return p.Mode != "live" }

// Compared says that the pull is of an anchor and is not excluded.
func (p *Pull) Compared() bool { return p.Run.Kind == trial.KindPull && p.Excluded == "" }
