//go:build !race

package trial

const keyStep = 1
