//go:build !unix

package bench

import (
	"context"
	"errors"
	"os"
)

var errNoTerminals = errors.New("it needs pseudo-terminals, which this system does not have; run it on Linux, macOS or a BSD ('hawse bench long' runs here)")

func measureFlood(context.Context, options) (*report, error)    { return nil, errNoTerminals }
func measureVersus(context.Context, options) (*report, error)   { return nil, errNoTerminals }
func measureStop(context.Context, options) (*report, error)     { return nil, errNoTerminals }
func measureIdle(context.Context, options) (*report, error)     { return nil, errNoTerminals }
func measureKill(context.Context, options) (*report, error)     { return nil, errNoTerminals }
func measureDecoders(context.Context, options) (*report, error) { return nil, errNoTerminals }

func peakOf(*os.ProcessState) int64 { return 0 }
