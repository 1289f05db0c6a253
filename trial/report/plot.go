package report

import (
	"image/color"
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Plots are read in grey, and by people who see colours otherwise: what must be
// told apart differs in lightness, in dashes or in shape, and is named where it
// stands. The inks are from the palette of Okabe and Ito (2008, from memory),
// without its greens.
var (
	black  = color.Gray{0x11}
	dark   = color.Gray{0x55}
	faint  = color.Gray{0xcc}
	paper  = color.White
	blue   = color.RGBA{0x00, 0x72, 0xb2, 0xff}
	orange = color.RGBA{0xd5, 0x5e, 0x00, 0xff}
	sky    = color.RGBA{0x56, 0xb4, 0xe9, 0xff}
	purple = color.RGBA{0x9a, 0x4a, 0x7a, 0xff}
)

// inks are those of lines that stand in one panel, with the dashes of each.
var inks = []struct {
	color color.Color
	dash  []vg.Length
}{
	{black, nil}, {blue, nil}, {orange, []vg.Length{5, 2}}, {purple, []vg.Length{2, 1.5}}, {sky, nil}, {dark, []vg.Length{7, 2, 1.5, 2}},
	{color.Gray{0x99}, nil}, {blue, []vg.Length{4, 1.5}}, {orange, nil}, {black, []vg.Length{1.2, 1.2}},
}

const (
	wide    = 170 * vg.Millimeter
	dpi     = 144
	family  = "'Liberation Sans', Arial, Helvetica, sans-serif"
	tickPt  = 8
	labelPt = 9
)

func sans(size float64) font.Font {
	return font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Points(size)}
}

func textStyle(size float64, c color.Color) text.Style {
	return text.Style{Color: c, Font: sans(size), XAlign: draw.XLeft, YAlign: draw.YCenter, Handler: plot.DefaultTextHandler}
}

// axes is a panel with its scale; labels have their units.
func axes(title, x, y string, xMin, xMax, yMin, yMax float64) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil // the sheet has one
	p.Title.Text = title
	p.Title.TextStyle = textStyle(labelPt, black)
	p.Title.TextStyle.XAlign = draw.XCenter
	p.Title.Padding = vg.Points(2)
	for _, a := range []struct {
		axis  *plot.Axis
		label string
		lo    float64
		hi    float64
	}{{&p.X, x, xMin, xMax}, {&p.Y, y, yMin, yMax}} {
		a.axis.Label.Text = a.label
		a.axis.Label.TextStyle.Font = sans(labelPt)
		a.axis.Tick.Label.Font = sans(tickPt)
		a.axis.LineStyle.Width = vg.Points(0.6)
		a.axis.Tick.LineStyle.Width = vg.Points(0.6)
		if !(a.hi > a.lo) || math.IsInf(a.hi-a.lo, 0) {
			a.lo, a.hi = 0, 1
		}
		a.axis.Min, a.axis.Max = a.lo, a.hi
		a.axis.Tick.Marker = ticks{}
		a.axis.Padding = vg.Points(3)
	}
	p.X.Label.Padding = vg.Points(1)
	p.Add(grid{})
	return p
}

// ticks stand at round numbers, seven at most.
type ticks struct{ most int }

func (k ticks) Ticks(lo, hi float64) (out []plot.Tick) {
	most := 7.0
	if k.most > 0 {
		most = float64(k.most)
	}
	step := math.Pow(10, math.Floor(math.Log10((hi-lo)/most)))
	for _, m := range []float64{1, 2, 5, 10} {
		if (hi-lo)/(step*m) <= most {
			step *= m
			break
		}
	}
	places := max(0, -int(math.Floor(math.Log10(step)+1e-9)))
	for i := math.Ceil(lo/step - 1e-9); i*step <= hi+1e-9*step; i++ {
		v := i * step
		if math.Abs(v) < step/2 {
			v = 0
		}
		out = append(out, plot.Tick{Value: v, Label: strconv.FormatFloat(v, 'f', places, 64)})
	}
	return out
}

