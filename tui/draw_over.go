package tui

import (
	"fmt"
	"strings"

	"hawse/safety"
)

// drawKeys is the last line. STOP comes first and is always there, but in a
// replay, where nothing can be stopped; of the others as many as there is room
// for, help and leave before the rest.
func (m model) drawKeys(c *canvas, r rect) {
	at := live
	if m.player != nil {
		at = played
	}
	space := " SPACE STOP "
	x := 1
	switch {
	case m.writing():
		space = " SPACE blank "
	case m.player != nil:
		space = ""
	}
	if space != "" {
		x = c.text(r, 0, space, keycap) + 1
	}
	if m.helpPage > 0 {
		text := "any key goes back"
		if n := m.helpPages(); m.helpPage < n {
			text = fmt.Sprintf("? more (%d of %d)   any other key goes back", m.helpPage, n)
		}
		c.text(r, x, text, plain)
		return
	}
	if m.dlg.kind != noDialog {
		t, rest := m.keyLine()
		if x+width(t)+3+width(rest) > r.w {
			rest = strings.Replace(rest, "any other key:", "else", 1)
		}
		parts := append(strings.Split(t, "   "), rest)
		if t == "" {
			parts = parts[1:]
		}
		for len(parts) > 1 && x+width(strings.Join(parts, "   ")) > r.w {
			parts = parts[:len(parts)-1]
		}
		c.text(r, x, strings.Join(parts, "   "), plain)
		return
	}
	type key struct{ label, short string }
	var keys []key
	for _, b := range bindings {
		to, looks := standOf(b.in)
		switch {
		case looks && to == m.stand && m.stand == StandOperator && r.w >= 76: // where one is
		case looks && m.stand == StandOperator && r.w >= 76, b.in == showFigures && r.w >= 76: // there is room for the words
			keys = append(keys, key{b.label, b.short})
		case b.in == showOperator:
			word := "views"
			if r.w < 60 {
				word = "see"
			}
			keys = append(keys, key{"1 4 7 0", word})
		case looks || b.where&at == 0 || b.in == callStop || b.in == slower || b.in == scrubOn || !m.stand.takes(b.in) || !m.useful(b.in):
		case b.in == faster: // a pair, in one
			keys = append(keys, key{"+ -", "speed"})
		case b.in == scrubBack:
			keys = append(keys, key{"[ ]", "10 s"})
		default:
			keys = append(keys, key{b.label, b.short})
		}
	}
	wide := func(ks []key) (n int) {
		for _, k := range ks {
			n += width(k.label) + 1 + width(k.short) + 2
		}
		return n
	}
	for len(keys) > 2 && x+wide(keys) > r.w+2 {
		drop := len(keys) - 3 // the first are the most pressing; help and leave stay
		switch {
		case r.w < 60:
		case m.stand == StandOperator:
			drop = 1
		case len(keys) > 6:
			drop = len(keys) - 6 // more, views, figures, help, leave: they lead to all others
		}
		keys = append(keys[:drop:drop], keys[drop+1:]...)
	}
	for _, k := range keys {
		x = c.text(r, x, k.label, strong)
		x = c.text(r, x+1, k.short, dim) + 2
	}
}

