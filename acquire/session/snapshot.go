package session

import (
	"time"

	"hawse/safety"
	"hawse/trial"
)

// View is what a screen works from: a live capture or a replay. Every method
// returns at once and may be called from any goroutine.
type View interface {
	// Snapshot returns the newest whole snapshot, never nil. It is not changed
	// afterwards.
	Snapshot() *Snapshot
	// Trace fills dst with cols columns of the tension trace: lowest and
	// highest tension per column, never an average.
	Trace(q TraceQuery, dst []trial.Col) []trial.Col
	// Segments are the phases of the pull so far, each dated back to where it
	// began; nil while they cannot be told.
	Segments() []trial.Segment
	// Do hands over an act of the person at the screen. It does not wait for
	// the guard: what came of it, a refusal included, shows in the snapshot.
	Do(a Act)
}

// Player is a View whose time a person can steer: a replay.
type Player interface {
	View
	SetPaused(bool)
	SetSpeed(float64) // times real time, at least 0.1
	Step()            // to the next record that changes the screen
	// SeekBy goes so many ns on or back, and Jump to the next point of a kind or
	// the last one before; both pause there. None is lost while another is on its way.
	SeekBy(ns int64)
	Jump(kind PointKind, back bool)
	Paused() bool
	Speed() float64
}

// TraceQuery asks for part of the trace. ByHaul uses From and To in metres
// hauled, otherwise they are nanoseconds since the log's start.
type TraceQuery struct {
	ByHaul   bool
	From, To float64
	Cols     int
}

// Act is what a person does. Who it is, is part of the record.
type Act struct {
	Who   safety.Who
	Name  string      // which person or script: "demo crew", "screen", a login
	What  string      // one of the Act* words
	Stage trial.Stage // for ActStage and ActRearm
	Value string      // what the act's word asks for, a quantity with its unit
}

// The words of an act in the record. They never change: old logs hold them.
const (
	ActStop    = "stop"    // anyone: call stop
	ActArm     = "arm"     // director: permit hauling for the first time, or after disarming
	ActStage   = "stage"   // director: this is the stage now
	ActAck     = "ack"     // director: alarms seen
	ActRearm   = "rearm"   // director: after a trip, into a stage
	ActAbandon = "abandon" // director: the crew slips the rode by its own plan
	ActDepth   = "depth"   // water depth now
	ActPayout  = "payout"  // rode out now: the zero of line hauled
	ActPass    = "pass"    // the mark on the rode of that length is at the fairlead now
	ActMark    = "mark"    // a mark in the record, with its text
	ActEnd     = "end"     // end and seal the log, with the reason
	ActCameUp  = "came-up" // director, logger, winch: what the anchor came up with, as [trial.ParseCameUp] reads it
	ActNote    = "note"    // who took over, what the demo's script does; changes nothing

	// Before arming.
	ActZero     = "zero"      // director, logger: nothing hangs on the cell; the mean of the last second is its zero
	ActWeight   = "weight"    // director, logger: a known weight hangs on it, "25.0 kg" or a force
	ActCorrect  = "correct"   // director, logger: after a known weight that did not fit, "sign" or "unit lb"
	ActHorn     = "horn"      // director, logger: horn and lamp were tried
	ActRead     = "read"      // director: the limits were read out
	ActReady    = "ready"     // winch, logger, director: the seat is ready, with its words
	ActNotReady = "not-ready" // the seat takes it back
	ActWaive    = "waive"     // director: "zero REASON" or "weight REASON", to go without it
	ActAccept   = "accept"    // director: "slow cell", a load cell under 3 Hz

	ActCellOff = "cell-off" // director: the load cell comes out of the rode
	ActCellOn  = "cell-on"  // director: it is in again, and is to be zeroed
	ActClear   = "clear"    // director: what may not pass the fairlead, by its name, has been taken in
	ActLower   = "lower"    // director: a limit made stricter, "tension_stop 7.0 kN"

	// After a crash, before arming: what the unfinished log hands over, by its
	// item, "zero" or "zero 0.131 kN", or "all".
	ActCarry = "carry" // director, logger: it still holds
	ActDrop  = "drop"  // director, logger: it does not; left behind
)

