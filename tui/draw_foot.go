package tui

import (
	"fmt"
	"path"
	"strings"
	"time"

	"hawse/acquire/session"
	"hawse/safety"
)

// drawNews is what happened last, newest first. Before it stands what the
// person must read now, over the rows of the status if it is long.
func (m model) drawNews(c *canvas, l layout) {
	s, r := m.snap, l.news
	if l.labels && r.h > 1 {
		c.rule(r, dim)
		c.text(r, 2, " last ", dim)
		r = r.from(1)
	}
	urgent, st := m.urgentLine()
	if m.stand == StandOperator { // how a stop is lifted is the director's, and what was is the logger's
		if st == accent {
			urgent = ""
		}
		s = &session.Snapshot{}
	}
	if urgent != "" {
		wide := l.w - 4
		if r.h >= 3 {
			wide = min(wide, r.w)
		}
		lines := wrap(urgent, wide)
		if st == accent && r.h < 3 { // it stands for long: one row
			lines = []string{urgent}
		}
		lines = lines[:min(len(lines), max(r.h, 3))]
		at := r
		if len(lines) > r.h {
			n := len(lines)
			at = rect{1, l.keys.y - n, l.w - 2, n}
			c.clear(rect{0, at.y, l.w, n}, plain)
		}
		for i, t := range lines {
			c.text(at.row(i), 0, t, st)
		}
		r = r.from(len(lines))
		if at.y != l.news.y && len(lines) > r.h {
			r.h = 0
		}
	}
	const at = 8
	for _, n := range s.News {
		st := plain
		if n.Loud {
			st = strong
		}
		c.text(r.row(0), 0, padLeft(clockText(time.Duration(n.T)), 6), dim)
		lines := wrap(n.Text, r.w-at)
		if r.h < len(lines) { // not whole: in what there is
			lines = []string{n.Text}
		}
		for _, t := range lines {
			if r.h == 0 {
				return
			}
			c.text(r.row(0), at, t, st)
			r = r.from(1)
		}
	}
}

// urgentLine is what the person at the screen must read now: what a key came
// to, why an act was refused, or how the stop in force is lifted.
func (m model) urgentLine() (string, role) {
	s := m.snap
	switch {
	case m.note != "" && m.at.Before(m.noteUntil):
		return m.note, strong
	case s.Refusal.Text != "":
		return "REFUSED: " + s.Refusal.Text, caution
	}
	if m.staleFor() > 0 || s.Ended || m.watch && m.seat == safety.Watcher {
		return "", plain
	}
	return howToLift(s), accent
}

// streams are the ports in use.
func streams(s *session.Snapshot) []session.Stream {
	list := make([]session.Stream, 0, 3)
	for _, st := range []session.Stream{s.Load, s.Line, s.Stop, s.Horn} {
		if st.Src != "" {
			list = append(list, st)
		}
	}
	return list
}

func badText(st session.Stream) string {
	all := st.Good + st.Bad
	if all == 0 {
		return "bad 0 %"
	}
	share := float64(st.Bad) * 100 / float64(all)
	switch {
	case st.Bad > 0 && share < 1:
		return "bad <1 %"
	default:
		return "bad " + fixed(share, 0) + " %"
	}
}

// streamText is one port: state, age, rate, share of bad frames.
func streamText(s *session.Snapshot, st session.Stream) (string, role) {
	since := func(t int64) string { return ageText(time.Duration(s.T - t)) }
	if st.State != "open" {
		t := strings.ToUpper(st.State)
		if t == "" {
			t = "not open yet"
		}
		if st.HeardAt >= 0 && st.State != "" {
			t += " " + since(st.HeardAt)
		}
		if st.Reason != "" {
			t += ": " + st.Reason
		}
		return t, caution
	}
	switch st.Src {
	case "stop":
		return relayText(s), plain
	case "horn":
		return st.State, plain
	}
	if st.LastAt < 0 {
		return "open, nothing valid yet, " + badText(st), caution
	}
	dec := 1
	if st.Rate >= 10 {
		dec = 0
	}
	return fmt.Sprintf("%s %3s/s %s", padLeft(since(st.LastAt), 5), fixed(st.Rate, dec), badText(st)), plain
}

