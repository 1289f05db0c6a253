package geo

import "math"

// Radii are the radii of curvature at a latitude, metres: of the meridian, and
// of the prime vertical, across it.
func Radii(lat float64) (meridian, vertical float64) {
	s := math.Sin(lat * rad)
	w := 1 - e2*s*s
	return a * (1 - e2) / (w * math.Sqrt(w)), a / math.Sqrt(w)
}

// Plane is metres east and north of a point, by the radii at the latitude half
// way. It is for distances of some kilometres and not for the poles.
type Plane struct{ Origin Point }

// To is where a point lies in the plane.
func (pl Plane) To(p Point) (east, north float64) {
	mid := (pl.Origin.Lat + p.Lat) / 2
	m, n := Radii(mid)
	return wrap(p.Lon-pl.Origin.Lon) * rad * n * math.Cos(mid*rad), (p.Lat - pl.Origin.Lat) * rad * m
}

// From is the point that lies there.
func (pl Plane) From(east, north float64) Point {
	p := pl.Origin
	for range 4 { // the radii are those half way: each round mends the latitude
		mid := (pl.Origin.Lat + p.Lat) / 2
		m, n := Radii(mid)
		p = Point{Lat: pl.Origin.Lat + north/m/rad, Lon: pl.Origin.Lon + east/(n*math.Cos(mid*rad))/rad}
	}
	p.Lon = wrap(p.Lon)
	return p
}

// Between is the distance of two points near each other, by the plane half way.
func Between(p, q Point) float64 {
	east, north := Plane{p}.To(q)
	return math.Hypot(east, north)
}
