package listen

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"hawse/trial"
)

// measure is rate, step, noise, and what the readings give away of the box.
func (s *Shape) measure(c *column, times []int64, comma bool) {
	places := 0
	for _, t := range c.texts {
		text := strings.NewReplacer(" ", "", "\t", "").Replace(t)
		if comma {
			text = strings.Replace(text, ",", ".", 1)
		}
		if _, frac, ok := strings.Cut(text, "."); ok {
			places = max(places, len(frac))
		}
		v, err := strconv.ParseFloat(text, 64)
		if err == nil {
			s.Values = append(s.Values, v)
		}
	}
	if n := len(times); n > 1 && times[n-1] > times[0] {
		s.Rate = float64(n-1) / (float64(times[n-1]-times[0]) / 1e9)
	}
	unit := math.Pow10(-places)
	var common int64
	var sum, square, lag float64
	rises, falls := 0, 0
	var last float64
	for i := 1; i < len(s.Values); i++ {
		d := s.Values[i] - s.Values[i-1]
		if k := int64(math.Round(math.Abs(d) / unit)); math.Abs(d)/unit < 1e15 {
			common = gcd(common, k)
		}
		sum, square = sum+d, square+d*d
		if i > 1 {
			lag += d * last
		}
		last = d
		if d > 0 {
			rises++
		} else if d < 0 {
			falls++
		}
	}
	s.Step = float64(common) * unit
	n := float64(len(s.Values) - 1)
	if n > 0 {
		s.Noise = math.Sqrt(square / n / 2)
	}
	note := func(format string, a ...any) { s.Notes = append(s.Notes, fmt.Sprintf(format, a...)) }
	switch {
	case s.Kind == Load && rises >= 5 && falls == 0:
		note("the reading only ever rises: is peak hold on in the box?")
	case rises+falls == 0 && len(s.Values) > 20:
		note("the reading never changed: hang something on it, or turn the drum; a real cell flickers in its last digit")
	case s.Kind == Load && len(s.Values) >= 50 && s.Noise > 2*s.Step && lag/square > -0.25:
		// Of readings that scatter each for itself, one step is undone by half in
		// the next: -0.5. A mean of several readings carries on.
		note("one reading carries on into the next: the box averages; a filter lags and clips peaks, set it to none")
	}
	if s.Kind == Load && s.Rate > 0 && s.Rate < 9.5 {
		note("%.1f readings a second: peaks are missed under 10 a second; set the box faster if it can", s.Rate)
	}
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// Block is the table of a trial file, with what only a person can say left open.
func (s *Shape) Block(port string, baud int, frame string) string {
	var b strings.Builder
	say := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	say("[%s]\nport = %q\nbaud = %d\nframe = %q\nline = '%s'", s.Kind, port, baud, frame, s.Pattern)
	rate := math.Round(s.Rate*10) / 10
	if rate >= 1 {
		rate = math.Round(s.Rate)
	}
	if s.Kind == Counts {
		say("scale = \"\"   # counts for each metre: hawse calibrate says it from marks\nhaul = \"\"    # \"counts rise\" or \"counts fall\" while hauling")
		say("rate = \"%g Hz\"", rate)
		return b.String()
	}
	unit := s.Unit
	say("unit = %q", unit)
	say("range = \"\"   # the most the box can show, from its plate")
	var over []string
	for _, o := range s.Over {
		over = append(over, strconv.Quote(o))
	}
	say("over = [%s]", strings.Join(over, ", "))
	if u, ok := trial.ForceUnitNamed(unit); ok && s.Step > 0 {
		say("step = \"%.6g %s\"", s.Step, u.Name)
	}
	say("rate = \"%g Hz\"\nplace = \"\"\nserial = \"\"\nfilter = \"\"   # as it is set in the box", rate)
	return b.String()
}
