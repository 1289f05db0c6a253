package tui

import (
	"math"
	"strconv"
	"strings"
	"time"

	"hawse/acquire/session"
	"hawse/trial"
)

// plot is the trace's axes: which part of the pull is shown, and how cells and
// values meet. It is fixed before the columns are asked for.
type plot struct {
	ok     bool
	byTime bool
	whole  rect // what it was made for
	area   rect // the cells of the curve alone
	top    int  // rows above it, for the scope
	ribbon int  // rows below it, for the phases
	yLabel int  // cells left of it
	x0, x1 float64
	y0, y1 float64 // newtons
	along  string  // what the axis along the bottom is called, where it is not line hauled
	empty  string  // why there is nothing to draw
	above  string  // what lies above the scale
	stop   float64 // newtons; NaN none
	warn   float64
	bare   float64
	dead   float64
	endAt  float64 // metres hauled at the planned end; NaN none
}

const (
	plotMinW, plotMinH = 24, 4
	nameW              = 5 // cells right of the curve, for the names of the levels
	cellTime           = 100 * time.Millisecond
)

// query is the columns the plot needs: two a cell.
func (p plot) query() session.TraceQuery {
	return session.TraceQuery{ByHaul: !p.byTime, From: p.x0, To: p.x1, Cols: 2 * p.area.w}
}

// plotFor sets up the axes for the trace's rectangle.
func plotFor(s *session.Snapshot, r rect, byTime bool, win window, under []under) plot {
	if r.w < plotMinW || r.h < plotMinH {
		return plot{}
	}
	p := plot{ok: true, byTime: byTime, yLabel: 6, stop: math.NaN(), warn: math.NaN(), bare: math.NaN(), dead: math.NaN(), whole: r, endAt: math.NaN()}
	rows := r.h - 1
	if rows >= 7 {
		p.ribbon = 1
	}
	if rows >= 10 && !byTime && s.Haul.Known && s.Haul.ScopeOK {
		p.top = 1
	}
	p.area = rect{r.x + p.yLabel + 1, r.y + p.top, r.w - p.yLabel - 1 - nameW, rows - p.top - p.ribbon}
	p.levels(s)
	if byTime {
		under = nil // earlier pulls are laid beneath by line hauled alone
	}
	p.heights(s, under)
	if byTime {
		p.spanTime(s)
	} else {
		p.spanHaul(s)
		p.reach(under)
	}
	p.look(s, win)
	return p
}

// levels are the lines across the plot: the nearest stop and warning of the
// stage, and the bare rode.
func (p *plot) levels(s *session.Snapshot) {
	least := func(v *float64, n float64) {
		if n > 0 && !(*v <= n) {
			*v = n
		}
	}
	if c := s.Config; c != nil && s.Guard.Stage < trial.NumStages {
		l := c.Limits[s.Guard.Stage]
		least(&p.stop, float64(l.TensionStop))
		least(&p.stop, l.WLLStop*float64(c.WLL))
		least(&p.warn, float64(l.TensionWarn))
		least(&p.warn, l.WLLWarn*float64(c.WLL))
	}
	if t := s.Trial; t != nil && t.Levels.Known && t.Levels.BareRode > 0 {
		p.bare = float64(t.Levels.BareRode)
	}
	if t := s.Trial; t != nil && t.Levels.Known && t.Levels.DeadWeight > 0 {
		p.dead = float64(t.Levels.DeadWeight)
	}
	if a := s.Anchor; a.Bare > 0 && a.Dead > 0 { // as they are at this line hauled
		p.bare, p.dead = float64(a.Bare), float64(a.Dead)
	}
}

// heights chooses the scale of tension. The stop limit is in sight, except
// while the whole pull is under a quarter of it: then the shape would be lost
// at the bottom, and the limit is named as being above.
func (p *plot) heights(s *session.Snapshot, under []under) {
	most := 0.0
	if s.Span.N > 0 {
		most = math.Max(most, float64(s.Span.Greatest))
	}
	for _, k := range under {
		most = math.Max(most, float64(k.series.ByHaul.Greatest()))
	}
	top := most * 1.15
	if p.stop > 0 {
		switch {
		case most < p.stop/4:
			top = p.stop * 0.3
			p.above = "stop"
		default:
			top = math.Max(top, p.stop*1.1)
		}
	}
	if !(top > 0) {
		top = 1000
	}
	p.y0, p.y1 = 0, top
}

