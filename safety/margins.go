package safety

import (
	"math"

	"hawse/trial"
)

// TensionRate is the slope of the tension over about the last two seconds, N/s;
// NaN while unknown.
func (s *State) TensionRate() float64 { return s.tension.slope(s.T) }

// HaulSpeed is the slope of the line hauled over about the last two seconds;
// positive hauling, NaN while unknown.
func (s *State) HaulSpeed() trial.Speed { return trial.Speed(s.haul.slope(s.T)) }

// Hauled is the line hauled since the stage began; ok is false while unknown.
func (s *State) Hauled() (x trial.Length, ok bool) { return s.hauled, s.HasStageX && s.Line.HasX }

// Margins appends to dst every limit of the present stage with what is left to
// it, nearest first by Share. One whose value is unknown comes before all: what
// nobody knows is not far from its limit.
//
// The value is that of the last sample, not the confirmed one; Share runs from
// 0 to 1 at the limit. For minimum scope it is the limit over the scope.
func (g *Guard) Margins(dst []Margin) []Margin {
	s, l := &g.s, g.limits(g.s.Stage)
	first := len(dst)
	for _, c := range [...]Cause{TensionLimit, WLLShare} {
		if warn, stop := levels(l, g.cfg.WLL, c); stop > 0 {
			dst = append(dst, g.tensionMargin(c, warn, stop))
		}
	}
	speed := float64(s.HaulSpeed())
	if l.Haul > 0 {
		m := upTo(LineHauled, unless(s.Line.HasX && s.HasStageX, float64(s.hauled)), 0, float64(l.Haul))
		m.In = until(m.Left, speed)
		dst = append(dst, m)
	}
	if l.ScopeMin > 0 {
		dst = append(dst, g.scopeMargin(l.ScopeMin, speed))
	}
	if i, left := g.nextThing(); i >= 0 {
		out, keep := float64(g.cfg.KeepOut+left), float64(g.cfg.KeepOut)
		m := Margin{Cause: AtFairlead, Now: out, Warn: math.NaN(), Limit: keep, Left: max(0, out-keep), Share: 1, Name: g.cfg.Things[i].Name}
		if out > keep {
			m.Share = keep / out
		}
		m.In = until(m.Left, speed)
		dst = append(dst, m)
	}
	if l.TensionEnd > 0 {
		m := upTo(TensionReached, unless(s.TensionKnown(), float64(s.Load.Tension)), 0, float64(l.TensionEnd))
		m.In = until(m.Left, s.TensionRate())
		dst = append(dst, m)
	}
	if s.Cell != CellOn { // its faults are suppressed by design
		return g.lastMargins(dst, first, l)
	}
	dst = append(dst, g.silenceMargin(max(LoadSilent, g.lostAs()), s.timers.loadWord, l.SilentWarn.Seconds(), l.SilentStop.Seconds()))
	return g.lastMargins(dst, first, l)
}

// lastMargins are those that do not need the load cell.
func (g *Guard) lastMargins(dst []Margin, first int, l *trial.Limits) []Margin {
	s := &g.s
	if g.watchesLine(s.Stage) {
		dst = append(dst, g.silenceMargin(LineSilent, s.timers.lineWord, l.LineSilentWarn.Seconds(), l.LineSilentStop.Seconds()))
	}
	if l.Duration > 0 {
		m := upTo(StageDuration, seconds(s.T-s.StageSince), 0, l.Duration.Seconds())
		m.In = m.Left
		dst = append(dst, m)
	}
	g.nearestFirst(dst[first:])
	return dst
}

func (g *Guard) tensionMargin(c Cause, warn, stop float64) Margin {
	s, unit := &g.s, 1.0
	if c == WLLShare {
		unit = float64(g.cfg.WLL)
	}
	if s.Load.Over { // above every limit, by an unknown amount
		m := upTo(c, math.NaN(), warn/unit, stop/unit)
		m.Left, m.Share, m.In = 0, 1, 0
		return m
	}
	m := upTo(c, unless(s.TensionKnown(), float64(s.Load.Tension)/unit), warn/unit, stop/unit)
	m.In = until(m.Left, s.TensionRate()/unit)
	return m
}

