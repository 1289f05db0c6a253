package trial

import (
	"fmt"
	"math"
	"time"
)

// readPhases reads the thresholds of the phases that the file says; the others
// are the defaults.
func (r *fileReader) readPhases(t *Trial, v *fileTable) {
	for i := range phaseThresholds {
		h := &phaseThresholds[i]
		a := ask{name: h.key, what: h.what, eg: h.text(h.value), optional: true}
		if v.n.vals[h.key] == nil {
			v.asked = append(v.asked, h.key)
			continue
		}
		switch h.unit {
		case "m":
			h.read(t, v, a, quantity(v, a, ParseLength, h.bounds(1)))
		case "/m":
			h.read(t, v, a, Length(quantity(v, a, func(s string) (perLength, error) {
				f, err := ParsePerLength(s)
				return perLength(f), err
			}, h.bounds(1))))
		case "m/s":
			h.read(t, v, a, Length(quantity(v, a, ParseSpeed, h.bounds(1))))
		case "s":
			d := quantity(v, a, ParseDuration, h.bounds(float64(time.Second)))
			h.read(t, v, a, Length(d.Seconds()))
		default:
			f, _ := v.plain(a, h.bounds(1))
			if h.key == "saw_count" && f != math.Trunc(f) {
				v.fail(a, shortest(f)+" is not a whole number")
			}
			h.read(t, v, a, Length(f))
		}
	}
	v.done()
	r.checkPhases(t)
}

// perLength is a share a metre.
type perLength float64

// read takes a value over where it is sound.
func (h *phaseThreshold) read(t *Trial, v *fileTable, a ask, f Length) {
	if v.r.sound(v.key(a.name)) {
		h.set(&t.Phases, float64(f))
	}
}

// text is a value as it stands in the file.
func (h *phaseThreshold) text(v float64) string {
	if h.unit == "" {
		return shortest(v)
	}
	return `"` + shortest(v) + " " + h.unit + `"`
}

func (h *phaseThreshold) bounds(scale float64) bounds {
	say := func(v float64) string {
		if h.unit == "" {
			return shortest(v)
		}
		return shortest(v) + " " + h.unit
	}
	return bounds{least: h.least * scale, leastSay: say(h.least), most: h.most * scale, mostSay: say(h.most)}
}

// si is the key of a threshold in a log's head.
func (h *phaseThreshold) si() string {
	unit := map[string]string{"m": "_m", "s": "_s", "/m": "_per_m", "m/s": "_m_per_s"}[h.unit]
	return "phases_" + h.key + unit
}

// checkPhases holds thresholds against each other that must keep an order.
func (r *fileReader) checkPhases(t *Trial) {
	for _, c := range []struct{ low, high string }{
		{"drag_level", "engaged_level"}, {"engaged_level", "engaged_peak"}, {"confirm_calm", "confirm"},
		{"back_near", "back_far"}, {"break_share", "back_share"}, {"break_share", "reset_share"},
		{"plateau_slope", "embed_slope"}, {"plateau_slope", "decline_slope"}, {"short_stay", "upright"},
	} {
		low, high := thresholdNamed(c.low), thresholdNamed(c.high)
		a, b := low.get(&t.Phases), high.get(&t.Phases)
		if keyLow, keyHigh := "phases."+c.low, "phases."+c.high; a >= b && r.sound(keyLow, keyHigh) {
			key, other := keyLow, c.high
			if _, said := r.lines[key]; !said {
				key, other = keyHigh, c.low
			}
			r.failAt(key, fmt.Sprintf("makes %s, %s, not less than %s, %s", c.low, low.text(a), c.high, high.text(b)),
				"change it, or say "+other+" too")
		}
	}
}

func thresholdNamed(key string) *phaseThreshold {
	for i := range phaseThresholds {
		if phaseThresholds[i].key == key {
			return &phaseThresholds[i]
		}
	}
	panic("no threshold of the phases is called " + key)
}
