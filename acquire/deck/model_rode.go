package deck

import (
	"fmt"
	"math"

	"hawse/trial"
	"hawse/trial/rode"
)

// templateRode is the rode of the trial file's template.
var templateRode = []Piece{
	{Length: 10, Weight: 12, EA: 400e3, Friction: 0.7},
	{Length: 70, Weight: 0.3, EA: 400e3, Friction: 0.3},
}

// rodeTable is the statics of the rode, tabulated: a world steps a hundred times
// a second, and solving each step anew would cost more than all the rest. Rows are
// for rode out, columns for the tension at the fairlead, equal steps of its
// logarithm. Between columns stands a monotone cubic, between rows a straight line.
type rodeTable struct {
	solve  *rode.Rode
	height float64
	total  float64
	most   float64    // m, paid out at the beginning
	rows   []*rodeRow // by rode out over rowStep; nil until asked for
	col    int        // where the last search ended: the next begins there
}

const (
	rowStep   = 0.25 // m
	rodeCols  = 112
	rodeLow   = 1.0  // N
	rodeTop   = 60e3 // N; no tension of this trade
	leastTurn = 1.02 // times the height: with less rode out it is nearly up and down
)

var rodeStep = math.Log(rodeTop/rodeLow) / (rodeCols - 1)

// rodeRow is one length out.
type rodeRow struct {
	less   [rodeCols]float64 // span less rode out, m
	anchor [rodeCols]float64 // tension at the anchor, N
	angle  [rodeCols]float64 // of the line there, rad
}

func newRodeTable(height trial.Length, pieces []Piece, payout trial.Length) (*rodeTable, error) {
	list := make([]rode.Piece, len(pieces))
	for i, p := range pieces {
		list[i] = rode.Piece{Length: float64(p.Length), Weight: float64(p.Weight), EA: float64(p.EA), Friction: p.Friction}
	}
	r, err := rode.New(float64(height), list)
	if err != nil {
		return nil, fmt.Errorf("the model's rode: %w", err)
	}
	return &rodeTable{solve: r, height: float64(height), total: r.Total(), rows: make([]*rodeRow, int(min(r.Total(), float64(payout))/rowStep)+3), most: float64(payout)}, nil
}

// row is the i-th, worked out at its first use. Under the tension that hangs from
// the fairlead anyway the span hardly changes: the rode lies in a heap.
func (t *rodeTable) row(i int) *rodeRow {
	if t.rows[i] != nil {
		return t.rows[i]
	}
	r := &rodeRow{}
	out := min(max(float64(i)*rowStep, leastTurn*t.height), t.total)
	_ = t.solve.SetOut(out) // within its bounds
	heap, _ := t.solve.AtTension(0)
	if s, err := t.solve.AtSpan(0); err == nil {
		heap = s
	}
	for k := range rodeCols {
		tension := rodeLow * math.Exp(float64(k)*rodeStep)
		s, err := t.solve.AtTension(tension)
		if err != nil || tension <= heap.T {
			r.less[k] = heap.SpanMax - out - 1e-6*max(heap.T-tension, 0)
			continue
		}
		r.less[k], r.anchor[k], r.angle[k] = s.Span-out, s.AnchorT, s.AnchorAngle
	}
	t.rows[i] = r
	return r
}

// slice is the rode at one length out: two rows and the share of the second.
type slice struct {
	a, b *rodeRow
	f    float64
	out  float64
}

func (t *rodeTable) slice(out float64) slice {
	out = min(max(out, leastTurn*t.height), t.total, t.most)
	i := int(out / rowStep)
	return slice{t.row(i), t.row(i + 1), out/rowStep - float64(i), out}
}

func (s *slice) less(k int) float64   { return s.a.less[k] + s.f*(s.b.less[k]-s.a.less[k]) }
func (s *slice) anchor(k int) float64 { return s.a.anchor[k] + s.f*(s.b.anchor[k]-s.a.anchor[k]) }
func (s *slice) angle(k int) float64  { return s.a.angle[k] + s.f*(s.b.angle[k]-s.a.angle[k]) }

// cubic is the monotone cubic through y1 and y2 with their neighbours, at p from 0
// to 1, and its derivative by p (Fritsch and Carlson 1980 with the harmonic mean
// for tangents, from memory).
func cubic(y0, y1, y2, y3, p float64) (v, d float64) {
	tangent := func(a, b float64) float64 {
		if a*b <= 0 {
			return 0
		}
		return 2 * a * b / (a + b)
	}
	c := y2 - y1
	m1, m2 := tangent(y1-y0, c), tangent(c, y3-y2)
	a, b := m1+m2-2*c, 3*c-2*m1-m2
	return y1 + p*(m1+p*(b+p*a)), m1 + p*(2*b+p*3*a)
}

// held is what the rode does at one length out and one span.
type held struct {
	tension, anchor, angle float64
	stiff                  float64 // of the anchor's tension, N a metre of span
	stiffTop               float64 // the same at the fairlead
}

func (s *slice) at(k int, p float64) (span, dspan float64) {
	v, d := cubic(s.less(max(k-1, 0)), s.less(k), s.less(k+1), s.less(min(k+2, rodeCols-1)), p)
	return v + s.out, d
}

func (s *slice) held(k int, p, dspan float64) held {
	h := held{tension: rodeLow * math.Exp((float64(k)+p)*rodeStep)}
	a, da := cubic(s.anchor(max(k-1, 0)), s.anchor(k), s.anchor(k+1), s.anchor(min(k+2, rodeCols-1)), p)
	h.anchor = max(a, 0)
	h.angle = s.angle(k) + p*(s.angle(k+1)-s.angle(k))
	if dspan > 0 {
		h.stiff = da / dspan
		h.stiffTop = h.tension * rodeStep / dspan
	}
	return h
}

// atSpan is what the rode does with so much out and the fairlead so far from the
// anchor, both m.
func (t *rodeTable) atSpan(out, span float64) held {
	s := t.slice(out)
	want := span - s.out
	k := t.col
	for k > 0 && s.less(k) > want {
		k--
	}
	for k < rodeCols-2 && s.less(k+1) <= want {
		k++
	}
	t.col = k
	low, high, p := 0.0, 1.0, 0.5
	if c := s.less(k+1) - s.less(k); c > 0 {
		p = min(max((want-s.less(k))/c, 0), 1)
	}
	var d float64
	for range 20 {
		var v float64
		v, d = s.at(k, p)
		miss := v - span
		if math.Abs(miss) < 1e-9 {
			break
		}
		if miss > 0 {
			high = p
		} else {
			low = p
		}
		if p -= miss / d; !(p > low && p < high) {
			p = (low + high) / 2
		}
	}
	return s.held(k, p, d)
}

// atAnchor is the tension at the fairlead and the span when the anchor is pulled
// by so much.
func (t *rodeTable) atAnchor(out, anchor float64) (tension, span float64) {
	s := t.slice(out)
	k := 0
	for k < rodeCols-2 && s.anchor(k+1) <= anchor {
		k++
	}
	p := 0.0
	if c := s.anchor(k+1) - s.anchor(k); c > 0 {
		p = min(max((anchor-s.anchor(k))/c, 0), 1)
	}
	span, _ = s.at(k, p)
	return rodeLow * math.Exp((float64(k)+p)*rodeStep), span
}
