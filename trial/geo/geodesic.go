package geo

import "math"

// WGS-84, exact by definition: semi-major axis and flattening.
const (
	a = 6378137.0
	f = 1 / 298.257223563
	b = a * (1 - f)
	// Squares of the first and the second eccentricity.
	e2  = f * (2 - f)
	ep2 = e2 / ((1 - f) * (1 - f))
)

const rad = math.Pi / 180

// Point is a position in degrees, north and east positive.
type Point struct{ Lat, Lon float64 }

// Valid says that the latitude is one and both are numbers.
func (p Point) Valid() bool {
	return math.Abs(p.Lat) <= 90 && math.Abs(p.Lon) <= 540
}

// nodes and weights of Gauss-Legendre, 16 points on -1 to 1, the positive half;
// worked out from the roots of the polynomial when the program starts.
var gaussX, gaussW = gauss(16)

func gauss(n int) (x, w []float64) {
	for i := range n / 2 {
		z := math.Cos(math.Pi * (float64(i) + 0.75) / (float64(n) + 0.5))
		var dp float64
		for range 100 {
			p0, p1 := 1.0, z
			for k := 2; k <= n; k++ {
				p0, p1 = p1, (float64(2*k-1)*z*p1-float64(k-1)*p0)/float64(k)
			}
			dp = float64(n) * (z*p1 - p0) / (z*z - 1)
			step := p1 / dp
			z -= step
			if math.Abs(step) < 1e-16 {
				break
			}
		}
		x, w = append(x, z), append(w, 2/((1-z*z)*dp*dp))
	}
	return x, w
}

// integral sums g from lo to hi, in panels of at most a radian.
func integral(lo, hi float64, g func(sin float64) float64) float64 {
	panels := max(1, math.Ceil(math.Abs(hi-lo)))
	half := (hi - lo) / panels / 2
	sum := 0.0
	for p := range int(panels) {
		mid := lo + half*(2*float64(p)+1)
		for i, x := range gaussX {
			sum += gaussW[i] * (g(math.Sin(mid-half*x)) + g(math.Sin(mid+half*x)))
		}
	}
	return sum * half
}

// line is a geodesic that crosses the equator northward at azimuth alpha0; arcs
// are on the auxiliary sphere from there.
type line struct{ sin0, k2 float64 }

func lineOf(sinAlpha0 float64) line {
	s := math.Min(1, math.Abs(sinAlpha0))
	return line{s, ep2 * (1 - s*s)}
}

// length is the distance between two arcs (eq. 7).
func (l line) length(from, to float64) float64 {
	return b * integral(from, to, func(sin float64) float64 { return math.Sqrt(1 + l.k2*sin*sin) })
}

// behind is by how much the longitude is less than that on the sphere (eq. 8).
func (l line) behind(from, to float64) float64 {
	return f * l.sin0 * integral(from, to, func(sin float64) float64 {
		return (2 - f) / (1 + (1-f)*math.Sqrt(1+l.k2*sin*sin))
	})
}

// reduced is the reduced latitude, radians.
func reduced(lat float64) float64 {
	s, c := math.Sincos(lat * rad)
	return math.Atan2((1-f)*s, c)
}

// wrap brings an angle in degrees into -180 to 180, 180 rather than -180.
func wrap(d float64) float64 {
	if d = math.Mod(d, 360); d > 180 {
		d -= 360
	} else if d <= -180 {
		d += 360
	}
	return d
}

// Direct goes from a point s metres on an azimuth. It returns where that is and
// the azimuth there. s may be negative.
func Direct(p Point, azimuth, s float64) (Point, float64) {
	beta := reduced(p.Lat)
	sa, ca := math.Sincos(wrap(azimuth) * rad)
	sb, cb := math.Sincos(beta)
	sign := 1.0
	if sa < 0 { // west is east in a mirror
		sign, sa = -1, -sa
	}
	l := lineOf(sa * cb)
	from := math.Atan2(sb, ca*cb)
	if sb == 0 && ca*cb == 0 {
		from = 0
	}
	to := from + s/b
	for range 50 { // Newton: the slope hardly changes
		sin := math.Sin(to)
		step := (l.length(from, to) - s) / (b * math.Sqrt(1+l.k2*sin*sin))
		to -= step
		if math.Abs(step) < 1e-17 {
			break
		}
	}
	cos0 := math.Sqrt(math.Max(0, 1-l.sin0*l.sin0))
	s1, c1 := math.Sincos(from)
	s2, c2 := math.Sincos(to)
	sbeta := cos0 * s2
	cbeta := math.Hypot(l.sin0, cos0*c2)
	omega := math.Atan2(l.sin0*s2, c2) - math.Atan2(l.sin0*s1, c1)
	// Whole turns that the arctangent does not see.
	omega += 2 * math.Pi * (math.Round((to - from - omega) / (2 * math.Pi)))
	lambda := omega - l.behind(from, to)
	out := Point{Lat: math.Atan2(sbeta, (1-f)*cbeta) / rad, Lon: wrap(p.Lon + sign*lambda/rad)}
	return out, wrap(sign * math.Atan2(l.sin0, cos0*c2) / rad)
}

