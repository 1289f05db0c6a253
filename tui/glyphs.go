package tui

// A font is a set of glyphs as rows of pixels. Digits of one font are equally
// wide, so a number keeps its place while it changes.
type font struct {
	rows   int
	glyphs map[rune][]string
}

// low is five pixels high; tall is the same drawn seven high.
var (
	low  = &font{rows: 5, glyphs: pixels}
	tall = stretched(low)
)

var pixels = map[rune][]string{
	'0': {"###", "#.#", "#.#", "#.#", "###"},
	'1': {"##.", ".#.", ".#.", ".#.", "###"},
	'2': {"###", "..#", "###", "#..", "###"},
	'3': {"###", "..#", "###", "..#", "###"},
	'4': {"#.#", "#.#", "###", "..#", "..#"},
	'5': {"###", "#..", "###", "..#", "###"},
	'6': {"###", "#..", "###", "#.#", "###"},
	'7': {"###", "..#", "..#", "..#", "..#"},
	'8': {"###", "#.#", "###", "#.#", "###"},
	'9': {"###", "#.#", "###", "..#", "###"},
	'.': {".", ".", ".", ".", "#"},
	'-': {"...", "...", "###", "...", "..."},
	' ': {"...", "...", "...", "...", "..."},
	'A': {"###", "#.#", "###", "#.#", "#.#"},
	'B': {"##.", "#.#", "##.", "#.#", "###"},
	'D': {"##.", "#.#", "#.#", "#.#", "##."},
	'E': {"###", "#..", "###", "#..", "###"},
	'H': {"#.#", "#.#", "###", "#.#", "#.#"},
	'L': {"#..", "#..", "#..", "#..", "###"},
	'M': {"#...#", "##.##", "#.#.#", "#...#", "#...#"},
	'U': {"#.#", "#.#", "#.#", "#.#", "###"},
	'Y': {"#.#", "#.#", "###", ".#.", ".#."},
	'N': {"#..#", "##.#", "#.##", "#..#", "#..#"},
	'O': {"###", "#.#", "#.#", "#.#", "###"},
	'P': {"###", "#.#", "###", "#..", "#.."},
	'R': {"##.", "#.#", "##.", "#.#", "#.#"},
	'S': {"###", "#..", "###", "..#", "###"},
	'T': {"###", ".#.", ".#.", ".#.", ".#."},
	'V': {"#.#", "#.#", "#.#", "#.#", ".#."},
}

// stretched doubles the rows in which the strokes only go down.
func stretched(f *font) *font {
	out := &font{rows: 7, glyphs: make(map[rune][]string, len(f.glyphs))}
	for r, g := range f.glyphs {
		out.glyphs[r] = []string{g[0], g[1], g[1], g[2], g[3], g[3], g[4]}
	}
	return out
}

// face is a font at a size: a pixel is sx cells wide and sy cells high.
type face struct {
	f      *font
	sx, sy int
}

// faces from the largest to the smallest. A terminal cell is about twice as
// high as wide, so two cells a pixel look square; the last one is thin.
var faces = []face{{tall, 6, 2}, {low, 4, 2}, {tall, 3, 1}, {low, 2, 1}, {low, 1, 1}}

func (f face) height() int { return f.f.rows * f.sy }

// width is the cells that text takes, without a gap after it.
func (f face) width(s string) int {
	px := 0
	for _, r := range s {
		if g, ok := f.f.glyphs[r]; ok {
			px += len(g[0]) + 1
		}
	}
	return max(px-1, 0) * f.sx
}

// draw puts text into r from dx on, in solid blocks; runes the font does not
// have are left out. Cells outside r are cut.
func (f face) draw(c *canvas, r rect, dx int, s string, st role) {
	for _, ru := range s {
		g, ok := f.f.glyphs[ru]
		if !ok {
			continue
		}
		for py, line := range g {
			for px := range len(line) {
				if line[px] == '#' {
					f.block(c, r, dx+px*f.sx, py*f.sy, st)
				}
			}
		}
		dx += (len(g[0]) + 1) * f.sx
	}
}

func (f face) block(c *canvas, r rect, dx, dy int, st role) {
	for y := dy; y < dy+f.sy && y < r.h; y++ {
		for x := max(dx, 0); x < dx+f.sx && x < r.w; x++ {
			c.put(r.x+x, r.y+y, '█', st)
		}
	}
}

// large are the faces of the winch operator's view, the highest first. Where the
// screen is narrow a pixel is higher than it looks square: digits far away are
// read by their height.
var large = []face{
	{low, 10, 5}, {tall, 7, 3}, {low, 8, 4}, {tall, 5, 3}, {low, 6, 3}, {tall, 6, 2}, {tall, 4, 2}, {tall, 3, 2},
	{low, 4, 2}, {low, 3, 2}, {tall, 3, 1}, {low, 2, 1}, {low, 1, 1},
}

// fitLarge is the highest of the large faces that fits.
func fitLarge(s string, cells, rows int) (face, bool) {
	best, ok := large[len(large)-1], false
	for _, f := range large {
		if f.height() <= rows && f.width(s) <= cells && (!ok || f.height() > best.height() || f.height() == best.height() && f.sx > best.sx) {
			best, ok = f, true
		}
	}
	return best, ok
}

// fit is the largest face not higher than rows in which text is not wider
// than cells; ok is false if none is.
func fit(s string, cells, rows int) (face, bool) {
	for _, f := range faces {
		if f.height() <= rows && f.width(s) <= cells {
			return f, true
		}
	}
	return faces[len(faces)-1], false
}