// spanHaul is from where the pull began to where it is planned to end.
func (p *plot) spanHaul(s *session.Snapshot) {
	lo, hi := 0.0, 10.0
	least, most := float64(s.Span.LeastX), float64(s.Span.MostX)
	p.endAt = plannedEnd(s)
	if s.Span.N > 0 && most >= least {
		if lo = math.Floor(least); lo > 0 && lo <= 2 {
			lo = 0
		}
		hi = math.Max(lo+10, most+(most-lo)*0.05)
	} else {
		p.empty = "no line hauled yet"
	}
	if p.endAt > lo {
		hi = math.Max(hi, p.endAt+(p.endAt-lo)*0.08)
	}
	p.x0, p.x1 = lo, hi
}

// plannedEnd is the line hauled, counted as the trace counts it, at which the
// stage is planned to end; NaN if nothing ends it so.
func plannedEnd(s *session.Snapshot) float64 {
	end := math.NaN()
	c := s.Config
	if c == nil || s.Guard.Stage >= trial.NumStages || !s.Haul.Known {
		return end
	}
	l := c.Limits[s.Guard.Stage]
	if l.Haul > 0 && s.Guard.HasStageX {
		end = float64(s.Guard.StageX + l.Haul)
	}
	if l.ScopeMin > 0 && s.Haul.ScopeOK {
		if at := float64(s.Haul.X) + toScope(s, l.ScopeMin); !(at > end) {
			end = at
		}
	}
	return end
}

// toScope is the line still to haul, m, until the scope is down to least; NaN
// while it is unknown.
func toScope(s *session.Snapshot, least float64) float64 {
	if !s.Haul.Known || !s.Haul.ScopeOK || !(s.Haul.Scope > 0) {
		return math.NaN()
	}
	return float64(s.Haul.RodeOut) * (1 - least/s.Haul.Scope)
}

// spanTime is the run so far, in steps, and its last twenty minutes after
// that. The window moves by whole columns, so that a column keeps its samples.
func (p *plot) spanTime(s *session.Snapshot) {
	cols := int64(2 * p.area.w)
	if s.Span.N == 0 {
		p.empty = "no tension yet"
		p.x0, p.x1 = 0, float64(2*time.Minute)
		return
	}
	now := max(s.T, s.Span.Last)
	span := int64(20 * time.Minute)
	for _, step := range []time.Duration{2 * time.Minute, 5 * time.Minute, 10 * time.Minute} {
		if now-s.Span.First < int64(step) {
			span = int64(step)
			break
		}
	}
	col := (span/cols + int64(cellTime) - 1) / int64(cellTime) * int64(cellTime)
	first := s.Span.First / col * col
	if end := first + cols*col; now >= end {
		first += (now-end)/col*col + col
	}
	p.x0, p.x1 = float64(first), float64(first+cols*col)
}

// dotX and dotY are where a value stands in braille dots: two a cell across,
// four a cell down. ok is false outside the plot.
func (p plot) dotX(x float64) (int, bool) {
	n := 2 * p.area.w
	d := math.Floor((x - p.x0) / (p.x1 - p.x0) * float64(n))
	return int(math.Min(math.Max(d, 0), float64(n-1))), d >= 0 && d < float64(n)
}

func (p plot) dotY(y float64) (int, bool) {
	n := 4 * p.area.h
	d := math.Floor((p.y1 - y) / (p.y1 - p.y0) * float64(n))
	return int(math.Min(math.Max(d, 0), float64(n-1))), d >= 0 && d < float64(n)
}

// niceStep is the next of 1, 2, 5, 10, 20, ... at or above v.
func niceStep(v float64) float64 {
	if !(v > 0) || math.IsInf(v, 0) {
		return 1
	}
	ten := math.Pow(10, math.Floor(math.Log10(v)))
	for _, k := range []float64{1, 2, 5} {
		if k*ten >= v {
			return k * ten
		}
	}
	return 10 * ten
}

// niceTime is a step of time, s, that clocks have.
func niceTime(v float64) float64 {
	for _, k := range []float64{10, 15, 30, 60, 120, 300, 600, 1200, 3600} {
		if k >= v {
			return k
		}
	}
	return 3600 * math.Ceil(v/3600)
}

// axisNumber is a tick's number, without zeros that say nothing.
func axisNumber(v float64, dec int) string {
	s := strconv.FormatFloat(v, 'f', dec, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}

func padLeft(s string, w int) string {
	return strings.Repeat(" ", max(w-width(s), 0)) + s
}
