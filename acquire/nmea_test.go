package acquire

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"
)

func nmeaRows(t testing.TB) [][]string { return tableOf(t, "nmea0183-sentences.csv", 17) }

// said is every field of a sentence under the names of the table.
func said(s Sentence) (map[string]any, error) {
	clock := func(d time.Duration) any {
		if d < 0 {
			return math.NaN()
		}
		return d
	}
	switch s.Type {
	case "RMC":
		m, err := s.RMC()
		status := "V"
		if m.Valid {
			status = "A"
		}
		return map[string]any{"time": clock(m.Time), "date": m.Date, "status": status, "lat": m.Lat, "lon": m.Lon, "sog_kn": m.Speed, "sog": m.Speed,
			"cog": m.Track, "cog_true": m.Track, "variation": m.Variation, "mode": m.Mode, "nav_status": m.Nav}, err
	case "GGA":
		g, err := s.GGA()
		return map[string]any{"time": clock(g.Time), "lat": g.Lat, "lon": g.Lon, "position": g.Lat, "quality": float64(g.Quality), "sats": float64(g.Sats),
			"hdop": g.HDOP, "alt_m": g.Height, "geoid_m": g.Geoid, "station": g.Station}, err
	case "ZDA":
		z, err := s.ZDA()
		return map[string]any{"time": clock(z.TimeOnly), "date": z.At.Truncate(24 * time.Hour), "zone_h": float64(z.ZoneH), "zone_min": float64(z.ZoneM)}, err
	case "DPT":
		d, err := s.DPT()
		return map[string]any{"depth_below_transducer_m": d.Below, "offset_m": d.Offset, "range": d.Range}, err
	case "DBT":
		d, err := s.DBT()
		return map[string]any{"depth_ft": d.Feet, "depth_m": d.Metres, "depth_fathom": d.Fathoms}, err
	case "VTG":
		v, err := s.VTG()
		return map[string]any{"cog_true": v.Track, "cog_mag": v.Magnetic, "sog_kn": v.Knots, "sog_kmh": v.Kmh, "mode": v.Mode}, err
	case "HDT":
		h, err := s.HDT()
		return map[string]any{"heading_true": h.Heading, "heading": h.Heading}, err
	}
	return nil, fmt.Errorf("type %q", s.Type)
}

// TestSentences: every row of the table, whole, without its checksum, and with
// each character changed in turn, which the checksum must tell.
func TestSentences(t *testing.T) {
	for _, row := range nmeaRows(t) {
		id, kind, line, state, want := row[0], row[1], row[2], row[3], row[5]
		s, err := ParseSentence([]byte(line))
		if state == "invalid" {
			if err == nil {
				t.Errorf("%s: %s is taken", id, line)
			}
			continue
		}
		if err != nil || s.Type != kind || s.Talker != line[1:3] {
			t.Errorf("%s: ParseSentence(%s) = %q %q, %v", id, line, s.Talker, s.Type, err)
			continue
		}
		check(t, id, s, want)
		bare, _, _ := strings.Cut(line, "*")
		if s, err := ParseSentence([]byte(bare)); err != nil {
			t.Errorf("%s: without its checksum: %v", id, err)
		} else {
			check(t, id+" without checksum", s, want)
		}
		for i := range len(bare) {
			for bit := range 7 {
				wrong := []byte(line)
				wrong[i] ^= 1 << bit
				if _, err := ParseSentence(wrong); err == nil {
					t.Errorf("%s: %q is taken", id, wrong)
				}
			}
		}
	}
}

