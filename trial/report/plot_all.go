package report

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"hawse/trial"
	"hawse/trial/compare"
)

// repeatsFigure lays the repeats of each treatment of a bottom over each other, a
// panel a treatment.
func (u units) repeatsFigure(c *Campaign, bottom string, groups []group, s scale) *figure {
	fBy, fName := u.force()
	lBy, lName := u.length()
	var panels []*plot.Plot
	for i := range groups {
		g := &groups[i]
		if g.Bottom != bottom {
			continue
		}
		p := axes(g.short(), "", "tension, "+fName, 0, s.travel/lBy, 0, s.force/fBy)
		var ends []words
		var none []string
		for j, k := range g.pulls {
			cols := hauledTo(c.Pulls[k].Trace.Cols)
			ink := inks[j%len(inks)]
			xy := traceXY(cols, fBy, s.force/fBy, func(k *Col) float64 { return k.Travel / lBy }, func(k *Col) bool { return inPull(k) && !math.IsNaN(k.Travel) })
			if len(xy) == 0 {
				none = append(none, withoutLine(&c.Pulls[k]))
				continue
			}
			p.Add(lineOf(xy, ink.color, 0.9, ink.dash))
			at := plotter.XY{X: math.NaN()}
			for _, q := range xy {
				if !math.IsNaN(q.X) {
					at = q
				}
			}
			ends = append(ends, words{x: at.X, y: at.Y, text: c.Pulls[k].ID, style: textStyle(7.5, ink.color), dx: 3, halo: true})
		}
		for _, w := range apartBy(ends, 4, s.force/fBy*min(0.108, 0.95/float64(len(ends)+1))) {
			p.Add(w)
		}
		if len(none) > 0 {
			p.Add(words{x: 0, y: 0.93 * s.force / fBy, text: "without a line: " + strings.Join(none, ", "), style: textStyle(7.5, black), dx: 4})
		}
		panels = append(panels, p)
	}
	if len(panels) == 0 {
		return nil
	}
	panels[len(panels)-1].X.Label.Text = "anchor travel, " + lName
	return u.stacked("repeats-"+bottom, "Repeats laid over each other: "+bottom, "Tension in pull and hold against how far the anchor came; each line is named at its end, and what has none in its panel. Same scales in all panels.", panels, 46*vg.Millimeter)
}

// withoutLine names a pull of which no anchor travel is known.
func withoutLine(p *Pull) string {
	if p.Figures != nil && p.Figures.Quantities[trial.SetOrNot].Word == "not set" {
		return p.ID + " (did not set)"
	}
	return p.ID + " (travel not known)"
}

// apartBy stacks words that stand within near of each other along X, so that none
// overlap: in the order of their heights, about where they were.
func apartBy(all []words, near, gap float64) (out []words) {
	sort.SliceStable(all, func(i, j int) bool { return all[i].x > all[j].x })
	for len(all) > 0 {
		n := 1
		for n < len(all) && all[0].x-all[n].x < near {
			n++
		}
		heap := all[:n]
		all = all[n:]
		right, mean := heap[0].x, 0.0
		sort.SliceStable(heap, func(i, j int) bool { return heap[i].y < heap[j].y })
		was := 0.0
		for i := range heap {
			was += heap[i].y
			if n > 1 {
				heap[i].x = right
			}
			if i > 0 {
				heap[i].y = max(heap[i].y, heap[i-1].y+gap)
			}
			mean += heap[i].y
		}
		down := min((mean-was)/float64(n), heap[0].y-gap*0.4)
		for i := range heap {
			heap[i].y -= max(down, 0)
		}
		out = append(out, heap...)
	}
	return out
}

