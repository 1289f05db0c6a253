package report

import (
	"math"
	"slices"

	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"hawse/trial"
)

// planFigure is the lanes of a station as spokes, seen from above.
func (u units) planFigure(c *Campaign, t *trial.Trial, station trial.Station) *figure {
	type spoke struct {
		lane     int
		bearing  float64 // rad from north; NaN not planned
		from, to float64 // m from the vessel
		name     string
		done     bool
	}
	var spokes []spoke
	far := 0.0
	for _, r := range t.Runs {
		if r.Station != station.Name {
			continue
		}
		height := float64(station.Depth) + float64(t.Vessel.Fairlead)
		s := spoke{lane: r.Lane, bearing: math.NaN(), from: taut(float64(r.Payout), height), name: r.ID}
		s.to = s.from
		if k, ok := c.Planned[r.ID]; ok {
			s.bearing = k.Bearing
		}
		for i := range c.Pulls {
			p := &c.Pulls[i]
			if p.Run.ID != r.ID || p.Run.Station != r.Station {
				continue
			}
			s.done = true
			if p.Figures != nil && !math.IsNaN(float64(p.Figures.Hauled)) {
				s.to = taut(float64(r.Payout-p.Figures.Hauled), height)
			}
		}
		far = max(far, s.from)
		spokes = append(spokes, s)
	}
	if len(spokes) == 0 || !(far > 0) {
		return nil
	}
	slices.SortStableFunc(spokes, func(a, b spoke) int { return a.lane - b.lane })
	lBy, lName := u.length()
	far /= lBy
	reach := far * 1.18
	low, tall := -0.14*reach, 98*vg.Millimeter
	headings := !slices.ContainsFunc(spokes, func(s spoke) bool { return math.IsNaN(s.bearing) })
	if headings { // all round, north up
		low, tall = -reach, 172*vg.Millimeter
	}
	p := axes("", "from the vessel, "+lName, lName, -reach, reach, low, reach)
	n := len(spokes)
	for i, s := range spokes {
		a := (175 - 170*(float64(i)+0.5)/float64(n)) * math.Pi / 180
		if headings {
			a = math.Mod(5*math.Pi/2-s.bearing, 2*math.Pi)
		}
		at := func(r float64) plotter.XY { return plotter.XY{X: r / lBy * math.Cos(a), Y: r / lBy * math.Sin(a)} }
		if !s.done {
			p.Add(lineOf(plotter.XYs{at(s.from), at(taut(float64(4*(float64(station.Depth)+float64(t.Vessel.Fairlead))), float64(station.Depth)+float64(t.Vessel.Fairlead)))}, faint, 1, []vg.Length{2, 3}))
		} else {
			p.Add(lineOf(plotter.XYs{at(s.from), at(s.to)}, black, 2.2, nil))
			st := draw.GlyphStyle{Color: black, Radius: vg.Points(2.2), Shape: draw.CircleGlyph{}}
			p.Add(glyph{x: at(s.to).X, y: at(s.to).Y, style: st})
		}
		st := textStyle(6.5, black)
		st.Rotation = a
		if a > math.Pi/2 && a < 3*math.Pi/2 { // so that it is read from the left
			st.Rotation, st.XAlign = a-math.Pi, draw.XRight
		}
		end := at(far * lBy * 1.02)
		name := s.name
		if !s.done {
			name += " –"
		}
		p.Add(words{x: end.X, y: end.Y, text: name, style: st})
	}
	vessel := textStyle(8, black)
	vessel.XAlign, vessel.YAlign = draw.XCenter, draw.YTop
	p.Add(glyph{x: 0, y: 0, style: draw.GlyphStyle{Color: black, Radius: vg.Points(4), Shape: draw.SquareGlyph{}}})
	p.Add(words{x: 0, y: 0, text: "vessel", style: vessel, dy: -6})
	p.Y.Min, p.X.Min, p.X.Max = low, -reach, reach
	where := "North is up; bearings as planned."
	if !headings {
		where = "Lanes in the order of their numbers, spread evenly: their headings are in no plan."
	}
	note := where + " Thick: where the anchor was hauled over, from the taut line at the start to the taut line at the end; a dash says that a lane was not pulled. A lane is spent once pulled, also by a pull that failed."
	return u.drawn("plan-"+station.Name, "Lanes of "+station.Name, note, wide, tall, func(c draw.Canvas) {
		c.Max.X -= vg.Points(6)
		c.Max.Y -= vg.Points(4)
		p.Draw(c)
	})
}

// taut is how far off a taut line of that length ends.
func taut(length, height float64) float64 {
	return math.Sqrt(max(0, length*length-height*height))
}
