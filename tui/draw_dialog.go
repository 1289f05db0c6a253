package tui

import (
	"fmt"
	"strings"

	"hawse/safety"
	"hawse/trial"
)

// drawDialog opens the question over the trace, or, where that is too small,
// over the rows below the tension. It covers no more than it needs, and never
// the tension, the order or the keys; the alarms only where there is no room
// beside them, and last the row that says why an order stands.
func (m model) drawDialog(c *canvas, l layout) {
	switch m.dlg.kind {
	case checkDialog:
		m.drawChecks(c, l)
		return
	case limitsDialog:
		m.drawReadOut(c, l)
		return
	case alarmsDialog:
		m.drawAlarmPage(c, l)
		return
	}
	title, body, choices := m.lines()
	var text []string
	var rows, cols int
	var r rect
	arrange := func(in rect) bool {
		r, text = in, nil
		for _, b := range body {
			text = append(text, wrap(b, r.w-2)...)
		}
		rows, cols = columnsFor(choices, r.w-2, max(r.h-1-len(text), 1))
		return r.h > 0 && 1+len(text)+rows <= r.h && (rows == 0 || cols*columnWidth(choices) <= r.w-2)
	}
	page := rect{l.page.x + 1, l.page.y, l.page.w - 2, l.page.h}
	most := page // while it is open, a question may take the row that says why
	if l.why.h > 0 && l.why.y+l.why.h == page.y {
		most.y, most.h = l.why.y, page.h+l.why.h
	}
	if !arrange(l.trace) && !arrange(l.mid) && !arrange(page) && !arrange(most) && len(choices) > 0 {
		// These are needed most; what they are for, the key line says.
		keep := 0
		if m.dlg.kind == reasonDialog { // what has been written must be seen
			keep = 1
		}
		title, text = "", text[:keep]
		rows, cols = columnsFor(choices, r.w-2, r.h-keep)
	}
	r.h = min(r.h, 1+len(text)+rows+1)
	cover := rect{0, r.y, r.x + r.w + 1, r.h}
	for _, p := range []rect{l.near, l.trace} { // nothing of these without their heads, or in a strip too low to read
		if end := p.y + p.h; p.h > 0 && p.y < cover.y+cover.h && end > cover.y+cover.h && end-cover.y-cover.h < 10 {
			cover.h = end - cover.y
		}
	}
	c.clear(cover, plain)
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
	most = max(most, 1)
	cols = min(max(w/columnWidth(choices), 1), 3)
	cols = max(cols, (len(choices)+most-1)/most)
	return (len(choices) + cols - 1) / cols, cols
}

// panel clears room for a page with a title, and gives what is left below it.
// Where the page covers the line of what must be read now, that line comes last.
func (m model) panel(c *canvas, l layout, r rect, title string) rect {
	c.clear(rect{0, r.y, r.x + r.w + 1, r.h}, plain)
	c.rule(r, accent)
	c.text(r, 1, " "+title+" ", accent)
	in := rect{r.x + 1, r.y + 1, r.w - 2, r.h - 1}
	if l.news.h == 0 || l.news.y < r.y+r.h {
		if t, st := m.urgentLine(); t != "" && st != accent && in.h > 1 {
			c.text(in.row(in.h-1), 0, t, st)
			in.h--
		}
	}
	return in
}

// drawChecks is the list before arming: the one thing to do next in words, then
// every line with its key, its name and how it stands.
func (m model) drawChecks(c *canvas, l layout) {
	s := m.snap
	title := fmt.Sprintf("Before arming: %d to do", toDo(s))
	if toDo(s) == 0 {
		title = "Before arming"
	}
	if s.After != "" {
		title += ", goes on from " + s.After
	}
	next := nextText(s)
	rows, taken := checkRows(s, false), carriedRows(s, false)
	r, one := l.trace, true
	gap := 1
	switch tall := func(in rect, gap int) bool { return in.h >= 1+len(wrap(next, in.w-2))+gap+len(taken)+len(rows) }; {
	case r.w >= 90 && tall(r, 1):
	case l.mid.w >= 76 && tall(l.mid, 1):
		r = l.mid
	case l.mid.w >= 76 && tall(l.mid, 0):
		r, gap = l.mid, 0
	default:
		r, one, gap, rows = l.mid, false, 0, checkRows(s, true)
	}
	in := m.panel(c, l, r, title)
	cols := 1
	if !one && in.w >= 70 {
		cols = 2
	}
	lines := wrap(next, in.w)
	if !one && in.h < len(lines)+len(taken)+1+(len(rows)+cols-2)/cols {
		taken = carriedRows(s, true)
	}
	if most := max(in.h-1-len(taken)-(len(rows)+cols-2)/cols, 1); !one && len(lines) > most {
		lines = lines[:most]
	}
	for _, t := range lines {
		c.text(in.row(0), 0, t, strong)
		in = in.from(1)
	}
	if !one && in.h > 1+len(taken)+(len(rows)+cols-2)/cols {
		gap = 1
	}
	in = in.from(gap)
	for _, row := range taken {
		drawCarried(c, in.row(0), row)
		in = in.from(1)
	}
	if one {
		for i, row := range rows {
			drawCheck(c, in.row(i), row, true)
		}
		return
	}
	if len(rows) > 0 && rows[0].key == "" && !rows[0].next && in.h > 1 { // what stands well, over the whole width
		drawCheck(c, in.row(0), rows[0], false)
		rows, in = rows[1:], in.from(1)
	}
	high := max(min(in.h, (len(rows)+cols-1)/cols), 1)
	for first := 0; first < len(rows) && len(rows)-first > high*cols; first++ { // no room for all: from the next one on
		if rows[first].next {
			rows = rows[first:]
			break
		}
	}
	for i, row := range rows {
		if i >= high*cols {
			break
		}
		wide := in.w / cols
		at := in.row(i % high)
		drawCheck(c, rect{at.x + i/high*wide, at.y, min(wide, at.w), at.h}, row, false)
	}
}

