//go:build !unix

package main

// ignorePipeAndStops has nothing to do where such signals do not exist.
func ignorePipeAndStops() {}
