package acquire

import (
	"math"
	"time"
)

// What sentences hold, in their own units; NaN, -1 or the zero time is unknown.
type (
	// DPT is the depth below the transducer. A positive Offset is from the
	// transducer up to the water line, a negative one down to the keel.
	DPT struct{ Below, Offset, Range float64 } // m
	// DBT is the depth below the transducer in three units, any of them unknown.
	DBT struct{ Feet, Metres, Fathoms float64 }
	// RMC is position, speed and track over ground, with UTC.
	RMC struct {
		Time      time.Duration // since midnight UTC; -1 unknown
		Date      time.Time     // zero unknown; its century is taken for the one from 1980 on
		Valid     bool
		Lat, Lon  float64 // degrees, north and east positive
		Speed     float64 // knots
		Track     float64 // degrees true
		Variation float64 // degrees, east positive
		Mode      string
		Nav       string
	}
	// GGA is position with its quality.
	GGA struct {
		Time     time.Duration
		Lat, Lon float64
		Quality  int // 0 none, 1 satellites, 2 differential, 4 and 5 by carrier phase, 6 estimated, 7 by hand, 8 simulated; -1 unknown
		Sats     int // -1 unknown
		HDOP     float64
		Height   float64 // of the antenna over mean sea level, m
		Geoid    float64 // m
		Age      float64 // of the correction, s
		Station  string
	}
	// ZDA is time and date.
	ZDA struct {
		At       time.Time // UTC; zero unknown
		ZoneH    int       // local zone, hours and minutes of the same sign
		ZoneM    int
		HasZone  bool
		TimeOnly time.Duration // since midnight; -1 unknown
	}
	// VTG is speed and track over ground.
	VTG struct {
		Track, Magnetic float64 // degrees
		Knots, Kmh      float64
		Mode            string
	}
	// HDT is the true heading, degrees.
	HDT struct{ Heading float64 }
)

// DPT reads a sentence of that type, as the methods that follow do of theirs.
func (s Sentence) DPT() (DPT, error) {
	r := reader{s: s}
	d := DPT{r.within(1, 0, deepest), r.within(2, -1000, 1000), r.within(3, 0, 1e6)}
	return d, r.err
}

// deepest is more than any sea, m.
const deepest = 12000

// DBT reads a sentence of that type.
func (s Sentence) DBT() (DBT, error) {
	r := reader{s: s}
	d := DBT{r.within(1, 0, deepest*4), r.within(3, 0, deepest), r.within(5, 0, deepest)}
	r.unit(2, "f")
	r.unit(4, "M")
	r.unit(6, "F")
	return d, r.err
}

// InMetres is the depth in the best of its units: metres, feet, fathoms.
func (d DBT) InMetres() float64 {
	const foot = 0.3048
	switch {
	case !math.IsNaN(d.Metres):
		return d.Metres
	case !math.IsNaN(d.Feet):
		return d.Feet * foot
	}
	return d.Fathoms * 6 * foot
}

// RMC reads a sentence of that type.
func (s Sentence) RMC() (RMC, error) {
	r := reader{s: s}
	m := RMC{Time: r.clock(1), Valid: s.field(2) == "A", Lat: r.degrees(3, 2, "N", "S", 90), Lon: r.degrees(5, 3, "E", "W", 180),
		Speed: r.within(7, 0, 2000), Track: r.within(8, 0, 360), Variation: r.within(10, 0, 180), Mode: s.field(12), Nav: s.field(13)}
	if f := s.field(2); f != "A" && f != "V" && f != "" {
		r.bad(2, "status A or V")
	}
	switch s.field(11) {
	case "W":
		m.Variation = -m.Variation
	case "E", "":
	default:
		r.bad(11, "E or W")
	}
	if text := s.field(9); text != "" {
		if len(text) != 6 || !digits(text) {
			r.bad(9, "date ddmmyy")
		} else {
			two := func(at int) int { return int(10*(text[at]-'0') + text[at+1] - '0') }
			year := 2000 + two(4)
			if two(4) >= 80 {
				year -= 100
			}
			m.Date = r.date(9, year, two(2), two(0))
		}
	}
	return m, r.err
}

// date is zero and wrong where no such day exists.
func (r *reader) date(n, year, month, day int) time.Time {
	d := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
	if d.Year() != year || int(d.Month()) != month || d.Day() != day {
		r.bad(n, "day that exists")
		return time.Time{}
	}
	return d
}

// GGA reads a sentence of that type.
func (s Sentence) GGA() (GGA, error) {
	r := reader{s: s}
	g := GGA{Time: r.clock(1), Lat: r.degrees(2, 2, "N", "S", 90), Lon: r.degrees(4, 3, "E", "W", 180), Quality: -1, Sats: -1,
		HDOP: r.within(8, 0, 1000), Height: r.within(9, -1e5, 1e6), Geoid: r.within(11, -1000, 1000), Age: r.within(13, 0, 1e6), Station: s.field(14)}
	if q, has := r.whole(6, 0, 9); has {
		g.Quality = q
	}
	if n, has := r.whole(7, 0, 999); has {
		g.Sats = n
	}
	r.unit(10, "M")
	r.unit(12, "M")
	return g, r.err
}

// ZDA reads a sentence of that type.
func (s Sentence) ZDA() (ZDA, error) {
	r := reader{s: s}
	z := ZDA{TimeOnly: r.clock(1)}
	day, hasD := r.whole(2, 1, 31)
	month, hasM := r.whole(3, 1, 12)
	year, hasY := r.whole(4, 1980, 2200)
	if hasD && hasM && hasY {
		if d := r.date(2, year, month, day); z.TimeOnly >= 0 && !d.IsZero() {
			z.At = d.Add(z.TimeOnly)
		}
	}
	var hasZ bool
	z.ZoneH, hasZ = r.whole(5, -14, 14)
	z.ZoneM, z.HasZone = r.whole(6, -59, 59)
	z.HasZone = z.HasZone || hasZ
	return z, r.err
}

// VTG reads a sentence of that type, in its newer form: the older one has four
// bare numbers, and no letters to tell them by.
func (s Sentence) VTG() (VTG, error) {
	r := reader{s: s}
	if f := s.field(2); f != "" && f != "T" {
		r := reader{s: s}
		v := VTG{r.within(1, 0, 360), r.within(2, 0, 360), r.within(3, 0, 2000), r.within(4, 0, 4000), ""}
		return v, r.err
	}
	v := VTG{r.within(1, 0, 360), r.within(3, 0, 360), r.within(5, 0, 2000), r.within(7, 0, 4000), s.field(9)}
	r.unit(4, "M")
	r.unit(6, "N")
	r.unit(8, "K")
	return v, r.err
}

// HDT reads a sentence of that type.
func (s Sentence) HDT() (HDT, error) {
	r := reader{s: s}
	h := HDT{r.within(1, 0, 360)}
	r.unit(2, "T")
	return h, r.err
}
