// Package geo is distances and positions on the WGS-84 ellipsoid: the geodesic
// between two points, the point at a distance on a bearing, and a plane round a
// point for what is near.
//
// Degrees for latitude, longitude and azimuth (from true north, clockwise);
// metres for the rest.
//
// # Accuracy
//
// The geodesic is solved from its two integrals, which are summed numerically to
// the last digits, not from a truncated series: C. F. F. Karney, Algorithms for
// geodesics, Journal of Geodesy 87 (2013), equations 7, 8 and 45 and section 4
// for the solution by azimuth (from memory). Within 1e-7 m of published
// solutions up to 17,000 km; a nanometre on the scale of a trial. The plane
// stays within 1e-6 m of it under 500 m, and 0.3 mm at 5 km.
package geo
