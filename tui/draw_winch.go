package tui

import (
	"math"
	"strings"

	"github.com/NimbleMarkets/ntcharts/canvas/runes"

	"hawse/safety"
)

// drawCaution is the caution of the winch operator's view, opposite the age of the
// number.
func (m model) drawCaution(c *canvas, under rect) {
	if forms, st := m.noticeForms(); st != dim {
		text := widest(forms, under.w-34)
		if end := under.w - width(text); end >= 34 {
			c.text(under, end, text, st)
		}
	}
}

// haulWord says whether the winch may haul, as the guard and the relay have it,
// and a line that says why, from the longest form to the shortest.
func (m model) haulWord() (word string, lines []string) {
	permit, st := m.permitText()
	if m.snap.Guard.Permit && st != caution {
		return "MAY HAUL", []string{"no stop in force; haul when the director says haul", "no stop in force; the director says haul", "the director says haul"}
	}
	short, _, _ := strings.Cut(permit, ",")
	return "NO HAUL", []string{permit, short}
}

// drawBand is the one word for the winch: the order in force, or whether hauling
// is permitted. What is not an order has no ground of its own.
func (m model) drawBand(c *canvas, r rect) {
	s := m.snap
	st := strong
	var word, line string
	switch {
	case m.staleFor() > 0:
		word, line, st = "", "order unknown: screen data stalled; watch the winch, call stop by voice", loud
	case s.Ended:
		word, line = "", "the capture has ended: "+s.EndReason
		if m.player != nil {
			line = "end of the log: " + s.EndReason
		}
	case orderWord(s) != "":
		word, st = orderWord(s), loud
		line, _ = m.orderLine(r.w - 2)
	case !m.stopAsked.IsZero() && m.at.Sub(m.stopAsked) > stopTakes:
		word, line, st = "STOP", "STOP CALLED, NOT IN FORCE YET: use the winch's own stop", loud
	case !m.stopAsked.IsZero():
		word, line, st = "STOP", "STOP called", loud
	case m.drawSoon(c, rect{r.x, r.y, r.w, r.h}):
		return
	default:
		var forms []string
		word, forms = m.haulWord()
		line = widest(forms, r.w-2)
	}
	c.clear(r, roleGround(st))
	text := r.row(r.h - 1)
	if r.h == 1 {
		if word != "" {
			line = word + ": " + line
		}
		c.text(text, 1, line, st)
		return
	}
	ink := st
	if st == strong {
		ink = plain
	}
	drawWord(c, rect{r.x, r.y, r.w, r.h - 1}, word, ink)
	lines := []string{line}
	if word == "" && r.h > 2 {
		lines = wrap(line, r.w-2)
		text = r.row((r.h - len(lines)) / 2)
	}
	for i, t := range lines {
		c.text(rect{text.x, text.y + i, text.w, 1}, max((r.w-width(t))/2, 1), t, st)
	}
}

// drawWord writes a word, or two, as large as r allows: on a narrow screen one
// below the other.
func drawWord(c *canvas, r rect, word string, st role) {
	if word == "" {
		return
	}
	room := r.h - min(r.h/6, 2)
	f, ok := fitLarge(word, r.w-2, room)
	rows := []string{word}
	if a, b, two := strings.Cut(word, " "); two {
		g, fits := fitLarge(a, r.w-2, (room-1)/2)
		if h, also := fitLarge(b, r.w-2, (room-1)/2); also && h.width(b) < g.width(b) {
			g = h
		}
		fits = fits && g.width(a) <= r.w-2 && g.width(b) <= r.w-2
		if fits && (!ok || g.sx > f.sx) {
			f, ok, rows = g, true, []string{a, b}
		}
	}
	if !ok {
		c.text(r.row(r.h/2), max((r.w-width(word))/2, 0), word, st)
		return
	}
	top := max((r.h-len(rows)*(f.height()+1)+2)/2, 0)
	for i, t := range rows {
		f.draw(c, r.from(top+i*(f.height()+1)), max((r.w-f.width(t))/2, 1), t, st)
	}
}

// roleGround is the role of the cells round a text of that role.
func roleGround(st role) role {
	if st == strong {
		return plain
	}
	return st
}

// nearText names the nearest limit with what is left to it.
func (m model) nearText() (name, left, rest string, share float64) {
	s := m.snap
	u := unitsOf(s)
	near, ok := nearest(s)
	switch {
	case s.Ended && m.player == nil:
		return "ended: no limit is watched now", "", "", math.NaN()
	case m.staleFor() > 0:
		return "limits unknown: screen data stalled", "", "", math.NaN()
	case !ok:
		return "no limits in this stage", "", "", math.NaN()
	}
	name = "nearest: " + limitName(near.Cause)
	if near.Cause == safety.AtFairlead && near.Name != "" {
		name = "nearest: " + near.Name + " to the fairlead"
	}
	left, rest = m.leftText(near), "stop at "+u.amount(near.Cause, near.Limit)
	if d := toScope(s, near.Limit); near.Cause == safety.MinimumScope && d >= 0 {
		left, rest = u.metresText(d)+" left", "ends at scope "+fixed(near.Limit, 2)
	}
	if near.Cause.Planned() {
		rest = strings.Replace(rest, "stop at", "ends at", 1)
	}
	if count := m.countdown(near); count != "" && !near.Cause.Planned() {
		rest = count
	}
	return name, left, rest, near.Share
}

// drawNear is the nearest limit: its name and what is left to it, and below that
// a bar across the screen, full at the limit.
func (m model) drawNear(c *canvas, r rect) {
	name, left, rest, share := m.nearText()
	head := r.row(0)
	if head.w == 0 {
		return
	}
	row := 1
	number, word, _ := strings.Cut(left, " ")
	f, big := fitLarge(number, r.w/2, 5)
	if big = big && r.h >= 8 && left != "" && number[0] >= '0' && number[0] <= '9'; big {
		x := c.text(r.row(0), 0, name, accent)
		c.text(r.row(2), 0, rest, plain)
		x = max(x, width(rest)) + 3
		f.draw(c, r, x, number, plain)
		unit, _, _ := strings.Cut(word, " ")
		if x += f.width(number) + 1; x+width(word) > r.w {
			word = unit
		}
		c.text(r.row(f.height()-1), x, word, strong)
		row = f.height() + 1
	} else {
		x := c.text(head, 0, name, accent)
		if left != "" {
			x = c.text(head, x, ", "+left, strong)
		}
		if at := head.w - width(rest); at > x+1 {
			c.text(head, at, rest, plain)
		}
	}
	if math.IsNaN(share) {
		return
	}
	st := accent
	if near, ok := nearest(m.snap); ok && (near.Now >= near.Warn && near.Warn < near.Limit || near.Left <= 0) {
		st = stopLine
	}
	for y := row; y < r.h; y++ {
		drawBar(c, r.row(y), share, st)
	}
}

// drawBar is a share from the left edge in eighths of a cell; what is left of it
// is drawn thin.
func drawBar(c *canvas, r rect, share float64, st role) {
	eighths := int(math.Min(math.Max(share, 0), 1) * float64(8*r.w))
	for x := range r.w {
		switch part := min(max(eighths-8*x, 0), 8); {
		case part == 0:
			c.put(r.x+x, r.y, '░', dim)
		default:
			c.put(r.x+x, r.y, runes.FullBlock+rune(8-part), st)
		}
	}
}
