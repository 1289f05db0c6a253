package acquire

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"hawse/trial"
)

func TestDepthDecoder(t *testing.T) {
	nmea := trial.Sounder{Wire: trial.Wire{Kind: trial.WireNMEA}, Transducer: 0.6}
	sd := nmea
	sd.Wire.Talker = "SD"
	feet := trial.Sounder{Line: `^D (?P<depth>\d+\.\d+)$`, Unit: trial.LengthUnit{Name: "ft", M: 0.3048}}
	for _, tt := range []struct {
		name  string
		s     trial.Sounder
		frame string
		kind  ReadingKind
		fits  bool
		depth float64
	}{
		{"the offset to the water line is added", nmea, "$SDDPT,0.5,0.5,*7B", Good, true, 1.0},
		{"one to the keel is not, the transducer is", nmea, "$SDDPT,5.0,-1.2", Good, true, 5.6},
		{"none", nmea, "$INDPT,2.3,0.0*46", Good, true, 2.9},
		{"unknown", nmea, "$SDDPT,,", Good, true, math.NaN()},
		{"DBT in metres", nmea, "$SDDBT,7.8,f,2.4,M,1.3,F*0D", Good, true, 3.0},
		{"DBT in feet alone", nmea, "$SDDBT,10.0,f,,M,,F", Good, true, 3.648},
		{"DBT in fathoms alone", nmea, "$SDDBT,,f,,M,1.0,F", Good, true, 2.4288},
		{"wrong checksum", nmea, "$SDDPT,0.5,0.5*AA", Garbled, false, math.NaN()},
		{"another sentence", nmea, "$GPHDT,274.07,T*03", Garbled, false, math.NaN()},
		{"another talker", sd, "$INDPT,2.3,0.0*46", Good, false, 2.9},
		{"a line in feet", feet, "D 10.0", Good, true, 3.048},
		{"another line", feet, "E 10.0", Garbled, false, math.NaN()},
	} {
		d, err := NewDepthDecoder(tt.s)
		if err != nil {
			t.Fatal(err)
		}
		got := d.Decode([]byte(tt.frame))
		same := math.Abs(float64(got.Depth)-tt.depth) < 1e-9 || math.IsNaN(tt.depth) && math.IsNaN(float64(got.Depth))
		if got.Kind != tt.kind || !same || (got.Why == "") != (tt.kind == Good) {
			t.Errorf("%s: %+v, want %v %v", tt.name, got, tt.kind, tt.depth)
		}
		if fits := d.Fits([]byte(tt.frame)); fits != tt.fits {
			t.Errorf("%s: %s fits %v", tt.name, tt.frame, fits)
		}
	}
}

// Each row of the table goes to the instruments that read it, and to no other.
func TestRouting(t *testing.T) {
	for _, row := range nmeaRows(t) {
		if row[3] != "valid" {
			continue
		}
		frame := []byte(row[2])
		depth, err := NewDepthDecoder(trial.Sounder{Wire: trial.Wire{Kind: trial.WireNMEA}})
		if err != nil {
			t.Fatal(err)
		}
		got := fmt.Sprint(depth.Fits(frame), PositionFits(trial.Positioner{}, frame), HeadingFits(trial.Compass{}, frame), ClockFits(trial.SatClock{}, frame))
		want := map[string]string{"DPT": "true false false false", "DBT": "true false false false", "GGA": "false true false false",
			"RMC": "false true false true", "ZDA": "false false false true", "HDT": "false false true false", "VTG": "false false false false"}[row[1]]
		if got != want {
			t.Errorf("%s: depth, position, heading, clock take it: %s; want %s", row[0], got, want)
		}
	}
}

