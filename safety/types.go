package safety

import "hawse/trial"

// Order is what the screen asks of the winch, one at a time. No order means "no
// stop in force", never that the deck is safe.
type Order uint8

const (
	NoOrder Order = iota
	OrderStop
	OrderEase
	OrderAbandon // only ever said by a person
)

// Cause is what a limit, a fault or a person has against hauling on. Each has
// its own alarm; causes that may stop come first.
type Cause uint8

const (
	NoCause Cause = iota

	// Trips: they latch.
	TensionLimit  // tension at or above the stage's stop limit
	WLLShare      // tension at or above the stage's share of the weakest WLL
	LimitSoon     // at its present slope the tension reaches its stop limit soon
	VesselMoves   // tension rises while no line is hauled
	LoadOverRange // the load box says over range, or the value is beyond the cell's range
	LoadNotNumber // the value is NaN or infinite
	LoadAngle     // a pin in the roller, and how the line leads over it is not known
	LoadSilent    // nothing valid from the load cell, and nothing at all
	LoadGarbled   // nothing valid from the load cell, but bytes that do not match
	LoadUnchanged // the same number again and again while line is hauled
	LoadReversed  // tension below zero by more than the zero band
	LoadUnit      // the number has leapt by what one unit of force is to another
	LineSilent    // nothing valid from the line encoder
	LineJumped    // the line count has jumped, so that rode out is no longer known
	LineReversed  // the count says line runs out while the winch is to haul
	PersonStop    // someone called stop
	StoodStill    // the program itself stood still: time jumped
	HaulsOn       // line comes in though hauling is not permitted
	RelayStuck    // the relay says closed though hauling is not permitted
	RelayOpened   // the stop relay opened though hauling was permitted
	StopOutLost   // the stop output cannot be written
	ScreenGone    // the screen the director works from is lost
	Terminated    // the system asked the program to end

	// Planned ends: counted down, lifted by the next stage.
	TensionReached // the tension at which the stage was to end
	LineHauled
	MinimumScope
	AtFairlead // something that may not pass the fairlead is close to it
	StageDuration

	// Warnings only.
	ZeroDue         // the load cell was lost or over range: its zero wants checking
	LoadNeverFalls  // no step down in a minute of hauling
	LoadNoisy       // its noise is far more than it was before arming
	LoadSlow        // far fewer lines a second than the box is set to
	ZeroMoved       // the zero check found another zero than the last one
	CellsDisagree   // two load cells differ by more than friction explains
	CellMissing     // a cell that the limits count with tells no tension
	LineContradicts // the count disagrees with the marks on the rode
	LineReset       // the line box has begun to count anew; the line goes on
	AnchorNotMoving // tension rises as if the rode hung on a rock, from the beginning
	Snag            // the same after the anchor had moved
	MayNotComeUp    // tension above what recovery may pull
	DepthOutOfBox   // the depth said is not one the plan allows
	RecordShort     // the disk will be full before long
	RecordFailing   // the record is not reaching the disk
	ClockStepped    // the computer's clock has jumped
	RelayStaysOpen  // hauling is permitted and the relay does not close
	HornLost        // the output to horn and lamp cannot be written
	JudgeGone       // the part that explains the pull has failed; the guard goes on
	NumCauses
)

// StopKind tells a planned end, which the next stage lifts, from a trip, which
// latches until it is acknowledged, its cause gone and the director re-arms.
type StopKind uint8

const (
	NoStop StopKind = iota
	PlannedEnd
	Trip
)

// AlarmState is a step in an alarm's life. The states follow the ISA-18.2 / IEC
// 62682 family: an alarm that is back to normal stays visible until a person
// has acknowledged it.
type AlarmState uint8

const (
	Normal         AlarmState = iota
	Unacknowledged            // present, nobody has said they saw it
	Acknowledged              // present and seen
	Returned                  // gone again before anybody saw it
	Suppressed                // by design: the condition is not judged for now
)

// Priority is the alert priority after IMO resolution MSC.302(87).
type Priority uint8

const (
	NoPriority Priority = iota
	Caution
	Warning
	AlarmPriority
	Emergency
)

// Alarm is the standing of one cause. Since is the time of its last step to a
// higher priority or, without one, of its last appearance.
type Alarm struct {
	State    AlarmState
	Priority Priority
	Since    int64
	Value    float64 // what was measured then: N, m, ratio or s, by cause
	Limit    float64 // what it was measured against, in the same unit
}

// Standing says whether the alarm's condition is present, seen or not.
func (a Alarm) Standing() bool { return a.State == Unacknowledged || a.State == Acknowledged }

// Unseen says whether the alarm waits for the director's acknowledgement.
func (a Alarm) Unseen() bool { return a.State == Unacknowledged || a.State == Returned }

// Stop is the stop in force. Value and Limit are those of its first cause;
// Later is the newest different cause that arose since.
type Stop struct {
	Kind  StopKind
	Cause Cause
	Later Cause
	At    int64
	Acked bool
	Value float64
	Limit float64
	By    Who         // who called it, for PersonStop
	Taken bool        // taken over from the log before this one, in which it was set
	Top   trial.Force // most tension since the stop, N: the winch runs on, or the vessel moves; +Inf it was over range or unknown
}

