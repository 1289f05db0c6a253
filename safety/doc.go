// Package safety is the guard of a pull: limits per stage, faults of load and
// line, alarms and their life, the checks before arming, the stop and who may
// lift it. GUARD.md holds its tables, made from this code.
//
// It is pure: it reads no clock, port or file and starts no goroutine. Time
// arrives with each input, in nanoseconds since the log's start; deadlines
// (silence, confirmation, duration) fire in order of their due time inside the
// next call, stamped with that due time, so how often the guard is called
// changes nothing it says.
//
// The guard is an aid. It is not a safety function: the winch's own limiter and
// emergency stop come first and work without it. Unknown tension is treated as
// loaded.
//
// # Use
//
// [NewConfig] takes the limits of a trial, [New] makes a [Guard], and every
// record of the log becomes one call: [Guard.Advance] first, then what the
// record brings. What the guard has to say it appends to an [Events]; what it
// knows is its [State], a value that == compares.
//
// # Causes
//
// Each [Cause] has a row in one table ([Table]): its rule, what it means, what
// to do, how loud it is, what it does to hauling, and the stages in which it is
// judged or only warns. A trip latches a stop. A planned end stops the winch
// too, but is no alarm, and the next stage lifts it. A warning only warns.
// Before the first arming nothing trips but a person's call, which always does.
//
// # Alarms
//
// An alarm's life follows the ISA-18.2 / IEC 62682 family: unacknowledged,
// acknowledged, back to normal; gone before anybody saw it, it stays visible as
// returned. It rises anew when its priority does, and when a stop is in force
// that does not know of it yet. A level is left 2 % below itself, and an alarm
// that comes and goes with a swell stays up for a while after its cause, so
// that it is one alarm. Something that happens rather than lasts, such as a
// call, stands until it is acknowledged. Faults of a load cell that the
// director has taken out of the rode are suppressed by design until it is in
// again and zeroed. [State].FirstUp is the first of those that stand.
//
// # Tension
//
// A level is reached by two good samples in a row at or above it, or by one
// that no other follows within 0.3 s. Frames that do not match are neither. A
// sample over range or not a number trips at once. A planned end by line is
// reached by two counts in a row, or by one that stands alone for 0.3 s.
//
// Tension that rises while no line is hauled is the vessel's, and asks for
// EASE. It is judged by means over three seconds, while it is known whether
// line is hauled: a rise seen while the encoder is lost says nothing.
//
// Two faults are read from the numbers themselves: noise, against what it was before
// arming, and a leap by what two units of force are to each other. The first only
// warns: the limits go on to act. The second trips, since down it hides the load,
// and leaves the tension unknown; a breakout that falls by just such a factor in one
// step cannot be told from it.
//
// # Arming, and limits
//
// The director arms once every line of [Guard.Checklist] is good; zero and
// known weight may be waived with a reason. [JudgeZero] and [JudgeWeight] say
// what a reading is worth. Limits can be lowered at any time, never raised.
//
// # After a log that broke off
//
// A guard that goes on from such a log takes over what no limit may be laxer
// without. [Guard.Latch] puts a trip in force again with its own causes, each of
// which counts as there until it is seen to have gone. [Guard.GoOn] takes over
// what was used up: line hauled in stage and lane, the stage's time, and
// warnings that only a check takes away. The stage and the lane go on as they
// are said again; any other stage ends them as it always does. It takes over no
// arming: until the director arms anew, only a trip that was taken over makes
// faults trip.
//
// # The life of an alarm, of the stop, and of the order
//
//	normal
//	  |-- its cause appears -------------------------------------------> unacknowledged
//	  |-- director takes the load cell off (faults of the load cell) --> suppressed by design
//	unacknowledged
//	  |-- director acknowledges ---------------------------------------> acknowledged
//	  |-- director acknowledges what only happens, such as a call -----> normal
//	  |-- its cause has been gone for its time to stay up -------------> returned, unacknowledged
//	  |-- the stage entered does not judge it -------------------------> returned, unacknowledged
//	acknowledged
//	  |-- its cause comes from its warning to its limit ---------------> unacknowledged
//	  |-- its cause has been gone for its time to stay up -------------> normal
//	  |-- the stage entered does not judge it -------------------------> normal
//	returned, unacknowledged
//	  |-- director acknowledges ---------------------------------------> normal
//	  |-- its cause appears again -------------------------------------> unacknowledged
//	suppressed by design
//	  |-- the load cell is in again and zeroed ------------------------> normal
//
//	no stop
//	  |-- a planned end, once armed -----------------------------------------> planned end
//	  |-- a trip, once armed ------------------------------------------------> trip
//	  |-- anybody calls stop, at any time -----------------------------------> trip
//	  |-- a trip is taken over from a log that broke off --------------------> trip
//	planned end
//	  |-- director: a next stage where that end does not hold ---------------> no stop
//	  |-- director: next stage ease or stopped ------------------------------> no stop
//	  |-- another planned end -----------------------------------------------> planned end
//	  |-- a trip, or anybody calls stop -------------------------------------> trip
//	trip
//	  |-- director acknowledges ---------------------------------------------> trip, acknowledged
//	  |-- another trip ------------------------------------------------------> trip
//	  |-- director: next stage ease or stopped ------------------------------> trip
//	trip, acknowledged
//	  |-- another trip, or the same after its alarm went down ---------------> trip
//	  |-- director: next stage ease or stopped ------------------------------> trip, acknowledged
//	  |-- director re-arms, causes gone by the limits of the stage entered --> no stop
//
//	no stop in force
//	  |-- a stop is set -------------------------------------------> STOP
//	  |-- a stop is set by tension rising with no haul ------------> EASE
//	  |-- a stop is taken over that asked for EASE ----------------> EASE
//	  |-- a stop is taken over that was abandoned -----------------> ABANDON
//	STOP
//	  |-- tension at its stop limit 3 s after the stop, or later --> EASE
//	  |-- a tension trip after a stop for something else ----------> EASE
//	  |-- tension rising with no haul -----------------------------> EASE
//	EASE
//	  |-- tension under 20 % of the stop limit for 2 s ------------> STOP
//	any
//	  |-- director: abandon ---------------------------------------> ABANDON
//	  |-- the stop is lifted --------------------------------------> no stop in force
//
// # Units
//
// Newtons, metres, nanoseconds; scope and shares are ratios without dimension.
package safety
