package tui

import (
	"fmt"
	"time"

	"hawse/acquire/session"
	"hawse/trial"
)

// sheet is the view of the figures: their rows as they stand now, made anew when
// there are new figures or another room for them, and the page that is shown.
type sheet struct {
	page int
	cols int // columns a page
	wide int // cells of one
	rows [][]sheetRow
	of   *trial.Figures
	room rect
	over bool // made of a pull that is over
}

// sheetRow is one row of a column.
type sheetRow struct {
	label string
	head  bool
	note  bool                // it belongs to the row before it
	cells [numReadings]string // of a load, or the titles of these columns
	text  string              // of all else
	more  string              // behind it
	late  bool                // text says why there is no value
}

const numReadings = len(trial.Readings)

// The columns of the sheet, cells.
const (
	sheetLabel = 16
	sheetCell  = 13
	sheetWide  = sheetLabel + numReadings*sheetCell
	sheetGap   = 2
	sheetMost  = 74 // beyond it a column only grows apart
)

// sheetGroups are the figures a crew looks at during a pull. Work is left to
// `hawse results`, and the efficiencies of the other windows.
var sheetGroups = []struct {
	title string
	rows  []struct {
		q     trial.Quantity
		label string
	}
}{
	{"peaks", []sheetLine{{trial.PeakInstant, "instant"}, {trial.Peak1s, "mean of 1 s"}, {trial.Peak10s, "mean of 10 s"}, {trial.Peak1m, "mean of 1 m"},
		{trial.Efficiency1s, "efficiency, 1 s"}}},
	{"at the instant peak", []sheetLine{{trial.ScopeAtPeak, "scope"}, {trial.HeightAtPeak, "fairlead over"}, {trial.FairleadAngleAtPeak, "angle, fairlead"}, {trial.AnchorAngleAtPeak, "angle, anchor"},
		{trial.HauledAtPeak, "hauled"}, {trial.TravelAtPeak, "anchor came"}}},
	{"means", []sheetLine{{trial.Mean0to10m, "0-10 m hauled"}, {trial.Mean10to20m, "10-20 m hauled"}, {trial.Mean20to30m, "20-30 m hauled"},
		{trial.MeanPlateau, "plateau"}, {trial.MeanSawTooth, "saw-tooth"}}},
	{"holding", []sheetLine{{trial.Travel1m, "at 1 m travel"}, {trial.Travel2m, "at 2 m travel"}, {trial.Travel5m, "at 5 m travel"}, {trial.Travel10m, "at 10 m travel"},
		{trial.Travel20m, "at 20 m travel"}, {trial.TravelEnd, "anchor came"}, {trial.HauledInPull, "hauled in pull"}}},
	{"what it did", []sheetLine{{trial.SetOrNot, "set or not"}, {trial.BreakoutsAnchor, "breakouts"}, {trial.BreakoutsUndecided, "  undecided"},
		{trial.FallsVessel, "falls, vessel"}, {trial.FallsUndecided, "falls undecided"}, {trial.Resets, "re-sets"}, {trial.ResetRatio, "re-set ratio"},
		{trial.ValleyToPeakTime, "valley to peak"}, {trial.ValleyToPeakLine, "  line"}, {trial.SawToothWave, "saw-tooth wave"}, {trial.SawToothSwing, "saw-tooth swing"}}},
	{"holds and stops", []sheetLine{{trial.Relaxed10s, "relaxed in 10 s"}, {trial.Relaxed60s, "relaxed in 60 s"}, {trial.HoldLongest, "stood longest"},
		{trial.HoldLeast, "least kept"}, {trial.OvershootTension, "overshoot"}, {trial.OvershootLine, "  line"}}},
	{"recovery", []sheetLine{{trial.PeakAfter, "peak after"}, {trial.BreakoutForce, "breakout force"}, {trial.RecoverySteps, "steps"},
		{trial.RecoveryWaits, "waits"}, {trial.RecoveryTime, "time to break"}, {trial.BurialDepth, "burial"}}},
	{"how it was pulled", []sheetLine{{trial.SoakTime, "soak"}, {trial.LineSpeed, "line speed"}, {trial.LineSpeedShare, "  of planned"}, {trial.SampleRate, "load samples"}}},
}

type sheetLine = struct {
	q     trial.Quantity
	label string
}

