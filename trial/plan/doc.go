// Package plan draws up the runs of a trial before the first pull: lanes round
// each station and which of them are spent, payouts for the depth expected, the
// order in randomised blocks, what each pull is expected to reach, and the sheets
// the deck works from.
//
// It reads no file, clock or log: trial file and spent lanes come in, a [Plan]
// goes out. The same trial and seed give the same plan on every machine.
package plan
