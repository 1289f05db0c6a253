package tui

// The smallest terminal the whole screen is made for.
const minW, minH = 40, 12

// need is what the layout depends on besides the size of the terminal.
type need struct {
	stand   Stand
	record  int    // lines about it
	strip   int    // rows of it
	margins int    // limits with those of silence
	slots   string // the widest tension expected
	unit    string // its unit
	order   string // the order to show big; empty: none in force
	why     bool   // why it stands needs a row of its own
	caption bool   // there is a caption line
	limits  int    // limits to list
	alarms  bool   // there is one to show
	streams int    // ports in use
	logged  int    // ports the logger watches
}

// layout is where each part of the screen goes. A part without room has no
// height. This and layout_stand.go are the one place with cell arithmetic.
type layout struct {
	w, h  int
	small bool // too small for more than a word

	head, caption rect
	number        rect // the big tension
	gauge         rect // how much of the stop limit it is
	unit          rect // beside it: the unit, and the levels of the gauge
	under         rect // its age and trend
	order         rect // the order, and why
	why           rect // the rest of why, where that has no room
	notice        rect // the line of caution
	limits        rect
	figures       rect
	trace         rect
	alarms        rect
	news          rect // the newest last acts; a prompt or a refusal takes its first row
	status        rect
	keys          rect

	// Of the views of one seat.
	band   rect // the order word, or whether to haul
	near   rect // the nearest limit, with its bar
	steps  rect // what comes next
	clock  rect
	ports  rect
	record rect
	strip  rect // the record as one row
	marks  rect
	sheet  rect // the figures of the pull

	page    rect // where a dialog or the help page opens: it never covers number, order or keys
	mid     rect // the part of it above the alarms
	figure  face // of the number
	word    face // of the order
	wordBig bool // the order fits as a big word
	labels  bool // sections have a heading row
}

// layoutFor arranges a screen of w by h cells.
func layoutFor(w, h int, n need) layout {
	l := layout{w: w, h: h}
	switch {
	case w < minW || h < minH:
		l.small = true
	case n.stand == StandOperator:
		l.atWinch(n)
	case n.stand == StandDirector:
		l.atDirector(n)
	case n.stand == StandLogger:
		l.atLog(n)
	case n.stand == StandFigures:
		l.atFigures(n)
	case w < 76 || h < 22:
		l.stack(n)
	default:
		l.spread(n)
	}
	return l
}

// beside is the room right of a number of the given height: gauge and unit.
// A narrow screen has no gauge.
func (l *layout) beside(n need, high int) (gauge, all int) {
	if l.w < 60 {
		return 0, width(n.unit) + 2
	}
	gauge = 2
	if high >= 10 {
		gauge = 4
	}
	return gauge, 1 + gauge + 1 + max(width(n.unit), width(n.slots)+l.gaugeWords())
}

// gaugeWords is the room for a word before the levels of the gauge.
func (l *layout) gaugeWords() int {
	if l.w >= 110 {
		return len("stop ")
	}
	return 0
}

// top places the header, the big number and the order. room is the greatest
// height of the digits. It returns the next free row.
func (l *layout) top(n need, y, room int) int {
	const gap, left = 2, 1
	inner := l.w - left
	word := "STOP"
	if n.order != "" {
		word = n.order
	}
	// The number takes the largest face that leaves the word STOP its room, so
	// that it does not move when an order comes.
	l.figure = faces[len(faces)-1]
	for _, f := range faces {
		_, side := l.beside(n, f.height())
		if f.height() <= room && f.width(n.slots)+side+gap+f.width("STOP")+2 <= inner {
			l.figure = f
			break
		}
	}
	if n.order == "" && l.w < 76 { // too narrow for both in one face: the order, when it comes, makes the number thinner
		_, side := l.beside(n, room)
		if f, ok := fit(n.slots, inner-side, room); ok {
			l.figure = f
		}
	}
	high := l.figure.height()
	wide := l.figure.width(n.slots)
	gauge, side := l.beside(n, high)
	l.number = rect{left, y, wide, high}
	l.unit = rect{left + wide + 1, y, side - 1, high}
	if gauge > 0 {
		l.gauge = rect{left + wide + 1, y, gauge, high}
		l.unit.x, l.unit.w = l.unit.x+gauge+1, l.unit.w-gauge-1
	}
	at := left + wide + side + gap
	l.order = rect{at, y, max(l.w-at, 0), high + 1}
	l.under = rect{left, y + high, at - left - 1, 1}
	l.word, l.wordBig = fit(word, l.order.w-2, high)
	if n.order == "" && l.order.w < 20 {
		l.order = rect{}
		l.under.w = l.w - left
	}
	return y + high + 1
}

// alarmRows is how many rows the alarms take: most once there is one, before
// that only the row that says there is none, and what has no place of its own.
func (l *layout) alarmRows(n need, most int) int {
	switch {
	case n.alarms:
		return most
	case l.labels && l.order.h+l.band.h == 0:
		return 2
	}
	return 1
}

