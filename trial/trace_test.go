package trial

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// twin keeps every point and looks at all of them for every column.
type twin struct {
	byTime, byHaul []Point
	timeGaps       [][2]int64 // base cells, both ends touched
	haulGaps       [][2]int64
	timeLost       *int64
	haulLost       bool
	stage          Stage
}

func (w *twin) gap(t int64) {
	if w.timeLost == nil {
		w.timeLost = &t
	}
	w.haulLost = true
}

func (w *twin) add(p Point) {
	if (p.Stage == Preset || p.Stage == Pull || p.Stage == Recover) && p.Stage != w.stage {
		w.byHaul, w.haulGaps, w.haulLost = nil, nil, false
	}
	if p.Stage != Hold || w.stage != Preset && w.stage != Pull && w.stage != Recover { // a hold goes on with what it follows
		w.stage = p.Stage
	}
	if f := float64(p.Tension); math.IsNaN(f) || math.IsInf(f, 0) {
		w.gap(p.T)
		return
	}
	if w.timeLost != nil {
		w.timeGaps = append(w.timeGaps, [2]int64{timeCellOf(*w.timeLost), timeCellOf(p.T)})
		w.timeLost = nil
	}
	w.byTime = append(w.byTime, p)
	if p.Stage != Preset && p.Stage != Pull && p.Stage != Hold && p.Stage != Recover {
		return
	}
	if !(math.Abs(float64(p.X)) <= 1e9) {
		w.haulLost = true
		return
	}
	if w.haulLost && len(w.byHaul) > 0 {
		a, b := haulCellOf(w.byHaul[len(w.byHaul)-1].X), haulCellOf(p.X)
		w.haulGaps = append(w.haulGaps, [2]int64{min(a, b), max(a, b)})
	}
	w.haulLost = false
	w.byHaul = append(w.byHaul, p)
}

func timeCellOf(t int64) int64  { return int64(math.Floor(float64(t) / 1e8)) }
func haulCellOf(x Length) int64 { return int64(math.Floor(float64(x) / 0.01)) }

// columns applies the documented edge rule to every point: edges and width are in
// base cells, cell is the level's width.
func (w *twin) columns(points []Point, of func(Point) int64, gaps [][2]int64, edges []int64, cell int64) []Col {
	out := make([]Col, len(edges)-1)
	for i := range out {
		from, to := edges[i], edges[i+1]
		low, high := from/cell, to/cell
		if from%cell < 0 {
			low--
		}
		if to%cell < 0 {
			high--
		}
		if i == len(out)-1 && to%cell != 0 {
			high++
		}
		for _, p := range points {
			at := int64(math.Floor(float64(of(p)) / float64(cell)))
			if at < low || at >= high {
				continue
			}
			if out[i].N == 0 || p.Tension < out[i].Lo {
				out[i].Lo = p.Tension
			}
			if out[i].N == 0 || p.Tension > out[i].Hi {
				out[i].Hi = p.Tension
			}
			out[i].N++
		}
		for _, g := range gaps {
			out[i].Gap = out[i].Gap || g[0] < max(to, from+1) && g[1] >= from
		}
	}
	return out
}

func widest(column float64) int64 {
	cell := int64(1)
	for float64(cell*4) <= column {
		cell *= 4
	}
	return cell
}

func drawPoint(t *rapid.T, at *int64, x *float64, stage *Stage) Point {
	*at += rapid.SampledFrom([]int64{0, 1e6, 1e7, 1e8, 99999999, 3e9, 6e11}).Draw(t, "dt")
	*x += rapid.SampledFrom([]float64{0, 0.001, 0.004, 0.01, 0.05, -0.02, 0.7, -3}).Draw(t, "dx")
	if rapid.IntRange(0, 20).Draw(t, "turn") == 0 {
		*stage = Stage(rapid.IntRange(0, int(Done)).Draw(t, "stage"))
	}
	p := Point{T: *at, X: Length(*x), Stage: *stage, Tension: Force(rapid.Float64Range(-1e4, 1e5).Draw(t, "tension"))}
	switch rapid.IntRange(0, 30).Draw(t, "odd") {
	case 0:
		p.X = Length(math.NaN())
	case 1:
		p.Tension = Force(math.NaN())
	case 2:
		p.Tension = Force(math.Inf(1))
	case 3:
		p.X = Length(math.Inf(-1))
	}
	return p
}

