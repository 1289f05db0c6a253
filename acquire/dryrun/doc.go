// Package dryrun plays whole pulls with no ports, no disk, no clock and no
// goroutine: the simulated deck's bytes go straight into the fold that a live
// capture runs, and what the fold says to the stop relay goes straight back. A
// pull of minutes takes milliseconds, and the same seed gives the same bytes
// and the same words.
//
// [Play] plays a scenario with its own crew and tells what was said and when.
// [Survey] plays made-up pulls by the thousand, with a director who presses
// what may be pressed, and lets a referee decide who shares no code with the
// guard which stops were due. [ScoreMany] plays pulls that a model works out, and holds
// what the phase detector said against what the model knows. All data is invented.
package dryrun
