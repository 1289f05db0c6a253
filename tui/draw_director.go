package tui

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// drawAtDirector is what the director sees below tension and order.
func (m model) drawAtDirector(c *canvas, l layout) {
	m.drawMargins(c, l.limits)
	m.drawSteps(c, l.steps)
	m.drawFigures(c, l.figures)
	m.drawTrace(c)
}

// timeTo is how long it takes to a limit as things go now: tension by its slope,
// line by the speed of hauling, a duration by what is left. A dash where nothing
// moves towards it.
func (m model) timeTo(g safety.Margin) string {
	s := m.snap
	const none, slow = "–", 0.002 // m/s: under 0.12 m/min nobody hauls
	by := func(metres float64) string {
		if v := float64(s.Haul.Speed); s.Haul.Known && metres >= 0 && v > slow {
			return clockText(seconds(metres / v))
		}
		return none
	}
	switch {
	case math.IsNaN(g.Left):
		return "?"
	case g.Left <= 0:
		return "now"
	case g.Cause == safety.MinimumScope:
		return by(toScope(s, g.Limit))
	case g.Cause == safety.LineHauled, g.Cause == safety.AtFairlead:
		return by(g.Left)
	case g.Cause == safety.StageDuration:
		return clockText(seconds(g.Left))
	case g.In >= 0 && g.In < 100:
		return secondsLeft(g.In)
	case g.In >= 100 && g.In < 3600:
		return clockText(seconds(g.In))
	}
	return none
}

// marginsOf is every limit of the stage in its usual place, those of silence
// last; where there are not rows for all, the farthest are left out.
func (m model) marginsOf(n int) (list []safety.Margin, hidden int) {
	all := slices.Clone(m.snap.Margins) // the nearest first
	slices.SortStableFunc(all, func(a, b safety.Margin) int {
		rank := func(g safety.Margin) int {
			if silence, matters := late(g); silence && !matters {
				return 1
			}
			return 0
		}
		return cmp.Compare(rank(a), rank(b))
	})
	n = min(max(n, 0), len(all))
	list, hidden = all[:n], len(all)-n
	slices.SortStableFunc(list, func(a, b safety.Margin) int {
		sa, _ := late(a)
		sb, _ := late(b)
		if sa != sb {
			if sa {
				return 1
			}
			return -1
		}
		return cmp.Compare(a.Cause, b.Cause)
	})
	return list, hidden
}

// The columns of the margins, and how wide each is at least.
const (
	marginName = 12
	marginCol  = 9
	marginUnit = 5
)

// drawMargins is the director's table of limits: what is measured, where it
// warns and stops, what is left, and in what time.
func (m model) drawMargins(c *canvas, r rect) {
	s := m.snap
	near, ok := nearest(s)
	if r.h <= 1 || r.w < 50 || s.Ended && m.player == nil || m.staleFor() > 0 || !ok {
		m.drawLimits(c, r)
		return
	}
	u := unitsOf(s)
	list, hidden := m.marginsOf(r.h - 1)
	each := 1
	if r.h >= 2*len(list)+1 {
		each = 2
	}
	// What fits of: left, in, now, stop, warn; and a bar in what remains.
	const cols = 5
	col := min((r.w-marginName-marginUnit)/cols, 14)
	full := min(col, marginCol+3)
	at := func(i int) rect { return rect{r.x + marginName + i*full, r.y, full, 1} }
	c.text(r, 0, marginTitle(hidden), dim)
	for i, t := range []string{"now", "left", "in", "warn", "stop"} {
		c.right(at(i), t, dim)
	}
	for i, g := range list {
		row := r.row(1 + i*each)
		if row.w == 0 {
			return
		}
		st, mark := plain, " "
		if g.Cause == near.Cause {
			st, mark = accent, "►"
		}
		if g.Now >= g.Warn && g.Warn < g.Limit || g.Left <= 0 {
			st = caution
		}
		name := limitName(g.Cause)
		if g.Cause == safety.LoadGarbled {
			name = "load good"
		}
		c.text(rect{row.x, row.y, marginName, 1}, 0, mark+name, st)
		value := func(v float64, none string) string {
			if math.IsNaN(v) {
				return none
			}
			t, _ := u.value(g.Cause, v)
			return t
		}
		_, unit := u.value(g.Cause, g.Limit)
		for k, t := range []struct {
			text string
			st   role
		}{{value(g.Now, "?"), plain}, {value(g.Left, "?"), strong}, {m.timeTo(g), strong}, {value(g.Warn, "–"), plain}, {value(g.Limit, "–"), plain}} {
			a := at(k)
			a.y = row.y
			c.right(a, t.text, t.st)
		}
		x := marginName + cols*full + 1
		c.text(rect{row.x + x, row.y, min(marginUnit, r.w-x), 1}, 0, unit, dim)
		bar := rect{row.x + x + marginUnit, row.y, r.w - x - marginUnit, 1}
		if each == 2 {
			bar = rect{row.x + 1, row.y + 1, x - 2, 1}
		}
		if bar.w >= 8 {
			drawShare(c, bar, g, g.Cause == near.Cause)
		}
	}
}

// stepCalls are what the director calls out to bring a stage about. Common
// practice, no source.
var stepCalls = [trial.NumStages]string{
	trial.StandBy: "stand by, all stations",
	trial.PayOut:  "pay out",
	trial.Preset:  "haul, slowly",
	trial.Soak:    "stop; nobody touches the winch",
	trial.Pull:    "haul, steady",
	trial.Hold:    "stop and hold",
	trial.Ease:    "ease under power, not by the brake",
	trial.Recover: "haul, to short stay",
	trial.Stopped: "stop",
	trial.Done:    "make fast",
}

