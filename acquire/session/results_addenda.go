package session

import (
	"math"
	"path/filepath"

	"hawse/trial"
)

// Comment is an addendum to a part of a pull, and whether it is applied.
type Comment struct {
	Addendum
	Part    int
	Applied bool
	Why     string // why it is not; "" it is
}

// comment takes the addenda to a part, in the order in which they were written.
// A remark and a doubt are applied by being told; of the corrections that are
// whole and of this very log the newest holds.
func (r *Result) comment(part int, addenda []Addendum) {
	newest := -1
	for _, a := range addenda {
		c := Comment{Addendum: a, Part: part, Applied: a.Whole && a.Matches}
		switch {
		case !a.Whole:
			c.Why = "it is not whole; 'hawse verify' tells more"
		case !a.Matches:
			c.Why = "the log is not as it was when this was said of it: another SHA-256"
		case a.Kind == AddendumCorrect:
			if newest >= 0 {
				r.Addenda[newest].Applied = false
				r.Addenda[newest].Why = "a newer correction holds: " + filepath.Base(a.Path)
			}
			newest = len(r.Addenda)
		case a.Kind == AddendumDoubt:
			r.doubt(Doubt{DoubtSaid, a.Name + " (" + a.Who + "): " + a.Text})
		}
		r.Addenda = append(r.Addenda, c)
	}
	if newest >= 0 {
		r.Corrected = new(trial.Figures)
		r.Parts[part].correction = newest + 1
	}
}

// correct is the tension of a sample of a part with the correction that holds for
// it.
func (r *Result) correct(part int, in JudgeInput) trial.Force {
	i := r.Parts[part].correction
	if i == 0 {
		return in.Tension
	}
	c := &r.Addenda[i-1]
	if in.Over && c.Factor < 0 {
		return trial.Force(math.NaN()) // the least it can have been is the most now
	}
	return trial.Force(c.Factor)*in.Tension + c.Offset*trial.Force(in.gain())
}

// Correction is the correction that holds for a part; nil none.
func (r *Result) Correction(part int) *Comment {
	if i := r.Parts[part].correction; i > 0 {
		return &r.Addenda[i-1]
	}
	return nil
}
