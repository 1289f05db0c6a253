package safety

import (
	"fmt"
	"strings"
	"time"

	"hawse/trial"
)

// does is what a cause does to hauling.
type does uint8

const (
	warnsOnly does = iota
	trips
	endsStage
)

// unit is what a cause's value and limit are measured in.
type unit uint8

const (
	noUnit unit = iota
	inNewtons
	inShare
	inMetres
	inScope
	inSeconds
	inTimes // what it was
	inUnits // by what factor of units
)

// cause is one row of the table below, the one place where a cause is
// described.
type cause struct {
	word        string // in the record; never changed, old logs hold it
	title       string
	consequence string // what may come of it
	advice      string // what to do
	does        does
	priority    Priority // at its limit; below it, where it has a level to warn at, it is a Warning
	unit        unit
	warns       bool // has a level below its limit to warn at
	moment      bool // happens, and stands until the director has acknowledged it
	tension     bool // says that the tension is too high: more than STOP may be needed
	ease        bool // asks for EASE at once: stopping the winch does not help
	keeps       bool // once there, a change of stage does not take it away
	cell        bool // a fault of the load cell: suppressed while it is out of the rode

	when     string        // the rule in words, with its times
	in       stages        // where it is judged
	warnIn   stages        // where it is judged but only warns
	warnsNew bool          // before the first arming it only warns: a known weight that is hung on the cell looks like it
	lasts    time.Duration // the alarm goes down this long after its cause, so that it does not chatter
}

// stages is a set of stages.
type stages uint16

func (s stages) has(stage trial.Stage) bool { return s&(1<<stage) != 0 }

func in(list ...trial.Stage) (s stages) {
	for _, stage := range list {
		s |= 1 << stage
	}
	return s
}

// The sets of stages in which causes are judged.
var (
	everyStage = stages(1<<trial.NumStages - 1)
	hauling    = in(trial.Preset, trial.Pull, trial.Recover)
	seating    = in(trial.Preset, trial.Pull)
	holding    = in(trial.Preset, trial.Pull, trial.Hold)
	byLine     = everyStage &^ in(trial.Ease, trial.Recover, trial.Stopped, trial.Done)
)

const settled = 10 * time.Second // a swell has gone by then; common practice, no source

