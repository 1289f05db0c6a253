package tui

import (
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/NimbleMarkets/ntcharts/canvas/runes"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// draw is the whole screen as lines, exactly as many as the terminal has.
func (m model) draw() string {
	if m.w <= 0 || m.h <= 0 {
		return ""
	}
	c := newCanvas(m.w, m.h)
	switch {
	case m.snap == nil:
		c.text(rect{0, 0, m.w, 1}, 0, "waiting for the first data; SPACE calls STOP", plain)
	case m.w < minW || m.h < minH:
		m.drawSmall(c)
	case m.pair.open:
		m.drawPair(c)
	default:
		m.drawAll(c)
	}
	return c.render(m.st)
}

// drawSmall says that the terminal is too small, and what matters all the same.
func (m model) drawSmall(c *canvas) {
	first := "SPACE calls STOP"
	st := keycap
	switch word := orderWord(m.snap); {
	case m.staleFor() > 0:
		first, st = "SCREEN DATA STALLED", loud
	case word != "":
		first, st = word, loud
		if why, all := m.stopText(m.w - width(word) - 2); all {
			first += ": " + why
		}
	case !m.stopAsked.IsZero():
		first, st = "STOP called", loud
	}
	text := fmt.Sprintf("terminal %dx%d is too small: %dx%d at least", m.w, m.h, minW, minH)
	if m.h == 1 {
		text = first + ": " + text
	} else {
		c.text(rect{0, 0, m.w, 1}, 0, first, st)
	}
	lines := []string{text}
	if width(text) > m.w {
		lines = wrap(text, m.w)
	}
	if st != keycap {
		lines = append(lines, wrap("SPACE calls STOP", m.w)...)
	}
	for i, l := range lines {
		y := i + min(m.h-1, 1)
		if y >= m.h {
			break
		}
		c.text(rect{0, y, m.w, 1}, 0, l, plain)
	}
}

func (m model) drawAll(c *canvas) {
	l := m.layout()
	m.drawHead(c, l)
	switch m.stand {
	case StandOperator:
		m.drawNumber(c, l)
		band := l.band
		if m.helpPage > 0 || m.dlg.kind != noDialog { // they open below its first row
			band.h = min(band.h, 1)
		}
		m.drawBand(c, band)
		m.drawCaution(c, l.under)
	case StandLogger, StandFigures:
		m.drawOrderRow(c, l.band)
	default:
		m.drawNumber(c, l)
		m.drawOrder(c, l)
		m.drawNotice(c, l.notice)
	}
	m.drawKeys(c, l.keys)
	if m.helpPage > 0 {
		m.drawHelp(c, l.page)
		return
	}
	switch m.stand {
	case StandOperator:
		m.drawNear(c, l.near)
	case StandDirector:
		m.drawAtDirector(c, l)
	case StandLogger:
		m.drawAtLog(c, l)
	case StandFigures:
		m.drawSheet(c, l.sheet)
	default:
		m.drawLimits(c, l.limits)
		m.drawFigures(c, l.figures)
		m.drawTrace(c)
		m.drawStatus(c, l.status)
	}
	m.drawAlarms(c, l)
	m.drawNews(c, l)
	if m.dlg.kind != noDialog {
		m.drawDialog(c, l)
	}
}

// drawHead is the first line: stage and phase left, what is being pulled, and
// where the data comes from, right.
func (m model) drawHead(c *canvas, l layout) {
	s, g := m.snap, &m.snap.Guard
	r := rect{l.head.x + 1, l.head.y, l.head.w - 2, l.head.h}
	right := m.origin()
	inHead := s.Caption != "" && l.caption.h == 0 // a caption is always shown
	if !s.Wall.IsZero() {
		right += "  " + s.Wall.Format("15:04:05")
	}
	if inHead {
		right = s.Caption
	}
	x := c.text(r, 0, strings.ToUpper(g.Stage.String()), strong)
	x = c.text(r, x+1, clockText(time.Duration(s.T-g.StageSince)), plain)
	end := max(r.w-width(right), x+2)
	c.text(rect{r.x + end, r.y, r.w - end, 1}, 0, right, plain)
	if inHead {
		return
	}
	x = c.text(rect{r.x, r.y, max(end-2, 0), 1}, x+2, s.Phase.String(), accent)
	if room := end - x - 5; room >= 8 {
		c.text(rect{r.x + x + 3, r.y, room, 1}, 0, runText(s), dim)
	}
	if l.caption.h > 0 {
		r = rect{l.caption.x + 1, l.caption.y, l.caption.w - 2, 1}
		if orderWord(s) != "" && l.order.h > 0 && l.order.y == r.y+1 { // the ground of the order reaches up to it
			r.w = l.order.x - 2
		}
		c.text(r, 0, s.Caption, accent)
	}
}

// origin says where the data comes from and who sits here.
func (m model) origin() string {
	s := m.snap
	parts := []string{s.Mode}
	speed := s.Speed
	if m.player != nil {
		speed = m.player.Speed()
		if m.player.Paused() {
			parts = append(parts, "paused")
		}
		if h, ok := m.player.(interface{ Hurrying() bool }); ok && h.Hurrying() {
			parts = append(parts, "on its way")
		}
	}
	if speed > 0 && speed != 1 {
		parts = append(parts, "×"+axisNumber(speed, 3))
	}
	if t := seatText(m.seat); t != "" && m.player == nil {
		parts = append(parts, t)
	}
	return strings.Join(parts, " ")
}

// runText names what is pulled and where.
func runText(s *session.Snapshot) string {
	if s.Run.ID == "" {
		return ""
	}
	parts := []string{"run " + s.Run.ID}
	if s.Run.Anchor != "" {
		parts = append(parts, "anchor "+s.Run.Anchor)
	}
	if s.Run.Kind != "" && s.Run.Kind != trial.KindPull {
		parts = append(parts, s.Run.Kind)
	}
	if s.Run.Station != "" {
		st := s.Run.Station
		if s.Run.Lane > 0 {
			st += fmt.Sprintf(" lane %d", s.Run.Lane)
		}
		parts = append(parts, st)
	}
	return strings.Join(parts, " · ")
}

// drawNumber is the tension in big digits, and below it its age and trend.
func (m model) drawNumber(c *canvas, l layout) {
	s := m.snap
	u := unitsOf(s)
	text, st := u.tension(m.big.shown), plain
	if m.blank() {
		st = loud
		text = strings.Map(func(r rune) rune {
			if r == '.' {
				return r
			}
			return '-'
		}, u.slots)
		if s.Tension.Over && !m.cellOut() && !s.Ended && m.staleFor() == 0 {
			text = "OVER"
		}
	}
	f, r := l.figure, l.number
	wide := rect{0, r.y, r.x + r.w, r.h}
	if f.width(text) > wide.w {
		f, _ = fit(text, wide.w, r.h)
	}
	if st == loud {
		st = plain // the blocks of a loud word would fill its ground
	}
	f.draw(c, wide, wide.w-f.width(text), text, st)
	if m.cellOut() && m.staleFor() == 0 && !s.Ended && r.h >= 5 { // above and below the dashes
		for i, t := range []string{"tension not measured:", "treat as loaded"} {
			c.text(rect{r.x, r.y + i*(r.h-1), r.w + l.gauge.w + 1, 1}, 0, t, loud)
		}
	}
	c.text(l.unit.row(l.unit.h-1), 0, u.force.Name, strong)
	m.drawGauge(c, l, u)
	m.drawUnder(c, l.under, u)
}

// drawGauge is the tension as a share of the stop limit: a column to see from
// afar, full at the limit, with limit and warning level beside it.
func (m model) drawGauge(c *canvas, l layout, u units) {
	r := l.gauge
	limit, warn := loadLimit(m.snap)
	if r.h == 0 || !(limit > 0) {
		return
	}
	eighths := 0
	now := float64(m.big.shown)
	st := accent
	if !m.blank() {
		eighths = int(math.Min(math.Max(now/limit, 0), 1) * float64(8*r.h))
		switch {
		case now >= limit:
			st = stopLine
		case now >= warn:
			st = warnLine
		}
	}
	for y := range r.h {
		part := min(max(eighths-8*(r.h-1-y), 0), 8)
		for x := range r.w {
			switch {
			case part == 0:
				c.put(r.x+x, r.y+y, '░', dim)
			default:
				c.put(r.x+x, r.y+y, runes.FullBlock-rune(8-part), st)
			}
		}
	}
	stopWord, warnWord := "", ""
	if l.gaugeWords() > 0 {
		stopWord, warnWord = "stop ", "warn "
	}
	c.text(l.unit, 0, stopWord+u.tension(trial.Force(limit)), stopLine)
	if row := int((1 - warn/limit) * float64(r.h)); warn > 0 && row > 0 && row < r.h-1 {
		c.text(l.unit.row(row), 0, warnWord+u.tension(trial.Force(warn)), warnLine)
	}
}

// cellOut says that the load cell is not in the rode, or not zeroed yet, so that
// nothing measures the tension.
func (m model) cellOut() bool { return m.snap.Guard.Cell != safety.CellOn }

// blank says that no tension may be shown as the tension now.
func (m model) blank() bool {
	s := m.snap
	return !s.Tension.Known || m.cellOut() || m.staleFor() > 0 || s.Ended && m.player == nil
}

func (m model) drawUnder(c *canvas, r rect, u units) {
	s := m.snap
	age := time.Duration(s.T - s.Tension.At)
	switch old := m.staleFor(); {
	case old > 0:
		c.text(r, 0, "SCREEN DATA STALLED "+ageText(old), loud)
		return
	case s.Ended && m.player == nil:
		c.text(r, 0, "ended: nothing is watched now", loud)
		return
	case m.cellOut():
		c.text(r, 0, "load cell "+s.Guard.Cell.String(), strong)
		return
	case s.Tension.Over:
		c.text(r, 0, "over range: counts as above the limit", loud)
		return
	case !s.Tension.Known && s.Tension.At < 0:
		c.text(r, 0, "no tension yet: treat as loaded", loud)
		return
	case !s.Tension.Known:
		c.text(r, 0, "UNKNOWN "+ageText(age)+": treat as loaded", loud)
		return
	}
	sign, word, st := m.trend()
	x := c.text(r, 0, padLeft(ageText(age), 5), dim)
	if r.w >= 30 {
		x = c.text(r, x, " old", dim)
		sign += " " + word
	}
	if most := atMost(s); most != "" {
		x = c.text(r, x+2, most, plain)
	}
	x = c.text(r, x+2, sign, st)
	if rate := float64(s.Tension.Rate); !math.IsNaN(rate) && !math.IsInf(rate, 0) {
		c.text(r, x+1, u.tension(trial.Force(math.Abs(rate)))+" "+u.force.Name+"/s", plain)
	}
}

// trend names the slope. Below a four-hundredth of the stop limit a second it
// is called steady: a full scale in more than six minutes; common practice, no
// source.
func (m model) trend() (sign, word string, st role) {
	rate := float64(m.snap.Tension.Rate)
	limit, _ := loadLimit(m.snap)
	if math.IsNaN(limit) {
		limit = 1000
	}
	switch {
	case math.IsNaN(rate):
		return "?", "trend unknown", dim
	case rate > limit/400:
		return "▲", "rising", strong
	case rate < -limit/400:
		return "▼", "falling", strong
	}
	return "·", "steady", plain
}

// loadLimit is the tension that stops the present stage, and the one that
// warns, N; NaN unknown.
func loadLimit(s *session.Snapshot) (stop, warn float64) {
	p := plot{stop: math.NaN(), warn: math.NaN()}
	p.levels(s)
	return p.stop, p.warn
}

// loadedShare: from this share of the limit on people keep clear. Common
// practice, no source.
const loadedShare = 0.1

// loaded says whether the line must be taken as loaded; an unknown tension is.
func (m model) loaded() bool {
	if m.blank() {
		return true
	}
	s := m.snap
	limit, _ := loadLimit(s)
	at := loadedShare * limit
	if math.IsNaN(at) {
		at = 0
		if s.Config != nil {
			at = float64(s.Config.Slack)
		}
	}
	return !(float64(s.Tension.Big) <= at)
}

// noticeText is the one line of caution that is always there.
func (m model) noticeText() (string, role) {
	s := m.snap
	stopped := s.Guard.Stop.Kind != safety.NoStop
	switch {
	case m.blank():
		t := "Tension unknown: treat as loaded."
		if m.cellOut() {
			t = "Tension not measured: treat as loaded."
		}
		if stopped {
			t = "Stopped is not slack. " + t
		}
		return t, loud
	case m.loaded() && stopped:
		return "Stopped is not slack. Line loaded: keep clear.", caution
	case m.loaded():
		return "Line loaded: keep clear.", standing
	}
	return "An aid to watching a pull. It does not make the pull safe.", dim
}

// noticeForms is the line of caution from the longest form to the shortest.
func (m model) noticeForms() ([]string, role) {
	text, st := m.noticeText()
	if st == dim {
		return []string{text, "An aid: it makes no pull safe."}, st
	}
	if first, rest, two := strings.Cut(text, ". "); two {
		_, do, _ := strings.Cut(rest, ": ")
		return []string{text, first + ": " + do, first + "."}, st
	}
	return []string{text}, st
}

func (m model) drawNotice(c *canvas, r rect) {
	if r.h == 0 {
		return
	}
	forms, st := m.noticeForms()
	c.rule(r, dim)
	c.text(rect{r.x, r.y, r.w - 1, 1}, 1, " "+widest(forms, r.w-4)+" ", st)
}
