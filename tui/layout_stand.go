package tui

import (
	"cmp"
	"slices"

	"hawse/acquire/session"
)

// part is one that takes rows in a column: at least so many, and up to so many
// while there are some left. The lower its rank, the sooner it gets them.
type part struct {
	to          *rect
	rank        int
	least, want int
	inset       int // cells left free at both sides
}

// column shares out the rows of r among parts, which stand in order from the
// top, and returns the rows that are left. A part for which there is no room has
// no height.
func column(r rect, parts ...part) rect {
	rows := make([]int, len(parts))
	left := r.h
	order := make([]int, len(parts))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(parts[a].rank, parts[b].rank) })
	for _, i := range order {
		if parts[i].least <= left {
			rows[i] = parts[i].least
			left -= rows[i]
		}
	}
	for _, i := range order {
		if rows[i] == parts[i].least {
			more := min(max(parts[i].want-rows[i], 0), left)
			rows[i] += more
			left -= more
		}
	}
	y := r.y
	for i, p := range parts {
		if rows[i] > 0 {
			*p.to = rect{r.x + p.inset, y, max(r.w-2*p.inset, 0), rows[i]}
		}
		y += rows[i]
	}
	return rect{r.x, y, r.w, left}
}

// foot places the keys, the news and the alarms at the bottom and returns what
// is left above them.
func (l *layout) foot(body rect, alarms, news int) rect {
	body.h--
	l.keys = rect{0, body.y + body.h, l.w, 1}
	body.h -= news
	if news > 0 {
		l.news = rect{1, body.y + body.h, l.w - 2, news}
	}
	body.h -= alarms
	l.alarms = rect{1, body.y + body.h, l.w - 2, alarms}
	return body
}

// openings sets where a dialog opens: over body, and over all that is below it.
func (l *layout) openings(body rect) {
	l.mid = rect{1, body.y, l.w - 2, max(body.h, 0)}
	l.page = rect{0, body.y, l.w, l.h - 1 - body.y}
}

// atWinch is the winch operator's view: digits to be read from two metres, below
// them one word, and how near the nearest limit is.
func (l *layout) atWinch(n need) {
	w, h := l.w, l.h
	l.head = rect{0, 0, w, 1}
	body := rect{0, 1, w, h - 1}
	if n.caption && h >= 30 {
		l.caption = rect{0, 1, w, 1}
		body.y, body.h = 2, h-2
	}
	alarms := 1
	if n.alarms && h >= 30 {
		alarms = 3
	}
	near, news := 1, 0 // news: a row for what a key came to
	switch {
	case h >= 40:
		near, news = 8, 1
	case h >= 22:
		near, news = 2, 1
	case h >= 18:
		near = 2
	}
	body = l.foot(body, alarms, 0)
	body.h -= news
	rest := body.h - near - 1 // for number and word
	band := min(max(rest*2/5, 2), 16)
	if rest >= 17 {
		band = max(band, 7)
	}
	room := rest - band
	beside := width(n.unit) + 1
	if f, ok := fitLarge(n.slots, w-2-beside, room); ok {
		l.figure = f
	} else {
		l.figure = faces[len(faces)-1]
	}
	if f, ok := fitLarge(n.slots, w-2, room); ok && f.height() > l.figure.height() { // the unit stands below
		l.figure, beside = f, 0
	}
	wide, high := l.figure.width(n.slots), l.figure.height()
	y := body.y + max(room-high, 0)/2
	l.number = rect{max((w-wide-beside)/2, 0), y, wide, high}
	if beside > 0 {
		l.unit = rect{l.number.x + wide + 1, y, width(n.unit), high}
	}
	l.under = rect{1, body.y + max(room, high), w - 2, 1}
	y = l.under.y + 1
	l.band = rect{0, y, w, max(body.y+body.h-near-y, 0)}
	l.near = rect{1, l.band.y + l.band.h, w - 2, near}
	if news > 0 {
		l.news = rect{1, l.near.y + near, w - 2, news}
	}
	l.page = rect{0, l.band.y + min(l.band.h, 1), w, h - 1 - l.band.y - min(l.band.h, 1)}
	l.mid = rect{1, l.page.y, w - 2, max(l.alarms.y-l.page.y, 0)}
}

