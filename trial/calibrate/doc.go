// Package calibrate turns the readings of a calibration into what a trial file
// says of an instrument: the polynomial of a load cell, the counts a metre of a
// line counter.
//
// It opens no file and draws on no screen; text comes in, numbers and text go
// out. x is what the box showed and y what was applied, both in one unit that
// the caller knows; results are in that unit.
//
// # Arithmetic
//
// Readings are taken as the decimals they were written as, and the least squares
// are solved by Householder QR with 512 bits, so that what is rounded is the
// result alone. Held against NIST's reference sets Pontius and NoInt1, and
// against polynomials made to cancel.
//
// # Where the limits come from
//
// ASTM E74: lower limit factor 2.4 times the residual standard deviation; range
// of use from 400 of it (class A, 0.25 %) or 2000 (class AA, 0.05 %), never under
// the least load applied; at least 30 readings at 10 loads. The two multipliers
// were read in a question-and-answer page, the rest is from memory.
package calibrate