// grid is faint lines at the ticks of Y.
type grid struct{}

func (grid) Plot(c draw.Canvas, p *plot.Plot) {
	_, ty := p.Transforms(&c)
	for _, t := range p.Y.Tick.Marker.Ticks(p.Y.Min, p.Y.Max) {
		if t.Label != "" {
			c.StrokeLine2(draw.LineStyle{Color: faint, Width: vg.Points(0.4)}, c.Min.X, ty(t.Value), c.Max.X, ty(t.Value))
		}
	}
}

// path is a line through points; NaN breaks it. What lies outside the scale is
// cut off.
type path struct {
	pts  plotter.XYs
	line draw.LineStyle
}

func lineOf(pts plotter.XYs, c color.Color, width float64, dash []vg.Length) path {
	return path{pts, draw.LineStyle{Color: c, Width: vg.Points(width), Dashes: dash}}
}

func (l path) Plot(c draw.Canvas, p *plot.Plot) {
	tx, ty := p.Transforms(&c)
	var run []vg.Point
	flush := func() {
		if len(run) > 1 {
			c.StrokeLines(l.line, c.ClipLinesXY(run)...)
		}
		run = run[:0]
	}
	for _, q := range l.pts {
		if math.IsNaN(q.X) || math.IsNaN(q.Y) {
			flush()
			continue
		}
		run = append(run, vg.Point{X: tx(q.X), Y: ty(q.Y)})
	}
	flush()
}

// words stand at a place of the plot.
type words struct {
	x, y   float64
	text   string
	style  text.Style
	dx, dy float64 // points off
	halo   bool    // on a white ground
}

func (w words) Plot(c draw.Canvas, p *plot.Plot) {
	tx, ty := p.Transforms(&c)
	at := vg.Point{X: tx(w.x) + vg.Points(w.dx), Y: ty(w.y) + vg.Points(w.dy)}
	if w.halo {
		r := w.style.Rectangle(w.text)
		c.FillPolygon(paper, []vg.Point{{X: at.X + r.Min.X, Y: at.Y + r.Min.Y}, {X: at.X + r.Max.X, Y: at.Y + r.Min.Y}, {X: at.X + r.Max.X, Y: at.Y + r.Max.Y}, {X: at.X + r.Min.X, Y: at.Y + r.Max.Y}})
	}
	c.FillText(w.style, at, w.text)
}

// glyph is a mark at a place.
type glyph struct {
	x, y  float64
	style draw.GlyphStyle
	arrow bool // to the right: the true one is greater
}

func (g glyph) Plot(c draw.Canvas, p *plot.Plot) {
	tx, ty := p.Transforms(&c)
	at := vg.Point{X: tx(g.x), Y: ty(g.y)}
	c.DrawGlyph(g.style, at)
	if g.arrow {
		ink := draw.LineStyle{Color: g.style.Color, Width: vg.Points(0.9)}
		end := vg.Point{X: at.X + vg.Points(13), Y: at.Y}
		c.StrokeLine2(ink, at.X+g.style.Radius, at.Y, end.X, end.Y)
		c.StrokeLine2(ink, end.X-vg.Points(3), end.Y+vg.Points(2.5), end.X, end.Y)
		c.StrokeLine2(ink, end.X-vg.Points(3), end.Y-vg.Points(2.5), end.X, end.Y)
	}
}

// upright is a line across the panel at an x, named at its top.
type upright struct {
	x    float64
	text string
	dash []vg.Length
}

func (u upright) Plot(c draw.Canvas, p *plot.Plot) {
	tx, _ := p.Transforms(&c)
	x := tx(u.x)
	c.StrokeLine2(draw.LineStyle{Color: dark, Width: vg.Points(0.7), Dashes: u.dash}, x, c.Min.Y, x, c.Max.Y)
	st := textStyle(7.5, black)
	st.YAlign = draw.YTop
	if u.text != "" {
		if x+st.Width(u.text)+vg.Points(3) > c.Max.X {
			st.XAlign = draw.XRight
			c.FillText(st, vg.Point{X: x - vg.Points(2), Y: c.Max.Y - vg.Points(1)}, u.text)
			return
		}
		c.FillText(st, vg.Point{X: x + vg.Points(2), Y: c.Max.Y - vg.Points(1)}, u.text)
	}
}