// logText is how the record fares.
func logText(s *session.Snapshot) (string, role) {
	l := s.Log
	name := path.Base(strings.ReplaceAll(l.Path, `\`, "/"))
	if l.Path == "" {
		name = "none"
	}
	size := sizeText(l.Bytes)
	switch {
	case s.Mode == "replay":
		return fmt.Sprintf("read only, record %d at %s, %s", s.N, clockText(time.Duration(s.T)), name), plain
	case l.Fault != "":
		t := "FAULT: " + l.Fault + ", " + fmt.Sprintf("%d of %d records on disk", l.OnDisk, l.Written)
		if l.Lost > 0 {
			t += fmt.Sprintf(", LOST %d", l.Lost)
		}
		return t, loud
	case l.Lost > 0:
		return fmt.Sprintf("LOST %d RECORDS, %s, %s", l.Lost, size, name), loud
	case l.Sealed:
		return fmt.Sprintf("sealed, %s, lost 0, %s", size, name), plain
	case l.Written == 0 && l.Bytes == 0:
		return name, plain
	}
	t := "all on disk"
	if age := time.Duration(l.OldestAge); age >= time.Second {
		t = "on disk, " + ageText(age) + " behind"
	} else if age > 0 {
		t = fmt.Sprintf("on disk, %3d ms behind", age.Milliseconds())
	}
	return t + ", " + size + ", lost 0, " + name, plain
}

// drawStatus is the logger's part: ports, relay and record.
func (m model) drawStatus(c *canvas, r rect) {
	s := m.snap
	log, logStyle := logText(s)
	if lag := time.Duration(s.JudgeLag); lag > time.Second {
		log += "; phases " + ageText(lag) + " behind"
	}
	list := streams(s)
	logRow := 1
	switch {
	case r.h == 0:
		return
	case r.h == 1: // the worst one
		text, st := "log "+log, logStyle
		for i := len(list) - 1; i >= 0; i-- {
			if t, w := streamText(s, list[i]); w != plain {
				text, st = list[i].Src+" "+t, w
			}
		}
		if st == plain {
			text = ""
			for _, l := range list[:min(2, len(list))] {
				text += l.Src + " " + ageText(time.Duration(s.T-l.LastAt)) + "  "
			}
			text += "log " + log
		}
		c.text(r, 0, text, st)
		return
	case r.h < len(list)+1: // in one row
		x := 0
		for _, stream := range list {
			t, st := streamText(s, stream)
			if stream.Src == "horn" && st == plain { // no room, and no news
				continue
			}
			x = c.text(r, x, stream.Src+" ", dim)
			x = c.text(r, x, t, st) + 2
		}
	default:
		at := 0
		if r.h > len(list)+1 {
			c.rule(r, dim)
			c.text(r, 2, " ports and record ", dim)
			at = 1
		}
		for i, stream := range list {
			row := r.row(at + i)
			c.text(row, 0, stream.Src, dim)
			t, st := streamText(s, stream)
			x := c.text(row, 6, t, st)
			if stream.LastText != "" && x+4 < row.w {
				c.text(rect{row.x + x + 2, row.y, row.w - x - 2, 1}, 0, "“"+stream.LastText+"”", dim)
			}
		}
		logRow = at + len(list)
	}
	row := r.row(logRow)
	c.text(row, 0, "log", dim)
	at := 6
	if r.h < len(list)+1 {
		at = 4
	}
	c.text(row, at, log, logStyle)
}

// phaseAge is how long the phase has lasted.
func phaseAge(s *session.Snapshot) string {
	if s.PhaseSince <= 0 || s.PhaseSince > s.T {
		return ""
	}
	return clockText(time.Duration(s.T - s.PhaseSince))
}
