package trial

// Storage is fixed: a pull has some ten segments and few events.
const (
	segmentsMost = 200
	eventsMost   = 64
)

// tellings is what has been said of the series.
type tellings struct {
	segs   [segmentsMost]Segment
	n      int
	floorT int64 // ns; no segment is dated back past it
	floorX float64
	events [eventsMost]PhaseEvent
	first  int // of the events not fetched
	ne     int
	t      int64 // the latest point
	x      float64
	rode   float64
	height float64
}

// Events appends to dst what has happened since the last call, in the order it
// was said. It allocates only if dst is too small. At most 64 wait to be fetched:
// of more the oldest are dropped.
func (d *PhaseDetector) Events(dst []PhaseEvent) []PhaseEvent {
	w := &d.told
	for ; w.ne > 0; w.ne-- {
		dst = append(dst, w.events[w.first])
		w.first = (w.first + 1) % eventsMost
	}
	return dst
}

func (w *tellings) event(e PhaseEvent) {
	if w.ne == eventsMost {
		w.first = (w.first + 1) % eventsMost
		w.ne--
	}
	w.events[(w.first+w.ne)%eventsMost] = e
	w.ne++
}

// Segments returns the phases of the series so far, each dated back to where it
// began; the last one is open and ends at the latest point. They follow each
// other without a hole. They are dated by what is known now, so a later call may
// have them otherwise. The slice is the caller's.
//
// At most 200 are kept. When they are full the two neighbours that together are
// the shortest in line hauled become one with the phase of the longer, marked
// Merged; a breakout, a re-set, a fall and the last few are left alone as long as
// there is anything else.
func (d *PhaseDetector) Segments() []Segment {
	out := append([]Segment(nil), d.told.segs[:d.told.n]...)
	n := len(out)
	if n == 0 {
		return nil
	}
	out[n-1].T1, out[n-1].X1 = d.told.t, Length(d.told.x)
	if n > 1 && out[n-1].T1 <= out[n-1].T0 {
		out = out[:n-1] // nothing has come since
	}
	return out
}

func (w *tellings) newSeries(t int64, x float64) {
	w.n, w.floorT, w.floorX, w.t, w.x = 0, t, x, t, x
}

func (w *tellings) now(t int64, x, rode, height float64) {
	w.t, w.x, w.rode, w.height = t, x, rode, height
}

// at begins a stretch: the open segment does not reach into what was not seen.
func (w *tellings) at(t int64, x float64) {
	w.t, w.x = t, x
	w.keepFrom(t, x)
}

// keepFrom holds what was said before t against later dating back.
func (w *tellings) keepFrom(t int64, x float64) {
	if t > w.floorT {
		w.floorT, w.floorX = t, x
	}
}

// last is the open segment, nil before the first.
func (w *tellings) last() *Segment {
	if w.n == 0 {
		return nil
	}
	return &w.segs[w.n-1]
}

// segment opens a segment, dated back to t. What lies after that is part of it.
func (w *tellings) segment(p Phase, t int64, x float64) {
	if t < w.floorT && w.n > 0 {
		t, x = w.floorT, w.floorX
	}
	t = min(t, max(w.t, w.floorT))
	for w.n > 0 && w.segs[w.n-1].T0 >= t {
		w.n--
	}
	if l := w.last(); l != nil {
		l.T1, l.X1 = t, Length(x)
		if l.Phase == p && !l.Fell && p != Breakout {
			return // it goes on
		}
	}
	if w.n == segmentsMost {
		w.merge()
	}
	w.segs[w.n] = Segment{Phase: p, T0: t, T1: t, X0: Length(x), X1: Length(x), RodeOut: Length(w.rode), Height: Length(w.height)}
	w.n++
}

func (w *tellings) sawTooth(s saw) {
	if l := w.last(); l != nil && l.Phase == SawTooth {
		l.Wave, l.Swing = Length(s.wave), s.swing
	}
}

// merge makes room for one.
func (w *tellings) merge() {
	best, short, weight := 0, 0.0, 0
	for i := range w.n - 4 {
		a, b := &w.segs[i], &w.segs[i+1]
		long, heavy := float64(b.X1-a.X0), 0
		if a.keeps() || b.keeps() {
			heavy = 1
		}
		if i == 0 || heavy < weight || heavy == weight && long < short {
			best, short, weight = i, long, heavy
		}
	}
	a, b := w.segs[best], w.segs[best+1]
	if b.X1-b.X0 > a.X1-a.X0 {
		b.T0, b.X0, a.T1, a.X1 = a.T0, a.X0, b.T1, b.X1
		a = b
	} else {
		a.T1, a.X1 = b.T1, b.X1
	}
	a.Merged = true
	w.segs[best] = a
	copy(w.segs[best+1:w.n-1], w.segs[best+2:w.n])
	w.n--
}

func (s *Segment) keeps() bool { return s.Fell || s.Phase == Breakout || s.Phase == Reset }

// cause writes the cause of a fall into its segment, the one that was open at t
// and fell.
func (w *tellings) cause(t int64, c Cause) {
	for i := w.n - 1; i >= 0; i-- {
		if s := &w.segs[i]; s.Fell && s.T0 <= t {
			s.Cause = c
			return
		}
	}
}

// takeBack makes the newest breakout an unclear stretch: it was none.
func (w *tellings) takeBack() {
	for i := w.n - 1; i >= 0; i-- {
		if s := &w.segs[i]; s.Phase == Breakout {
			s.Phase, w.n = Unclear, i+1
			return
		}
	}
}
