package safety

import (
	"fmt"
	"strings"
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
}

// Words, advice and priorities are common practice, no source. The division
// into trips and planned ends, and that a lost load cell is a trip, follow the
// stop rules of the trade; priorities follow IMO MSC.302(87): an emergency
// alarm for danger to life, an alarm for what needs attention at once to avoid
// it.
var causes = [NumCauses]cause{
	NoCause: {word: "none", title: "NO CAUSE", consequence: "none", advice: "nothing"},

	TensionLimit: {word: "tension-limit", title: "TENSION LIMIT", does: trips, priority: Emergency, unit: inNewtons, warns: true, tension: true,
		consequence: "gear may part; energy is stored in the rode",
		advice:      "stop hauling, keep clear of the rode, ease if it stays"},
	WLLShare: {word: "wll-share", title: "WLL SHARE", does: trips, priority: Emergency, unit: inShare, warns: true, tension: true,
		consequence: "the weakest gear is near its working load limit",
		advice:      "stop hauling, keep clear of the rode, ease if it stays"},
	LoadOverRange: {word: "load-over-range", title: "LOAD OVER RANGE", does: trips, priority: Emergency, unit: inNewtons, tension: true,
		consequence: "tension is above what the cell can tell; the cell may be harmed",
		advice:      "stop hauling, ease, check the cell's zero at slack"},
	LoadNotNumber: {word: "load-not-number", title: "LOAD NOT A NUMBER", does: trips, priority: AlarmPriority,
		consequence: "tension is unknown: treat as loaded",
		advice:      "check the load box and its calibration in the trial file"},
	LoadSilent: {word: "load-silent", title: "LOAD SILENT", does: trips, priority: AlarmPriority, unit: inSeconds, warns: true,
		consequence: "tension is unknown: treat as loaded",
		advice:      "check cable, supply and port of the load box"},
	LoadGarbled: {word: "load-garbled", title: "LOAD GARBLED", does: trips, priority: AlarmPriority, unit: inSeconds, warns: true,
		consequence: "tension is unknown: treat as loaded",
		advice:      "check baud rate, line pattern and cable of the load box"},
	LineSilent: {word: "line-silent", title: "LINE SILENT", does: trips, priority: AlarmPriority, unit: inSeconds, warns: true,
		consequence: "line hauled and scope are unknown: nothing ends the lane",
		advice:      "check cable, supply and port of the line encoder"},
	PersonStop: {word: "person-stop", title: "STOP CALLED", does: trips, priority: Emergency, moment: true,
		consequence: "someone on deck has seen what the tool cannot",
		advice:      "stop hauling at once, ask afterwards"},
	StoodStill: {word: "stood-still", title: "PROGRAM STOOD STILL", does: trips, priority: AlarmPriority, unit: inSeconds, moment: true,
		consequence: "nothing was guarded in that time",
		advice:      "find what held the computer up before going on"},
	RelayOpened: {word: "relay-opened", title: "RELAY OPENED", does: trips, priority: AlarmPriority, moment: true,
		consequence: "haul was taken away from the winch by the relay itself",
		advice:      "check supply and cable of the stop relay"},
	StopOutLost: {word: "stop-out-lost", title: "STOP OUTPUT LOST", does: trips, priority: AlarmPriority,
		consequence: "the relay hears nothing: haul drops by itself",
		advice:      "check cable, supply and port of the stop relay"},
	// Acknowledging it is the director's word that the pull is run without the
	// screen, by calls.
	ScreenGone: {word: "screen-gone", title: "SCREEN GONE", does: trips, priority: AlarmPriority, moment: true,
		consequence: "the director cannot see the limits; capture and guard go on",
		advice:      "run it by calls, or end and start anew with a screen"},
	Terminated: {word: "terminated", title: "PROGRAM TOLD TO END", does: trips, priority: AlarmPriority, moment: true,
		consequence: "a loaded rode would be left without guard and record",
		advice:      "ease to slack, then end; a second request ends at once"},

	LineHauled: {word: "line-hauled", title: "LINE HAULED", does: endsStage, unit: inMetres,
		consequence: "the lane is used up",
		advice:      "say the next stage"},
	MinimumScope: {word: "minimum-scope", title: "MINIMUM SCOPE", does: endsStage, unit: inScope,
		consequence: "below it the result tells of the angle, not of the anchor",
		advice:      "say the next stage"},
	StageDuration: {word: "stage-duration", title: "STAGE DURATION", does: endsStage, unit: inSeconds,
		consequence: "the planned time is over",
		advice:      "say the next stage"},

	RecordFailing: {word: "record-failing", title: "RECORD FAILING", does: warnsOnly, priority: Warning,
		consequence: "what is pulled now may be lost; a pull not recorded must be done again in fresh ground",
		advice:      "free or change the disk; nothing is armed until the record is kept again"},
	JudgeGone: {word: "judge-gone", title: "PHASES GONE", does: warnsOnly, priority: Caution,
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
		var kind string
		switch r.does {
		case trips:
			kind = "trip, " + r.priority.String()
			if r.warns {
				kind += ", warned of before"
			}
			if r.moment {
				kind += ", stands until acknowledged"
			}
		case endsStage:
			kind = "planned end"
		case warnsOnly:
			kind = "no stop, " + r.priority.String() + " only"
		}
		fmt.Fprintf(&b, "%s (%s)\n  %s\n  means: %s\n  do:    %s\n", r.title, r.word, kind, r.consequence, r.advice)
	}
	return b.String()
}