// Snapshot is everything a screen shows, taken at one record.
type Snapshot struct {
	T    int64     // ns since the log's start, of the newest record
	N    uint64    // its number
	Wall time.Time // wall time by the last clock record; zero before it
	Made time.Time // monotonic: when it was taken, to see a stalled session
	Mode string    // "live", "demo", "replay", "simulated"
	// Caption is a line to show always: the demo says its data is invented.
	Caption string
	Speed   float64 // 1, or the factor of a simulated or replayed run

	Trial *trial.Trial // shared, never changed
	Run   trial.Run
	// Guard and Margins are the guard's own words; Config what they are
	// judged against.
	Guard   safety.State
	Margins []safety.Margin
	Config  *safety.Config
	// Next is the stage that usually follows and can be entered; [trial.StandBy],
	// which follows none, not known.
	Next trial.Stage

	// Checklist is what is looked at before arming; nil while the pull is armed.
	Checklist []safety.CheckItem

	// After is the unfinished log this one goes on from, "" none; Carried what it
	// hands over. Arming waits until none but the stage is [CarryOpen].
	After   string
	Carried []Carried

	// SinceResume: there is such a log, and not all that was before is known here:
	// time, peak, figures and trace are not those of the whole pull.
	SinceResume bool

	// CameUp is what the anchor came up with, as far as it was said; nil not yet.
	// Shared, never changed.
	CameUp *trial.CameUp

	Load, Line, Stop Stream
	Horn             Stream     // Src is empty where none is fitted
	Cells            []CellShot // load cells beside Load, if any
	Tension          Tension
	Zero             Zero
	Correction       string // what the director or logger has corrected of the load cell's lines, in words; "" nothing
	Haul             Haul
	Peak             Peak
	Anchor           Anchor // as the statics of the rode have it
	Aids             Aids   // depth, position, heading and clock, where they are fitted
	Phase            trial.Phase
	PhaseSince       int64
	JudgeLag         int64 // ns the Judge is behind
	Span             trial.TraceSpan
	Hauled           trial.Stage // with which the haul series of the trace began, once there is one
	// Figures are what the pull has come to, a second old at most; nil before the
	// first sample. Shared, never changed.
	Figures *trial.Figures
	Relay   Relay
	Log     LogState
	News    []News // the last acts, refusals and events, newest first
	// Marks are what people marked, oldest first, however long ago; MarksLeft is how
	// many of the oldest are left out. Shared, never changed.
	Marks     []Marked
	MarksLeft int
	Refusal   News // the newest refusal, zero if none in the last 10 s
	Ended     bool
	EndReason string
}

// later moves every time in the snapshot by so many ns: a part of a pull has a
// clock of its own. What never happened stays so; what happened before the part
// is under 0 by its clock.
func (s *Snapshot) later(by int64) {
	move := func(times ...*int64) { // those that are -1 until it happens
		for _, t := range times {
			if *t >= 0 {
				*t += by
			}
		}
	}
	g := &s.Guard
	for _, t := range []*int64{&s.T, &g.T, &g.StageSince, &g.OrderSince, &g.Stop.At} {
		*t += by
	}
	move(&g.Load.At, &g.Load.HeardAt, &g.Line.At, &g.RelayAt)
	for i := range g.Alarms {
		g.Alarms[i].Since += by
	}
	for _, p := range []*Stream{&s.Load, &s.Line, &s.Stop, &s.Horn, &s.Aids.Depth, &s.Aids.Position, &s.Aids.Heading, &s.Aids.Clock} {
		move(&p.LastAt, &p.HeardAt)
	}
	for i := range s.Cells {
		move(&s.Cells[i].LastAt, &s.Cells[i].HeardAt, &s.Cells[i].Zero.At)
	}
	move(&s.Aids.SoundedAt, &s.Aids.HandAt)
	move(&s.Tension.At, &s.Zero.At, &s.Haul.At, &s.Relay.At)
	move(&s.Peak.At, &s.PhaseSince, &s.Span.First, &s.Span.Last)
	for i := range s.News {
		s.News[i].T += by
	}
	s.Refusal.T += by
}

// Anchor is what the statics of the rode make of the tension at the fairlead: a
// model of a line at rest, dragged in, on level ground.
type Anchor struct {
	Known bool
	Why   string // it is not; "" nothing was told yet

	Tension   trial.Force // at the anchor, while hauling
	Low, High trial.Force // between these once eased
	Angle     trial.Angle // of the line over the horizontal there
	Lifted    bool        // it pulls upwards
	Lies      string      // how the rode lies, in a word or two
	OnBottom  trial.Length
	Span      trial.Length // from anchor to fairlead along the bottom
	Stretch   trial.Length
	Stiff     float64 // N for each counted metre hauled; +Inf straight

	HasTravel       bool         // false before the knee: not yet
	Travel, TravelU trial.Length // of the anchor since the knee, and its standard uncertainty

	Bare, Dead trial.Force // reference levels at this line hauled; 0 unknown
	Levels     string      // where they come from
}