// Inverse is the shortest way between two points: its length and its azimuth at
// both ends. For points that coincide the azimuths are NaN: there is none.
func Inverse(p, q Point) (s, from, to float64) {
	lambda := wrap(wrap(q.Lon) - wrap(p.Lon))
	if lambda == 0 && p.Lat == q.Lat || math.Abs(p.Lat) == 90 && p.Lat == q.Lat {
		return 0, math.NaN(), math.NaN()
	}
	// To the standard case: the first point the further from the equator, on the
	// south, the second east of it; back again at the end.
	east := math.Copysign(1, lambda)
	lambda = math.Abs(lambda) * rad
	lat1, lat2 := p.Lat, q.Lat
	swap := math.Abs(lat1) < math.Abs(lat2)
	if swap {
		lat1, lat2 = lat2, lat1
	}
	north := 1.0
	if lat1 > 0 {
		north, lat1, lat2 = -1, -lat1, -lat2
	}
	s, sa1, ca1, sa2, ca2 := solve(reduced(lat1), reduced(lat2), lambda)
	if swap {
		sa1, sa2, ca1, ca2 = sa2, sa1, ca2, ca1
	}
	// Each mirror turns azimuths: of the equator north and south; of a swap both
	// of them, and back to the order of travel that is one of north and south.
	if swap {
		north = -north
	}
	return s, wrap(math.Atan2(east*sa1, north*ca1) / rad), wrap(math.Atan2(east*sa2, north*ca2) / rad)
}

// solve is the standard case: b1 <= 0, |b2| <= -b1, lambda from 0 to pi.
func solve(b1, b2, lambda float64) (s, sa1, ca1, sa2, ca2 float64) {
	if b1 == 0 && lambda <= (1-f)*math.Pi {
		return a * lambda, 1, 0, 1, 0
	}
	sb1, cb1 := math.Sincos(b1)
	sb2, cb2 := math.Sincos(b2)
	if b1 == 0 {
		sb1 = math.Copysign(0, -1) // on the south side of the equator
	}
	type at struct {
		l                  line
		from, to           float64
		sa1, ca1, sa2, ca2 float64
	}
	way := func(alpha float64) (w at, lon float64) {
		w.sa1, w.ca1 = math.Sincos(alpha)
		if alpha == math.Pi {
			w.sa1 = 0
		}
		w.l = lineOf(w.sa1 * cb1)
		w.sa2 = 1
		if cb2 > 0 {
			w.sa2 = math.Min(1, w.l.sin0/cb2)
		}
		// eq. 45, so that nothing cancels
		diff := (sb1 - sb2) * (sb1 + sb2)
		if cb1 < -sb1 {
			diff = (cb2 - cb1) * (cb1 + cb2)
		}
		if cb2 > 0 {
			w.ca2 = math.Sqrt(math.Max(0, w.ca1*w.ca1*cb1*cb1+diff)) / cb2
		} else {
			w.ca2 = math.Abs(w.ca1)
		}
		w.from, w.to = math.Atan2(sb1, w.ca1*cb1), math.Atan2(sb2, w.ca2*cb2)
		o1 := math.Atan2(w.l.sin0*sb1, w.ca1*cb1)
		o2 := math.Atan2(w.l.sin0*sb2, w.ca2*cb2)
		omega := o2 - o1
		if omega < 0 {
			omega += 2 * math.Pi
		}
		return w, omega - w.l.behind(w.from, w.to)
	}
	lo, hi := 0.0, math.Pi
	alpha := lambda // on the meridian it is the solution
	if lambda > 0 && lambda < math.Pi {
		// The longitude grows with the azimuth: halve, which never fails.
		for range 200 {
			if alpha = (lo + hi) / 2; alpha == lo || alpha == hi {
				break
			}
			if _, lon := way(alpha); lon < lambda {
				lo = alpha
			} else {
				hi = alpha
			}
		}
	}
	w, _ := way(alpha)
	return w.l.length(w.from, w.to), w.sa1, w.ca1, w.sa2, w.ca2
}
