package tui

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/charmbracelet/x/ansi"
)

// rect is a rectangle of cells: left, top, width, height.
type rect struct{ x, y, w, h int }

// row is the i-th row of r as a rectangle of its own; empty past the end.
func (r rect) row(i int) rect {
	if i < 0 || i >= r.h {
		return rect{r.x, r.y, 0, 0}
	}
	return rect{r.x, r.y + i, r.w, 1}
}

// from is r without its first n rows.
func (r rect) from(n int) rect {
	n = min(max(n, 0), r.h)
	return rect{r.x, r.y + n, r.w, r.h - n}
}

type cell struct {
	r  rune // 0: blank; tail: right half of a wide rune
	st role
}

const tail = rune(-1)

// canvas is a screen of cells. Everything drawn outside it, or outside the
// rectangle it is drawn into, is cut.
type canvas struct {
	w, h  int
	cells []cell
}

func newCanvas(w, h int) *canvas {
	return &canvas{w: w, h: h, cells: make([]cell, w*h)}
}

func (c *canvas) put(x, y int, r rune, st role) {
	if x < 0 || y < 0 || x >= c.w || y >= c.h {
		return
	}
	c.cells[y*c.w+x] = cell{r, st}
}

// clear blanks a rectangle in one style.
func (c *canvas) clear(r rect, st role) {
	for y := max(r.y, 0); y < min(r.y+r.h, c.h); y++ {
		for x := max(r.x, 0); x < min(r.x+r.w, c.w); x++ {
			c.cells[y*c.w+x] = cell{0, st}
		}
	}
}

// restyle gives the cells of a rectangle another style and keeps what they
// show.
func (c *canvas) restyle(r rect, st role) {
	for y := max(r.y, 0); y < min(r.y+r.h, c.h); y++ {
		for x := max(r.x, 0); x < min(r.x+r.w, c.w); x++ {
			c.cells[y*c.w+x].st = st
		}
	}
}

// text draws s on the first row of r, dx cells in, and returns the cell after
// it, counted from r's left edge. Text that does not fit ends in an ellipsis.
func (c *canvas) text(r rect, dx int, s string, st role) int {
	if r.h <= 0 {
		return dx
	}
	r.w = min(r.w, c.w-r.x) // or half of a wide rune would stand past the edge
	x := dx
	for _, ru := range s {
		ru, w := visible(ru)
		if w == 0 {
			continue
		}
		if x+w > r.w {
			if x > dx && r.w > 0 {
				c.ellipsis(r, st)
			}
			return r.w
		}
		if x >= 0 {
			c.put(r.x+x, r.y, ru, st)
			if w == 2 {
				c.put(r.x+x+1, r.y, tail, st)
			}
		}
		x += w
	}
	return x
}

// ellipsis marks the last cell of a row whose text was cut.
func (c *canvas) ellipsis(r rect, st role) {
	x := r.x + r.w - 1
	if x > 0 && x < c.w && r.y >= 0 && r.y < c.h && c.cells[r.y*c.w+x].r == tail {
		c.put(x-1, r.y, 0, st)
	}
	c.put(x, r.y, '…', st)
}

// right draws s ending at the right edge of r; what does not fit is cut on
// the right. It returns the cell where the text begins.
func (c *canvas) right(r rect, s string, st role) int {
	at := max(r.w-width(s), 0)
	c.text(r, at, s, st)
	return at
}

// rule draws a thin line along the first row of r.
func (c *canvas) rule(r rect, st role) {
	if r.h <= 0 {
		return
	}
	for x := range r.w {
		c.put(r.x+x, r.y, '─', st)
	}
}

// render writes the cells as lines, one style sequence per run of equal style.
func (c *canvas) render(st *styles) string {
	b := make([]byte, 0, len(c.cells)*2)
	for y := range c.h {
		if y > 0 {
			b = append(b, '\n')
		}
		row := c.cells[y*c.w : (y+1)*c.w]
		end := len(row)
		for end > 0 && st.bare[row[end-1].st] && (row[end-1].r == 0 || row[end-1].r == ' ') {
			end--
		}
		now := plain
		b = append(b, st.open[plain]...)
		for _, ce := range row[:end] {
			if ce.r == tail {
				if st.ascii { // the left half is a sign of its own
					b = append(b, '?')
				}
				continue
			}
			if ce.st != now {
				b = append(b, st.shut[now]...)
				b = append(b, st.open[ce.st]...)
				now = ce.st
			}
			if ce.r == 0 {
				b = append(b, ' ')
			} else if st.ascii {
				b = utf8.AppendRune(b, toASCII(ce.r))
			} else {
				b = utf8.AppendRune(b, ce.r)
			}
		}
		b = append(b, st.shut[now]...)
	}
	return string(b)
}

// visible is the rune to draw for one that may come from a port or a file, and
// its width: control characters become their pictures, characters that would
// steer the terminal or join others become a mark, and marks that take no room
// are left out.
func visible(r rune) (rune, int) {
	switch {
	case r >= 0x20 && r < 0x7f:
		return r, 1
	case r < 0x20:
		return 0x2400 + max(r, 0), 1
	case r == 0x7f:
		return 0x2421, 1
	case r < 0xa0 || r == utf8.RuneError:
		return utf8.RuneError, 1
	case r >= 0x2500 && r < 0x25fd, r >= 0x2800 && r < 0x2900, r < 0x300 && r != 0xad:
		return r, 1
	case unicode.In(r, unicode.Mn, unicode.Me):
		return 0, 0
	case !unicode.IsGraphic(r) || unicode.In(r, unicode.Regional_Indicator):
		return utf8.RuneError, 1
	}
	switch w := ansi.StringWidth(string(r)); w {
	case 1, 2:
		return r, w
	}
	return utf8.RuneError, 1
}

// width is the number of cells text takes.
func width(s string) int {
	n := 0
	for _, r := range s {
		_, w := visible(r)
		n += w
	}
	return n
}

// wrap breaks s at spaces into lines of at most w cells; a longer word is cut
// by the row it is drawn on.
func wrap(s string, w int) []string {
	var lines []string
	line := ""
	for word := range strings.FieldsSeq(s) {
		switch {
		case line == "":
			line = word
		case width(line)+1+width(word) <= w:
			line += " " + word
		default:
			lines = append(lines, line)
			line = word
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
