//go:build race

package trial

// keyStep: the race detector makes reading a file ten times as slow and has
// nothing to find in it, so fewer keys are broken under it.
const keyStep = 7
