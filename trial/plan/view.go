package plan

import (
	"encoding/xml"
	"fmt"
	"math"
	"strings"
)

// mark is how a lane is drawn.
type mark byte

const (
	free    mark = '.'
	planned mark = 'o'
	done    mark = 'x'
)

func (st *Station) mark(lane int) mark {
	m := free
	for _, r := range st.Runs {
		if r.Lane == lane {
			m = planned
		}
	}
	for _, x := range st.Spent {
		if x.Lane == lane {
			return done
		}
	}
	return m
}

// runOf is the run to be done in a lane, or nil.
func (st *Station) runOf(lane int) *Run {
	for _, r := range st.Runs {
		if r.Lane == lane && r.Done == "" {
			return r
		}
	}
	return nil
}

// Map draws the station from above with letters, north up: V the vessel, a
// number at each lane's start, spent lanes as x, planned ones as o, free ones as
// dots. A letter is twice as high as it is wide.
func (st *Station) Map(high int) string {
	high = max(high, 11) | 1
	wide := 2*high - 1
	grid := make([][]byte, high)
	for i := range grid {
		grid[i] = []byte(strings.Repeat(" ", wide+6))
	}
	at := func(r, bearing float64) (col, row int) {
		half := float64(high-1) / 2
		s := r / (st.Lanes.Start * 1.06) * half
		return int(math.Round(2*half + 2*s*math.Sin(bearing))), int(math.Round(half - s*math.Cos(bearing)))
	}
	set := func(col, row int, c byte) {
		if row >= 0 && row < len(grid) && col >= 0 && col < len(grid[row]) {
			grid[row][col] = c
		}
	}
	for lane := 1; lane <= st.Lanes.Count; lane++ {
		m, b := st.mark(lane), st.Lanes.Bearing(lane)
		for r := st.Lanes.End; r < st.Lanes.Start; r += st.Lanes.Start / float64(2*high) {
			c, row := at(r, b)
			if row >= 0 && row < high && c >= 0 && c < wide && (m != free || grid[row][c] == ' ') {
				set(c, row, byte(m))
			}
		}
	}
	labelled := map[[2]int]bool{}
	label := func(lane int) {
		c, row := at(st.Lanes.Start*1.06, st.Lanes.Bearing(lane))
		text := fmt.Sprint(lane)
		for i := -1; i <= len(text); i++ {
			if labelled[[2]int{row, c + i}] {
				return
			}
		}
		for i := range text {
			labelled[[2]int{row, c + i}] = true
			set(c+i, row, text[i])
		}
	}
	for lane := 1; lane <= st.Lanes.Count; lane++ {
		if st.mark(lane) != free {
			label(lane)
		}
	}
	label(1)
	label(st.Lanes.Count)
	c, row := at(0, 0)
	set(c, row, 'V')
	var b strings.Builder
	for _, line := range grid {
		b.WriteString(strings.TrimRight(string(line), " ") + "\n")
	}
	return b.String()
}

// SVG draws all stations from above, each to its own scale, north up.
func (p *Plan) SVG() string {
	const size, margin, below = 520.0, 60.0, 90.0
	var shown []*Station
	for _, st := range p.Stations {
		if len(st.Runs) > 0 {
			shown = append(shown, st)
		}
	}
	var b strings.Builder
	say := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	across := max(1, min(2, len(shown)))
	w, h := size*float64(across), (size+below)*float64((len(shown)+across-1)/across)
	say(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %g %g" width="%g" height="%g" font-family="sans-serif" font-size="12">`, w, h, w, h)
	say(`<rect width="%g" height="%g" fill="#ffffff"/>`, w, h)
	for i, st := range shown {
		cx, top := size*(float64(i%across)+0.5), (size+below)*float64(i/across)
		cy := top + size/2 + 30
		scale := (size/2 - margin) / st.Lanes.Start
		at := func(r, bearing float64) (x, y float64) {
			return cx + r*scale*math.Sin(bearing), cy - r*scale*math.Cos(bearing)
		}
		text := func(x, y float64, anchor, s string) {
			say(`<text x="%.1f" y="%.1f" text-anchor="%s">%s</text>`, x, y, anchor, markup(s))
		}
		say(`<g>`)
		say(`<text x="%.1f" y="%.1f" text-anchor="middle" font-size="15">%s</text>`, cx, top+22, markup(st.Name+", "+st.Bottom))
		for _, r := range []float64{st.Lanes.End, st.Lanes.Start} {
			say(`<circle cx="%.1f" cy="%.1f" r="%.1f" fill="none" stroke="#bbbbbb" stroke-dasharray="3 3"/>`, cx, cy, r*scale)
		}
		for lane := 1; lane <= st.Lanes.Count; lane++ {
			bearing := st.Lanes.Bearing(lane)
			x1, y1 := at(st.Lanes.Start, bearing)
			x2, y2 := at(st.Lanes.End, bearing)
			style := `stroke="#cccccc" stroke-width="1"`
			switch st.mark(lane) {
			case planned:
				style = `stroke="#1a1a1a" stroke-width="2"`
			case done:
				style = `stroke="#1a1a1a" stroke-width="1.5" stroke-dasharray="2 4"`
			}
			say(`<line x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f" %s/>`, x1, y1, x2, y2, style)
			lx, ly := at(st.Lanes.Start+14/scale, bearing)
			switch r := st.runOf(lane); {
			case r != nil:
				text(lx, ly+4, "middle", fmt.Sprint(lane))
			case st.mark(lane) == done:
				text(lx, ly+4, "middle", fmt.Sprintf("%d spent", lane))
			}
		}
		say(`<rect x="%.1f" y="%.1f" width="8" height="8" fill="#1a1a1a"/>`, cx-4, cy-4)
		text(cx, top+40, "middle", "N")
		y := top + size + 40
		text(cx, y, "middle", fmt.Sprintf("%d lanes, %.3g deg apart; start %.1f m, end %.1f m from the roller", st.Lanes.Count, st.Lanes.Step/degree, st.Lanes.Start, st.Lanes.End))
		text(cx, y+18, "middle", fmt.Sprintf("%d spent, %d free; gap %.1f m where they end", len(st.Spent), st.Free(), Gap(st.Lanes.End, st.Lanes.Step)))
		say(`</g>`)
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
