package trial

import "math"

// Point is one valid tension sample joined with the line, as the judge sees it.
type Point struct {
	T       int64  // ns since the log's start, never falling
	Tension Force  // newtons
	X       Length // metres hauled since the run's payout was said; NaN unknown
	Stage   Stage

	// What the phases ask beside; trace and peak do without.
	RodeOut Length  // m beyond the fairlead; 0 unknown
	Height  Length  // of the fairlead above the bottom, m; 0 unknown
	Travel  Length  // of the anchor since the knee, m; NaN not yet, or unknown
	Stiff   float64 // tangent stiffness dT/dL of the rode at this tension and length, N/m; 0 unknown
	Bare    Force   // bare-rode level at this line hauled, N; 0: that of [Levels]
	Dead    Force   // dead-weight level at this line hauled, N; 0: that of [Levels]
}

// Col is one column of a drawn trace: the least and the greatest tension of the
// samples in it, never a mean, so that a peak is not averaged away.
type Col struct {
	Lo, Hi Force // newtons; both zero when N is zero
	N      int   // samples; 0: nothing here
	Gap    bool  // the stream was lost for a part of this column
}

// TraceSpan is the extent of a trace, for the axes of a plot.
type TraceSpan struct {
	N             int    // samples drawn by time; 0: no other field means anything
	First, Last   int64  // ns, of the samples drawn
	Greatest      Force  // newtons
	Series        int    // which haul series the next two speak of; 0 none yet
	LeastX, MostX Length // metres, of the latest haul series; NaN when it is empty
}

const (
	traceCell     = int64(100e6) // ns, base cell of the trace by time
	haulCell      = 0.01         // m, base cell of the trace by line hauled
	haulFarthest  = 1e9          // m; a counter beyond this is not drawn by haul
	timeChunks    = 1152         // memory bound, about 12 h of unbroken base cells
	haulChunks    = 256          // memory bound, about 900 m of unbroken base cells
	farthestQuery = int64(1) << 61
)

// Trace holds a run's tension as min-max pyramids, one along time and one along
// line hauled. The zero value is an empty trace.
//
// Base cells are 100 ms and 1 cm; each level above has cells four times as wide.
// A query reads the widest cells that are not wider than a column, so it costs
// the same after a minute and after ten hours. Memory is bounded: when a pyramid
// is full (about 12 h of samples, or 900 m hauled in one series) it gives up its
// finest level and goes on with cells four times as wide.
//
// Only points of preset, pull, hold and recover with a known X enter the trace
// by haul. A new series begins when the stage becomes preset, pull or recover;
// hold goes on with the series it follows, and so does the same stage after it. The latest series is kept, earlier
// ones are dropped: the raw log has them.
type Trace struct {
	span TraceSpan

	time     pyramid
	lost     bool  // nothing heard since lostFrom
	lostFrom int64 // ns

	haul     pyramid
	haulLost bool // tension or line was lost since the last point of the series
	haulLast int64
	haulAny  bool
	stage    Stage
	series   Stage // with which the latest haul series began
}

// entersSeries tells whether a haul series begins with this stage.
func entersSeries(before, now Stage) bool { return now.Hauls() && now != before }

// seriesStage is what is remembered of a stage for [entersSeries]: a hold goes on
// with the series it follows, and so does the haul after it.
func seriesStage(before, now Stage) Stage {
	if now == Hold && before.Hauls() {
		return before
	}
	return now
}

// inSeries tells whether points of this stage belong to a haul series.
func inSeries(s Stage) bool { return s.Hauls() || s == Hold }

func finite(f float64) bool { return !math.IsNaN(f) && !math.IsInf(f, 0) }

// Add takes one point. A tension that is not finite is not drawn: it opens a gap
// as [Trace.Gap] does.
func (tr *Trace) Add(p Point) {
	if entersSeries(tr.stage, p.Stage) {
		tr.beginSeries(p.Stage)
	}
	tr.stage = seriesStage(tr.stage, p.Stage)
	if !finite(float64(p.Tension)) {
		tr.Gap(p.T)
		return
	}
	cell := floorDiv(p.T, traceCell)
	if tr.lost {
		tr.time.addGap(floorDiv(tr.lostFrom, traceCell), cell+1)
		tr.lost = false
	}
	tr.time.add(cell, float64(p.Tension), timeChunks)
	tr.addSpan(p)
	if inSeries(p.Stage) {
		tr.addHaul(p)
	}
}

// Gap says that the stream was lost from t on. The gap lasts until the next point
// and shows as [Col.Gap] in every column it touches; while it is open that
// includes the columns after the last point. A gap in the trace by haul reaches
// from the last X before it to the first X after it.
func (tr *Trace) Gap(t int64) {
	if !tr.lost {
		tr.lost, tr.lostFrom = true, t
	}
	tr.haulLost = true
}

// Hauled is the stage with which the latest haul series began: preset, pull or
// recover. It says something once [TraceSpan.Series] is not 0.
func (tr *Trace) Hauled() Stage { return tr.series }

