package bench

import (
	"context"
	"fmt"
	"os"
	"time"
)

// inFolder runs a measurement in a temporary folder and removes it, unless
// it is to be kept.
func inFolder(o options, measure func(dir string) (*report, error)) (*report, error) {
	dir, err := os.MkdirTemp(o.dir, "hawse-bench-")
	if err != nil {
		return nil, fmt.Errorf("cannot make a temporary folder: %w; choose another place with --dir", err)
	}
	r, err := measure(dir)
	if o.keep {
		o.progress("kept: %s", dir)
		return r, err
	}
	if gone := os.RemoveAll(dir); gone != nil && err == nil {
		o.progress("cannot remove %s: %v", dir, gone)
	}
	return r, err
}

// pauseFor is false if ctx ends first.
func pauseFor(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-ctx.Done():
		return false
	}
}
