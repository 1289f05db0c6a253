// Package trial is the domain of an anchor pull: quantities with their units,
// the trial file a crew writes before the day, the stages of a pull and the
// limits of each, the scope, and what the trace of tension says.
//
// It reads no clock, opens no file and no port, and starts no goroutine. Time
// arrives inside the values given to it and the trial file arrives as bytes,
// so a logged pull is judged exactly as the live one was.
//
// # Units
//
// SI in memory: [Force] in newtons, [Length] in metres, [Speed] in metres a
// second, [Mass] in kilograms, [Angle] in radians, [LineWeight] in newtons a
// metre, [Rate] in hertz; durations are [time.Duration]. Other units exist
// only where a person reads or types: in the trial file a quantity is a text
// with its unit, such as "2000 lbf", and a bare number is refused.
//
// lb and kg are mass. A load cell's unit and a working load limit are the two
// places where they are read as lbf and kgf, and [Trial].Notes then says so.
//
// # Trial file
//
// [ParseTrial] reads it strictly and names every fault at once with file,
// line, key, what is wanted and what to do ([FileErrors]). [Template] is a
// complete, commented example of an invented campaign.
//
// # What it is not
//
// Hawse is an aid to watching a pull. The limits here come from the crew's
// certificates; nothing in this package makes a pull safe.
package trial
