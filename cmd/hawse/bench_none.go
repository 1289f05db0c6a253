//go:build !unix

package main

import (
	"context"
	"errors"
	"os"
)

var errNoTerminals = errors.New("it needs pseudo-terminals, which this system does not have; run it on Linux, macOS or a BSD ('hawse bench long' runs here)")

func benchFlood(context.Context, benchOptions) (*benchReport, error)    { return nil, errNoTerminals }
func benchVersus(context.Context, benchOptions) (*benchReport, error)   { return nil, errNoTerminals }
func benchStop(context.Context, benchOptions) (*benchReport, error)     { return nil, errNoTerminals }
func benchIdle(context.Context, benchOptions) (*benchReport, error)     { return nil, errNoTerminals }
func benchKill(context.Context, benchOptions) (*benchReport, error)     { return nil, errNoTerminals }
func benchDecoders(context.Context, benchOptions) (*benchReport, error) { return nil, errNoTerminals }

func peakOf(*os.ProcessState) int64 { return 0 }
