// Package export makes tables of raw logs, for programs that analyse them, and
// prints their records for pipes.
//
// Three tables can be made. [Samples] is what the fold makes of each frame of the
// load cell, joined with the line and with the guard's words: the same fold that
// ran live, so its numbers are those of the screen to the bit. [Cells] is the same of every
// load cell beside the one that guards. [Frames] is every
// record that holds bytes of a port, as they came; it needs no fold, and so no
// whole head.
//
// Each is written as CSV (RFC 4180, with CR LF) or as Parquet. The columns, with
// their units, are those of [Columns]; a column's name ends in its unit. What is
// missing is an empty field, in Parquet a null: never 0 and never NaN. CSV holds
// the shortest decimal text that gives the same 64-bit float back.
//
// # Damage
//
// A damaged log is exported up to the damage and after it. The column
// lost_records says how many records are not there right before a row, and the
// [Result] lists each damage and says whether the log's seal holds, which Parquet
// has as hawse.seal. A log that was cut short is exported to its cut.
//
// # Text from outside
//
// Bytes of a port stand in the tables as they stand in the log between its
// quotes: \r \n \t \" \\ and \xHH. A text that a spreadsheet might take for a
// formula has its first character written as \xHH too.
//
// # Units
//
// Newtons, metres, seconds, metres a second. Times are since the log's start.
package export
