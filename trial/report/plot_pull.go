package report

import (
	"fmt"
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"hawse/trial"
)

// scale is the scale that all panels of a report have in common.
type scale struct {
	force, hauled, travel, minutes, depth float64 // the most, in SI and minutes
	shallow                               float64
}

// scaleOf is that which holds all pulls.
func scaleOf(c *Campaign) (s scale) {
	s.shallow = math.Inf(1)
	for i := range c.Pulls {
		p := &c.Pulls[i]
		for _, k := range p.Trace.Cols {
			hauls := k.Stage == trial.Pull || k.Stage == trial.Hold
			if hauls {
				s.hauled = greater(s.hauled, k.X)
				s.travel = greater(s.travel, k.Travel)
			}
			s.force = greater(s.force, k.High)
			s.minutes = greater(s.minutes, k.T1/60)
			s.depth = greater(s.depth, k.Depth)
			if k.Depth < s.shallow {
				s.shallow = k.Depth
			}
		}
	}
	s.force *= 1.06
	s.hauled, s.travel, s.minutes = max(s.hauled*1.02, 1), max(s.travel*1.04, 1), max(s.minutes, 1)
	if math.IsInf(s.shallow, 1) {
		s.shallow = 0
	}
	return s
}

func greater(a, b float64) float64 {
	if b > a {
		return b
	}
	return a
}

// traceXY is the tension of a trace against something else: from each column
// both ends, so that it is as thick as the tension was restless.
func traceXY(cols []Col, by, top float64, x func(*Col) float64, in func(*Col) bool) (out plotter.XYs) {
	fine := top / 400 // less cannot be seen
	cut := func() {
		if len(out) > 0 {
			out = append(out, plotter.XY{X: math.NaN(), Y: math.NaN()})
		}
	}
	for i := range cols {
		k := &cols[i]
		if !in(k) {
			cut()
			continue
		}
		if k.Gap {
			cut()
		}
		at, first, then := x(k), k.Low/by, k.High/by
		if k.Falls {
			first, then = then, first
		}
		out = append(out, plotter.XY{X: at, Y: first})
		if math.Abs(then-first) > fine {
			out = append(out, plotter.XY{X: at, Y: then})
		}
	}
	return out
}

// hauledTo is the columns of a pull up to where most line had been hauled: what
// comes after is the rode that slackens, and no result.
func hauledTo(cols []Col) []Col {
	most, at := math.Inf(-1), 0
	for i := range cols {
		if k := &cols[i]; inPull(k) && k.X > most {
			most, at = k.X, i
		}
	}
	return cols[:min(at+1, len(cols))]
}

func inPull(k *Col) bool { return k.Stage == trial.Pull || k.Stage == trial.Hold }

// shades of phases on a ribbon: the same word has the same grey.
var shades = map[trial.Phase]uint8{
	trial.Slack: 0xf0, trial.TakeUp: 0xd8, trial.Embedding: 0xb4, trial.Plateau: 0x90, trial.SawTooth: 0xa4, trial.Decline: 0xc6, trial.Relaxing: 0xe4,
	trial.WeakEngagement: 0xd0, trial.Breakout: 0x10, trial.Resetting: 0x70, trial.Reset: 0x60, trial.Dragging: 0x40, trial.NotSet: 0x30,
	trial.NotMoving: 0x80, trial.Snagged: 0x20, trial.Unclear: 0xfa,
}

// pullFigure is one pull: against anchor travel, against line hauled, and against
// time with haul and depth.
func (u units) pullFigure(p *Pull, s scale) *figure {
	if len(p.Trace.Cols) == 0 {
		return nil
	}
	fBy, fName := u.force()
	lBy, lName := u.length()
	force := "tension, " + fName
	top := s.force / fBy
	cols := p.Trace.Cols

	travel := axes("", "anchor travel, "+lName, force, 0, s.travel/lBy, 0, top)
	travel.Add(lineOf(traceXY(cols, fBy, top, func(k *Col) float64 { return k.Travel / lBy }, func(k *Col) bool { return inPull(k) && !math.IsNaN(k.Travel) }), black, 0.8, nil))
	travel.Add(above{scopeTicks(cols, func(k *Col) float64 { return k.Travel / lBy }), "scope"})
	travel.Title.Text = pullTitle(p)
	travel.Title.Padding = vg.Points(14)

	haul := axes("", "line hauled, "+lName, force, 0, s.hauled/lBy, 0, top)
	var parts []bandPart
	for _, g := range pullSegments(p) {
		if g.X1 > g.X0 {
			parts = append(parts, bandPart{float64(g.X0) / lBy, float64(g.X1) / lBy, g.Phase.String(), shades[g.Phase]})
		}
	}
	under(haul, band{parts})
	haul.Add(lineOf(traceXY(cols, fBy, top, func(k *Col) float64 { return k.X / lBy }, inPull), black, 0.8, nil))
	if p.Figures != nil {
		for _, b := range p.Figures.Breaks {
			name := "breakout"
			if !b.Breakout {
				name = "fall"
			}
			haul.Add(upright{float64(b.X) / lBy, name + ", cause " + b.Cause.String(), []vg.Length{3, 2}})
		}
	}
	if end := endOfPull(p); !math.IsNaN(end) {
		haul.Add(upright{end / lBy, stopWord(p), nil})
	}

	minutes := func(k *Col) float64 { return k.T1 / 60 }
	all := func(*Col) bool { return true }
	time := axes("", "", force, 0, s.minutes, 0, top)
	under(time, band{stageParts(cols)})
	time.Add(lineOf(traceXY(cols, fBy, top, minutes, all), black, 0.8, nil))
	hauledAt := axes("", "", "hauled, "+lName, 0, s.minutes, 0, s.hauled*1.05/lBy)
	hauledAt.Add(lineOf(seriesXY(cols, func(k *Col) float64 {
		if !inPull(k) && k.Stage != trial.Preset && k.Stage != trial.Ease && k.Stage != trial.Stopped {
			return math.NaN()
		}
		return k.X / lBy
	}), blue, 1.2, nil))
	low, high := math.Floor(s.shallow/lBy*2-0.4)/2, math.Ceil(s.depth/lBy*2+0.4)/2
	depth := axes("", "time, min", "depth, "+lName, 0, s.minutes, low, high)
	depth.Add(lineOf(seriesXY(cols, func(k *Col) float64 { return k.Depth / lBy }), blue, 1.2, nil))
	for _, a := range []*plot.Plot{hauledAt, depth} {
		a.Y.Tick.Marker = ticks{4}
	}
	f := u.stacked("pull-"+p.ID, pullTitle(p), "", []*plot.Plot{travel, haul, time, hauledAt, depth}, 37*vg.Millimeter)
	f.pull = true
	return f
}

