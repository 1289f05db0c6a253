package tui

import (
	"fmt"
	"strings"

	"hawse/safety"
)

// drawKeys is the last line. STOP comes first and is always there; of the
// others as many as there is room for, help and leave before the rest.
func (m model) drawKeys(c *canvas, r rect) {
	at := live
	if m.player != nil {
		at = played
	}
	x := c.text(r, 0, " SPACE STOP ", keycap) + 1
	if m.helpPage > 0 {
		text := "any key goes back"
		if n := m.helpPages(); m.helpPage < n {
			text = fmt.Sprintf("? more (%d of %d)   any other key goes back", m.helpPage, n)
		}
		c.text(r, x, text, plain)
		return
	}
	if t := m.dlg.keyLine(); t != "" {
		rest := "any other key: no"
		if r.w < 60 {
			rest = "else no"
		}
		c.text(r, x, t+"   "+rest, plain)
		return
	}
	type key struct{ label, short string }
	var keys []key
	for _, b := range bindings {
		if b.where&at != 0 && b.in != callStop && m.useful(b.in) {
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
		keys = append(keys[:len(keys)-3:len(keys)-3], keys[len(keys)-2:]...)
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
	if m.snap.Ended && in != switchAxis && in != showHelp && in != leave {
		return false
	}
	switch in {
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
		return m.plot.ok
	}
	return true
}

// keyLine is what the keys do while a question is open.
func (d dialog) keyLine() string {
	switch d.kind {
	case noDialog:
		return ""
	case stageDialog, markDialog:
		return "a digit says it"
	case rearmDialog:
		return "y or a digit"
	case depthDialog, outDialog:
		return "y says it"
	}
	return "y yes"
}

// drawDialog opens the question over the trace, or, where that is too small,
// over the rows below the tension. It covers no more than it needs, and never
// the tension, the order or the keys.
func (m model) drawDialog(c *canvas, l layout) {
	title, body, choices := m.dlg.lines(m.snap)
	var text []string
	var rows, cols int
	r := l.trace
	arrange := func() bool {
		text = nil
		for _, b := range body {
			text = append(text, wrap(b, r.w-2)...)
		}
		rows, cols = columnsFor(choices, r.w-2, max(r.h-1-len(text), 1))
		return 1+len(text)+rows <= r.h && (rows == 0 || cols*columnWidth(choices) <= r.w-2)
	}
	if r.h == 0 || !arrange() {
		r = rect{l.page.x + 1, l.page.y, l.page.w - 2, l.page.h}
		if !arrange() && len(choices) > 0 { // these are needed most; what they are for, the key line says
			title, text = "", nil
			rows, cols = columnsFor(choices, r.w-2, r.h)
		}
	}
	r.h = min(r.h, 1+len(text)+rows+1)
	c.clear(rect{0, r.y, r.x + r.w + 1, r.h}, plain)
	if title != "" {
		c.rule(r, accent)
		c.text(r, 1, " "+title+" ", accent)
		r = r.from(1)
	}
	for _, t := range text {
		c.text(rect{r.x + 1, r.y, r.w - 1, min(r.h, 1)}, 0, t, plain)
		r = r.from(1)
	}
	for i, ch := range choices {
		row := r.row(i % rows)
		wide := (r.w - 1) / cols
		c.text(rect{row.x + 1 + i/rows*wide, row.y, min(wide-1, row.w), row.h}, 0, ch, strong)
	}
}

// columnWidth is the room the longest choice wants.
func columnWidth(choices []string) int {
	longest := 1
	for _, ch := range choices {
		longest = max(longest, width(ch)+2)
	}
	return longest
}

// columnsFor arranges choices: as many columns as their width allows, three at
// most, and more, cut short, where there are not enough rows.
func columnsFor(choices []string, w, most int) (rows, cols int) {
	if len(choices) == 0 {
		return 0, 1
	}
	cols = min(max(w/columnWidth(choices), 1), 3)
	cols = max(cols, (len(choices)+most-1)/max(most, 1))
	return (len(choices) + cols - 1) / cols, cols
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

// helpPages is the help as pages of at most h lines, w cells wide: the keys,
// then the cautions.
func helpPages(w, h int, replay bool) [][]string {
	at := live
	if replay {
		at = played
	}
	keys := []string{"Keys"}
	for _, b := range bindings {
		if b.where&at != 0 {
			keys = append(keys, padRight(b.label, 6)+" "+b.help)
		}
	}
	care := []string{"Cautions"}
	for _, t := range cautions {
		for i, part := range wrap(t, w-2) {
			lead := "  "
			if i == 0 {
				lead = "– "
			}
			care = append(care, lead+part)
		}
	}
	if len(keys)+1+len(care) <= h {
		return [][]string{append(append(keys, ""), care...)}
	}
	var pages [][]string
	for _, lines := range [][]string{keys, care} {
		for len(lines) > 0 {
			n := min(max(h, 1), len(lines))
			pages = append(pages, lines[:n])
			lines = lines[n:]
		}
	}
	return pages
}

func (m model) drawHelp(c *canvas, r rect) {
	pages := helpPages(r.w-2, r.h, m.player != nil)
	page := pages[min(m.helpPage, len(pages))-1]
	for i, line := range page {
		st := plain
		if line == "Keys" || line == "Cautions" {
			st = accent
		}
		c.text(rect{r.x + 1, r.y + i, r.w - 2, 1}, 0, line, st)
	}
}

func padRight(s string, w int) string {
	return s + strings.Repeat(" ", max(w-width(s), 0))
}
