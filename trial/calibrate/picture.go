package calibrate

import (
	"encoding/xml"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// letters mark a reading by its direction in a picture of text.
var letters = [...]byte{Unsaid: 'o', Up: 'u', Down: 'd'}

// Plot draws the residuals over x with letters: u going up, d going down, o
// neither said, * several at one place.
func (r *Report) Plot(t *Table, wide, high int) string {
	wide, high = max(wide, 24), max(high, 5)|1
	lo, hi := r.ends(t)
	top := r.top()
	grid := make([][]byte, high)
	for i := range grid {
		fill := " "
		if i == high/2 {
			fill = "-"
		}
		grid[i] = []byte(strings.Repeat(fill, wide))
	}
	for i, row := range t.Rows {
		c := int(math.Round((row.X - lo) / (hi - lo) * float64(wide-1)))
		l := int(math.Round((1 - r.Fit.Residuals[i]/top) / 2 * float64(high-1)))
		c, l = min(max(c, 0), wide-1), min(max(l, 0), high-1)
		switch mark := letters[r.Directions[i]]; grid[l][c] {
		case ' ', '-', mark:
			grid[l][c] = mark
		default:
			grid[l][c] = '*'
		}
	}
	var b strings.Builder
	for i, line := range grid {
		label := ""
		switch i {
		case 0:
			label = fmt.Sprintf("%+.3g", top)
		case high / 2:
			label = "0"
		case high - 1:
			label = fmt.Sprintf("%+.3g", -top)
		}
		fmt.Fprintf(&b, "%10s |%s\n", label, strings.TrimRight(string(line), " "))
	}
	left, right := strconv.FormatFloat(lo, 'g', 6, 64), strconv.FormatFloat(hi, 'g', 6, 64)
	fmt.Fprintf(&b, "%10s  %s%*s\n", "x", left, max(1, wide-len(left)), right)
	return b.String()
}

// top is the greatest residual, or something above 0.
func (r *Report) top() float64 {
	top := 0.0
	for _, v := range r.Fit.Residuals {
		top = max(top, math.Abs(v))
	}
	if top == 0 {
		return 1
	}
	return top
}

// SVG draws the residuals over x. title and unit are texts of any kind.
func (r *Report) SVG(t *Table, title, unit string) string {
	const w, h, left, right, up, low = 800.0, 400.0, 90.0, 20.0, 40.0, 50.0
	lo, hi := r.ends(t)
	top := r.top() * 1.1
	px := func(x float64) float64 { return left + (x-lo)/(hi-lo)*(w-left-right) }
	py := func(v float64) float64 { return up + (1-v/top)/2*(h-up-low) }
	var b strings.Builder
	say := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	say(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %g %g" width="%g" height="%g" font-family="sans-serif" font-size="13">`, w, h, w, h)
	say(`<rect width="%g" height="%g" fill="#ffffff"/>`, w, h)
	say(`<text x="%g" y="24" font-size="15">%s</text>`, left, markup(title))
	text := func(x, y float64, anchor, s string) {
		say(`<text x="%.1f" y="%.1f" text-anchor="%s">%s</text>`, x, y, anchor, markup(s))
	}
	for _, s := range []float64{-1, 0, 1} {
		y := py(s * r.Fit.ResidualSD)
		dash := ` stroke-dasharray="4 4"`
		if s == 0 {
			dash = ""
		}
		say(`<line x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f" stroke="#888888"%s/>`, left, y, w-right, y, dash)
		if s == 0 || r.Fit.ResidualSD > 0.12*top {
			text(left-6, y+4, "end", strconv.FormatFloat(s*r.Fit.ResidualSD, 'g', 3, 64))
		}
	}
	for i := range 5 {
		x := lo + (hi-lo)*float64(i)/4
		say(`<line x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f" stroke="#888888"/>`, px(x), h-low, px(x), h-low+5)
		text(px(x), h-low+20, "middle", strconv.FormatFloat(x, 'g', 5, 64))
	}
	text(w-right, h-10, "end", "x, as shown by the box")
	text(left, h-10, "start", strings.TrimSuffix("residual, "+unit, ", ")+"; dashed: one residual sd; up filled, down open")
	for i, row := range t.Rows {
		fill := "#1a1a1a"
		if r.Directions[i] == Down {
			fill = "#ffffff"
		}
		say(`<circle cx="%.1f" cy="%.1f" r="4" fill="%s" stroke="#1a1a1a"/>`, px(row.X), py(r.Fit.Residuals[i]), fill)
	}
	b.WriteString("</svg>\n")
	return b.String()
}

// markup makes a text fit for XML and HTML, whatever is in it.
func markup(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a Builder takes everything
	return b.String()
}

// Block is the table of a trial file that says this calibration. unit is one the
// trial file knows, source who calibrated and when. It is refused for a file in
// which x was applied: the curve goes the other way.
func (r *Report) Block(unit, source string) (string, error) {
	if r.Applied != AppliedY {
		return "", fmt.Errorf("a trial file wants the force applied from what the box shows; here x was applied: give a file with the columns changed over")
	}
	var b strings.Builder
	fmt.Fprintf(&b, "[load.calibration]\nunit = %s\ncoefficients = [", tomlText(unit))
	for i, c := range r.Fit.Coefficients {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(tomlNumber(c))
	}
	fmt.Fprintf(&b, "]\nsource = %s\n", tomlText(source))
	return b.String(), nil
}

// tomlNumber is the shortest float that reads back the same.
func tomlNumber(v float64) string {
	s := strconv.FormatFloat(v, 'g', -1, 64)
	if !strings.ContainsAny(s, ".e") {
		s += ".0"
	}
	return s
}

// tomlText is a basic string of TOML.
func tomlText(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range strings.ToValidUTF8(s, "?") {
		switch {
		case r == '"' || r == '\\':
			b.WriteString(`\` + string(r))
		case r < 0x20 || r == 0x7f:
			b.WriteByte(' ')
		default:
			b.WriteRune(r)
		}
	}
	return b.String() + `"`
}