func pullTitle(p *Pull) string {
	return "Run " + p.ID + ": " + treatmentText(p)
}

// seriesXY is a value of a trace against minutes.
func seriesXY(cols []Col, y func(*Col) float64) (out plotter.XYs) {
	for i := range cols {
		if cols[i].Gap {
			out = append(out, plotter.XY{X: math.NaN(), Y: math.NaN()})
		}
		out = append(out, plotter.XY{X: cols[i].T1 / 60, Y: y(&cols[i])})
	}
	return out
}

// scopeTicks are the places at which the scope was a round number.
func scopeTicks(cols []Col, x func(*Col) float64) (out []plot.Tick) {
	last := math.NaN()
	for i := range cols {
		k := &cols[i]
		if !inPull(k) || math.IsNaN(k.Scope) || math.IsNaN(x(k)) {
			continue
		}
		half := math.Floor(k.Scope * 2)
		if !math.IsNaN(last) && half < last {
			v := (half + 1) / 2
			out = append(out, plot.Tick{Value: x(k), Label: strconv.FormatFloat(v, 'f', -1, 64) + ":1"})
		}
		if math.IsNaN(last) || half < last {
			last = half
		}
	}
	return out
}

// pullSegments are the phases of the pull, without those of the recovery.
func pullSegments(p *Pull) (out []trial.Segment) {
	if p.Figures == nil {
		return nil
	}
	to := math.Inf(-1)
	for i := range p.Trace.Cols {
		if k := &p.Trace.Cols[i]; inPull(k) {
			to = k.T1
		}
	}
	for _, g := range p.Figures.Segments {
		if float64(g.T0)/1e9 < to && g.Phase < trial.ShortStay {
			out = append(out, g)
		}
	}
	return out
}

func endOfPull(p *Pull) float64 {
	end := math.NaN()
	for i := range p.Trace.Cols {
		if k := &p.Trace.Cols[i]; inPull(k) && !(k.X <= end) && !math.IsNaN(k.X) {
			end = k.X
		}
	}
	return end
}

// stopWord is why hauling ended, in a few words.
func stopWord(p *Pull) string {
	if len(p.Stops) == 0 {
		return "end"
	}
	t := []rune(p.Stops[0].Text)
	if len(t) > 44 {
		t = append(t[:43], '…')
	}
	return string(t)
}

// stageParts are the stages along time.
func stageParts(cols []Col) (out []bandPart) {
	shade := map[trial.Stage]uint8{trial.Pull: 0x90, trial.Hold: 0x60, trial.Preset: 0xb4, trial.Recover: 0xc6, trial.Ease: 0xe0}
	for i := range cols {
		k := &cols[i]
		if n := len(out); n > 0 && out[n-1].name == k.Stage.String() {
			out[n-1].to = k.T1 / 60
			continue
		}
		g, some := shade[k.Stage]
		if !some {
			g = 0xf0
		}
		out = append(out, bandPart{k.T0 / 60, k.T1 / 60, k.Stage.String(), g})
	}
	return out
}

// treatmentText is what was pulled, in a few words.
func treatmentText(p *Pull) string {
	if p.Anchor == nil {
		return p.Run.Kind + ", " + p.Run.Station
	}
	t := fmt.Sprintf("pattern %s, %s kg", p.Anchor.Pattern, kg(float64(p.Anchor.Mass)))
	if p.Anchor.Fluke > 0 {
		t += fmt.Sprintf(", fluke %.0f deg", float64(p.Anchor.Fluke)*180/math.Pi)
	}
	return t + ", " + p.Run.Station
}

// shortText is the same in a table that has the station beside it.
func shortText(p *Pull) string {
	if p.Anchor == nil {
		return p.Run.Kind
	}
	t := fmt.Sprintf("%s %s kg", p.Anchor.Pattern, kg(float64(p.Anchor.Mass)))
	if p.Anchor.Fluke > 0 {
		t += fmt.Sprintf(" %.0f°", float64(p.Anchor.Fluke)*180/math.Pi)
	}
	return t
}
