//go:build race

package tui

// raceOn: the race detector makes drawing ten times as slow, so the tests that
// draw thousands of screens draw fewer.
const raceOn = true