func check(t *testing.T, id string, s Sentence, want string) {
	t.Helper()
	got, err := said(s)
	if err != nil {
		t.Errorf("%s: %v", id, err)
		return
	}
	seen := 0
	for part := range strings.SplitSeq(want, ";") {
		name, text, _ := strings.Cut(part, "=")
		text, _, _ = strings.Cut(text, " ")
		if name == "note" {
			continue
		}
		seen++
		v, have := got[name]
		if !have {
			t.Errorf("%s: nothing called %s", id, name)
			continue
		}
		switch v := v.(type) {
		case float64:
			if f, err := strconv.ParseFloat(text, 64); err == nil && math.Abs(v-f) > 1e-8 || err != nil && !math.IsNaN(v) {
				t.Errorf("%s: %s is %v, want %s", id, name, v, text)
			}
		case time.Duration:
			if at := (time.Time{}).Add(v).Format("15:04:05.999999999"); strings.TrimRight(strings.TrimRight(text, "0"), ".") != strings.TrimRight(at, "0") && text != at {
				t.Errorf("%s: %s is %s, want %s", id, name, at, text)
			}
		case time.Time:
			if at := v.Format(time.DateOnly); at != text {
				t.Errorf("%s: %s is %s, want %s", id, name, at, text)
			}
		case string:
			if v != text {
				t.Errorf("%s: %s is %q, want %q", id, name, v, text)
			}
		}
	}
	if seen == 0 {
		t.Errorf("%s: nothing checked of %q", id, want)
	}
}

func TestSentencesThatAreNone(t *testing.T) {
	for _, tt := range []struct{ line, want string }{
		{"", "no NMEA"}, {"$", "no NMEA"}, {"SDDPT,0.5,0.5", "no NMEA"}, {"$SDDP,1", "no NMEA"}, {"$SDDPTX,1", "no NMEA"}, {"$sddpt,1", "no NMEA"},
		{"$SDDPT,0.5,0.5*7", "two hex"}, {"$SDDPT,0.5,0.5*", "two hex"}, {"$SDDPT,0.5,0.5*GG", "two hex"}, {"$SDDPT,0.5,0.5,*7A", "it says 7A, the line has 7B"},
		{"$SDDPT,0.5\x1b,0.5", "no NMEA"},
		{"$SDDPT,x,0.5", `field 1, "x", is no number`}, {"$SDDPT,-1,0.5", "from 0"}, {"$SDDPT,1e1,0", "no number"}, {"$SDDPT,nan,0", "no number"},
		{"$SDDPT,99999,0", "field 1"}, {"$SDDBT,7.8,M", "unit f"}, {"$GPHDT,361,T", "from 0 to 360"}, {"$GPHDT,1,M", "unit T"},
		{"$GPZDA,246012,11,03,2004", "time of day"}, {"$GPZDA,16001,11,03,2004", "hhmmss"}, {"$GPZDA,160012,31,02,2004", "day that exists"},
		{"$GPGGA,,9100.0,N,,,1", "position"}, {"$GPGGA,,4960.0,N,,,1", "position"}, {"$GPGGA,,4900.0,X,,,1", "N or S"}, {"$GPGGA,,490.0,N,,,1", "position"},
		{"$GPRMC,,X", "status"}, {"$GPRMC,,A,,,,,,,310299x", "ddmmyy"}, {"$GPRMC,,A,,,,,,,310299", "day that exists"},
		{"$GPVTG,1,T,2,X", "unit M"},
	} {
		s, err := ParseSentence([]byte(tt.line))
		if err == nil {
			_, err = said(s)
		}
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%q: %v; want an error with %q", tt.line, err, tt.want)
		}
	}
	if s, err := ParseSentence([]byte("$GPVTG,89.0,94.0,5.5,10.2")); err != nil {
		t.Error(err)
	} else if v, err := s.VTG(); err != nil || v.Track != 89 || v.Magnetic != 94 || v.Knots != 5.5 || v.Kmh != 10.2 {
		t.Errorf("the older VTG: %+v, %v", v, err)
	}
}

// A sentence that is read says only what can be, whatever it says.
func FuzzSentence(f *testing.F) {
	for _, row := range nmeaRows(f) {
		f.Add([]byte(row[2]))
	}
	f.Add([]byte("$PXXXX,1*"))
	f.Fuzz(func(t *testing.T, line []byte) {
		s, err := ParseSentence(line)
		if err != nil {
			for _, c := range err.Error() {
				if c < 0x20 || c > 0x7e {
					t.Errorf("%q: the reason %q is not fit to be shown", line, err)
				}
			}
			return
		}
		got, err := said(s)
		if err != nil || got == nil {
			return
		}
		for _, name := range []string{"lat", "lon", "heading", "depth_below_transducer_m", "cog_true"} {
			if v, ok := got[name].(float64); ok && (math.IsInf(v, 0) || math.Abs(v) > deepest) {
				t.Errorf("%q: %s is %v", line, name, v)
			}
		}
	})
}