// Words, advice and priorities are common practice, no source. The division
// into trips and planned ends, and that a lost load cell is a trip, follow the
// stop rules of the trade; priorities follow IMO MSC.302(87): an emergency
// alarm for danger to life, an alarm for what needs attention at once to avoid
// it.
var causes = [NumCauses]cause{
	NoCause: {word: "none", title: "NO CAUSE", consequence: "none", advice: "nothing"},

	TensionLimit: {word: "tension-limit", title: "TENSION LIMIT", does: trips, priority: Emergency, unit: inNewtons, warns: true, tension: true,
		in: everyStage, lasts: settled,
		when:        "two good samples in a row at or above it, or one that stands alone for 0.3 s",
		consequence: "gear may part; energy is stored in the rode",
		advice:      "stop hauling, keep clear of the rode, ease if it stays"},
	WLLShare: {word: "wll-share", title: "WLL SHARE", does: trips, priority: Emergency, unit: inShare, warns: true, tension: true,
		in: everyStage, lasts: settled,
		when:        "two good samples in a row at or above it, or one that stands alone for 0.3 s; its warning is not said while that of the tension limit stands, nor the other way round",
		consequence: "the weakest gear is near its working load limit",
		advice:      "stop hauling, keep clear of the rode, ease if it stays"},
	LimitSoon: {word: "limit-soon", title: "STOP LIMIT SOON", does: trips, priority: Emergency, unit: inSeconds, warns: true, tension: true,
		in: everyStage, lasts: settled,
		when:        "at the slope of the last 2 s the stop limit is reached within 3 s, for 0.3 s; stops only if the trial says so",
		consequence: "the winch runs on, so the tension will pass the limit",
		advice:      "be ready to stop; stop now if the rode looks snagged"},
	VesselMoves: {word: "vessel-moves", title: "TENSION RISING, NO HAUL", does: trips, priority: Emergency, unit: inNewtons, tension: true, ease: true,
		in: everyStage, warnIn: in(trial.Recover, trial.Ease), warnsNew: true, lasts: settled,
		when:        "mean of 3 s up by 10 % of the stop limit within 10 s, with less than 0.05 m hauled, beyond what that haul explains; a warning before the first arming, since a known weight that is hung on the cell looks like it",
		consequence: "the vessel moves and loads the rode; stopping the winch does not help",
		advice:      "call the helm, then ease"},
	LoadOverRange: {word: "load-over-range", title: "LOAD OVER RANGE", does: trips, priority: Emergency, unit: inNewtons, tension: true, cell: true,
		in: everyStage, lasts: 2 * time.Second,
		when:        "at once",
		consequence: "tension is above what the cell can tell; the cell may be harmed",
		advice:      "stop hauling, ease, check the cell's zero at slack"},
	LoadNotNumber: {word: "load-not-number", title: "LOAD NOT A NUMBER", does: trips, priority: AlarmPriority, cell: true,
		in: everyStage, lasts: 2 * time.Second,
		when:        "at once",
		consequence: "tension is unknown: treat as loaded",
		advice:      "check the load box and its calibration in the trial file"},
	LoadAngle: {word: "load-angle", title: "LINE ANGLE UNKNOWN", does: trips, priority: AlarmPriority, cell: true,
		in: everyStage, lasts: 2 * time.Second,
		when:        "at once, once the pull has been armed: the load cell is a pin in the roller, and rode out, depth or count is not known, or the line bends too little over the roller",
		consequence: "what the pin feels tells no tension; unknown is not low, the rode may be loaded",
		advice:      "stop hauling; say rode out and depth, see the line counter"},
	LoadSilent: {word: "load-silent", title: "LOAD SILENT", does: trips, priority: AlarmPriority, unit: inSeconds, warns: true, cell: true,
		in: everyStage, lasts: 2 * time.Second,
		when:        "no good line for the stage's silence time",
		consequence: "tension is unknown: treat as loaded",
		advice:      "check cable, supply and port of the load box"},
	LoadGarbled: {word: "load-garbled", title: "LOAD GARBLED", does: trips, priority: AlarmPriority, unit: inSeconds, warns: true, cell: true,
		in: everyStage, lasts: 2 * time.Second,
		when:        "no good line for the stage's silence time, though bytes come",
		consequence: "tension is unknown: treat as loaded",
		advice:      "check baud rate, line pattern and cable of the load box"},
	LoadUnchanged: {word: "load-unchanged", title: "LOAD UNCHANGED", does: trips, priority: AlarmPriority, unit: inSeconds, cell: true, keeps: true,
		in: seating, lasts: 2 * time.Second,
		when:        "the same number for 5 s and 0.2 m hauled, above 20 display steps (above the slack level if no step is known); stays in every stage until the number changes",
		consequence: "the number is not the tension: treat as loaded",
		advice:      "check the load box; a live cell flickers in its last digit"},
	LoadReversed: {word: "load-reversed", title: "LOAD REVERSED", does: trips, priority: AlarmPriority, unit: inNewtons, warns: true, cell: true,
		in: everyStage, lasts: settled,
		when:        "two good samples in a row below zero by 2 % of the cell's range; warned of from 0.5 %",
		consequence: "more load may read as less: treat as loaded",
		advice:      "ease to slack, check sign and zero of the load cell"},
	LoadUnit: {word: "load-unit", title: "UNIT CHANGED", does: trips, priority: AlarmPriority, unit: inUnits,
		in:          everyStage,
		when:        "once armed: from one number of the box to the next, 0.4 s apart at most, a leap up or down by what two units of force are to each other, within 1.5 % (3 % up, where they come faster than each 0.15 s), with up to 5 numbers before it and 3 from it on that go on alike; the higher side above 5 % of the range, the lower above 20 display steps; until it leaps back, or a known weight is checked or waived",
		consequence: "the number is not the tension: treat as loaded",
		advice:      "set its unit back, or known weight at slack; after a breakout x 9 waives"},
	LineSilent: {word: "line-silent", title: "LINE SILENT", does: trips, priority: AlarmPriority, unit: inSeconds, warns: true,
		in: everyStage, lasts: 2 * time.Second,
		when:        "no good count for the stage's silence time, where the winch hauls or a limit needs the line",
		consequence: "line hauled and scope are unknown: nothing ends the lane",
		advice:      "check cable, supply and port of the line encoder"},
	LineJumped: {word: "line-jumped", title: "LINE COUNT JUMPED", does: trips, priority: AlarmPriority, unit: inMetres,
		in:          everyStage,
		when:        "two counts farther apart than the winch can haul, or a count begun anew after a gap",
		consequence: "rode out and scope are unknown",
		advice:      "say the rode out again, or call the next rode mark"},
	LineReversed: {word: "line-reversed", title: "LINE RUNS OUT", does: trips, priority: AlarmPriority, unit: inMetres, warns: true,
		in:          seating,
		when:        "1 m out since the most that was hauled in the stage, while hauling is permitted; warned of from 0.3 m",
		consequence: "the brake slips, or the count runs the wrong way and nothing ends the lane",
		advice:      "look at the drum; check the encoder's direction"},
	PersonStop: {word: "person-stop", title: "STOP CALLED", does: trips, priority: Emergency, moment: true,
		in:          everyStage,
		when:        "at once, also before arming",
		consequence: "someone on deck has seen what the tool cannot",
		advice:      "stop hauling at once, ask afterwards"},
	StoodStill: {word: "stood-still", title: "PROGRAM STOOD STILL", does: trips, priority: AlarmPriority, unit: inSeconds, moment: true,
		in:          everyStage,
		when:        "time between two records, or of one waiting to be judged, over 0.25 s",
		consequence: "nothing was guarded in that time",
		advice:      "find what held the computer up before going on"},
	HaulsOn: {word: "hauls-on", title: "HAULS WITHOUT PERMIT", does: trips, priority: Emergency, unit: inMetres, moment: true,
		in:          everyStage &^ in(trial.StandBy, trial.PayOut, trial.Done),
		when:        "0.5 m hauled in, counted from 2 s after the permit fell, and each further 0.5 m; once armed",
		consequence: "the winch does not obey the stop; nothing ends the lane",
		advice:      "stop the winch by its own control or its emergency stop"},
	RelayStuck: {word: "relay-stuck", title: "RELAY STAYS CLOSED", does: trips, priority: Emergency,
		in:          everyStage,
		when:        "the relay says closed, 1 s or more after hauling has ceased to be permitted",
		consequence: "the stop output cannot stop the winch",
		advice:      "stop the winch by its own control; check the relay's contact and wiring"},
	RelayOpened: {word: "relay-opened", title: "RELAY OPENED", does: trips, priority: AlarmPriority, moment: true,
		in:          everyStage,
		when:        "the relay says open after it has said closed, while hauling is permitted",
		consequence: "haul was taken away from the winch by the relay itself",
		advice:      "check supply and cable of the stop relay"},
	StopOutLost: {word: "stop-out-lost", title: "STOP OUTPUT LOST", does: trips, priority: AlarmPriority,
		in:          everyStage,
		when:        "at once",
		consequence: "the relay hears nothing: haul drops by itself",
		advice:      "check cable, supply and port of the stop relay"},
	// Acknowledging it is the director's word that the pull is run without the
	// screen, by calls.
	ScreenGone: {word: "screen-gone", title: "SCREEN GONE", does: trips, priority: AlarmPriority, moment: true,
		in:          everyStage,
		when:        "at once",
		consequence: "the director cannot see the limits; capture and guard go on",
		advice:      "run it by calls, or end and start anew with a screen"},
	Terminated: {word: "terminated", title: "PROGRAM TOLD TO END", does: trips, priority: AlarmPriority, moment: true,
		in:          everyStage,
		when:        "at once, if the rode is loaded or its tension unknown",
		consequence: "a loaded rode would be left without guard and record",
		advice:      "ease to slack, then end; a second request ends at once"},

	TensionReached: {word: "tension-reached", title: "TENSION REACHED", does: endsStage, unit: inNewtons,
		in:          seating,
		when:        "as a tension limit",
		consequence: "the stage has pulled what it was to pull",
		advice:      "say the next stage"},
	LineHauled: {word: "line-hauled", title: "LINE HAULED", does: endsStage, unit: inMetres,
		in:          byLine,
		when:        "two counts in a row at or past it, or one that stands alone for 0.3 s",
		consequence: "the lane is used up",
		advice:      "say the next stage"},
	MinimumScope: {word: "minimum-scope", title: "MINIMUM SCOPE", does: endsStage, unit: inScope,
		in:          byLine,
		when:        "two counts in a row at or past it, or one that stands alone for 0.3 s",
		consequence: "below it the result tells of the angle, not of the anchor",
		advice:      "say the next stage"},
	AtFairlead: {word: "at-fairlead", title: "AT THE FAIRLEAD", does: endsStage, unit: inMetres,
		in:          hauling,
		when:        "two counts in a row at or past it, or one that stands alone for 0.3 s; nothing hauls in the other stages",
		consequence: "what may not pass is hauled solid into the fairlead",
		advice:      "take it in by hand, say so (clear), then say the next stage"},
	StageDuration: {word: "stage-duration", title: "STAGE DURATION", does: endsStage, unit: inSeconds,
		in:          everyStage,
		when:        "when it is over",
		consequence: "the planned time is over",
		advice:      "say the next stage"},

	ZeroDue: {word: "zero-due", title: "CHECK THE ZERO", does: warnsOnly, priority: Caution,
		in:          everyStage,
		when:        "the load cell is heard again after it was lost or over range; until zero or known weight is checked",
		consequence: "the reading may be off",
		advice:      "zero at slack, or a known weight, before the next pull"},
	LoadNeverFalls: {word: "load-never-falls", title: "LOAD NEVER FALLS", does: warnsOnly, priority: Warning, unit: inSeconds, cell: true,
		in: seating, lasts: 2 * time.Second,
		when:        "60 s of hauling without one step down, above 50 display steps",
		consequence: "the box may hold its peak: the tension shown is not lower than the true one, but not it either",
		advice:      "take peak hold off at the box"},
	LoadNoisy: {word: "load-noisy", title: "LOAD NOISY", does: warnsOnly, priority: Warning, unit: inTimes, cell: true,
		in: everyStage, lasts: settled,
		when:        "for 1 s, the noise of 48 numbers, slopes, swings and jerks taken away, is 5 times what it was before arming, above 0.5 % of the range and 2 display steps (more of a box slower than 10 a second, in proportion), or 2 % of the range; under 2.5 numbers a second it is not judged, nor in a changed unit",
		consequence: "not to be trusted: wet plug, flat supply, cable screen; may fall silent",
		advice:      "look at plug, cable and supply; be ready to stop; at slack a known weight"},
	LoadSlow: {word: "load-slow", title: "LOAD SLOW", does: warnsOnly, priority: Warning, unit: inSeconds, cell: true,
		in: everyStage, lasts: settled,
		when:        "for 5 s, good lines come at less than half the rate the box is set to",
		consequence: "peaks between two lines are missed, and a stop comes later",
		advice:      "check rate and cable of the load box"},
	ZeroMoved: {word: "zero-moved", title: "ZERO MOVED", does: warnsOnly, priority: Warning, unit: inNewtons,
		in:          everyStage,
		when:        "a zero check finds it off the last one by more than 0.5 % of the range",
		consequence: "pulls since the last good zero are in doubt; the cell may be overstrained",
		advice:      "check the cell with a known weight before the next pull"},
	CellsDisagree: {word: "cells-disagree", title: "CELLS DISAGREE", does: warnsOnly, priority: Warning, unit: inNewtons, cell: true,
		in:          everyStage,
		when:        "for 3 s, two load cells differ by more than the roller's friction and their uncertainties explain, the way the winch runs counted in",
		consequence: "one of the two is wrong: the tension, and the limit it is held against, are in doubt",
		advice:      "treat the higher one as true; check zero and known weight of both before the next pull"},
	CellMissing: {word: "cell-missing", title: "A CELL IS MISSING", does: warnsOnly, priority: Warning, unit: inSeconds, cell: true,
		in:          everyStage,
		when:        "where the largest tension of several load cells guards: one of them tells none for 3 s; it bars arming, too, unless the director goes without it for a reason",
		consequence: "the limits act without it: the tension may be more than what is shown and guarded",
		advice:      "look at its cable and box; until it is back, take the tension as higher"},
	LineContradicts: {word: "line-contradicts", title: "COUNT AGAINST MARKS", does: warnsOnly, priority: Warning, unit: inShare,
		in:          everyStage,
		when:        "line counted between two rode marks off by more than 5 %; the marks go before the count",
		consequence: "rode out and scope are doubtful between marks",
		advice:      "call every rode mark; check the measuring wheel for slip"},
	LineReset: {word: "line-reset", title: "LINE COUNT BEGAN ANEW", does: warnsOnly, priority: Warning, moment: true, unit: inMetres,
		in:          everyStage,
		when:        "the count falls back to zero from one line to the next; line hauled goes on from where it was",
		consequence: "the box may have lost its supply",
		advice:      "check the line box; call the next rode mark"},
	AnchorNotMoving: {word: "anchor-not-moving", title: "ANCHOR NOT MOVING", does: warnsOnly, priority: Caution, unit: inShare,
		in: holding, lasts: 2 * time.Second,
		when:        "slope against line hauled at least 0.7 of the rode's stiffness at this tension for 0.2 m, above twice the dead-weight level",
		consequence: "a firm set looks the same as something foul",
		advice:      "watch the margin"},
	Snag: {word: "snag", title: "SNAG", does: warnsOnly, priority: Warning, unit: inShare,
		in: holding, lasts: 2 * time.Second,
		when:        "the same after the anchor has moved 1 m or more, and above the highest tension of the last 2.5 m hauled: teeth of a saw-tooth are no snag",
		consequence: "the anchor has caught on something that is not bottom",
		advice:      "be ready to stop; think of cables and moorings"},
	MayNotComeUp: {word: "may-not-come-up", title: "MAY NOT COME UP AGAIN", does: warnsOnly, priority: Warning, unit: inNewtons,
		in:          everyStage &^ in(trial.StandBy, trial.PayOut, trial.Done),
		when:        "in preset, pull and hold, as a tension limit, at the stop limit of recovery times the trial's factor; stays until the anchor is up",
		consequence: "recovery has the lower limit and may need more than the pull",
		advice:      "go on (acknowledge) or end the pull here"},
	DepthOutOfBox: {word: "depth-out-of-box", title: "DEPTH OUT OF BOX", does: warnsOnly, priority: Warning, unit: inMetres,
		in:          everyStage,
		when:        "a depth is said that the station's plan does not allow",
		consequence: "scope and ground are not the ones planned",
		advice:      "check depth and position"},
	RecordShort: {word: "record-short", title: "DISK FILLING", does: warnsOnly, priority: Warning,
		in:          everyStage,
		when:        "at the rate of late the record fills its disk within some minutes",
		consequence: "what is pulled then may be lost",
		advice:      "free room, or end this pull and log to another disk"},
	RecordFailing: {word: "record-failing", title: "RECORD FAILING", does: warnsOnly, priority: Warning,
		in:          everyStage,
		when:        "at once",
		consequence: "what is pulled now may be lost; a pull not recorded must be done again in fresh ground",
		advice:      "free or change the disk; nothing is armed until the record is kept again"},
	ClockStepped: {word: "clock-stepped", title: "CLOCK STEPPED", does: warnsOnly, priority: Caution, moment: true, unit: inSeconds,
		in:          everyStage,
		when:        "the computer's clock moves by more than 1 s against the record's own time",
		consequence: "times of day in the record are in doubt; its own time is not",
		advice:      "note the right time as a mark"},
	RelayStaysOpen: {word: "relay-stays-open", title: "RELAY STAYS OPEN", does: warnsOnly, priority: Warning,
		in:          everyStage,
		when:        "hauling has been permitted for 2 s and the relay has not said closed",
		consequence: "the winch will not haul",
		advice:      "check supply, cable and wiring of the stop relay"},
	HornLost: {word: "horn-lost", title: "HORN LOST", does: warnsOnly, priority: Warning,
		in:          everyStage,
		when:        "at once",
		consequence: "an alarm is seen but not heard",
		advice:      "check cable and port of the horn; post somebody to call out"},
	JudgeGone: {word: "judge-gone", title: "PHASES GONE", does: warnsOnly, priority: Caution,
		in:          everyStage,
		when:        "at once",
		consequence: "phase and peak are no longer told; the guard goes on",
		advice:      "finish the pull, replay the log afterwards"},
}

