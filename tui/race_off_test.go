//go:build !race

package tui

const raceOn = false