func drawCheck(c *canvas, r rect, row checkRow, texts bool) {
	if r.h == 0 {
		return
	}
	if row.next {
		c.text(r, 0, "►", accent)
	}
	c.text(r, 2, row.shape, row.st)
	c.text(r, 4, row.key, strong)
	if row.key == "" && !row.next && strings.Contains(row.name, ",") {
		x := c.text(r, 4, row.state, row.st)
		c.text(r, x+1, row.name, dim)
		return
	}
	const name, state = 6, 24
	x := c.text(rect{r.x, r.y, min(state-1, r.w), 1}, name, row.name, plain)
	x = c.text(r, max(x+1, min(state, r.w-8)), row.state, row.st)
	if texts {
		c.text(r, max(x+2, state+9), row.text, dim)
	}
}

// readOut is a limit of a stage as it is read aloud.
type readOut struct{ name, value string }

// readOuts are the limits of a stage beside its tensions.
func (m model) readOuts(l trial.Limits) (list []readOut) {
	s, u := m.snap, unitsOf(m.snap)
	add := func(name, value string) { list = append(list, readOut{name, value}) }
	if c := s.Config; c != nil && l.WLLStop > 0 && c.WLL > 0 {
		add("weakest gear", fmt.Sprintf("%s, WLL %s, stop at %s %% = %s", c.Weakest, u.tensionUnit(c.WLL), fixed(l.WLLStop*100, 0),
			u.tensionUnit(trial.Force(l.WLLStop)*c.WLL)))
	}
	if l.TensionEnd > 0 {
		add("ends at a tension of", u.tensionUnit(l.TensionEnd))
	}
	if l.Haul > 0 {
		add("ends at line hauled", u.metresUnit(l.Haul))
	}
	if l.ScopeMin > 0 {
		add("ends at a scope of", scopeText(l.ScopeMin))
	}
	if name, _ := nextThing(s); name != "" {
		add("ends at the fairlead", u.metresUnit(s.Config.KeepOut)+" before "+name)
	}
	if l.Duration > 0 {
		add("ends after", clockText(l.Duration))
	}
	if l.SilentStop > 0 {
		add("load cell silent, stop", "after "+ageText(l.SilentStop))
	}
	return list
}