func TestTraceAgainstATwin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var tr Trace
		var w twin
		at, x, stage := int64(0), -1.0, Pull
		for range rapid.IntRange(0, 200).Draw(t, "points") {
			if rapid.IntRange(0, 20).Draw(t, "gap") == 0 {
				tr.Gap(at)
				w.gap(at)
				continue
			}
			p := drawPoint(t, &at, &x, &stage)
			tr.Add(p)
			w.add(p)
		}
		cols := rapid.IntRange(1, 40).Draw(t, "cols")

		from := rapid.Int64Range(-1e9, at+1e9).Draw(t, "from")
		to := from + rapid.Int64Range(1, at-from+4e9).Draw(t, "to")
		var edges []int64
		for i := range cols + 1 {
			edges = append(edges, timeCellOf(from+(to-from)/int64(cols)*int64(i)+(to-from)%int64(cols)*int64(i)/int64(cols)))
		}
		edges[cols] = int64(math.Ceil(float64(to) / 1e8))
		gaps := w.timeGaps
		if w.timeLost != nil {
			gaps = append(gaps, [2]int64{timeCellOf(*w.timeLost), math.MaxInt64})
		}
		got := tr.ByTime(from, to, cols, nil)
		want := w.columns(w.byTime, func(p Point) int64 { return timeCellOf(p.T) }, gaps, edges, widest(float64(to-from)/float64(cols)/1e8))
		if d := cmp.Diff(want, got); d != "" {
			t.Fatalf("ByTime(%d, %d, %d) of %d points (-want +got):\n%s", from, to, cols, len(w.byTime), d)
		}

		a := rapid.Float64Range(-20, 20).Draw(t, "a")
		b := a + rapid.Float64Range(0.001, 40).Draw(t, "width")
		edges = edges[:0]
		for i := range cols + 1 {
			edges = append(edges, haulCellOf(Length(a+(b-a)/float64(cols)*float64(i))))
		}
		edges[cols] = int64(math.Ceil(b / 0.01))
		got = tr.ByHaul(Length(a), Length(b), cols, nil)
		want = w.columns(w.byHaul, func(p Point) int64 { return haulCellOf(p.X) }, w.haulGaps, edges, widest((b-a)/float64(cols)/0.01))
		if d := cmp.Diff(want, got); d != "" {
			t.Fatalf("ByHaul(%v, %v, %d) of %d points (-want +got):\n%s", a, b, cols, len(w.byHaul), d)
		}
	})
}

// No column width, window or full memory makes a peak vanish, lower it or move it
// by a cell or more.
func TestTraceKeepsEveryPeak(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var tr Trace
		var points []Point
		for i := range rapid.IntRange(1, 100).Draw(t, "points") {
			p := Point{T: int64(i) * rapid.Int64Range(1, 1e9).Draw(t, "dt"), X: Length(math.NaN()), Tension: Force(rapid.IntRange(1, 1e6).Draw(t, "tension"))}
			points = append(points, p)
			tr.Add(p)
		}
		cols := rapid.IntRange(1, 30).Draw(t, "cols")
		from := rapid.Int64Range(0, 2e10).Draw(t, "from")
		width := rapid.Int64Range(1, 1e10).Draw(t, "width")
		got := tr.ByTime(from, from+width*int64(cols), cols, nil)
		cell := widest(float64(width)/1e8) * 1e8
		for _, p := range points {
			if p.T < from || p.T >= from+width*int64(cols) {
				continue
			}
			first := (p.T - from) / width
			last := min((p.T-from+cell-1)/width, int64(cols)-1)
			high := Force(math.Inf(-1))
			for i := first; i <= last; i++ {
				if got[i].N > 0 {
					high = max(high, got[i].Hi)
				}
			}
			if high < p.Tension {
				t.Fatalf("%v N at %d ns: columns %d to %d of ByTime(%d, +%d·%d) reach %v", p.Tension, p.T, first, last, from, width, cols, high)
			}
		}
	})
}

