//go:build race

package dryrun

// fewer: the race detector takes its time, and these pulls have one goroutine each.
const fewer = 5
