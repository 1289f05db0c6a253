package session

import (
	"fmt"
	"math"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// marks is what the marks on the rode say of the count.
type marks struct {
	// ref is where the last interval began: the rode out as said, or a mark.
	ref      fix
	hasRef   bool
	refMark  bool // ref is a mark
	passed   bool // a mark has passed: the line is measured from it
	passedAt int64
	scale    float64 // metres of rode for each metre counted; 1 until two marks say otherwise
	off      float64 // 1 - counted/marked over the last interval; NaN none yet
}

// Bounds of what marks may say: common practice, no source.
const (
	markApart  = 2.0  // m: nearer marks are read too roughly to judge the count by
	markOff    = 0.05 // share by which count and marks may differ
	scaleLeast = 0.5
	scaleMost  = 2.0
)

// begin measures anew from the rode out as said: it knows of no mark.
func (m *marks) begin(at fix) {
	*m = marks{ref: at, hasRef: true, scale: 1, off: math.NaN()}
}

// doubt is by how much rode out may be wrong now: the share by which count and
// marks last differed, of the line counted since the last mark; NaN without one.
func (c *Core) doubt() float64 {
	m := &c.haul.marks
	if !m.passed || !c.haul.hasPayout {
		return math.NaN()
	}
	return math.Abs(m.off * c.counted(m.passedAt, c.haul.counts))
}

// said takes the rode out a person says: the zero of line hauled.
func (c *Core) said(v trial.Length) {
	h := &c.haul
	h.payout, h.said, h.hasPayout = v, true, true
	h.from = fix{counts: h.counts}
	h.marks.begin(h.from)
	h.speed.reset()
	c.measure()
	c.guard.Said(c.t, c.lineNow(), &c.ev)
	c.guard.Fault(c.t, safety.LineContradicts, false, 0, 0, &c.ev)
}

// pass takes a mark on the rode that is at the fairlead now: so much is out,
// whatever was counted. Two marks tell what a metre counted is worth.
func (c *Core) pass(r *logfmt.Record, who safety.Who) (refused string) {
	const not = "rode mark not taken: "
	h := &c.haul
	v, err := trial.ParseLength(r.Str("value"))
	switch {
	case who == safety.Watcher || who == safety.Nobody:
		return not + "a read-only seat may only call stop"
	case err != nil:
		return not + err.Error()
	case !(v > 0):
		return not + acquire.Visible([]byte(r.Str("value"))) + " is not above zero"
	case v > c.head.Trial.RodeLength():
		return fmt.Sprintf("%s%s is more than the whole rode, which is %s long", not, c.length(v), c.length(c.head.Trial.RodeLength()))
	case !h.said:
		return not + "say the rode out first"
	case !h.hasCounts || !c.lineFresh(c.t):
		return not + "the last count is old, and the line may have moved since; see the line port"
	}
	was, known := h.rodeOut, h.hasPayout
	at := fix{counts: h.counts, x: h.payout - v}
	m := &h.marks
	judged := m.take(at, c.counted(m.ref.counts, h.counts))
	m.passedAt = h.counts
	h.from, h.hasPayout = at, true
	h.speed.reset()
	c.measure()
	c.guard.Marked(c.t, c.lineNow(), &c.ev)
	if judged {
		c.guard.Fault(c.t, safety.LineContradicts, math.Abs(m.off) > markOff, m.off, markOff, &c.ev)
	}
	c.mark("rode mark passing, rode out " + r.Str("value"))
	fields := []logfmt.Field{{Key: "what", Val: "mark"}, {Key: "mark_m", Val: logfmt.FormatFloat(float64(v))}}
	text := fmt.Sprintf("rode mark %s at the fairlead", c.length(v))
	if known {
		fields = append(fields, logfmt.Field{Key: "counted_m", Val: logfmt.FormatFloat(float64(was))})
		text += fmt.Sprintf(", by the count %s were out", c.length(was))
	} else {
		text += ", the rode out is known again"
	}
	if judged {
		fields = append(fields, logfmt.Field{Key: "off", Val: logfmt.FormatFloat(m.off)}, logfmt.Field{Key: "scale", Val: logfmt.FormatFloat(m.scale)})
		text += "; since the last one the count was " + offText(m.off)
	}
	c.tell(r.N, text, fields...)
	return ""
}

// take notes a mark, with what was counted since ref. It says whether the
// interval was long enough to judge the count by.
func (m *marks) take(at fix, counted float64) (judged bool) {
	m.passed = true
	switch marked := float64(at.x - m.ref.x); {
	case !m.hasRef:
		m.off = math.NaN()
	case math.Abs(marked) >= markApart:
		judged = true
		m.off = 1 - counted/marked
		if share := counted / marked; m.refMark && share > 0 {
			m.scale = min(max(1/share, scaleLeast), scaleMost)
		}
	case m.refMark:
		return false // the interval goes on
	}
	m.ref, m.hasRef, m.refMark = at, true, true
	return judged
}

func offText(off float64) string {
	if off < 0 {
		return fmt.Sprintf("%.1f %% over the marks", -100*off)
	}
	return fmt.Sprintf("%.1f %% short of the marks", 100*off)
}

// length and force are for people, in the trial's units.
func (c *Core) length(v trial.Length) string {
	u := c.head.Trial.Show.Length
	return fmt.Sprintf("%.2f %s", u.In(v), u.Name)
}

func (c *Core) force(v trial.Force) string {
	u := c.head.Trial.Show.Tension
	return fmt.Sprintf("%.4g %s", u.In(v), u.Name)
}