func (g *Guard) scopeMargin(limit, speed float64) Margin {
	s := &g.s
	m := Margin{Cause: MinimumScope, Now: math.NaN(), Warn: math.NaN(), Limit: limit, Left: math.NaN(), Share: math.NaN(), In: math.NaN()}
	if !s.Line.HasS {
		return m
	}
	m.Now, m.Left = s.Line.Scope, max(0, s.Line.Scope-limit)
	m.Share = 1
	if m.Left > 0 {
		m.Share = limit / m.Now
	}
	// Scope falls with the rode out: the height between is constant for now.
	m.In = until(m.Left, speed*m.Now/float64(s.Line.RodeOut))
	return m
}

// silenceMargin approaches only once a source is late enough to warn of.
func (g *Guard) silenceMargin(c Cause, since int64, warn, stop float64) Margin {
	m := upTo(c, seconds(g.s.T-since), warn, stop)
	if m.Now >= warn {
		m.In = m.Left
	}
	return m
}

// lostAs is the face a lost load cell has shown, NoCause while it is heard.
func (g *Guard) lostAs() Cause {
	for _, c := range [...]Cause{LoadGarbled, LoadSilent} {
		if g.s.present[c] > absent {
			return c
		}
	}
	return NoCause
}

// upTo is the margin of a value that rises to its limit.
func upTo(c Cause, now, warn, limit float64) Margin {
	m := Margin{Cause: c, Now: now, Warn: warn, Limit: limit, Left: max(0, limit-now), In: math.NaN()}
	m.Share = max(0, min(1, now/limit))
	if !(warn > 0) {
		m.Warn = math.NaN()
	}
	return m
}

func unless(known bool, v float64) float64 {
	if known {
		return v
	}
	return math.NaN()
}

// until is the time to go left at a slope; NaN where it is not approached.
func until(left, slope float64) float64 {
	switch {
	case math.IsNaN(left):
		return math.NaN()
	case left == 0:
		return 0
	case slope > 0:
		return left / slope
	}
	return math.NaN()
}

// nearestFirst sorts by Share, unknown first; equals keep their order. The ends
// by line stand together, at the largest share among them, in the order in
// which hauling comes to them: a share of a scope says nothing beside a share
// of a length.
func (g *Guard) nearestFirst(m []Margin) {
	share := 0.0
	metres := func(x Margin) float64 {
		if x.Cause == MinimumScope { // a metre hauled is so much scope
			return x.Left * float64(g.s.Line.RodeOut) / x.Now
		}
		return x.Left
	}
	byLine := func(c Cause) bool { return c == LineHauled || c == MinimumScope || c == AtFairlead }
	for i := range m {
		if byLine(m[i].Cause) && !math.IsNaN(m[i].Share) {
			share = max(share, m[i].Share)
		}
	}
	before := func(a, b Margin) bool {
		if byLine(a.Cause) && byLine(b.Cause) && !math.IsNaN(a.Share) && !math.IsNaN(b.Share) {
			return metres(a) < metres(b)
		}
		if byLine(a.Cause) && !math.IsNaN(a.Share) {
			a.Share = share
		}
		if byLine(b.Cause) && !math.IsNaN(b.Share) {
			b.Share = share
		}
		if math.IsNaN(a.Share) || math.IsNaN(b.Share) {
			return math.IsNaN(a.Share) && !math.IsNaN(b.Share)
		}
		return a.Share > b.Share
	}
	for i := 1; i < len(m); i++ {
		for j := i; j > 0 && before(m[j], m[j-1]); j-- {
			m[j], m[j-1] = m[j-1], m[j]
		}
	}
}
