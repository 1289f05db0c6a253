package session

import (
	"path/filepath"

	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// saidCameUp takes what the anchor came up with. It can be said again, whole or in
// part, and taken back: the later answer holds, and all stay in the record.
func (c *Core) saidCameUp(r *logfmt.Record, who safety.Who) (refused string) {
	const not = "what came up not taken: "
	switch who {
	case safety.Director, safety.Logger, safety.WinchOperator:
	default:
		return not + "a read-only seat may only call stop"
	}
	said, err := cameUpIn(r)
	if err != nil {
		return not + err.Error()
	}
	now := c.cameUpWith(said)
	switch err := now.Check(); {
	case now == (trial.CameUp{}) && (c.cameUp != nil || c.head.After != nil):
		c.cameUp = nil // all of it was taken back, or was said in the log before
	case now == (trial.CameUp{}):
		return not + "nothing was said before that could be taken back"
	case err != nil:
		return not + "with what was said before, " + err.Error()
	default:
		c.cameUp = &now
	}
	text := "anchor up: " + said.Text(c.head.Trial.Show)
	c.mark(text)
	c.tell(r.N, text, logfmt.Field{Key: "what", Val: "came-up"})
	return ""
}

// cameUpWith is all that is known with what is said now.
func (c *Core) cameUpWith(said trial.CameUp) trial.CameUp {
	if c.cameUp == nil {
		return trial.CameUp{}.With(said)
	}
	return c.cameUp.With(said)
}

// cameUpIn reads the form in a record. One that could not be read stands there as
// it was typed, under value.
func cameUpIn(r *logfmt.Record) (trial.CameUp, error) {
	if typed := r.Str("value"); typed != "" {
		return trial.ParseCameUp(typed)
	}
	return trial.CameUpFrom(r.Str)
}

// CameUpTold is what was said of an anchor that came up.
type CameUpTold struct {
	trial.CameUp
	T        int64 // ns of the pull; -1 in an addendum
	Part     int
	Who      string // the seat
	Name     string // the person
	Addendum string // base name of the addendum that says it; "" the log itself
}

// takeCameUp keeps what an act that was granted says of the anchor.
func (r *Result) takeCameUp(part int, t int64, rec *logfmt.Record) {
	told := CameUpTold{T: t, Part: part, Who: clip(rec.Str("who")), Name: clip(rec.Str("name"))}
	ok := false
	switch rec.Str("act") {
	case ActCameUp:
		said, err := cameUpIn(rec)
		told.CameUp, ok = said, err == nil
	case ActMark:
		told.CameUp, ok = trial.ParseCameUpMark(rec.Str("value"))
	}
	switch {
	case !ok:
	case len(r.CameUp) == mostTold:
		r.More++
	default:
		r.CameUp = append(r.CameUp, told)
	}
}

// cameUpLater adds what addenda that hold say of the anchor: it was said after
// the log was ended, so it comes last.
func (r *Result) cameUpLater() {
	for i := range r.Addenda {
		if a := &r.Addenda[i]; a.Kind == AddendumCameUp && a.Applied {
			r.CameUp = append(r.CameUp, CameUpTold{CameUp: a.CameUp, T: -1, Part: a.Part, Who: a.Who, Name: a.Name, Addendum: filepath.Base(a.Path)})
		}
	}
}

// LastCameUp is what holds: all that was said, later answers in the place of
// earlier ones, by who said the last; nil where nobody said anything, or all of it
// was taken back.
func (r *Result) LastCameUp() *CameUpTold {
	if len(r.CameUp) == 0 {
		return nil
	}
	now := r.CameUp[len(r.CameUp)-1]
	now.CameUp = trial.CameUp{}
	for i := range r.CameUp {
		now.CameUp = now.With(r.CameUp[i].CameUp)
	}
	if now.CameUp == (trial.CameUp{}) {
		return nil
	}
	return &now
}
