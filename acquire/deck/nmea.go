package deck

import (
	"fmt"
	"math"
	"time"
)

// The sentences, in the order in which they are said within a second, and whose
// they are. Their fields are those of the gpsd project's "NMEA Revealed", edition
// of 12 July 2025.
var (
	sentences  = []string{"DPT", "HDT", "GGA", "RMC", "VTG", "ZDA", "DBT"}
	sentenceOf = map[string]int{"DPT": portDepth, "DBT": portDepth, "HDT": insHeading, "GGA": insPosition, "RMC": insPosition, "VTG": insPosition, "ZDA": insClock}
)

// Where the invented vessel lies, and how: far from any land.
const (
	placeLat, placeLon = 47.25, -21.5 // degrees north and east
	headsTo            = 215.0        // degrees true
)

// inventedDay is when a deck plays that was told no other time.
var inventedDay = time.Date(2026, 4, 12, 9, 0, 0, 0, time.UTC)

// sentence is what the instruments of the vessel say now.
func (w *world) sentence(dst []byte, form string) []byte {
	const knot = 1852.0 / 3600 // m/s, exact
	at := w.epoch.Add(time.Duration(w.t)).Add(w.fix.step)
	hms := at.Format("150405.00")
	lat, lon := w.position()
	place := fmt.Sprintf("%s,%s", degrees(lat, 2, "N", "S"), degrees(lon, 3, "E", "W"))
	fixed := w.box[insPosition].fault != "no-fix"
	var body string
	switch form {
	case "DPT", "DBT":
		d := float64(w.depth() - transducer)
		switch w.box[portDepth].fault {
		case "double-depth":
			d *= 2
		case "no-bottom":
			d = math.NaN()
		}
		if form == "DPT" {
			body = fmt.Sprintf("SDDPT,%s,%.1f", known("%.2f", d), float64(transducer))
			break
		}
		const foot = 0.3048
		body = fmt.Sprintf("SDDBT,%s,f,%s,M,%s,F", known("%.1f", d/foot), known("%.2f", d), known("%.1f", d/foot/6))
	case "HDT":
		body = fmt.Sprintf("HEHDT,%.1f,T", headsTo)
	case "GGA":
		if !fixed {
			body = "GPGGA," + hms + ",,,,,0,00,,,M,,M,,"
			break
		}
		body = "GPGGA," + hms + "," + place + ",1,09,0.9,2.0,M,51.0,M,,"
	case "RMC":
		status, mode := "A", "A"
		if !fixed {
			status, mode, place = "V", "N", ",,,"
		}
		v, track := w.overGround()
		body = fmt.Sprintf("GPRMC,%s,%s,%s,%.1f,%.1f,%s,,,%s", hms, status, place, v/knot, track, at.Format("020106"), mode)
	case "VTG":
		v, track := w.overGround()
		body = fmt.Sprintf("GPVTG,%.1f,T,,M,%.1f,N,%.1f,K,A", track, v/knot, v*3.6)
	case "ZDA":
		body = fmt.Sprintf("GPZDA,%s,%s,00,00", hms, at.Format("02,01,2006"))
	}
	sum := byte(0)
	for i := range len(body) {
		sum ^= body[i]
	}
	return fmt.Appendf(dst, "$%s*%02X\r\n", body, sum)
}

func known(format string, v float64) string {
	if math.IsNaN(v) {
		return ""
	}
	return fmt.Sprintf(format, v)
}

// degrees is ddmm.mmmmm and the letter of its half of the globe.
func degrees(v float64, whole int, plus, minus string) string {
	side := plus
	if v < 0 {
		v, side = -v, minus
	}
	const parts = 1e5 // of a minute: 2 cm
	n := int64(math.Round(v * 60 * parts))
	return fmt.Sprintf("%0*d%02d.%05d,%s", whole, n/(60*parts), n/parts%60, n%int64(parts), side)
}

// position is that of the antenna, degrees. It wanders as a receiver's does
// without correction: by a metre, in minutes. The vessel lies still but for what
// the script has her do; once she has gone ahead she is over the anchor.
func (w *world) position() (lat, lon float64) {
	s := float64(w.t-w.t0) / 1e9
	forward := -float64(astern(w.moves, w.t))
	if w.ahead {
		forward += float64(w.s.Payout - w.aheadAt)
	}
	sin, cos := math.Sincos(headsTo * math.Pi / 180)
	north := forward*cos + 0.5*math.Sin(2*math.Pi*s/311)
	east := forward*sin + 0.5*math.Sin(2*math.Pi*s/173)
	// Lengths of a degree, WGS 84 (NGA.STND.0036, table 3.1, from memory): the
	// radii of curvature at the place.
	const a, e2, deg = 6378137.0, 0.00669437999014, math.Pi / 180
	sLat, cLat := math.Sincos(placeLat * deg)
	q := 1 - e2*sLat*sLat
	return placeLat + north/(a*(1-e2)/(q*math.Sqrt(q)))/deg, placeLon + east/(a/math.Sqrt(q)*cLat)/deg
}

// overGround is speed, m/s, and track, degrees true.
func (w *world) overGround() (v, track float64) {
	const dt = int64(time.Second)
	d := float64(astern(w.moves, w.t) - astern(w.moves, w.t-dt))
	if track = headsTo; d > 0 {
		track = math.Mod(headsTo+180, 360)
	}
	return math.Abs(d), track
}

// fixes is what of the satellites' words a fault has changed.
type fixes struct{ step time.Duration }
