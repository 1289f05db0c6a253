package deck

import (
	"math"

	"hawse/trial"
)

// vesselMove is the vessel going astern, or ahead where by is below zero, with
// no winch in it.
type vesselMove struct {
	by    trial.Length
	at    int64
	takes float64 // ns, one way
	back  bool    // a surge: it comes back in the same time; otherwise it stays
}

// surging says whether a move is under way at time t.
func surging(moves []vesselMove, t int64) bool {
	for _, m := range moves {
		if share := float64(t-m.at) / m.takes; share < 1 || m.back && share < 2 {
			return true
		}
	}
	return false
}

// astern is how far the vessel lies astern of its place at time t.
func astern(moves []vesselMove, t int64) (sum trial.Length) {
	for _, m := range moves {
		switch share := float64(t-m.at) / m.takes; {
		case !m.back:
			sum += m.by * trial.Length(min(share, 1))
		case share < 2:
			// Smooth at both ends, as a heavy vessel on thrusters moves.
			s := math.Sin(math.Pi / 2 * share)
			sum += m.by * trial.Length(s*s)
		}
	}
	return sum
}