// nextStep is what the director does next: the key, the stage it leads to, what
// to call, and what stands against it.
func (m model) nextStep() (key, call, missing string) {
	s := m.snap
	g := &s.Guard
	lift := howToLift(s)
	switch {
	case s.Ended:
		return "the capture has ended", "", ""
	case m.player != nil:
		return "a replay: nothing is ordered", "", ""
	case m.watch && m.seat == safety.Watcher:
		return "watching: the director's own screen gives the orders", "", ""
	case g.Stop.Kind == safety.Trip:
		return lift, "", ""
	case !g.EverArmed || !g.Armed:
		if toDo(s) > 0 {
			return "next: a, the list before arming", "", strings.TrimPrefix(nextText(s), "next: ")
		}
		return "next: a arms", "", lift
	}
	to := stageAhead(s)
	key = "next: n, then y: " + strings.ToUpper(to.String())
	call = "“" + stepCalls[to] + "”"
	if to == trial.PayOut && s.Run.Payout > 0 {
		call = "“pay out to " + unitsOf(s).metresUnit(s.Run.Payout) + "”"
	}
	if end, ok := firstEnd(s.Margins); ok && g.Stop.Kind == safety.NoStop {
		if t := m.countdown(end); t != "" {
			missing = "planned " + t
			if !strings.HasPrefix(t, "end ") {
				missing = t
			}
		}
	}
	if s.Haul.ScopeOK && s.Haul.PayOut > 0 { // the tide has come in under a soak
		missing = fmt.Sprintf("pay out %s: scope %s again", unitsOf(s).metresUnit(s.Haul.PayOut), scopeText(s.Haul.SoakScope))
	}
	if g.Stop.Kind == safety.PlannedEnd && g.Stop.Cause == safety.AtFairlead {
		missing = lift
	}
	return key, call, missing
}

func firstEnd(margins []safety.Margin) (safety.Margin, bool) {
	for _, g := range margins {
		if g.Cause.Planned() && g.Left > 0 {
			return g, true
		}
	}
	return safety.Margin{}, false
}

// stageAhead is the stage that n offers.
func stageAhead(s *session.Snapshot) trial.Stage {
	if s.Next == trial.StandBy {
		return s.Guard.Stage.Next()
	}
	return s.Next
}

// stages in the order a pull goes through them.
var course = []trial.Stage{trial.StandBy, trial.PayOut, trial.Preset, trial.Soak, trial.Pull, trial.Hold, trial.Ease, trial.Recover, trial.Done}

// drawSteps is what comes next, and where in the course of a pull this is.
func (m model) drawSteps(c *canvas, r rect) {
	if r.h == 0 {
		return
	}
	s := m.snap
	key, call, missing := m.nextStep()
	if r.h == 1 || r.w < 60 && r.h < 6 {
		lines := []string{key}
		if call != "" {
			lines[0] += ", call " + call
		}
		if missing != "" {
			lines = append(lines, missing)
		}
		for i, t := range lines {
			c.text(r.row(i), 0, t, accent)
		}
		return
	}
	if r.h >= 8 { // a stage a row
		c.rule(r, dim)
		c.text(r, 2, " steps ", dim)
		r = r.from(1)
		first := 0
		keep := 1 + len(wrap(key, r.w))
		if missing != "" {
			keep++
		}
		if rows := r.h - keep; rows < len(course) {
			first = min(max(slices.Index(course, s.Guard.Stage)-1, 0), len(course)-max(rows, 1))
		}
		for _, st := range course[first:] {
			if r.h <= keep {
				break
			}
			mark, look := "  ", dim
			text := st.String()
			switch st {
			case s.Guard.Stage:
				mark, look, text = "► ", accent, strings.ToUpper(text)+"  "+clockText(time.Duration(s.T-s.Guard.StageSince))
			case stageAhead(s):
				mark, look = "· ", plain
			}
			c.text(r.row(0), 0, mark+text, look)
			r = r.from(1)
		}
	} else {
		list, x := course, 0
		if r.w < 76 { // from the one before, and as far as there is room
			list = course[min(max(slices.Index(course, s.Guard.Stage)-1, 0), len(course)-4):]
		}
		for i, st := range list {
			text, look := st.String(), dim
			if st == s.Guard.Stage {
				text, look = "►"+strings.ToUpper(text), accent
			}
			if i > 0 && x+3+width(text) > r.w {
				break
			}
			if i > 0 {
				x = c.text(r.row(0), x, " · ", dim)
			}
			x = c.text(r.row(0), x, text, look)
		}
		r = r.from(1)
	}
	lines := wrap(key, r.w)
	if len(lines) > r.h {
		lines = []string{key}
	}
	x := 0
	for i, t := range lines {
		if i > 0 {
			r = r.from(1)
		}
		x = c.text(r.row(0), 0, t, strong)
	}
	if call != "" {
		call = "call " + call
		if r.h > 2 || x+2+width(call) > r.w {
			r = r.from(1)
			x = -2
		}
		x = c.text(r.row(0), x+2, call, accent)
	}
	if missing == "" {
		return
	}
	if r.h > 1 {
		r, x = r.from(1), -2
	}
	c.text(r.row(0), x+2, missing, plain)
}