func TestDecodePosition(t *testing.T) {
	for _, tt := range []struct {
		frame string
		kind  ReadingKind
		lat   float64
	}{
		{"$GNGGA,001043.00,4404.14036,N,12118.85961,W,1,12,0.98,1113.0,M,-21.3,M*47", Good, 44.069006},
		{"$GPGGA,201716.684,,,,,0,00,,,M,0.0,M,,0000*5F", Good, math.NaN()},
		{"$GNGGA,001043.00,4404.14036,N,12118.85961,W,8,12", Good, math.NaN()}, // simulated
		{"$GNGGA,001043.00,4404.14036,N,12118.85961,W,,12", Good, math.NaN()},
		{"$GNGGA,001043.00,4404.14036,N,,,1,12", Good, math.NaN()},
		{"$GPRMC,123519.00,V,4807.038,N,01131.000,E,,,230394,,*24", Good, math.NaN()},
		{"$GPRMC,220516,A,5133.82,N,00042.24,W,173.8,231.8,130694,004.2,W*70", Good, 51.563666667},
		{"$GPRMC,220516,A,5133.82,N,00042.24,W,173.8,231.8,130694,,,S", Good, math.NaN()},
		{"$GPRMC,2205,A", Garbled, math.NaN()},
		{"$GPHDT,274.07,T*03", Garbled, math.NaN()},
	} {
		got := DecodePosition([]byte(tt.frame))
		if got.Kind != tt.kind || math.IsNaN(got.Lat) != math.IsNaN(tt.lat) || math.IsNaN(got.Lon) != math.IsNaN(tt.lat) || math.Abs(got.Lat-tt.lat) > 1e-8 {
			t.Errorf("%s: %+v, want %v at %v", tt.frame, got, tt.kind, tt.lat)
		}
	}
}

func TestDecodeHeadingAndClock(t *testing.T) {
	deg := math.Pi / 180
	for _, tt := range []struct {
		frame string
		off   float64
		want  float64
	}{{"$GPHDT,274.07,T*03", 0, 274.07}, {"$GPHDT,359,T", 2, 1}, {"$GPHDT,1,T", -2, 359}, {"$GPHDT,,T*1B", 0, math.NaN()}} {
		h, why := DecodeHeading(trial.Compass{Offset: trial.Angle(tt.off * deg)}, []byte(tt.frame))
		if why != "" || math.Abs(float64(h)/deg-tt.want) > 1e-9 || math.IsNaN(float64(h)) != math.IsNaN(tt.want) {
			t.Errorf("%s and %v: %v deg, %q; want %v", tt.frame, tt.off, float64(h)/deg, why, tt.want)
		}
	}
	if _, why := DecodeHeading(trial.Compass{}, []byte("$GPZDA,160012.71,11,03,2004,-1,00*7D")); !strings.Contains(why, "no sentence of a heading") {
		t.Error(why)
	}
	for frame, want := range map[string]string{
		"$GPZDA,160012.71,11,03,2004,-1,00*7D": "2004-03-11T16:00:12.71Z", "$GPZDA,160012.71,,,,,": "",
		"$GPRMC,220516,A,5133.82,N,00042.24,W,173.8,231.8,130694,004.2,W*70": "1994-06-13T22:05:16Z",
		"$GPRMC,123519.00,V,4807.038,N,01131.000,E,,,230394,,*24":            "",
	} {
		at, why := DecodeClock([]byte(frame))
		got := ""
		if !at.IsZero() {
			got = at.Format(time.RFC3339Nano)
		}
		if got != want || why != "" {
			t.Errorf("%s: %q, %q; want %q", frame, got, why, want)
		}
	}
}

// Several instruments in any pieces on one port: what fits none of them is
// given too, and nothing is lost.
func TestReceptionOfASharedPort(t *testing.T) {
	on := []trial.Instrument{{Table: "depth", Wire: trial.Wire{Kind: trial.WireNMEA}}, {Table: "heading", Wire: trial.Wire{Kind: trial.WireNMEA, On: "depth"}}}
	r := NewReception(on, nil)
	text := "$GPHDT,274.07,T*03\r\n$SDDPT,0.5,0.5,*7B\r\nnoise\x00\r\n"
	var got []string
	for i := range len(text) {
		r.Feed(int64(i), []byte(text[i:i+1]), func(table string, frame []byte, bad string) {
			got = append(got, table+"|"+string(frame)+"|"+bad)
		})
	}
	want := []string{"|$GPHDT,274.07,T*03|", "|$SDDPT,0.5,0.5,*7B|", "|noise\x00|" + BadNUL}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("%q, want %q", got, want)
	}
}
