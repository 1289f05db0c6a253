package tui

import (
	"math"
	"strings"
	"time"

	"github.com/NimbleMarkets/ntcharts/canvas/runes"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

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
	bare := sign
	if r.w >= 30 {
		x = c.text(r, x, " old", dim)
		sign += " " + word
	}
	if most := atMost(s); most != "" {
		x = c.text(r, x+2, most, plain)
	}
	if x+2+width(sign) > r.w { // what the number is goes before how fast it changes
		c.text(r, x+2, bare, st)
		return
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
