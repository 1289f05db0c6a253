package geo

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// String writes degrees and minutes as charts and receivers have them, to
// 0.0001 minute, some 0.2 m: 50°45.0000'N 001°18.0000'W.
func (p Point) String() string {
	return part(p.Lat, 2, "N", "S") + " " + part(wrap(p.Lon), 3, "E", "W")
}

func part(v float64, wide int, pos, neg string) string {
	if v < 0 {
		pos = neg
	}
	units := math.Round(math.Abs(v) * 60 * 1e4)
	deg := math.Floor(units / (60 * 1e4))
	return fmt.Sprintf("%0*d°%07.4f'%s", wide, int(deg), (units-deg*60*1e4)/1e4, pos)
}

var (
	decimalText = regexp.MustCompile(`^\s*([+-]?\d{1,2}(?:\.\d{1,12})?)\s*[, ]\s*([+-]?\d{1,3}(?:\.\d{1,12})?)\s*$`)
	minuteText  = regexp.MustCompile(`^\s*(\d{1,2})[° ]\s*(\d{1,2}(?:\.\d{1,9})?)['′]?\s*([NSns])[, ]\s*(\d{1,3})[° ]\s*(\d{1,2}(?:\.\d{1,9})?)['′]?\s*([EWew])\s*$`)
)

// ParsePoint reads a position: decimal degrees "50.7512, -1.3044", north and
// east positive, or degrees and minutes "50 45.072 N 1 18.264 W".
func ParsePoint(s string) (Point, error) {
	var p Point
	if len(s) > 80 {
		return p, fmt.Errorf("a position is not as long as that; %s", want)
	}
	if m := decimalText.FindStringSubmatch(s); m != nil {
		p.Lat, _ = strconv.ParseFloat(m[1], 64)
		p.Lon, _ = strconv.ParseFloat(m[2], 64)
	} else if m := minuteText.FindStringSubmatch(s); m != nil {
		var over bool
		one := func(deg, min, side string) float64 {
			d, _ := strconv.ParseFloat(deg, 64)
			m, _ := strconv.ParseFloat(min, 64)
			over = over || m >= 60
			if v := d + m/60; strings.ContainsAny(side, "SsWw") {
				return -v
			} else {
				return v
			}
		}
		p.Lat, p.Lon = one(m[1], m[2], m[3]), one(m[4], m[5], m[6])
		if over {
			return p, fmt.Errorf("%q has 60 minutes or more; %s", s, want)
		}
	} else {
		return p, fmt.Errorf("%q is no position; %s", s, want)
	}
	if math.Abs(p.Lat) > 90 || math.Abs(p.Lon) > 180 {
		return p, fmt.Errorf("%q: latitude is from -90 to 90, longitude from -180 to 180", s)
	}
	return p, nil
}

const want = `write "50.7512, -1.3044", north and east positive, or "50 45.072 N 1 18.264 W"`
