//go:build !race

package dryrun

const fewer = 1
