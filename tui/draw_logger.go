package tui

import (
	"cmp"
	"fmt"
	"math"
	"path"
	"strings"
	"time"

	"hawse/acquire/session"
	"hawse/trial"
)

// drawOrderRow is order and tension in as few rows as they can have: the logger
// watches the record, and must not miss a stop.
func (m model) drawOrderRow(c *canvas, r rect) {
	s := m.snap
	u := unitsOf(s)
	st := strong
	var text string
	word := orderWord(s)
	switch {
	case m.staleFor() > 0:
		text, st = "SCREEN DATA STALLED "+ageText(m.staleFor())+": order unknown", loud
	case s.Ended:
		text = "the capture has ended: " + s.EndReason
	case word != "":
		why, _ := m.orderLine(r.w - width(word) - 22)
		text, st = word+": "+why, loud
	case !m.stopAsked.IsZero() && m.at.Sub(m.stopAsked) > stopTakes:
		text, st = "STOP CALLED, NOT IN FORCE YET: use the winch's own stop", loud
	case !m.stopAsked.IsZero():
		text, st = "STOP called", loud
	default:
		permit, look := m.permitText()
		text, st = "no stop in force; "+permit, look
		if in, soon := m.soonest(); soon {
			text, st = "stop in "+secondsLeft(in)+atThisSlope, caution
		}
	}
	mid := r.row(r.h / 2)
	if st == loud || st == caution {
		c.clear(r, st)
	}
	now, look := "tension "+u.tensionUnit(m.big.shown), st
	switch {
	case mid.w < 70: // the stop needs the room
		if atMost(s) != "" {
			now = "at most " + u.tensionUnit(m.big.shown)
		}
	case s.Tension.Pin != nil:
		now = "by the pin at most " + u.tensionUnit(m.big.shown)
	case atMost(s) != "":
		now = "largest cell " + u.tensionUnit(m.big.shown)
	}
	if m.blank() {
		now, look = "tension UNKNOWN", loud
		if m.cellOut() {
			now = "tension not measured"
		}
	}
	at := max(mid.w-width(now)-2, 0)
	c.text(rect{mid.x, mid.y, max(at-1, 0), 1}, 1, text, st)
	c.text(mid, at, " "+now+" ", look)
}

// drawAtLog is what the logger sees.
func (m model) drawAtLog(c *canvas, l layout) {
	m.drawClock(c, l.clock)
	m.drawPorts(c, l.ports)
	m.drawRecord(c, l.record)
	m.drawStrip(c, l.strip)
	m.drawMarks(c, l.marks)
}

// drawClock is the time three ways: by the wall, by the log, by its records.
func (m model) drawClock(c *canvas, r rect) {
	s := m.snap
	wall := "wall time unknown"
	if !s.Wall.IsZero() {
		wall = s.Wall.Format("2006-01-02 15:04:05 MST")
	}
	x := c.text(r, 0, padRight("clock", logName), dim)
	x = c.text(r, x, wall, strong)
	x = c.text(r, x, "   log ", dim)
	x = c.text(r, x, logClock(s.T), strong)
	if n := fmt.Sprint(s.N); x+len("   record ")+len(n) <= r.w {
		x = c.text(r, x, "   record ", dim)
		c.text(r, x, n, strong)
	}
}

// logClock is a time of the log to a tenth of a second.
func logClock(t int64) string {
	return fmt.Sprintf("%s.%d", clockText(time.Duration(t)), max(t, 0)/1e8%10)
}

// logName is the column of names in the logger's view.
const logName = 8