// atDirector is the director's view: every margin, what comes next, what is
// wrong.
func (l *layout) atDirector(n need) {
	w, h := l.w, l.h
	l.labels = h >= 36
	l.head = rect{0, 0, w, 1}
	y := 1
	if n.caption && h >= 22 {
		l.caption = rect{0, y, w, 1}
		y++
	}
	if l.labels {
		y++
	}
	y = l.top(n, y, max(5, min(h/5, 10)))
	if n.why {
		l.why = rect{0, y, w, 1}
		y++
	}
	if l.labels {
		y++
	}
	body, quiet := rect{0, y, w, h - y}, 0 // quiet: rows that an alarm will take
	switch {
	case l.labels:
		rows := l.alarmRows(n, 6)
		quiet = 6 - rows
		body = l.foot(body, rows, min(4, h/10))
	case h >= 22:
		body = l.foot(body, l.alarmRows(n, 3), 1)
	default:
		body = l.foot(body, 1, 0)
	}
	l.openings(body)
	limits := n.margins + 1
	if w < 52 { // no room for its columns: the list without those of silence
		limits = n.limits + 1
	}
	gap := 0
	if l.labels {
		gap = 1
	}
	var air rect
	if w >= 110 && l.labels {
		side := min(max(w*2/5, 44), 60)
		left, right := rect{1, body.y + 1, w - side - 4, body.h - 1}, rect{w - side - 1, body.y + 1, side, body.h - 1}
		l.notice = rect{0, body.y, w, 1}
		column(right, part{&l.figures, 0, 1, 9, 0}, part{&air, 2, 0, 1, 0}, part{&l.steps, 1, 1, 14, 0})
		if bars := 2*n.margins + 1; left.w < 110 && left.h-quiet >= bars+12 { // a wide table has its bars beside it
			limits = bars
		}
		l.trace = column(left, part{&l.limits, 0, 1, limits, 0}, part{&air, 2, 0, 1, 0})
		switch {
		case l.trace.h > 6:
			l.trace.h--
		case l.trace.h < 6: // too low to read
			l.trace = rect{}
		}
		return
	}
	rest := column(body,
		part{&l.notice, 4, 1, 1, 0},
		part{&l.limits, 0, 1, limits, 1},
		part{&air, 6, 0, gap, 0},
		part{&l.steps, 2, 1, min(max(h/6, 2), 12), 1},
		part{&air, 6, 0, gap, 0},
		part{&l.figures, 3, 1, 9, 1},
	)
	if rest.h -= gap; rest.h >= 6 {
		l.trace = rect{1, rest.y + gap, w - 2, rest.h}
	}
}

// atLog is the logger's view: what comes in, what is on disk, what was marked.
// The order has one row, as loud as any.
func (l *layout) atLog(n need) {
	w, h := l.w, l.h
	l.labels = h >= 30
	l.head = rect{0, 0, w, 1}
	y := 1
	if n.caption && h >= 16 {
		l.caption = rect{0, y, w, 1}
		y++
	}
	rows := 1
	if l.labels {
		rows = 3
	}
	l.band = rect{0, y, w, rows}
	y += rows
	body := rect{0, y, w, h - y}
	page := body
	gap := 0
	switch {
	case l.labels:
		gap = 1
		body = l.foot(body, l.alarmRows(n, 5), 0)
	case h >= 22:
		body = l.foot(body, l.alarmRows(n, 2), 1)
	default:
		body = l.foot(body, 1, 0)
	}
	l.openings(page)
	l.mid.h = body.h
	ports := n.logged + 1
	if w < 62 { // no room for its columns, nor for their heads
		ports = n.logged
	}
	var air rect
	rest := column(body,
		part{&air, 9, 0, gap, 0},
		part{&l.clock, 2, 1, 1, 1},
		part{&air, 9, 0, gap, 0},
		part{&l.ports, 0, 1, ports, 1},
		part{&air, 9, 0, gap, 0},
		part{&l.record, 1, 1, n.record, 1},
		part{&air, 9, 0, gap, 0},
		part{&l.strip, 3, 2, n.strip, 1},
		part{&air, 9, 0, gap, 0},
		part{&l.marks, 4, 2, 6, 1},
	)
	if rest.h > 0 {
		more := rest.h / 3
		l.marks.h += more
		if rest.h-more > 1 {
			below := l.news.h // the row at the foot goes to them
			l.alarms.y += below
			l.news = rect{1, l.marks.y + l.marks.h, w - 2, rest.h - more + below}
		}
	}
}

// atFigures is the sheet of figures: as many rows of it as the order, the alarms
// and the keys leave.
func (l *layout) atFigures(n need) {
	w, h := l.w, l.h
	l.head = rect{0, 0, w, 1}
	y, rows := 1, 1
	if n.caption && h >= 16 {
		l.caption = rect{0, y, w, 1}
		y++
	}
	if h >= 45 {
		rows = 3
	}
	l.band = rect{0, y, w, rows}
	y += rows
	body := rect{0, y, w, h - y}
	page := body
	switch {
	case h >= 45:
		body = l.foot(body, 3, 2)
	case h >= 22:
		body = l.foot(body, 2, 1)
	default:
		body = l.foot(body, 1, 0)
	}
	if rows := l.alarms.h - 1; !n.alarms { // the page keeps its length when one comes
		l.alarms.y, l.alarms.h = l.alarms.y+rows, 1
	}
	l.openings(page)
	l.mid.h = body.h
	l.sheet = rect{1, body.y, w - 2, body.h}
}

// wholeRun asks for the run so far, in as many columns as there are cells.
func wholeRun(s *session.Snapshot, cells int) session.TraceQuery {
	return session.TraceQuery{From: float64(s.Span.First), To: float64(max(s.T, s.Span.Last) + 1), Cols: max(cells, 1)}
}