// stripFigure is every pull of every treatment, with the medians.
func (u units) stripFigure(c *Campaign, groups []group) *figure {
	if len(groups) == 0 {
		return nil
	}
	q := &trial.Quantities[c.By]
	by, name := u.show.InUnit(q.Unit)
	most := 0.0
	for _, g := range groups {
		for _, o := range g.outcomes() {
			if o.Valid() && o.Kind != compare.NotSet {
				most = greater(most, o.V/by)
			}
		}
	}
	if most == 0 {
		most = 1
	}
	n := len(groups)
	p := axes("", q.Name+", at deck, "+name, "", -0.14*most, 1.15*most, -0.6, float64(n)-0.4)
	p.X.Tick.Marker = fromZero{}
	var names []plot.Tick
	for i := range groups {
		g := &groups[i]
		y := float64(n - 1 - i)
		names = append(names, plot.Tick{Value: y, Label: g.short()})
		out := g.outcomes()
		m := compare.Median(out)
		for j, o := range out {
			jitter := (float64(j%5) - 2) * 0.11
			switch {
			case !o.Valid():
			case o.Kind == compare.NotSet:
				p.Add(glyph{x: -0.09 * most, y: y + jitter, style: draw.GlyphStyle{Color: black, Radius: vg.Points(3), Shape: draw.CrossGlyph{}}})
			default:
				st := draw.GlyphStyle{Color: blue, Radius: vg.Points(2.8), Shape: draw.CircleGlyph{}}
				if o.Kind == compare.AtLeast {
					st = draw.GlyphStyle{Color: orange, Radius: vg.Points(3.2), Shape: draw.RingGlyph{}}
				}
				p.Add(glyph{x: o.V / by, y: y + jitter, style: st, arrow: o.Kind == compare.AtLeast})
			}
		}
		if m.Known && !m.NotSet {
			p.Add(medianMark{m.V / by, y, u.middleText(m, q.Unit)})
		}
	}
	p.Y.Tick.Marker = plot.ConstantTicks(names)
	p.Y.Tick.Length = 0
	st := textStyle(7.5, dark)
	st.XAlign = draw.XCenter
	p.Add(words{x: -0.09 * most, y: float64(n) - 0.45, text: "not set", style: st})
	note := "A dot is a pull, a ring with an arrow a lower bound (the pull ended before the peak was left), a cross an anchor that did not set. The bar is the median, its number above it; \">\" says that it is a lower bound itself. Treatments of different bottoms stand here together and are not to be ranked against each other."
	return u.drawn("strip", "All pulls, with medians: "+q.Name, note, wide, vg.Length(n)*13*vg.Millimeter+16*vg.Millimeter, func(c draw.Canvas) {
		c.Max.X -= vg.Points(6)
		c.Max.Y -= vg.Points(6)
		p.Draw(c)
	})
}

// fromZero are ticks without negative ones.
type fromZero struct{}

func (fromZero) Ticks(_, hi float64) []plot.Tick { return ticks{}.Ticks(0, hi) }

type medianMark struct {
	x, y float64
	text string
}

func (m medianMark) Plot(c draw.Canvas, p *plot.Plot) {
	tx, ty := p.Transforms(&c)
	x := tx(m.x)
	c.StrokeLine2(draw.LineStyle{Color: black, Width: vg.Points(1.6)}, x, ty(m.y-0.33), x, ty(m.y+0.33))
	st := textStyle(7.5, black)
	st.XAlign, st.YAlign = draw.XCenter, draw.YBottom
	c.FillText(st, vg.Point{X: x, Y: ty(m.y+0.33) + vg.Points(0.5)}, m.text)
}

// scopeFigure shows what the scope was at the peak of each pull.
func (u units) scopeFigure(c *Campaign, groups []group) *figure {
	q := &trial.Quantities[c.By]
	by, name := u.show.InUnit(q.Unit)
	var xy plotter.XYs
	var labels []string
	var bound []bool
	most, least, top := 0.0, math.Inf(1), 0.0
	for _, g := range groups {
		for j, k := range g.pulls {
			f := c.Pulls[k].Figures
			o := g.outcomes()[j]
			if f == nil || !o.Valid() || o.Kind == compare.NotSet || !f.Quantities[trial.ScopeAtPeak].Read[0].Known {
				continue
			}
			s := f.Quantities[trial.ScopeAtPeak].Read[0].V
			xy = append(xy, plotter.XY{X: s, Y: o.V / by})
			labels = append(labels, g.Pattern)
			bound = append(bound, o.Kind == compare.AtLeast)
			most, least, top = max(most, s), min(least, s), max(top, o.V/by)
		}
	}
	if len(xy) < 2 {
		return nil
	}
	p := axes("", "scope at the peak, incl. roller height", q.Name+", "+name, math.Floor(least*2)/2-0.25, math.Ceil(most*2)/2+0.25, 0, top*1.15)
	for i, v := range xy {
		st := textStyle(9, blue)
		st.XAlign = draw.XCenter
		if bound[i] {
			st.Color = orange
			labels[i] += "↑"
		}
		p.Add(words{x: v.X, y: v.Y, text: labels[i], style: st})
	}
	return u.drawn("scope", "What the scope was at the peak", "A letter is a pull of that pattern, with an arrow where it is a lower bound. A peak at 4:1 and one at 8:1 are not the same test: the line is steeper. Nothing here is corrected for it.", wide, 75*vg.Millimeter, func(c draw.Canvas) {
		c.Max.X -= vg.Points(8)
		c.Max.Y -= vg.Points(6)
		p.Draw(c)
	})
}