func TestTraceColumns(t *testing.T) {
	nan := Length(math.NaN())
	sec := func(s float64) int64 { return int64(s * 1e9) }
	tests := []struct {
		name  string
		do    func(tr *Trace)
		query func(tr *Trace) []Col
		want  []Col
	}{
		{"empty", func(*Trace) {}, func(tr *Trace) []Col { return tr.ByTime(0, sec(2), 2, nil) }, []Col{{}, {}}},
		{"no columns", func(*Trace) {}, func(tr *Trace) []Col { return tr.ByTime(0, sec(2), -1, nil) }, nil},
		{"window turned round", func(tr *Trace) { tr.Add(Point{T: 0, Tension: 1}) },
			func(tr *Trace) []Col { return tr.ByTime(sec(2), 0, 1, nil) }, []Col{{}}},
		{"window not a number", func(tr *Trace) { tr.Add(Point{Tension: 1, Stage: Pull}) },
			func(tr *Trace) []Col { return tr.ByHaul(nan, 3, 1, nil) }, []Col{{}}},
		{"a spike among a thousand", func(tr *Trace) {
			for i := range 1000 {
				tr.Add(Point{T: int64(i) * 1e7, Tension: 100, X: nan})
			}
			tr.Add(Point{T: sec(9.999), Tension: 8123.4567891, X: nan})
		}, func(tr *Trace) []Col { return tr.ByTime(0, sec(10), 1, nil) }, []Col{{Lo: 100, Hi: 8123.4567891, N: 1001}}},
		{"gap drawn to the next point", func(tr *Trace) {
			tr.Add(Point{T: sec(0.5), Tension: 5})
			tr.Gap(sec(1.2))
			tr.Add(Point{T: sec(3.5), Tension: 7})
		}, func(tr *Trace) []Col { return tr.ByTime(0, sec(5), 5, nil) },
			[]Col{{5, 5, 1, false}, {Gap: true}, {Gap: true}, {7, 7, 1, true}, {}}},
		{"open gap reaches the present", func(tr *Trace) {
			tr.Add(Point{T: sec(0.5), Tension: 5})
			tr.Gap(sec(1.2))
			tr.Gap(sec(2.2))
		}, func(tr *Trace) []Col { return tr.ByTime(0, sec(3), 3, nil) },
			[]Col{{5, 5, 1, false}, {Gap: true}, {Gap: true}}},
		{"a tension that is not a number is a gap", func(tr *Trace) {
			tr.Add(Point{T: sec(0.5), Tension: 5})
			tr.Add(Point{T: sec(1.5), Tension: Force(math.NaN())})
			tr.Add(Point{T: sec(2.5), Tension: Force(math.Inf(1))})
			tr.Add(Point{T: sec(3.0), Tension: 6})
		}, func(tr *Trace) []Col { return tr.ByTime(0, sec(4), 4, nil) },
			[]Col{{5, 5, 1, false}, {Gap: true}, {Gap: true}, {6, 6, 1, true}}},
		{"between slow samples there is no gap", func(tr *Trace) {
			tr.Add(Point{T: 0, Tension: 5})
			tr.Add(Point{T: sec(2), Tension: 6})
		}, func(tr *Trace) []Col { return tr.ByTime(0, sec(3), 3, nil) }, []Col{{5, 5, 1, false}, {}, {6, 6, 1, false}}},
		{"haul: only hauling stages, latest series", func(tr *Trace) {
			tr.Add(Point{Tension: 1, X: 0.5, Stage: PayOut})
			tr.Add(Point{Tension: 2, X: 0.5, Stage: Preset})
			tr.Add(Point{Tension: 3, X: 0.5, Stage: Soak})
			tr.Add(Point{Tension: 4, X: 0.5, Stage: Pull})
			tr.Add(Point{Tension: 5, X: 1.5, Stage: Hold})
			tr.Add(Point{Tension: 6, X: 1.5, Stage: Stopped})
			tr.Add(Point{Tension: 7, X: nan, Stage: Hold})
		}, func(tr *Trace) []Col { return tr.ByHaul(0, 2, 2, nil) }, []Col{{4, 4, 1, false}, {5, 5, 1, false}}},
		{"haul: hold alone", func(tr *Trace) { tr.Add(Point{Tension: 5, X: 0.5, Stage: Hold}) },
			func(tr *Trace) []Col { return tr.ByHaul(0, 1, 1, nil) }, []Col{{5, 5, 1, false}}},
		{"haul: hauled over twice", func(tr *Trace) {
			tr.Add(Point{Tension: 5, X: 0.5, Stage: Pull})
			tr.Add(Point{Tension: 4, X: -0.5, Stage: Pull})
			tr.Add(Point{Tension: 9, X: 0.5, Stage: Pull})
		}, func(tr *Trace) []Col { return tr.ByHaul(-1, 1, 2, nil) }, []Col{{4, 4, 1, false}, {5, 9, 2, false}}},
		{"haul: gap while the load was silent", func(tr *Trace) {
			tr.Add(Point{T: 0, Tension: 5, X: 0.5, Stage: Pull})
			tr.Gap(1)
			tr.Add(Point{T: 2, Tension: 6, X: 3.5, Stage: Pull})
		}, func(tr *Trace) []Col { return tr.ByHaul(0, 5, 5, nil) },
			[]Col{{5, 5, 1, true}, {Gap: true}, {Gap: true}, {6, 6, 1, true}, {}}},
		{"haul: gap while the line was unknown", func(tr *Trace) {
			tr.Add(Point{Tension: 5, X: 0.5, Stage: Pull})
			tr.Add(Point{Tension: 5, X: nan, Stage: Pull})
			tr.Add(Point{Tension: 6, X: 2.5, Stage: Pull})
		}, func(tr *Trace) []Col { return tr.ByHaul(0, 3, 3, nil) }, []Col{{5, 5, 1, true}, {Gap: true}, {6, 6, 1, true}}},
		{"haul: a wild counter spoils nothing", func(tr *Trace) {
			tr.Add(Point{Tension: 5, X: 0.5, Stage: Pull})
			tr.Add(Point{Tension: 6, X: 123456789, Stage: Pull})
			tr.Add(Point{Tension: 7, X: 1e300, Stage: Pull})
			tr.Add(Point{Tension: 8, X: 0.515, Stage: Pull})
		}, func(tr *Trace) []Col { return tr.ByHaul(0.5, 0.52, 2, nil) },
			[]Col{{5, 5, 1, false}, {8, 8, 1, true}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var tr Trace
			tt.do(&tr)
			if d := cmp.Diff(tt.want, tt.query(&tr)); d != "" {
				t.Errorf("-want +got:\n%s", d)
			}
		})
	}
}

