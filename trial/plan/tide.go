package plan

import (
	"math"
	"time"

	"hawse/trial"
)

// TideAt is the height of tide between two waters by the cosine rule:
// h1 + (h2 - h1) (1 - cos(pi (t - t1)/(t2 - t1)))/2. An approximation: where
// the tide stands or runs in two heads it is out by decimetres and more. ok is
// false outside the waters that were entered. Source: common practice, no source.
func TideAt(waters []trial.Tide, at time.Time) (h trial.Length, ok bool) {
	for i := 1; i < len(waters); i++ {
		a, b := waters[i-1], waters[i]
		if at.Before(a.Time) || at.After(b.Time) {
			continue
		}
		share := float64(at.Sub(a.Time)) / float64(b.Time.Sub(a.Time))
		return a.Height + trial.Length(float64(b.Height-a.Height)*(1-math.Cos(math.Pi*share))/2), true
	}
	return 0, false
}