// Span returns the extent of what is drawn.
func (tr *Trace) Span() TraceSpan {
	s := tr.span
	if !tr.haulAny {
		s.LeastX, s.MostX = Length(math.NaN()), Length(math.NaN())
	}
	return s
}

// ByTime returns cols columns that divide the times from ≤ t < to evenly. It
// writes over dst from its start and allocates only if dst is too small. No
// columns if cols ≤ 0; columns with nothing in them if to ≤ from.
//
// Edge rule: column edges are moved down to a cell edge, the last one up, so
// every sample of the window is in exactly one column, with its full height. A
// sample can stand in the column after its own only if it is within one cell of
// the edge; the first and last column can hold samples outside the window by
// less than one cell. The cell is the widest of 100 ms, 400 ms, 1.6 s and so on
// that is not wider than a column, or 100 ms. If the edges are multiples of the
// cell, each column holds exactly its own samples; a screen that scrolls should
// move its window by whole columns, or columns flicker between neighbours.
func (tr *Trace) ByTime(from, to int64, cols int, dst []Col) []Col {
	from = min(max(from, -farthestQuery), farthestQuery)
	to = min(max(to, -farthestQuery), farthestQuery)
	dst = columns(dst, cols)
	if to <= from || len(dst) == 0 {
		return dst
	}
	n := int64(len(dst))
	whole, rest := (to-from)/n, (to-from)%n
	cells := tr.time.reader(float64(to-from) / float64(n) / float64(traceCell))
	openFrom := int64(math.MaxInt64)
	if tr.lost {
		openFrom = floorDiv(tr.lostFrom, traceCell)
	}
	low := floorDiv(from, traceCell)
	for i := range n {
		edge := from + whole*(i+1) + rest*(i+1)/n
		high := floorDiv(edge, traceCell)
		if i == n-1 {
			high = floorDiv(edge-1, traceCell) + 1
		}
		dst[i] = cells.column(low, high, i == n-1)
		dst[i].Gap = dst[i].Gap || max(high, low+1) > openFrom
		low = high
	}
	return dst
}

// ByHaul is ByTime along line hauled, over the latest series: cols columns that
// divide from ≤ X < to evenly, with cells of 1 cm, 4 cm, 16 cm and so on. Points
// hauled over twice (after some line was paid out) share their columns. Edges
// that are not finite give columns with nothing in them.
func (tr *Trace) ByHaul(from, to Length, cols int, dst []Col) []Col {
	dst = columns(dst, cols)
	a, b := float64(from), float64(to)
	if !finite(a) || !finite(b) || b <= a || len(dst) == 0 {
		return dst
	}
	a = min(max(a, -haulFarthest), haulFarthest)
	b = min(max(b, -haulFarthest), haulFarthest)
	n := len(dst)
	width := (b - a) / float64(n)
	cells := tr.haul.reader(width / haulCell)
	low := haulIndex(a)
	for i := range n {
		high := haulIndex(a + width*float64(i+1))
		if i == n-1 {
			high = int64(math.Ceil(b / haulCell))
		}
		dst[i] = cells.column(low, high, i == n-1)
		low = high
	}
	return dst
}

func (tr *Trace) beginSeries(stage Stage) {
	tr.series = stage
	tr.haul.reset()
	tr.haulAny, tr.haulLost = false, false
	tr.span.Series++
}

func (tr *Trace) addHaul(p Point) {
	x := float64(p.X)
	if !(math.Abs(x) <= haulFarthest) {
		tr.haulLost = true
		return
	}
	if tr.span.Series == 0 {
		tr.beginSeries(p.Stage) // a hold with nothing before it
	}
	cell := haulIndex(x)
	if tr.haulLost && tr.haulAny {
		tr.haul.addGap(min(cell, tr.haulLast), max(cell, tr.haulLast)+1)
	}
	tr.haulLost = false
	if !tr.haulAny {
		tr.span.LeastX, tr.span.MostX = p.X, p.X
	}
	tr.span.LeastX, tr.span.MostX = min(tr.span.LeastX, p.X), max(tr.span.MostX, p.X)
	tr.haulAny, tr.haulLast = true, cell
	tr.haul.add(cell, float64(p.Tension), haulChunks)
}

func (tr *Trace) addSpan(p Point) {
	s := &tr.span
	if s.N == 0 {
		s.First, s.Last, s.Greatest = p.T, p.T, p.Tension
	}
	s.N++
	s.First, s.Last = min(s.First, p.T), max(s.Last, p.T)
	s.Greatest = max(s.Greatest, p.Tension)
}

// columns returns n zero columns in dst's room, or in new room.
func columns(dst []Col, n int) []Col {
	n = max(n, 0)
	if cap(dst) < n {
		return make([]Col, n)
	}
	dst = dst[:n]
	clear(dst)
	return dst
}

func haulIndex(x float64) int64 { return int64(math.Floor(x / haulCell)) }

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}