func (c Cause) row() *cause {
	if c >= NumCauses {
		return &causes[NoCause]
	}
	return &causes[c]
}

// String is the cause's word in the record, such as "tension-limit".
func (c Cause) String() string { return c.row().word }

// ParseCause reads a cause by its word in the record.
func ParseCause(word string) (Cause, bool) {
	for c := NoCause + 1; c < NumCauses; c++ {
		if c.row().word == word {
			return c, true
		}
	}
	return NoCause, false
}

// Title is the cause in the words of the deck, such as "TENSION LIMIT".
func (c Cause) Title() string { return c.row().title }

// Consequence says what may come of the cause.
func (c Cause) Consequence() string { return c.row().consequence }

// Advice says what to do about the cause.
func (c Cause) Advice() string { return c.row().advice }

// Trips says whether the cause latches a stop once the director has armed.
func (c Cause) Trips() bool { return c.row().does == trips }

// Planned says whether the cause ends a stage as planned.
func (c Cause) Planned() bool { return c.row().does == endsStage }

// Table is the table of causes as text, a block a cause, for a reader.
func Table() string {
	var b strings.Builder
	for c := NoCause + 1; c < NumCauses; c++ {
		r := c.row()
		fmt.Fprintf(&b, "%s (%s)\n  %s\n  rule:  %s\n  means: %s\n  do:    %s\n", r.title, r.word, r.kind(), r.when, r.consequence, r.advice)
	}
	return b.String()
}

// kind says what a cause does and how loud it is.
func (r *cause) kind() string {
	var kind string
	switch r.does {
	case trips:
		kind = "trip, " + r.priority.String()
		if r.ease {
			kind += ", asks for EASE"
		}
		if r.warns {
			kind += ", warned of before"
		}
	case endsStage:
		return "planned end"
	case warnsOnly:
		kind = "no stop, " + r.priority.String() + " only"
	}
	if r.moment {
		kind += ", stands until acknowledged"
	}
	if r.lasts > 0 {
		kind += ", stays up " + timeText(r.lasts.Seconds()) + " after it has gone"
	}
	return kind
}