// spread is the usual arrangement: order and tension on top, the trace left
// below them, limits and figures right, and what the logger needs at the foot.
func (l *layout) spread(n need) {
	w, h := l.w, l.h
	airy := h >= 36 // below, headings and blank rows would eat the limits
	l.labels = airy
	y := 0
	take := func(rows int) rect {
		r := rect{0, y, w, rows}
		y += rows
		return r
	}
	l.head = take(1)
	if n.caption {
		l.caption = take(1)
	}
	if airy {
		y++
	}
	y = l.top(n, y, max(5, min(h/4, 14)))
	if n.why {
		l.why = take(1)
	}
	if airy {
		y++
	}
	l.notice = take(1)

	foot, spare := h-1, 0 // spare: rows that an alarm will take
	l.keys = rect{0, foot, w, 1}
	switch {
	case w >= 150 && h >= 36: // wide: alarms, news and status side by side
		rows := min(max(h/7, 7), 9)
		foot -= rows
		a, b := w*38/100, w*30/100
		l.alarms = rect{1, foot, a - 3, rows}
		l.news = rect{a, foot, b - 2, rows}
		l.status = rect{a + b, foot, w - a - b - 1, rows}
	case airy:
		foot -= n.streams + 2
		l.status = rect{1, foot, w - 2, n.streams + 2}
		rows := min(4, h/10)
		foot -= rows
		l.news = rect{1, foot, w - 2, rows}
		rows = l.alarmRows(n, 5)
		spare = 5 - rows
		foot -= rows
		l.alarms = rect{1, foot, w - 2, rows}
	default:
		foot -= 2
		l.status = rect{1, foot, w - 2, 2}
		foot--
		l.news = rect{1, foot, w - 2, 1}
		rows := 2
		if h >= 24 {
			rows = 1
			if n.alarms { // what it means has a row too
				rows = 3
			}
		}
		foot -= rows
		l.alarms = rect{1, foot, w - 2, rows}
	}

	side := 36
	switch {
	case w >= 180:
		side = 56
	case w >= 110:
		side = 44
	case w >= 90:
		side = 38
	}
	body := rect{0, y, w, foot - y}
	if airy {
		body.h-- // a blank row before the alarms
	}
	right := rect{w - side - 1, body.y, side, body.h}
	left := rect{1, body.y, w - side - 4, body.h}
	figures := 4
	switch {
	case body.h >= 20:
		figures = 9
	case body.h >= 14:
		figures = 7
	case body.h >= 10:
		figures = 5
	}
	rows := min(n.limits+1, body.h-figures)
	if bars := 2*n.limits + 1; side >= 44 && body.h-spare >= bars+figures+1 {
		rows = bars
	}
	l.limits = rect{right.x, right.y, right.w, rows}
	gap := 0
	if body.h > rows+figures {
		gap = 1
	}
	l.figures = rect{right.x, right.y + rows + gap, right.w, min(figures, body.h-rows-gap)}
	l.trace = left
	l.page = rect{0, body.y, w, l.h - 1 - body.y}
	l.mid = rect{1, body.y, w - 2, foot - body.y}
}

// stack is the arrangement for a narrow or low terminal: one part under the
// other, and the less pressing ones only where there are rows for them.
func (l *layout) stack(n need) {
	w, h := l.w, l.h
	extra := h - minH
	grow := func(want int) int {
		got := min(want, extra)
		extra -= got
		return got
	}
	y := 0
	take := func(rows int) rect {
		r := rect{0, y, w, rows}
		y += rows
		return r
	}
	l.head = take(1)
	if n.caption {
		l.caption = take(grow(1)) // without a row of its own it stands in the head
	}
	y = l.top(n, y, 5)
	limits := 1
	if n.why {
		limits = grow(1) // why it was stopped comes before what else could stop it
		l.why = take(1)
	}
	page := y

	notice := grow(1)
	alarms := 1 + grow(1)
	most, lines, ports, last := min(n.limits, 3), 2, 1, 1
	if h >= 50 { // narrow and tall: rows to spare
		most, lines, ports, last = n.limits, 8, n.streams, 4
	}
	limits += grow(most)
	figures := 1 + grow(lines)
	status := 1 + grow(ports)
	news := grow(last)
	trace := 0
	if extra >= 7 {
		trace = grow(extra)
	} else {
		alarms += grow(2)
		news += grow(2)
	}
	inset := func(r rect) rect { return rect{r.x + 1, r.y, r.w - 1, r.h} }
	if notice > 0 {
		l.notice = take(notice)
	}
	l.limits = inset(take(limits))
	l.alarms = inset(take(alarms))
	l.figures = inset(take(figures))
	if trace > 0 {
		l.trace = inset(take(trace))
		l.trace.w--
	}
	l.news = inset(take(news))
	l.status = inset(take(status))
	l.keys = rect{0, h - 1, w, 1}
	l.page = rect{0, page, w, h - 1 - page}
	l.mid = rect{1, page, w - 2, l.page.h}
}