// next is the sheet of a snapshot in that room.
func (s sheet) next(snap *session.Snapshot, room rect) sheet {
	over := snap.Ended
	if snap.Figures == s.of && room == s.room && over == s.over && s.rows != nil {
		return s
	}
	s.of, s.room, s.over = snap.Figures, room, over
	s.lay(sheetRows(snap, room.w < sheetWide))
	s.page = min(s.page, s.pages()-1)
	return s
}

// lay shares the rows out over columns, as few as hold them all, and over pages
// where none do. A heading stands with its first row, and a note with its own.
func (s *sheet) lay(all []sheetRow) {
	high := max(s.room.h-1, 1)
	most := max((s.room.w+sheetGap)/(sheetWide+sheetGap), 1)
	spare := columnsOf(all, high, true)
	if tight := columnsOf(all, high, false); (len(spare)+most-1)/most > (len(tight)+most-1)/most {
		spare = tight
	}
	s.rows = spare
	s.cols = min(most, len(s.rows))
	s.wide = min((s.room.w+sheetGap)/s.cols-sheetGap, sheetMost)
}

// columnsOf breaks rows into columns of so many. spaced: with a blank row between
// groups.
func columnsOf(all []sheetRow, high int, spaced bool) (cols [][]sheetRow) {
	var col []sheetRow
	for i := 0; i < len(all); {
		n := 1 // rows that stand together
		for i+n < len(all) && (all[i+n].note || all[i].head && n == 1) {
			n++
		}
		if len(col)+n > high && len(col) > 0 {
			cols, col = append(cols, col), nil
		}
		if all[i].head && spaced && len(col) > 0 {
			if len(col)+n+1 > high {
				cols, col = append(cols, col), nil
			} else {
				col = append(col, sheetRow{})
			}
		}
		for ; n > 0; n-- { // where not even those fit
			if len(col) == high {
				cols, col = append(cols, col), nil
			}
			col = append(col, all[i])
			i++
		}
	}
	if len(col) > 0 {
		cols = append(cols, col)
	}
	return cols
}

func (s sheet) pages() int { return max((len(s.rows)+s.cols-1)/max(s.cols, 1), 1) }

// turn turns the page, as the keys of the trace move that.
func (s sheet) turn(in intent) sheet {
	switch in {
	case zoomIn, panBack:
		s.page--
	case zoomOut, panOn:
		s.page++
	default:
		s.page = 0
	}
	s.page = min(max(s.page, 0), s.pages()-1)
	return s
}

// sheetRows are all rows. slim: the readings of a load stand below each other.
func sheetRows(snap *session.Snapshot, slim bool) (rows []sheetRow) {
	f := snap.Figures
	if f == nil || !f.Told {
		return []sheetRow{{label: "no figures yet: they begin with the first sample of the load", head: true}}
	}
	show := trial.Show{}
	if snap.Trial != nil {
		show = snap.Trial.Show
	}
	_, force := show.InUnit("N")
	for _, g := range sheetGroups {
		head := sheetRow{label: g.title, head: true}
		if g.rows[0].q == trial.ScopeAtPeak && f.Quantities[trial.PeakInstant].Bound != "" {
			head.label += " so far"
		}
		if trial.Quantities[g.rows[0].q].Loads {
			head.label += ", " + force
			if !slim {
				head.cells = [numReadings]string{"deck", "less bare", "anchor"}
			}
		}
		rows = append(rows, head)
		for _, l := range g.rows {
			rows = append(rows, rowOf(show, l.q, l.label, &f.Quantities[l.q], slim, snap.Ended)...)
		}
	}
	rows = append(rows, sheetRow{label: "phases, time and line", head: true})
	for p, t := range f.Phases {
		if t.N > 0 {
			by, word := show.InUnit("m")
			rows = append(rows, sheetRow{label: trial.Phase(p).String(),
				text: fmt.Sprintf("%7s %7s %s", clockText(time.Duration(t.Time)), fixed(max(float64(t.Length), 0)/by, 1), word)})
		}
	}
	if last := &rows[len(rows)-1]; last.head {
		rows = append(rows, sheetRow{label: "none yet", late: true})
	}
	return rows
}