// useful says whether a key is worth its place in the key line now. Every key
// works all the same: the guard says what it cannot take.
func (m model) useful(in intent) bool {
	g := &m.snap.Guard
	if m.snap.Ended && in != sayAfterwards && in != switchAxis && in != showHelp && in != leave {
		return false
	}
	if m.watch && m.seat == safety.Watcher && !in.watches() {
		return false
	}
	switch in {
	case switchLight, silenceBell: // on the help page, for those who look
		return false
	case sayCleared:
		return g.Stop.Kind == safety.PlannedEnd && g.Stop.Cause == safety.AtFairlead
	case showAlarms:
		return len(alarmsOf(g)) > 1 || suppressedText(g) != ""
	case sayAbandon:
		return g.Order != safety.NoOrder && g.Order != safety.OrderAbandon
	case acknowledge:
		for _, a := range alarmsOf(g) {
			if !a.seen() {
				return true
			}
		}
		return g.Stop.Kind == safety.Trip && !g.Stop.Acked
	case nextStage:
		return g.Stop.Kind != safety.Trip
	case rearm:
		return g.Stop.Kind == safety.Trip
	case arm:
		return !g.Armed && g.Stop.Kind == safety.NoStop
	case sayDepth, sayOut:
		return !g.Permit && g.Stop.Kind == safety.NoStop
	case switchAxis:
		return len(m.traces) > 0
	case zoomIn, zoomOut, panBack, panOn, follow, jumpEventBack, jumpPhaseBack, jumpMarkBack, jumpAlarmBack:
		return false
	case showEarlier:
		p := m.earlierPulls()
		return p != nil && (p.Anchor != nil || len(p.Block) > 0) && m.stand != StandOperator
	case compare:
		return len(m.chosen()) > 0
	case sayAfterwards:
		return m.comment != nil
	}
	return true
}

// cautions are told on the help page in full, in the project's own words.
var cautions = []string{
	"An aid to watching a pull. It does not make the pull safe.",
	"The winch's own limiter and emergency stop come first, work without this program, and are tested before each day.",
	"The whole deck is the danger area. Line loaded: keep clear. Nobody in a bight, in line with the rode, or between winch and roller.",
	"Stopped is not slack: the tension is still there. Never ease by the brake.",
	"Tension unknown: treat as loaded.",
	"The stop output takes away haul only: paying out, brake and emergency release stay with the crew.",
	"Nothing here restarts a winch: the director says haul.",
	"Limits are the crew's: from the certificates of the gear in use.",
	"Anyone may call stop. It is obeyed at once and asked about later.",
	"Local law, the vessel's rules and the licensed person in charge govern.",
}

// The titles of the help.
const (
	helpView = "This view"
	helpKeys = "Keys"
	helpCare = "Cautions"
)

// helpPages is the help as pages of at most h lines, w cells wide: what the
// view shows, the keys, then the cautions.
func helpPages(w, h int, replay bool, stand Stand) [][]string {
	at := live
	if replay {
		at = played
	}
	keys := []string{helpKeys}
	for _, b := range bindings {
		if b.where&at != 0 && !(replay && b.in == callStop) {
			keys = append(keys, padRight(b.label, 6)+" "+b.help)
		}
	}
	if w >= 116 { // two columns
		n := (len(keys) - 1 + 1) / 2
		for i := 1; i <= n && i+n < len(keys); i++ {
			keys[i] = padRight(keys[i], w/2) + keys[i+n]
		}
		keys = keys[:n+1]
	}
	list := func(title string, texts []string) []string {
		lines := []string{title}
		for _, t := range texts {
			for i, part := range wrap(t, w-2) {
				lead := "  "
				if i == 0 {
					lead = "– "
				}
				lines = append(lines, lead+part)
			}
		}
		return lines
	}
	view, care := list(helpView, standHelp[stand]), list(helpCare, cautions)
	var pages [][]string
	open := false // the last page has room for what follows whole
	for _, lines := range [][]string{view, keys, care} {
		if open && len(pages[len(pages)-1])+1+len(lines) <= h {
			pages[len(pages)-1] = append(append(pages[len(pages)-1], ""), lines...)
			continue
		}
		for len(lines) > 0 {
			n := min(max(h, 1), len(lines))
			pages = append(pages, lines[:n:n])
			lines = lines[n:]
		}
		open = true
	}
	return pages
}

func (m model) drawHelp(c *canvas, r rect) {
	pages := helpPages(r.w-2, r.h, m.player != nil, m.stand)
	page := pages[min(m.helpPage, len(pages))-1]
	for i, line := range page {
		st := plain
		if line == helpView || line == helpKeys || line == helpCare {
			st = accent
		}
		c.text(rect{r.x + 1, r.y + i, r.w - 2, 1}, 0, line, st)
	}
}

func padRight(s string, w int) string {
	return s + strings.Repeat(" ", max(w-width(s), 0))
}