// drawPorts is every stream with its rate, age and bad share.
func (m model) drawPorts(c *canvas, r rect) {
	s := m.snap
	list := logStreams(s)
	if r.h < 2 || r.w < 60 {
		r2 := r
		for i, st := range list {
			t, look := streamText(s, st)
			row := r2.row(i)
			c.text(row, 0, padRight(st.Src, 6), dim)
			c.text(row, max(6, width(st.Src)+1), t, look)
		}
		return
	}
	cols := []struct {
		title string
		at, w int
	}{{"", 0, logName}, {"port", logName, 14}, {"age", 22, 9}, {"rate/s", 31, 8}, {"set to", 39, 8}, {"bad", 47, 7}, {"frames", 54, 9}}
	put := func(row rect, i int, text string, st role) {
		a := rect{row.x + cols[i].at, row.y, min(cols[i].w, max(row.w-cols[i].at, 0)), row.h}
		if i <= 1 {
			c.text(rect{a.x, a.y, a.w - 1, a.h}, 0, text, st)
			return
		}
		c.right(a, text, st)
	}
	for i := range cols {
		put(r.row(0), i, cols[i].title, dim)
	}
	c.text(r.row(0), 65, "last frame", dim)
	for i, st := range list {
		row := r.row(1 + i)
		if row.w == 0 {
			return
		}
		put(row, 0, map[bool]string{false: st.Src, true: "place"}[st.Src == "position"], strong) // the column has no room for it
		put(row, 1, path.Base(strings.ReplaceAll(st.Port, `\`, "/")), plain)
		whole, look := streamText(s, st)
		if look == caution { // what is wrong takes the row
			x := c.text(row, cols[2].at, " "+whole+" ", caution)
			told, _ := m.instrumentText(st.Src)
			c.text(row, max(x+1, 65), cmp.Or(told, st.LastText), dim)
			continue
		}
		set := 0.0
		if s.Config != nil {
			set = map[string]float64{"load": s.Config.LoadHz, "line": s.Config.LineHz}[st.Src]
			if i, ok := s.Trial.Other(st.Src); ok {
				set = float64(s.Trial.Others[i].Rate)
			}
		}
		switch st.Src {
		case "stop", "horn":
			c.text(row, cols[2].at+3, whole, plain)
		default:
			dec := 1
			if st.Rate >= 10 {
				dec = 0
			}
			put(row, 2, ageText(time.Duration(s.T-st.LastAt)), strong)
			put(row, 3, fixed(st.Rate, dec), strong)
			setText, setLook := "–", dim
			if set > 0 {
				setText = axisNumber(set, 1)
				if st.Rate < set/2 { // half of what the box is set to send does not come; common practice, no source
					setLook = caution
				}
			}
			put(row, 4, setText, setLook)
			told, look := m.instrumentText(st.Src)
			if told != "" && r.w < 100 { // what it says goes before how its frames fare
				if st.Src == "load" && s.Tension.Pin != nil {
					told, look = pinBrief(s, unitsOf(s))
				}
				c.text(row, 49, told, look)
				continue
			}
			put(row, 5, strings.TrimPrefix(badText(st), "bad "), badLook(st))
			put(row, 6, fmt.Sprint(st.Good+st.Bad), plain)
		}
		if told, look := m.instrumentText(st.Src); told != "" {
			c.text(row, 65, told, look)
		} else if st.LastText != "" {
			c.text(row, 65, "“"+st.LastText+"”", dim)
		}
	}
}

// badLook marks a share of bad frames that wants looking at: one in a hundred.
// Common practice, no source.
func badLook(st session.Stream) role {
	if all := st.Good + st.Bad; all > 0 && st.Bad*100 >= all {
		return caution
	}
	return plain
}

// recordLine is a name and what is told of the record under it.
type recordLine struct {
	name, text string
	st         role
}

// recordLines are how the record fares, the second file and the room on the
// disk.
func (m model) recordLines() (lines []recordLine) {
	s := m.snap
	add := func(name, text string, st role) { lines = append(lines, recordLine{name, text, st}) }
	text, st := logText(s)
	add("record", text, st)
	if s.Mode != "replay" && s.Log.Path != "" {
		add("on disk", fmt.Sprintf("%d of %d records, %d lost", s.Log.OnDisk, s.Log.Written, s.Log.Lost), plain)
	}
	if k := s.Log.Copy; k.Path != "" {
		copied := session.Snapshot{Mode: s.Mode, Log: session.LogState{Path: k.Path, Bytes: k.Bytes, Written: k.Written, OnDisk: k.OnDisk,
			OldestAge: k.OldestAge, Lost: k.Lost, Fault: k.Fault, Sealed: k.Sealed}}
		t, st := logText(&copied)
		add("second", t, st)
	} else if s.Mode == "live" {
		add("second", "none: --also-to writes one on another disk", dim)
	}
	switch {
	case s.Log.Short != "":
		add("room", s.Log.Short, caution)
	case s.Log.LeftFor > 0:
		left := clockText(s.Log.LeftFor)
		if s.Log.LeftFor >= 10*time.Hour {
			left = fmt.Sprintf("%d h", int(s.Log.LeftFor.Hours()))
		}
		add("room", "for "+left+" at this rate", plain)
	}
	if lag := time.Duration(s.JudgeLag); lag > time.Second {
		add("phases", ageText(lag)+" behind", caution)
	}
	return lines
}

func (m model) drawRecord(c *canvas, r rect) {
	for i, l := range m.recordLines() {
		c.text(r.row(i), 0, padRight(l.name, logName), dim)
		c.text(r.row(i), logName, l.text, l.st)
	}
}

// gapsOf are the runs of columns in which the load was lost, as spans of log
// time.
func (m model) gapsOf() (gaps [][2]int64) {
	q := wholeRun(m.snap, len(m.whole))
	at := func(i int) int64 { return int64(q.From + (q.To-q.From)*float64(i)/float64(q.Cols)) }
	for i, col := range m.whole {
		switch {
		case !col.Gap:
		case i > 0 && m.whole[i-1].Gap:
			gaps[len(gaps)-1][1] = at(i + 1)
		default:
			gaps = append(gaps, [2]int64{at(i), at(i + 1)})
		}
	}
	return gaps
}

// drawStrip is the whole run as one row: a line where there are samples, a cross
// where the stream was lost, a mark above it where one was put.
func (m model) drawStrip(c *canvas, r rect) {
	if r.h == 0 {
		return
	}
	s := m.snap
	gaps := m.gapsOf()
	text, look := "none in the load", plain
	if n := len(gaps); n > 0 {
		g := gaps[n-1]
		text = fmt.Sprintf("%d in the load, the last about %s to %s", n, clockText(time.Duration(g[0])), clockText(time.Duration(g[1])))
		if n == 1 {
			text = fmt.Sprintf("one in the load, about %s to %s", clockText(time.Duration(g[0])), clockText(time.Duration(g[1])))
		}
		look = strong
	}
	text += lateText(s)
	if s.Span.N == 0 {
		text, look = "nothing recorded of the load yet", dim
	}
	c.text(r.row(0), 0, padRight("gaps", logName), dim)
	c.text(r.row(0), logName, text, look)
	if len(m.whole) == 0 || r.h < 2 {
		return
	}
	row := r.row(r.h - 1)
	for i, col := range m.whole {
		switch {
		case col.Gap:
			c.put(row.x+i, row.y, '×', warnLine)
		case col.N > 0:
			c.put(row.x+i, row.y, '━', accent)
		default:
			c.put(row.x+i, row.y, '·', dim)
		}
	}
	if r.h < 3 {
		return
	}
	q := wholeRun(s, len(m.whole))
	for _, k := range s.Marks {
		if x := int((float64(k.T) - q.From) / (q.To - q.From) * float64(q.Cols)); x >= 0 && x < row.w {
			c.put(row.x+x, row.y-1, '▼', strong)
		}
	}
}

// drawMarks lists the marks, newest first.
func (m model) drawMarks(c *canvas, r rect) {
	if r.h == 0 {
		return
	}
	u := unitsOf(m.snap)
	c.rule(r, dim)
	lines := m.markLines()
	title := " marks "
	if len(lines) > 0 {
		title = " marks: " + countText(len(lines)) + " "
	}
	if n := m.snap.MarksLeft; n > 0 {
		title = fmt.Sprintf(" marks: the newest %d of %d ", len(lines), len(lines)+n)
	}
	c.text(r, 2, title, dim)
	if len(lines) == 0 {
		c.text(r.row(1), 0, "none yet; m puts one, with the time of the key", dim)
		return
	}
	for i, k := range lines {
		row := r.row(1 + i)
		if row.w == 0 {
			return
		}
		at := "        "
		if !math.IsNaN(k.x) {
			at = padLeft(u.metresUnit(trial.Length(k.x)), 8)
		}
		x := c.text(row, 0, padLeft(logClock(k.t), 8)+"  "+at, dim)
		c.text(row, x+2, k.text, plain)
	}
}
