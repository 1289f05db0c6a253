package geo

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func rows(t *testing.T, name string) []map[string]string {
	t.Helper()
	file, err := os.Open(filepath.Join("../../testdata/geodesic", name))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	all, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range all[1:] {
		m := map[string]string{}
		for i, c := range r {
			m[all[0][i]] = c
		}
		out = append(out, m)
	}
	return out
}

func num(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func ends(t *testing.T, r map[string]string) (p, q Point) {
	return Point{num(t, r["lat1_deg"]), num(t, r["lon1_deg"])}, Point{num(t, r["lat2_deg"]), num(t, r["lon2_deg"])}
}

// TestPublishedGeodesics: length and azimuths, and back again by Direct.
func TestPublishedGeodesics(t *testing.T) {
	for _, r := range rows(t, "geodesic-inverse-published.csv") {
		p, q := ends(t, r)
		s, a1, a2 := Inverse(p, q)
		text, rest, to := strings.Cut(r["s12_m"], " (to ")
		tol := 1e-7
		if to {
			if tol = num(t, strings.Fields(rest)[0]); strings.Contains(rest, "mm") {
				tol /= 1000
			}
		}
		if want := num(t, text); math.Abs(s-want) > tol {
			t.Errorf("%s: %.9f m, want %s", r["id"], s, r["s12_m"])
		}
		if r["azi1_deg"] == "" {
			continue
		}
		azTol := 1e-12
		if to {
			azTol = 1e-5
		}
		if d := math.Abs(wrap(a1 - num(t, r["azi1_deg"]))); d > azTol {
			t.Errorf("%s: azimuth %.15g, want %s", r["id"], a1, r["azi1_deg"])
		}
		if d := math.Abs(wrap(a2 - num(t, r["azi2_deg"]))); d > azTol {
			t.Errorf("%s: azimuth at the end %.15g, want %s", r["id"], a2, r["azi2_deg"])
		}
		back, end := Direct(p, a1, s)
		if d := Between(back, q); d > 1e-7 || math.Abs(wrap(end-a2)) > 1e-12 {
			t.Errorf("%s: Direct ends %g m away, azimuth %.15g, want %.15g", r["id"], d, end, a2)
		}
	}
}

func TestShortDistances(t *testing.T) {
	for _, r := range rows(t, "geodesic-short-computed.csv") {
		p, q := ends(t, r)
		s, a1, _ := Inverse(p, q)
		if want := num(t, r["s12_wgs84_m"]); math.Abs(s-want) > 6e-7 {
			t.Errorf("%s: %.8f m, want %s", r["id"], s, r["s12_wgs84_m"])
		}
		if r["azi1_deg"] != "" && math.Abs(wrap(a1-num(t, r["azi1_deg"]))) > 6e-7 {
			t.Errorf("%s: azimuth %.8f, want %s", r["id"], a1, r["azi1_deg"])
		}
		if want := num(t, r["local_plane_MN_m"]); math.Abs(Between(p, q)-want) > 6e-7 {
			t.Errorf("%s: plane %.8f m, want %s", r["id"], Between(p, q), r["local_plane_MN_m"])
		}
	}
}

func TestRadii(t *testing.T) {
	for _, r := range rows(t, "wgs84-radii-computed.csv") {
		lat := num(t, r["lat_deg"])
		m, n := Radii(lat)
		for name, got := range map[string]float64{"meridian_radius_M_m": m, "prime_vertical_radius_N_m": n, "metres_per_deg_lat": m * rad,
			"metres_per_deg_lon": n * math.Cos(lat*rad) * rad, "metres_per_minute_lat": m * rad / 60} {
			if want := num(t, r[name]); math.Abs(got-want) > 6e-7 {
				t.Errorf("latitude %g: %s %.7f, want %.7f", lat, name, got, want)
			}
		}
	}
}

// TestThereAndBack: Direct and Inverse agree anywhere, and the plane with both
// within its bounds.
func TestThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Point{rapid.Float64Range(-89, 89).Draw(t, "lat"), rapid.Float64Range(-180, 180).Draw(t, "lon")}
		az := rapid.Float64Range(-180, 180).Draw(t, "azimuth")
		s := rapid.OneOf(rapid.Float64Range(1, 500), rapid.Float64Range(500, 1.5e7)).Draw(t, "s")
		q, _ := Direct(p, az, s)
		got, a1, a2 := Inverse(p, q)
		if math.Abs(got-s) > 2e-8 {
			t.Fatalf("%v on %g for %g m: Inverse says %.9f", p, az, s, got)
		}
		// The azimuth of a short way, or of one that comes out near the pole, is
		// known by what a hand's breadth at its end turns it.
		if d := math.Abs(wrap(a1-az)) * rad * math.Min(s, a*math.Sin(math.Min(s/a, 3.1))); d > 1e-6 {
			t.Fatalf("%v on %.12g for %g m: Inverse says %.12g", p, az, s, a1)
		}
		back, b1, b2 := Inverse(q, p)
		if math.Abs(back-got) > 2e-8 || math.Abs(wrap(b1-a2-180))*rad*s > 1e-4 || math.Abs(wrap(b2-a1-180))*rad*s > 1e-4 {
			t.Fatalf("the way back: %g on %g to %g; there: %g on %g to %g", back, b1, b2, got, a1, a2)
		}
		if s < 500 && math.Abs(p.Lat) < 70 {
			plane := Plane{p}
			if d := math.Abs(Between(p, q) - s); d > 1e-6 {
				t.Fatalf("plane off by %g m of %g", d, s)
			}
			e, n := plane.To(q)
			if d := Between(plane.From(e, n), q); d > 1e-7 {
				t.Fatalf("From(To) is %g m away", d)
			}
		}
	})
}

