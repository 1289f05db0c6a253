package session

import (
	"math"
	"time"

	"hawse/logfmt"
	"hawse/trial"
)

// Whole joins the parts of one pull. Each part is a log with a clock, a head and
// a fold of its own; Whole gives time, line hauled and stage as they are in the
// pull, so that one Judge, or one fold of figures, sees one pull:
//
//   - Time goes on from the first part's, by what the heads say of when each
//     part was started, and never back.
//   - Line hauled is counted from the rode out that the first part counts from,
//     also where it was said anew instead of carried over. Said once more it
//     begins anew, as in a single log.
//   - The stage that was said last stays until a person says one, or leaves the
//     proposal of it behind: nobody has said "stand by".
//
// A pull of one part stays as its log has it. The zero Whole is ready.
type Whole struct {
	core    *Core // of the present part
	parts   int
	started time.Time // of the present part; zero unknown
	scale   float64
	shift   int64 // ns to add to the present part's times
	top     int64 // ns, its greatest time so far
	said    bool  // the rode out is known in it
	offset  trial.Length
	past    marked       // of the parts before
	missing bool         // the first part goes on from a log that is not here, or another is not as it was
	entered trial.Stage  // as the pull's Judge was told, see inputs
	ref     trial.Length // rode out where the pull's line hauled is 0, by the parts before; NaN unknown
}

// Join is where a part of a pull goes on, in the pull's time.
type Join struct {
	From, To int64  // ns: the last record before, the start of the part
	Note     string // what is not believed of the time between; "" nothing
}

// What is believed of the time between two parts: common practice, no source.
// Where it is not, it counts as the least, in which no program is started anew.
const (
	leastBreak = time.Second
	mostBreak  = 30 * 24 * time.Hour
	mostScale  = 1e4 // times as fast as the clock
)

// Next goes on to the next part, whose head is whole.
func (w *Whole) Next(c *Core) Join {
	h := c.Head()
	scale := h.Scale
	if !(scale >= 1 && scale <= mostScale) {
		scale = 1
	}
	w.parts++
	if w.parts == 1 {
		*w = Whole{core: c, parts: 1, started: h.Started, scale: scale, ref: trial.Length(math.NaN()), missing: w.missing || h.After != nil}
		return Join{}
	}
	j := Join{From: w.Last()}
	// In the pull's time, which a simulated run may have made faster than the clock.
	away := float64(h.Started.Sub(w.started))*scale - float64(w.top)*(scale/w.scale)
	switch {
	case w.started.IsZero() || h.Started.IsZero():
		j.Note = "when it was started is not known"
	case !(away >= 1):
		j.Note = "by the computer's clock it was started before the log before it ended: the clock was stepped"
	case away > float64(mostBreak)*scale:
		j.Note = "by the computer's clock it was started more than a month after the log before it"
	}
	if j.Note != "" {
		j.Note += "; how long nothing was recorded is not known"
		away = float64(leastBreak)
	}
	j.To = j.From + int64(away)
	if w.said {
		w.ref = w.core.haul.payout + w.offset
	}
	*w = Whole{core: c, parts: w.parts, started: h.Started, scale: scale, shift: j.To, ref: w.ref, past: w.marks(), missing: w.missing, entered: w.entered}
	return j
}

// Took follows a record of the present part that was folded.
func (w *Whole) Took(r *logfmt.Record, refused bool) {
	w.top = max(w.top, r.T)
	switch h := &w.core.haul; {
	case !h.said:
	case !w.said:
		w.said = true
		if !math.IsNaN(float64(w.ref)) {
			w.offset = w.ref - h.payout
		}
	case r.Kind == logfmt.Act && r.Str("act") == ActPayout && !refused:
		w.offset = 0
	}
}

// At is a time of the present part in the pull, ns.
func (w *Whole) At(t int64) int64 { return t + w.shift }

// Last is the time of the newest record in the pull, ns.
func (w *Whole) Last() int64 { return w.At(w.top) }

// Sample is a sample of the present part as it is in the pull.
func (w *Whole) Sample(in JudgeInput) JudgeInput {
	in.T = w.At(in.T)
	if in.LateFrom >= 0 {
		in.LateFrom = w.At(in.LateFrom)
	}
	in.X += w.offset
	if stage, open := w.openStage(); open {
		in.Stage = stage
	}
	return in
}

// Stage is the stage in force in the pull.
func (w *Whole) Stage() trial.Stage {
	if stage, open := w.openStage(); open {
		return stage
	}
	return w.core.guard.State().Stage
}

// openStage is the stage of the part before while nobody has said one since.
func (w *Whole) openStage() (trial.Stage, bool) {
	k := &w.core.carry
	for i, state := range k.state {
		if item := &k.from.Carries[i]; state == CarryOpen && item.Item == CarryStage {
			stage, err := trial.ParseStage(item.rec().Str("stage"))
			return stage, err == nil && w.parts > 1
		}
	}
	return 0, false
}

// onto makes a snapshot of the present part one of the pull.
func (w *Whole) onto(s *Snapshot) {
	s.later(w.shift)
	s.SinceResume = w.missing
	marks := w.marks()
	s.Marks, s.MarksLeft = marks.kept, marks.left
	s.Haul.X += w.offset
	s.Guard.StageX += w.offset
	s.Guard.LaneX += w.offset
	s.Guard.Line.X += w.offset
}

// marks are all of the pull so far, by its time and line.
func (w *Whole) marks() marked {
	return w.past.then(w.core.marked.later(w.shift, w.offset))
}