// driftFigure is the zero of the load cell, and the known weight, over each day.
func (u units) driftFigure(c *Campaign) *figure {
	type point struct{ hour, v float64 }
	zeros, weights := map[string][]point{}, map[string][]point{}
	var days []string
	band := 0.0
	for i := range c.Pulls {
		p := &c.Pulls[i]
		for _, k := range p.Checks {
			if k.At.IsZero() || !k.Done {
				continue
			}
			t := k.At.UTC()
			day := t.Format("2 Jan")
			if !slices.Contains(days, day) {
				days = append(days, day)
			}
			hour := float64(t.Hour()) + float64(t.Minute())/60 + float64(t.Second())/3600
			switch {
			case k.Weight && k.Want != 0 && !math.IsNaN(k.Shown) && !math.IsNaN(k.Want):
				weights[day] = append(weights[day], point{hour, 100 * (k.Shown/k.Want - 1)})
			case !k.Weight && !math.IsNaN(k.Zero):
				zeros[day] = append(zeros[day], point{hour, k.Zero})
			}
		}
		if p.Trial != nil {
			band = max(band, 0.005*float64(p.Trial.Load.Range))
		}
	}
	if len(days) == 0 {
		return nil
	}
	by, name := u.force()
	low, high, lowW, highW, from, to := math.Inf(1), math.Inf(-1), -1.2, 1.2, 24.0, 0.0
	for _, d := range days {
		for _, z := range zeros[d] {
			low, high, from, to = min(low, z.v), max(high, z.v), min(from, z.hour), max(to, z.hour)
		}
		for _, w := range weights[d] {
			lowW, highW, from, to = min(lowW, w.v*1.1), max(highW, w.v*1.1), min(from, w.hour), max(to, w.hour)
		}
	}
	if low > high {
		low, high = 0, 1
	}
	pad := max(0.15*(high-low), band/20, 1)
	from, to = math.Floor(from), math.Ceil(to+0.1)
	z := axes("zero of the load cell, before it is taken off", "", "zero, "+name, from, to, (low-pad)/by, (high+pad)/by)
	w := axes("known weight: shown less hung", "hour of the day, UTC", "error, %", from, to, lowW, highW)
	w.Add(level{1, "allowed 1 %"})
	w.Add(level{-1, "allowed 1 %"})
	ends := map[*plot.Plot][]words{}
	for i, d := range days {
		ink := inks[i%len(inks)]
		for _, k := range []struct {
			p  *plot.Plot
			at []point
			by float64
		}{{z, zeros[d], by}, {w, weights[d], 1}} {
			var xy plotter.XYs
			for _, q := range k.at {
				xy = append(xy, plotter.XY{X: q.hour, Y: q.v / k.by})
			}
			if len(xy) == 0 {
				continue
			}
			k.p.Add(lineOf(xy, ink.color, 1, ink.dash))
			for _, v := range xy {
				k.p.Add(glyph{x: v.X, y: v.Y, style: draw.GlyphStyle{Color: ink.color, Radius: vg.Points(1.8), Shape: draw.CircleGlyph{}}})
			}
			last := xy[len(xy)-1]
			ends[k.p] = append(ends[k.p], words{x: last.X, y: last.Y, text: d, style: textStyle(7.5, ink.color), dx: 5})
		}
	}
	for _, p := range []*plot.Plot{z, w} {
		for _, e := range apartBy(ends[p], 0.9, (p.Y.Max-p.Y.Min)*0.085) {
			p.Add(e)
		}
	}
	note := fmt.Sprintf("Between two zeros the cell may have moved by what lies between them: that much is in every tension of the pulls between. Pulls are doubted past 0.5 %% of the range (%s).", u.nWith(band))
	return u.stacked("drift", "Zero drift and known weights over the day", note, []*plot.Plot{z, w}, 52*vg.Millimeter)
}