// rowOf is one figure: a row, and where it is slim one for each further reading.
func rowOf(show trial.Show, q trial.Quantity, label string, f *trial.Figure, slim, over bool) (rows []sheetRow) {
	i := &trial.Quantities[q]
	r := sheetRow{label: label}
	value := func(v *trial.Value) string {
		text, u := show.Quantity(i.Unit, *v, f.Bound)
		if u != "" {
			text += "±" + u
		}
		return text
	}
	why := func(v *trial.Value) string {
		words, ever := v.Brief()
		if ever || over {
			return "– " + words
		}
		return "not yet: " + words
	}
	first := &f.Read[0]
	_, unit := show.InUnit(i.Unit)
	if unit != "" {
		unit = " " + unit
	}
	switch {
	case !first.Known:
		r.text, r.late = why(first), true
		return []sheetRow{r}
	case f.Word != "":
		r.text = f.Word
		return []sheetRow{r}
	case !i.Loads:
		r.text, r.more = value(first)+unit, f.Note
		if i.Group == trial.Quantities[trial.ScopeAtPeak].Group { // that it may pass is in the heading
			r.more = ""
		}
		return []sheetRow{r}
	case !slim:
		for j := range f.Read {
			r.cells[j] = "–"
			if f.Read[j].Known {
				r.cells[j] = value(&f.Read[j])
			}
		}
		rows = []sheetRow{r}
	default:
		r.text = value(first)
		rows = []sheetRow{r}
		for j := 1; j < numReadings; j++ {
			v := &f.Read[j]
			more := sheetRow{label: "  " + [...]string{"deck", "less bare", "anchor"}[j], note: true}
			if more.text, more.late = why(v), true; v.Known {
				more.text, more.late = value(v), false
			}
			rows = append(rows, more)
		}
	}
	if f.Note != "" && i.Group == "peaks" {
		rows = append(rows, sheetRow{label: "  " + f.Note, note: true, late: true})
	}
	return rows
}

// drawSheet draws the page of the figures that is open.
func (m model) drawSheet(c *canvas, r rect) {
	if r.h == 0 {
		return
	}
	s := &m.sheet
	c.rule(r, dim)
	title := " figures"
	if s.pages() > 1 {
		title += fmt.Sprintf(", page %d of %d ↑↓", s.page+1, s.pages())
	}
	if f := s.of; f != nil && len(f.Anew) > 0 {
		title += ", rode out said anew at " + clockText(time.Duration(f.Anew[len(f.Anew)-1].T))
	}
	switch lag := time.Duration(m.snap.JudgeLag); {
	case m.snap.SinceResume:
		title += ", since resume"
	case lag > time.Second:
		title += ", " + ageText(lag) + " behind"
	}
	x := c.text(r, 2, title+" ", dim)
	if key := " ± k = 2, about 95 %   > at least "; x+width(key)+2 < r.w {
		c.text(r, r.w-width(key)-2, key, dim)
	}
	for k := range s.cols {
		n := s.page*s.cols + k
		if n >= len(s.rows) {
			return
		}
		for i := range s.rows[n] {
			row := r.row(1 + i)
			if row.w == 0 {
				break
			}
			row.x += k * (s.wide + sheetGap)
			row.w = min(s.wide, r.x+r.w-row.x)
			drawSheetRow(c, row, &s.rows[n][i])
		}
	}
}

func drawSheetRow(c *canvas, r rect, row *sheetRow) {
	label, look := dim, strong
	switch {
	case row.head:
		label, look = accent, dim
	case row.late:
		look = dim
	}
	if row.text == "" && row.cells[0] == "" {
		c.text(r, 0, row.label, label)
		return
	}
	at := sheetLabel
	if row.cells[0] == "" {
		c.text(rect{r.x, r.y, min(at-1, r.w), 1}, 0, row.label, label)
		x := c.text(r, at, row.text, look)
		if row.more != "" {
			c.text(r, x+2, row.more, dim)
		}
		return
	}
	wide := (r.w - at) / numReadings
	c.text(rect{r.x, r.y, r.w - numReadings*wide - 1, 1}, 0, row.label, label)
	for j, t := range row.cells {
		st := look
		if j > 0 && !row.head {
			st = plain
		}
		c.right(rect{r.x + r.w - (numReadings-j)*wide, r.y, wide, 1}, t, st)
	}
}
