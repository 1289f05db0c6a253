// Package compare holds the pulls of a trial against each other, and says no
// more than they can carry. It is pure: numbers in, findings out.
//
// The rules it keeps:
//
//   - Only equal treatments are pooled: pattern, mass, fluke setting, bottom and
//     protocol. A difference is named, never averaged: [Pool].
//   - A failed set is a result with the lowest rank and stays in the denominator:
//     [NotSet], [ClopperPearson].
//   - A lower bound stays one. Medians and ranks respect it ([Median],
//     [Order]); mean, coefficient of variation and power law are refused
//     ([Mean], [PowerLaw]).
//   - What cannot be surely ordered is undecided, which is a result.
//   - Compared is within blocks, by tests that need no distribution and that
//     count the arrangements the draw could have given: [Paired], [Friedman].
//     Each says the smallest p its n can give.
//   - Under [LeastN] nothing is claimed. Several comparisons are corrected, and
//     how is said: [Holm].
//
// Forces are newtons, masses kilograms, angles radians; a ratio has no unit.
// Probabilities are two-sided unless a name says otherwise.
package compare

// LeastN is how many pulls, or blocks, a claim takes at the least: under it a
// spread is a hint (of three pulls the true standard deviation may be six times
// the found one, see [SDInterval]). Common practice, no source.
const LeastN = 5

// Level is the confidence of intervals, and 1 - Level the error that a family
// of tests is held to.
const Level = 0.95