// TestSpecialCases: meridians, the equator, across the date line, points that
// coincide, and nearly opposite ones, where series that iterate on longitude fail.
func TestSpecialCases(t *testing.T) {
	const quarter = 10001965.729 // m, quarter of a meridian, published with WGS-84 (from memory)
	for _, tt := range []struct {
		name       string
		p, q       Point
		s, az, tol float64
	}{
		{"equator to pole", Point{0, 0}, Point{90, 0}, quarter, 0, 1e-3},
		{"pole to equator", Point{90, 0}, Point{0, 0}, quarter, 180, 1e-3},
		{"along the equator", Point{0, 10}, Point{0, 20}, a * 10 * rad, 90, 1e-8},
		{"west on the equator", Point{0, 20}, Point{0, 10}, a * 10 * rad, -90, 1e-8},
		{"over the date line", Point{0, 179.5}, Point{0, -179.5}, a * rad, 90, 1e-8},
		{"over the pole", Point{80, 0}, Point{80, 180}, 2 * 1116825.8, 0, 1},
		// GeographicLib's planimeter and inverse manuals give 20003931.4586 m for
		// the half meridian (from memory): the antipode of a point on the equator.
		{"opposite", Point{0, 0}, Point{0, 180}, 2 * quarter, 0, 1e-2},
	} {
		s, az, _ := Inverse(tt.p, tt.q)
		if math.Abs(s-tt.s) > tt.tol || math.Abs(wrap(az-tt.az)) > 1e-9 && tt.name != "opposite" {
			t.Errorf("%s: %.4f m on %g, want %.4f on %g", tt.name, s, az, tt.s, tt.az)
		}
	}
	if s, az, _ := Inverse(Point{50, 1}, Point{50, 361}); s != 0 || !math.IsNaN(az) {
		t.Errorf("a point and itself a turn on: %g, %g; want 0 and no azimuth", s, az)
	}
	// Nearly opposite: the row of Karney's paper, table 4 (from memory): latitudes
	// -30 and 29.9, longitude 179.8: 19989832.827610 m.
	s, az, _ := Inverse(Point{-30, 0}, Point{29.9, 179.8})
	if math.Abs(s-19989832.827610) > 1e-5 || math.Abs(az-161.890524736) > 1e-8 {
		t.Errorf("nearly opposite: %.6f m on %.9f", s, az)
	}
}

func TestText(t *testing.T) {
	p := Point{50.7512, -1.3044}
	if got := p.String(); got != "50°45.0720'N 001°18.2640'W" {
		t.Errorf("%q", got)
	}
	if got := (Point{0.99999999999, 179.99999999999}).String(); got != "01°00.0000'N 180°00.0000'E" {
		t.Errorf("rounded up: %q", got)
	}
	for _, s := range []string{"50.7512, -1.3044", "50.7512 -1.3044", "50 45.072 N 1 18.264 W", p.String(), "50°45.072'N, 001°18.264'w"} {
		if got, err := ParsePoint(s); err != nil || Between(got, p) > 0.001 {
			t.Errorf("%q: %v, %v", s, got, err)
		}
	}
	for _, s := range []string{"", "here", "50.7", "91, 0", "50, 181", "50 60.0 N 1 0 W", "50 45 N 1 18", "NaN, 0", "1e1, 2", strings.Repeat("5", 100)} {
		if got, err := ParsePoint(s); err == nil {
			t.Errorf("%q was taken as %v", s, got)
		}
	}
}