func TestTraceSpan(t *testing.T) {
	var tr Trace
	if s := tr.Span(); s.N != 0 || s.Series != 0 || !math.IsNaN(float64(s.LeastX)) {
		t.Errorf("empty: %+v, want nothing and LeastX not a number", s)
	}
	tr.Add(Point{T: 5, Tension: -3, X: 2, Stage: StandBy})
	tr.Add(Point{T: 7, Tension: 900, X: 2, Stage: Pull})
	tr.Add(Point{T: 8, Tension: 800, X: -1, Stage: Pull})
	if got, want := tr.Span(), (TraceSpan{N: 3, First: 5, Last: 8, Greatest: 900, Series: 1, LeastX: -1, MostX: 2}); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
	tr.Add(Point{T: 9, Tension: 1, X: 40, Stage: Recover})
	if got, want := tr.Span(), (TraceSpan{N: 4, First: 5, Last: 9, Greatest: 900, Series: 2, LeastX: 40, MostX: 40}); got != want {
		t.Errorf("second series: got %+v, want %+v", got, want)
	}
}

func TestTraceQueryAllocatesNothing(t *testing.T) {
	var tr Trace
	for i := range 5000 {
		tr.Add(Point{T: int64(i) * 1e8, Tension: Force(i), X: Length(i) / 200, Stage: Pull})
	}
	room := make([]Col, 0, 200)
	if n := testing.AllocsPerRun(10, func() {
		tr.ByTime(0, 5e11, 200, room)
		tr.ByHaul(0, 25, 200, room)
	}); n != 0 {
		t.Errorf("%v allocations with room for 200 columns, want 0", n)
	}
}