// drawReadOut shows the limits of the coming haul, to be read aloud: the
// tensions in big digits where there is room. Alarms stay in sight.
func (m model) drawReadOut(c *canvas, l layout) {
	s, u := m.snap, unitsOf(m.snap)
	stage := s.Guard.NextHaul()
	lim := limitsNow(s, stage)
	list := m.readOuts(lim)
	r := l.mid
	if len(alarmsOf(&s.Guard)) == 0 && r.h < 20 {
		r = rect{l.page.x + 1, l.page.y, l.page.w - 2, l.page.h}
	}
	in := m.panel(c, l, r, "Limits of "+strings.ToUpper(stage.String())+", to be read out")
	var big []readOut
	if lim.TensionWarn > 0 {
		big = append(big, readOut{"tension, warn at", u.tension(lim.TensionWarn)})
	}
	if lim.TensionStop > 0 {
		big = append(big, readOut{"tension, stop at", u.tension(lim.TensionStop)})
	}
	f := faces[len(faces)-1]
	for _, g := range faces[2:] {
		if wide := g.width(u.slots) + 6; in.h >= g.height()+2+len(list) && len(big)*max(wide, 26) <= in.w {
			f = g
			break
		}
	}
	if roomy := len(big) > 0 && f.sx > 1 && in.h >= f.height()+2+len(list); roomy { // side by side, each under its name
		x := 1
		for _, o := range big {
			c.text(in.row(0), x, o.name+", "+u.force.Name, strong)
			f.draw(c, rect{in.x, in.y + 1, in.w, f.height()}, x, o.value, plain)
			x += max(f.width(u.slots)+6, 26)
		}
		in = in.from(f.height() + 1)
		if in.h > len(list)+1 {
			in = in.from(1)
		}
	} else {
		for i := range big {
			big[i].value += " " + u.force.Name
		}
		list = append(big, list...)
	}
	if len(list) == 0 {
		list = []readOut{{name: "no limits are known"}}
	}
	for i, o := range list {
		if len(list)-i > in.h-1 && in.h <= 2 && i < len(list)-1 && in.h > 0 { // the rest in a row
			var rest []string
			for _, o := range list[i:] {
				rest = append(rest, o.name+" "+o.value)
			}
			c.text(in.row(0), 1, strings.Join(rest, ", "), strong)
			in = in.from(1)
			break
		}
		x := c.text(in.row(0), 1, padRight(o.name, min(22, in.w/2)), plain)
		c.text(in.row(0), x+1, o.value, strong)
		in = in.from(1)
	}
	if in.h > 1 {
		in = in.from(1)
	}
	c.text(in.row(0), 1, "Read aloud, repeated back by the winch operator. y: they were read out.", accent)
}

// drawAlarmPage is every alarm with what it means, what to do and what is left;
// then what is suppressed.
func (m model) drawAlarmPage(c *canvas, l layout) {
	g, r := &m.snap.Guard, l.page
	list := alarmsOf(g)
	if rows := 1 + 4*len(list) + len(wrap(suppressedText(g), r.w-3)); r.y+rows <= l.near.y { // the nearest limit stays in sight
		r.h = l.near.y - r.y
	}
	c.clear(rect{0, r.y, c.w, r.h}, plain)
	title := " alarms: " + countText(len(list)) + " "
	c.rule(rect{r.x + 1, r.y, r.w - 2, 1}, accent)
	c.text(r, 2, title, accent)
	in := rect{r.x + 2, r.y + 1, r.w - 3, r.h - 1}
	gap := 0
	if in.h >= 4*len(list)+2 {
		gap = 1
	}
	means := func(a alarm) []string { return wrap("means: "+a.cause.Consequence(), in.w-2) }
	do := func(a alarm) []string { return wrap("do: "+a.cause.Advice(), in.w-2) }
	rows := len(wrap(suppressedText(g), in.w))
	for _, a := range list {
		rows += 1 + len(means(a)) + len(do(a)) + gap
	}
	if rows > in.h { // a row each
		means = func(a alarm) []string { return []string{"means: " + a.cause.Consequence()} }
		do = func(a alarm) []string { return []string{"do: " + a.cause.Advice()} }
	}
	for i, a := range list {
		rest := len(list) - i
		if in.h < 3 || rest > 1 && in.h < 3+rest-1 && in.h < 3*rest { // the others get a row each
			if in.h == 1 && rest > 1 {
				c.text(in, 0, m.alarmNames(list[i:], in.w), strong)
				return
			}
			c.text(in.row(0), 0, m.alarmText(a, in.w, len(list) > 1), m.alarmStyle(a))
			in = in.from(1)
			continue
		}
		c.text(in.row(0), 0, m.alarmText(a, in.w, len(list) > 1), m.alarmStyle(a))
		in = in.from(1)
		for _, t := range means(a) {
			c.text(in.row(0), 2, t, plain)
			in = in.from(1)
		}
		for _, t := range do(a) {
			c.text(in.row(0), 2, t, strong)
			in = in.from(1)
		}
		in = in.from(gap)
	}
	for _, t := range wrap(suppressedText(g), in.w) {
		c.text(in.row(0), 0, t, dim)
		in = in.from(1)
	}
}

// asideText counts what is suppressed by design.
func asideText(g *safety.State) string {
	n := 0
	for c := range g.Alarms {
		if g.Alarms[c].State == safety.Suppressed {
			n++
		}
	}
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("%d alarms of the load cell suppressed by design: it is %s (l lists them)", n, g.Cell)
}

// suppressedText names what is suppressed by design, and why.
func suppressedText(g *safety.State) string {
	var names []string
	for c := range g.Alarms {
		if g.Alarms[c].State == safety.Suppressed {
			names = append(names, safety.Cause(c).Title())
		}
	}
	if len(names) == 0 {
		return ""
	}
	return "suppressed by design, the load cell is " + g.Cell.String() + ": " + strings.Join(names, ", ")
}