// Stream is the standing of one port.
type Stream struct {
	Src    string // "load", "line", "stop", "horn"
	Port   string // name it is open under, or tried under
	State  string // "open", "lost", "retry", "stalled", "closed", "" before
	Reason string // why it is lost
	// LastAt is the time of the last valid frame, HeardAt of the last bytes; -1
	// none yet.
	LastAt, HeardAt int64
	Rate            float64 // valid frames a second over the last seconds
	Good, Bad       uint64
	Late, Bursts    uint64 // lines that came late and all at once, and how often
	LastText        string // the last frame, control characters made visible
}

// Tension is the load cell's reading. Known is false when it has been silent
// for the warning time, is over range or never came: then no number is shown.
type Tension struct {
	Known     bool
	Over      bool
	Now       trial.Force // last valid sample
	Big       trial.Force // largest valid sample of the last quarter second
	Indicated trial.Force // as the box shows it: before correction, calibration and zero
	At        int64
	Rate      float64 // N/s over the last two seconds; NaN unknown
	Pin       *Pin    // the cell is a pin in the roller: Now and Big are the most the tension can be; nil: it is not
}

// Pin is what a pin in the roller feels, and what is made of it.
type Pin struct {
	Felt      trial.Force // less the zero; NaN unknown
	Likely, U trial.Force // tension, and its standard uncertainty by angle, length and friction; NaN unknown
	Bend      trial.Angle // of the line over the roller; NaN unknown
	Why       string      // the tension is unknown; "" it is known
}

// Zero is the software zero of the load cell: what it shows, with the
// calibration, when nothing hangs on it. Every tension is less it.
type Zero struct {
	Known bool // it has been taken in this run; otherwise Force is 0
	Force trial.Force
	At    int64 // when; -1 not yet
}

// Haul is what the encoder says.
type Haul struct {
	Known   bool // X, RodeOut, InStage are known: rode out was said and the encoder speaks
	X       trial.Length
	InStage trial.Length
	Speed   trial.Speed // NaN unknown; positive hauling
	RodeOut trial.Length
	Depth   trial.Length
	DepthOK bool // depth was said
	Scope   float64
	ScopeOK bool
	Scope2  float64 // by depth alone, the class-rule definition
	At      int64
	// MarkDoubt is by how much RodeOut may be wrong, m, from how far the count
	// and the marks on the rode last differed; NaN while no mark has passed.
	MarkDoubt trial.Length
	// PayOut is what has to go out, in a soak, to be at the scope at which it began,
	// SoakScope; 0 nothing, or so little that it is not told.
	PayOut    trial.Length
	SoakScope float64
}

// Peak is the greatest tension of the pull so far.
type Peak struct {
	Known bool
	Value trial.Force
	At    int64
	X     trial.Length // NaN unknown
	Scope float64      // NaN unknown
	Left  bool         // tension has since fallen by 10 %, and the cell was never over range: the peak stands, else it is a lower bound
}

// Relay is what the relay at the other end of the stop output says of itself.
type Relay struct {
	Heard  bool
	Closed bool
	Reason string
	At     int64
}

// LogState is how the record fares.
type LogState struct {
	Path      string
	Bytes     int64
	Written   uint64 // records handed to the kernel
	OnDisk    uint64 // records known to be on disk
	OldestAge int64  // ns, age of the oldest record not yet on disk; 0 none
	Lost      uint64 // records dropped: 0 or a disaster
	Fault     string // the standing fault, in words
	Sealed    bool
	// LeftFor is how long the disk has room at the rate of the last minute; 0
	// unknown. Short says so in words once it is less than a quarter of an hour.
	LeftFor time.Duration
	Short   string
	Copy    CopyState
}

// CopyState is how the second file of the record fares, if there is one.
type CopyState struct {
	Path      string // "" none
	Bytes     int64
	Written   uint64
	OnDisk    uint64
	OldestAge int64 // ns
	Lost      uint64
	Fault     string
	Sealed    bool
	LeftFor   time.Duration // 0 unknown
}

// News is one line of what happened.
type News struct {
	Seq  uint64 // counts up by one, so that a reader sees what it missed
	T    int64
	Text string
	Loud bool // an alarm or a refusal
}
