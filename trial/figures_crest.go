package trial

import "math"

// crest is a greatest tension as it grows, and whether it has been left while
// line was hauled. [Peak] knows that too, but takes every sample; a stopped
// winch lets the tension relax, and that leaves no peak.
type crest struct {
	g     Greatest
	over  bool  // the cell was over range
	least Force // N, since the peak, while line was hauled
	wait  Force // N, least since the line last moved: it counts once it has moved on
}

// add takes a sample: did says what the winch does.
func (k *crest) add(r *Reading, did winchDid, still bool) {
	k.over = k.over || r.Over
	v := r.Tension
	switch known := finite(float64(v)); {
	case known && (!k.g.Known || v > k.g.Value):
		k.g = Greatest{Known: true, Window: Instant, Value: v, T: r.T, X: r.X, Scope: r.Scope, Stage: r.Stage, Still: still}
		if r.LateFrom > 0 {
			k.g.From = r.LateFrom
		}
		k.least, k.wait = v, Force(math.Inf(1))
	case !k.g.Known:
	case did == winchHauled:
		if known && !r.Over {
			k.wait = min(k.wait, v)
		}
		k.least, k.wait = min(k.least, k.wait), Force(math.Inf(1))
	case did == winchMayHaul:
		if known && !r.Over {
			k.wait = min(k.wait, v)
		}
	default:
		k.wait = Force(math.Inf(1))
	}
}

func (k *crest) above(other *crest) bool {
	return k.g.Known && (!other.g.Known || k.g.Value > other.g.Value)
}

// greatest is that of a pull, which ends with the hauling.
func (k *crest) greatest(noLine bool) Greatest {
	g := k.outside()
	left := g.Value > 0 && float64(k.least) <= (1-leftShare)*float64(g.Value)
	switch {
	case !g.Known || g.Bound != "" || left:
	case noLine:
		g.Bound = BoundNoLine
	default:
		g.Bound = BoundNotLeft
	}
	return g
}

// outside is the same where nothing is hauled to an end.
func (k *crest) outside() Greatest {
	g := k.g
	if !g.Known {
		g = Greatest{Window: Instant, X: Length(math.NaN()), Scope: math.NaN()}
	}
	if k.over {
		g.Bound = BoundOver
	}
	return g
}

// What counts as hauling: common practice, no source.
const (
	winchCreep = 0.02       // m; with winchStill 0.24 m/min, half the slowest preset
	winchStill = int64(5e9) // ns; less than winchCreep in this time: the winch stands
)

// winch tells from line hauled alone whether it hauls.
type winch struct {
	known bool
	x     float64 // m, from which the next 2 cm are counted
	since int64   // ns, at x
	ever  bool    // it has hauled
	moved int64   // ns, when it was last seen to
}

// winchDid is what one sample shows of the winch.
type winchDid uint8

const (
	winchStands  winchDid = iota
	winchMayHaul          // the line has begun to move: the next samples tell
	winchHauled           // it has hauled since it began to move
)

func (w *winch) follow(t int64, x float64) winchDid {
	switch {
	case !(math.Abs(x) <= haulFarthest):
		w.known = false
	case !w.known || x < w.x:
		w.known, w.x, w.since = true, x, t
	case x >= w.x+winchCreep:
		hauled := t-w.since <= winchStill
		w.x, w.since = x, t
		if hauled {
			w.ever, w.moved = true, t
			return winchHauled
		}
	case t-w.since > winchStill:
		w.x, w.since = x, t
	case x >= w.x+winchCreep/4: // past the flicker of a count
		return winchMayHaul
	}
	return winchStands
}

// still says that line is known not to have been hauled for 5 s.
func (w *winch) still(t int64) bool { return w.known && w.ever && t-w.moved > winchStill }