// Who is a seat on deck. Anyone may call stop; only the director arms, changes
// the stage, acknowledges and re-arms.
type Who uint8

const (
	Nobody Who = iota
	Director
	WinchOperator
	Logger
	Watcher // a read-only seat
	Program // the program itself: a signal, the demo's script is not this but the seat it plays
)

// State is the whole state of the guard: a value without pointers, so that two
// can be compared with ==.
type State struct {
	T          int64
	Stage      trial.Stage
	StageSince int64
	Armed      bool   // the director has armed and nothing has disarmed since
	EverArmed  bool   // before the first arming causes are alarms, not trips
	Session    uint32 // the relay session of the present permit
	Permit     bool   // hauling is permitted: armed, no stop in force, a stage that hauls
	Order      Order
	OrderSince int64
	Stop       Stop
	Alarms     [NumCauses]Alarm

	Load    LoadState
	Line    LineState
	RelayOn bool // the relay last said closed, for the session in force
	RelayAt int64

	// FirstUp is the alarm that came first of those that stand or wait to be seen.
	FirstUp Cause

	Cell    CellState
	Checks  [NumChecks]CheckState // those that a person does; see [Guard.Checklist]
	Missing uint8                 // bit i: [Config].Cells i tells no tension
	Cleared uint32                // bit i: [Config].Things[i] has been taken in
	Lowered Lowered               // limits made stricter since the trial file

	// LaneX is the line hauled where the lane began: an interrupted pull or preset
	// goes on from there, and does not begin anew. While the line is unknown it
	// is so far from StageX as the lane has come.
	LaneX trial.Length
	Lane  trial.Stage // Pull or Preset: of that stage; StandBy: none

	// StageX is the line hauled when the stage began, or when it first became
	// known in it: 0 while HasStageX is false. It is never NaN, which would not
	// be equal to itself.
	StageX    trial.Length
	HasStageX bool

	before before // what was taken over, and the stage it is of has not been said since

	zeroDue    bool             // the load cell is lost or over range, and when it is heard again its zero wants checking
	hauled     trial.Length     // since the stage began, at the last known count
	inStop     uint64           // bit c: the cause has tripped in the stop in force
	present    [NumCauses]level // what each cause says now, whatever its alarm's life
	shown      [NumCauses]level // what its alarm shows: it goes down later than the cause
	links      [NumSources]link
	timers     timers
	tensionWas confirm
	ends       [NumCauses]uint8 // counts in a row that reached a planned end
	tension    trend            // N over s
	haul       trend            // m over s
	rise       rise
	riseTaken  bool // a rise was taken over, and the time since has not shown that it is gone
	rode       rodeSlope
	word       loadWord
	leap       leap
	noise      noise
}

// Lowered are limits the director has made stricter than the trial file's, in
// every stage that has the limit. Zero: not. They never go back.
type Lowered struct {
	TensionWarn, TensionStop trial.Force
	Haul                     trial.Length
	ScopeMin                 float64 // raised, since less is laxer
}

// CellState says whether the load cell is in the rode.
type CellState uint8

const (
	CellOn   CellState = iota
	CellOff            // taken out, by the director's word: its faults are suppressed by design
	CellBack           // in again, not yet zeroed: its faults are still suppressed
)

// level is how far a cause has come.
type level uint8

const (
	absent level = iota
	warned
	atLimit // what trips, or ends a stage as planned
)

// LoadState is what the guard knows of the load cell.
type LoadState struct {
	Tension  trial.Force // last valid sample: a finite number within the range; 0 before the first
	Felt     trial.Force // what the cell felt then: the same but of a pin in the roller
	NoAngle  bool        // the last word was felt, and says no tension for want of the line's angle
	At       int64       // its time; -1: none yet
	HeardAt  int64       // last bytes of any kind from the port; -1: none yet
	Over     bool        // the last word was over range
	BadSince uint32      // bad frames since the last valid one
	Up       bool        // the port is open
	Period   float64     // s between valid samples, of late; 0: unknown
	Step     trial.Force // the smallest change ever seen: the box's display step; 0: unknown
}

// LineState is what the guard knows of the line: X is the line hauled since the
// rode out was said.
type LineState struct {
	X       trial.Length
	RodeOut trial.Length
	Scope   float64
	At      int64 // time of the last valid count; -1: none yet
	HasX    bool  // rode out has been said, so X and RodeOut are known
	HasS    bool  // depth is known too, so Scope is known
	Up      bool
	Period  float64 // s between valid counts, of late; 0: unknown
}

// Margin is one limit beside what it limits: enough for a screen to draw it.
type Margin struct {
	Cause Cause
	Now   float64 // NaN while unknown
	Warn  float64 // NaN: no warning level
	Limit float64
	Left  float64 // in the limit's own unit, never below 0; NaN while unknown
	Share float64 // 0 far from the limit, 1 at it; NaN while unknown
	In    float64 // seconds to the limit at the present slope; NaN or +Inf: not approaching
	Name  string  // of what comes to the fairlead
}