// level is a line across the panel at a y, named at its right end.
type level struct {
	y    float64
	text string
}

func (l level) Plot(c draw.Canvas, p *plot.Plot) {
	_, ty := p.Transforms(&c)
	if l.y < p.Y.Min || l.y > p.Y.Max {
		return
	}
	c.StrokeLine2(draw.LineStyle{Color: dark, Width: vg.Points(0.6), Dashes: []vg.Length{4, 3}}, c.Min.X, ty(l.y), c.Max.X, ty(l.y))
	st := textStyle(7.5, dark)
	st.XAlign, st.YAlign = draw.XRight, draw.YBottom
	c.FillText(st, vg.Point{X: c.Max.X - vg.Points(1), Y: ty(l.y) + vg.Points(1)}, l.text)
}

// band is a row of named stretches along the bottom of a panel that leaves room
// for it: see [under].
type band struct{ parts []bandPart }

// under makes room for a band under the zero of Y.
func under(p *plot.Plot, b band) {
	p.Y.Min = -0.16 * p.Y.Max
	p.Y.Tick.Marker = fromZero{}
	p.Add(b)
}

type bandPart struct {
	from, to float64
	name     string
	shade    uint8
}

func (b band) Plot(c draw.Canvas, p *plot.Plot) {
	tx, ty := p.Transforms(&c)
	low, top := c.Min.Y, ty(0)-vg.Points(1.5)
	for _, k := range b.parts {
		x0, x1 := max(tx(k.from), c.Min.X), min(tx(k.to), c.Max.X)
		if x1 <= x0 {
			continue
		}
		c.FillPolygon(color.Gray{k.shade}, []vg.Point{{X: x0, Y: low}, {X: x1, Y: low}, {X: x1, Y: top}, {X: x0, Y: top}})
		c.StrokeLine2(draw.LineStyle{Color: paper, Width: vg.Points(0.8)}, x1, low, x1, top)
		ink := color.Color(black)
		if k.shade < 0x80 {
			ink = paper
		}
		st := textStyle(7, ink)
		st.XAlign = draw.XCenter
		if st.Width(k.name) < x1-x0-vg.Points(2) {
			c.FillText(st, vg.Point{X: (x0 + x1) / 2, Y: (low + top) / 2}, k.name)
		}
	}
}

// above is a second scale along the top of the panel: marks at places of X.
type above struct {
	at    []plot.Tick
	label string
}

func (a above) Plot(c draw.Canvas, p *plot.Plot) {
	tx, _ := p.Transforms(&c)
	st := textStyle(tickPt, black)
	st.XAlign, st.YAlign = draw.XCenter, draw.YBottom
	line := draw.LineStyle{Color: black, Width: vg.Points(0.6)}
	c.StrokeLine2(line, c.Min.X, c.Max.Y, c.Max.X, c.Max.Y)
	last := vg.Length(math.Inf(-1))
	for _, t := range a.at {
		x := tx(t.Value)
		if x < c.Min.X || x > c.Max.X {
			continue
		}
		c.StrokeLine2(line, x, c.Max.Y, x, c.Max.Y+vg.Points(3))
		if half := st.Width(t.Label) / 2; x-half > last+vg.Points(3) {
			c.FillText(st, vg.Point{X: x, Y: c.Max.Y + vg.Points(3)}, t.Label)
			last = x + half
		}
	}
	st.XAlign = draw.XRight
	c.FillText(st, vg.Point{X: c.Min.X - vg.Points(8), Y: c.Max.Y + vg.Points(3)}, a.label)
}
