package tui

import (
	"fmt"
	"strings"
	"time"

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
