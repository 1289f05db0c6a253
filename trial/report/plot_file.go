package report

import (
	"bytes"
	"fmt"
	"html"
	"image"
	"image/color"
	"image/png"
	"regexp"
	"strconv"
	"strings"
	"sync"

	"git.sr.ht/~sbinet/gg"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// stacked draws panels under each other, their scales one above the other.
func (u units) stacked(name, title, note string, panels []*plot.Plot, each vg.Length) *figure {
	// Align does not count titles.
	room := vg.Points(5)
	if p := panels[0]; p.Title.Text != "" {
		room += p.Title.Padding + vg.Points(labelPt*1.2)
	}
	gap := vg.Points(7)
	if len(panels) > 1 && panels[1].Title.Text != "" {
		gap += vg.Points(labelPt)
	}
	return u.drawn(name, title, note, wide, each*vg.Length(len(panels))+room, func(c draw.Canvas) {
		rows := make([][]*plot.Plot, len(panels))
		for i, p := range panels {
			rows[i] = []*plot.Plot{p}
		}
		t := draw.Tiles{Rows: len(panels), Cols: 1, PadTop: room, PadBottom: vg.Points(2), PadRight: vg.Points(12), PadLeft: vg.Points(2), PadY: gap}
		for i, row := range plot.Align(rows, t, c) {
			panels[i].Draw(row[0])
		}
	})
}

// drawn draws a figure twice, as SVG and as PNG.
func (u units) drawn(name, title, note string, w, h vg.Length, panels func(draw.Canvas)) *figure {
	on := func(c draw.Canvas) {
		panels(c)
		if u.invented != "" { // a plot is passed on without its page
			st := textStyle(7, dark)
			st.XAlign, st.YAlign = draw.XRight, draw.YTop
			c.FillText(st, vg.Point{X: c.Max.X - vg.Points(2), Y: c.Max.Y - vg.Points(1)}, u.invented)
		}
	}
	f := &figure{name: fileName(name), title: title, note: note}
	s := vgsvg.New(w, h)
	s.SetColor(paper)
	s.Fill(draw.New(s).Rectangle.Path())
	on(draw.New(s))
	var b bytes.Buffer
	_, _ = s.WriteTo(&b) // a bytes.Buffer takes all
	f.svg = fonts(b.Bytes())
	f.png = pngOf(w, h, on)
	return f
}

// sheets are pictures to draw on, for the next figure of that size: each takes
// megabytes.
var sheets sync.Pool

func pngOf(w, h vg.Length, on func(draw.Canvas)) []byte {
	size := image.Rect(0, 0, int(w/vg.Inch*dpi+0.5), int(h/vg.Inch*dpi+0.5))
	sheet, _ := sheets.Get().(*image.RGBA)
	if sheet == nil || sheet.Rect != size {
		sheet = image.NewRGBA(size)
	}
	defer sheets.Put(sheet)
	ctx := gg.NewContextForRGBA(sheet)
	ctx.SetLineCapButt()
	ctx.InvertY()
	img := vgimg.NewWith(vgimg.UseDPI(dpi), vgimg.UseImageWithContext(sheet, ctx))
	on(draw.New(img))
	var b bytes.Buffer
	_ = (&png.Encoder{CompressionLevel: png.BestSpeed, BufferPool: pngBuffers{}}).Encode(&b, fewInks(sheet)) // a bytes.Buffer takes all
	return b.Bytes()
}

// pngBuffers keeps what the PNG encoder works with.
type pngBuffers struct{}

var encoders sync.Pool

func (pngBuffers) Get() *png.EncoderBuffer  { e, _ := encoders.Get().(*png.EncoderBuffer); return e }
func (pngBuffers) Put(e *png.EncoderBuffer) { encoders.Put(e) }

// fewInks is a picture in a palette, which takes a quarter of the time and room: 16
// levels a channel are enough for lines on white. One with too many colours stays
// as it is.
func fewInks(img image.Image) image.Image {
	from, ok := img.(*image.RGBA)
	if !ok {
		return img
	}
	to := image.NewPaletted(from.Rect, nil)
	var index [1 << 12]int16 // plus 1; 0: not in the palette yet
	for y := range from.Rect.Dy() {
		row := from.Pix[y*from.Stride : y*from.Stride+4*from.Rect.Dx()]
		out := to.Pix[y*to.Stride:]
		for x := 0; x < len(row); x += 4 {
			r, g, b := (int(row[x])+8)/17, (int(row[x+1])+8)/17, (int(row[x+2])+8)/17
			k := &index[r<<8|g<<4|b]
			if *k == 0 {
				if len(to.Palette) == 256 {
					return img
				}
				to.Palette = append(to.Palette, color.RGBA{uint8(17 * r), uint8(17 * g), uint8(17 * b), 0xff})
				*k = int16(len(to.Palette))
			}
			out[x/4] = uint8(*k - 1)
		}
	}
	return to
}

var (
	textTag  = regexp.MustCompile(`<text ([^>]*font-size:([0-9.]+)px[^>]*)>([^<]*)</text>`)
	families = strings.NewReplacer("font-family:'Liberation Sans'", "font-family:"+family, "font-family:Liberation Sans", "font-family:"+family)
)

// fonts lets an SVG be read where the font it was measured with is not there:
// others stand beside it, and each text says how long it is.
func fonts(svg []byte) []byte {
	var out bytes.Buffer
	out.Grow(len(svg) * 5 / 4)
	last := 0
	for _, m := range textTag.FindAllSubmatchIndex(svg, -1) {
		attrs, said := string(svg[m[2]:m[3]]), string(svg[m[6]:m[7]])
		size, err := strconv.ParseFloat(string(svg[m[4]:m[5]]), 64)
		if err != nil {
			continue
		}
		out.Write(svg[last:m[0]])
		last = m[1]
		out.WriteString("<text ")
		if strings.TrimSpace(said) != "" {
			fmt.Fprintf(&out, `textLength="%.5g" lengthAdjust="spacingAndGlyphs" `, float64(textStyle(size, black).Width(html.UnescapeString(said))))
		}
		fmt.Fprintf(&out, "%s>%s</text>", families.Replace(attrs), said)
	}
	out.Write(svg[last:])
	return out.Bytes()
}
