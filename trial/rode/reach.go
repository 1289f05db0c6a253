package rode

import "math"

// rise is the height gained over the upper l metres of piece p, hanging clear
// with horizontal force h and vertical force v2 at its upper end, and its
// derivatives by both. h or the lower vertical force must not be 0.
//
// With T2-T1 = w l (V1+V2)/(T1+T2) no difference of near-equal terms is left.
func (p *piece) rise(h, v2, l float64) (z, zh, zv float64) {
	v1 := v2 - p.w*l
	t1, t2 := math.Sqrt(h*h+v1*v1), math.Sqrt(h*h+v2*v2)
	sum, q := t1+t2, h/(t1*t2)
	z = l * (v1 + v2) * (1/sum + p.inv/2)
	zh = -q * l * (v1 + v2) / sum
	if v1*v2 < 0 {
		zv = (v2/t2 - v1/t1) / p.w
	} else {
		zv = q * h * l * sum / (h*h + t1*t2 + v1*v2)
	}
	return z, zh, zv + l*p.inv
}

// run is the span of the same part and its derivative by h; its derivative by
// v2 is the zh of rise.
//
// With tanh((a-b)/2) = (sinh a - sinh b)/(cosh a + cosh b) the difference of
// the two asinh is 2 atanh(w l/(T1+T2)).
func (p *piece) run(h, v2, l float64) (x, xh float64) {
	wl := p.w * l
	v1 := v2 - wl
	t1, t2 := math.Sqrt(h*h+v1*v1), math.Sqrt(h*h+v2*v2)
	sum := t1 + t2
	if u := wl / sum; u <= 0.5 { // a flat or steep arc, up to the straight line
		over := atanhOver(u) // atanh(u)/u - 1
		twice := sum*sum - wl*wl
		// t1 t2 - h^2 without its difference
		less := (h*h*(v1*v1+v2*v2) + v1*v1*v2*v2) / (t1*t2 + h*h)
		x = 2 * h * l / sum * (1 + over)
		xh = 2 * l / sum * (over + (sum*sum*less-wl*wl*t1*t2)/(twice*t1*t2))
	} else {
		_, _, zv := p.rise(h, v2, l)
		arc := math.Log(grow(h, v2, t2)/grow(h, v1, t1)) / p.w
		x = h * arc
		xh = arc - (zv - l*p.inv)
	}
	return x + h*l*p.inv, xh + l*p.inv
}

// grow is v+t, written so that a negative v loses nothing: e^asinh(v/h) times h.
func grow(h, v, t float64) float64 {
	if v < 0 {
		return h * h / (t - v)
	}
	return v + t
}

// atanhOver is atanh(u)/u - 1 for 0 <= u <= 0.5.
func atanhOver(u float64) float64 {
	if u < 0.05 {
		q := u * u
		return q * (1./3 + q*(1./5+q*(1./7+q*(1./9+q*(1./11+q/13)))))
	}
	return math.Atanh(u)/u - 1
}

// touchRise is rise for the hanging part v/w of a piece that leaves the bottom.
func (p *piece) touchRise(h, v float64) (z, zh, zv float64) {
	if v == 0 {
		return 0, 0, 0
	}
	t := math.Sqrt(h*h + v*v)
	l := v / p.w
	return l * v * (1/(h+t) + p.inv/2), -l * v / (t * (h + t)), v / p.w * (1/t + p.inv)
}

// touchRun is run for the same part; the bottom is not in it.
func (p *piece) touchRun(h, v float64) (x, xh float64) {
	q, l := v/h, v/p.w
	arc := math.Asinh(q)
	bend := arc - q/math.Sqrt(1+q*q)
	if q < 0.003 { // the series of that difference
		bend = q * q * q * (1./3 + q*q*(-3./10+q*q*15/56))
	}
	return h*arc/p.w + h*l*p.inv, bend/p.w + l*p.inv
}

// top is the height of the fairlead over the anchor under the forces h and v,
// and its derivatives. h must be positive.
func (r *Rode) top(h, v float64) (z, zh, zv float64) {
	for i := len(r.use) - 1; i >= 0; i-- {
		p := &r.use[i]
		if p.floor && v < p.wl {
			dz, dzh, dzv := p.touchRise(h, v)
			return z + dz, zh + dzh, zv + dzv
		}
		dz, dzh, dzv := p.rise(h, v, p.l)
		z, zh, zv = z+dz, zh+dzh, zv+dzv
		if low := v - p.wl; i > 0 {
			if r.use[i-1].floor && low < p.joint {
				break
			}
			v = low - p.joint
		}
	}
	return z, zh, zv
}

// reached is where the fairlead comes to under two forces, how it moves when
// they change, and what becomes of the line on the way.
type reached struct {
	x, z           float64
	xh, xv, zh, zv float64
	stretch        float64 // m, bottom and all
	energy         float64 // J, bottom and all
	low            float64 // vertical force at the anchor once all is lifted, N
	laid
}

// reach sums the whole rode under h and v. h must be positive, or all of the
// rode lifted with a positive vertical force at the anchor.
func (r *Rode) reach(h, v float64) (s reached) {
	i, length, low := r.touch(v)
	s.laid = r.lay(h, i, length, low)
	for j := len(r.use) - 1; j >= i; j-- {
		p := &r.use[j]
		if j == i && length > 0 {
			z, zh, zv := p.touchRise(h, v)
			x, xh := p.touchRun(h, v)
			s.add(p, h, v, v/p.w, x, z, xh, zh, zv)
			break
		}
		z, zh, zv := p.rise(h, v, p.l)
		x, xh := p.run(h, v, p.l)
		s.add(p, h, v, p.l, x, z, xh, zh, zv)
		v -= p.wl + p.joint
	}
	s.x += s.bottom + s.give
	s.xh += s.supple
	s.xv = s.zh + s.holds*s.supple
	s.stretch += s.give
	s.energy += s.work
	if i == 0 && length == 0 {
		s.low = low
	}
	return s
}

// add takes in l metres of piece p that hang clear.
func (s *reached) add(p *piece, h, v2, l, x, z, xh, zh, zv float64) {
	s.x, s.z, s.xh, s.zh, s.zv = s.x+x, s.z+z, s.xh+xh, s.zh+zh, s.zv+zv
	if p.inv > 0 {
		s.stretch += p.pull(h, v2, l, x-h*l*p.inv) * p.inv
		s.energy += p.work(h, v2, l)
	}
}

// pull is the integral of the tension along l metres hanging clear, N m, with
// x their span without stretch: (V T + H^2 asinh(V/H))/(2w) between the ends.
func (p *piece) pull(h, v2, l, x float64) float64 {
	v1 := v2 - p.w*l
	sum := math.Sqrt(h*h+v1*v1) + math.Sqrt(h*h+v2*v2)
	return l/4*(sum+(v1+v2)*(v1+v2)/sum) + h*x/2
}

// work is the elastic energy in l metres hanging clear, J: the integral of
// T^2/(2 EA), with T^2 = H^2+V^2 and V linear along the piece.
func (p *piece) work(h, v2, l float64) float64 {
	v1 := v2 - p.w*l
	return l * p.inv / 2 * (h*h + (v1*v1+v1*v2+v2*v2)/3)
}
