package rode

import "math"

// Point is a place on the rode.
type Point struct {
	S float64 // unstretched length from the anchor, m
	X float64 // horizontally from the anchor, m
	Z float64 // over the anchor, m
	T float64 // tension, N; at a joint that of the piece below it
}

// Fits reports whether s was solved for the rode as it stands: same height,
// same rode out.
func (r *Rode) Fits(s State) bool { return s.Out == r.out && s.Height == r.height && s.T > 0 }

// Shape appends n points of the rode in state s to dst, from the anchor to the
// fairlead, evenly spaced in length; n below 2 counts as 2. For a state that
// does not fit the rode ([Rode.Fits]) it appends nothing.
func (r *Rode) Shape(s State, n int, dst []Point) []Point {
	if !r.Fits(s) {
		return dst
	}
	n = max(n, 2)
	for i := range n - 1 {
		dst = append(dst, r.At(s, r.out*float64(i)/float64(n-1)))
	}
	return append(dst, r.At(s, r.out))
}

// At is the point at the unstretched length arc from the anchor in state s,
// which must fit the rode. Slack rode on the bottom is drawn evenly over the span
// there is.
func (r *Rode) At(s State, arc float64) Point {
	arc = min(max(arc, 0), r.out)
	p := Point{S: arc, X: s.Span, Z: s.Height, T: s.T}
	if arc == r.out {
		return p
	}
	i, length, low := r.touch(s.V)
	h, v, lower := s.H, s.V, r.out
	for j := len(r.use) - 1; j >= i; j-- {
		q := &r.use[j]
		l := q.l
		if j == i {
			l -= length
		}
		lower -= l
		if arc > lower {
			l -= arc - lower
		}
		x, z := q.back(h, v, l)
		p.X, p.Z = p.X-x, p.Z-z
		v -= q.w * l
		p.T = math.Hypot(h, v)
		if arc > lower || arc == lower && j == i && length == 0 && i == 0 {
			return p
		}
		v -= q.joint
	}
	p.Z = 0
	if h == 0 {
		if p.T = 0; s.OnBottom > 0 {
			p.X = s.Span * arc / s.OnBottom
		}
		return p
	}
	return r.flat(p, laid{end: h}, i, length, low, lower)
}

// back is how far the upper l metres of a piece lead back and down.
func (p *piece) back(h, v, l float64) (x, z float64) {
	switch v1 := v - p.w*l; {
	case l <= 0:
		return 0, 0
	case h == 0:
		return 0, (math.Abs(v)-math.Abs(v1))/p.w + l*(v+v1)/2*p.inv
	case v1 == 0:
		x, _ = p.touchRun(h, v)
		z, _, _ = p.touchRise(h, v)
		return x, z
	}
	x, _ = p.run(h, v, l)
	z, _, _ = p.rise(h, v, l)
	return x, z
}

// flat goes on from where the rode leaves the bottom to the point p.S on it.
func (r *Rode) flat(p Point, b laid, i int, length, low, lower float64) Point {
	walk := func(q *piece, l float64) bool {
		lower -= l
		there := p.S >= lower
		if there {
			l -= p.S - lower
		}
		b.slide(q, l)
		return there
	}
	done := length > 0 && walk(&r.use[i], length)
	for ; i > 0 && !done; i-- {
		below := &r.use[i-1]
		b.rub(below.mu * (r.use[i].joint - low))
		done = walk(below, below.l)
		low = 0
	}
	p.X -= b.bottom + b.give
	p.T = b.end
	return p
}

// PieceState is how one piece fares.
type PieceState struct {
	Low, High float64 // tension at its lower and upper end, N
	Stretch   float64 // m
	Energy    float64 // elastic, J
	OnBottom  float64 // unstretched, m
}

// Pieces appends the state of every piece that is out to dst, from the anchor
// up. For a state that does not fit the rode it appends nothing.
func (r *Rode) Pieces(s State, dst []PieceState) []PieceState {
	if !r.Fits(s) {
		return dst
	}
	i, length, low := r.touch(s.V)
	n := len(dst)
	for range r.use {
		dst = append(dst, PieceState{})
	}
	all := dst[n:]
	v := s.V
	for j := len(r.use) - 1; j >= i; j-- {
		q, l := &r.use[j], r.use[j].l
		if j == i {
			l -= length
		}
		v1 := v - q.w*l
		all[j] = PieceState{Low: math.Hypot(s.H, v1), High: math.Hypot(s.H, v), Energy: q.work(s.H, v, l)}
		switch x, _ := q.back(s.H, v, l); {
		case s.H == 0:
			all[j].Stretch = q.inv * (v*math.Abs(v) - v1*math.Abs(v1)) / (2 * q.w)
		case l > 0:
			all[j].Stretch = q.inv * q.pull(s.H, v, l, x-s.H*l*q.inv)
		}
		v = v1 - q.joint
	}
	b := laid{end: s.H}
	if length > 0 {
		b.slide(&r.use[i], length)
		all[i].lain(b, laid{})
	}
	for ; i > 0; i-- {
		b.rub(r.use[i-1].mu * (r.use[i].joint - low))
		before := b
		all[i-1].High = b.end
		b.slide(&r.use[i-1], r.use[i-1].l)
		all[i-1].lain(b, before)
		low = 0
	}
	return dst
}

// lain adds the part on the bottom, from what was summed before it and after.
func (p *PieceState) lain(after, before laid) {
	p.Low = after.end
	p.OnBottom = after.bottom - before.bottom
	p.Stretch += after.give - before.give
	p.Energy += after.work - before.work
}
