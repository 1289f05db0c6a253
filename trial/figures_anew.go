package trial

import "math"

// AnewTold is a rode out that a person said anew once the pull had begun: line
// hauled is counted from there on.
type AnewTold struct {
	T     int64  // ns, of the first sample that stands on it
	Stage Stage  // then
	Was   Length // rode out as it was counted before, m; 0 unknown
	Now   Length // as it was said, less what was hauled since, m
}

// mostAnew bounds how many are listed.
const mostAnew = 16

// anewFold sees by rode out and line hauled that the rode out was said anew: both
// together are what was said. A mark on the rode that passes moves both alike.
type anewFold struct {
	said  float64 // m; 0 not yet
	count int     // how often it was said, the first not counted
}

// add says whether a reading stands on another saying than the one before.
func (k *anewFold) add(r *Reading) bool {
	x := float64(r.X)
	if !(r.RodeOut != 0) || !(math.Abs(x) <= haulFarthest) {
		return false
	}
	said, was := float64(r.RodeOut)+x, k.said
	if k.said = said; was == 0 || math.Abs(said-was) <= 1e-3 {
		return false
	}
	k.count++
	return true
}

// saidAnew takes what was said anew in the pull, and after it.
func (f *pullFold) saidAnew(r *Reading) {
	if !f.began || len(f.told) == mostAnew {
		return
	}
	f.told = append(f.told, AnewTold{T: r.T, Stage: r.Stage, Was: f.last.RodeOut, Now: r.RodeOut})
}

const (
	noteAnew   = "the rode out was said anew in the pull: line hauled since then alone"
	noteBefore = "counted from the rode out as it was said before it was said anew"
)

func withNote(note, more string) string {
	if note == "" {
		return more
	}
	return more + "; " + note
}
