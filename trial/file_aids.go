package trial

import (
	"math"
	"strings"

	"hawse/trial/rode"
)

// readSounder reads the depth sounder, which a trial may do without.
func (r *fileReader) readSounder(t *Trial, v *fileTable) {
	s := &Sounder{Unit: LengthUnit{"m", 1}}
	s.Port, s.Line, s.Wire = r.readWire(v, wireOf{kinds: []string{WireNMEA, WireLines, WireAsked, WireModbus, WireFrames}, eg: `"./deck/depth"`,
		pattern: ask{name: "line", what: "the pattern of one line, with the group depth", eg: `'^D (?P<depth>\d+\.\d+)$'`}, needed: "depth"})
	if s.Wire.Kind != WireNMEA {
		s.Unit = unit(v, "unit", "the unit of the numbers it sends", "m", lengthUnits, func(d unitDef) LengthUnit { return LengthUnit{d.name, d.f} })
	}
	if s.Rate = 1; s.Wire.Polled() {
		s.Rate = quantity(v, ask{name: "rate", what: "how often a second it is asked", eg: `"1 Hz"`}, ParseRate,
			bounds{least: 0.1, leastSay: "0.1 Hz", most: 50, mostSay: "50 Hz"})
	}
	s.Transducer = quantity(v, ask{name: "transducer", what: "how deep the transducer is under the water line", eg: `"0.6 m"`},
		ParseLength, bounds{most: 50, mostSay: "50 m"})
	v.done()
	t.Sounder = s
}

var onlyNMEA = []string{WireNMEA}

// Uncertainty of how far two satellite positions of one pull lie apart, where
// the file says none: from memory, for a receiver without correction.
const defaultFixU Length = 1.5

func (r *fileReader) readPositioner(t *Trial, v *fileTable) {
	p := &Positioner{Uncertain: defaultFixU}
	p.Port, _, p.Wire = r.readWire(v, wireOf{kinds: onlyNMEA, eg: `"./deck/position"`})
	away := func(plus, minus string) Length {
		side := func(s string) ask {
			return ask{name: "antenna_" + s, what: "how far the antenna is " + s + " of the roller", eg: `"4 m"`, optional: true}
		}
		b := bounds{most: 200, mostSay: "200 m"}
		a, z := quantity(v, side(plus), ParseLength, b), quantity(v, side(minus), ParseLength, b)
		if a != 0 && z != 0 {
			v.fail(side(minus), "is given besides antenna_"+plus)
		}
		return a - z
	}
	p.Aft = away("aft", "ahead")
	p.Starboard = away("starboard", "port")
	if u := quantity(v, ask{name: "uncertain", what: "by how much two of its positions may be apart with nothing moved, one standard deviation", eg: `"1.5 m"`, optional: true},
		ParseLength, bounds{above: true, most: 100, mostSay: "100 m"}); u != 0 {
		p.Uncertain = u
	}
	p.Lead = angle(v, "lead", "how the rode leads from the roller, clockwise from the bow")
	v.done()
	t.Positioner = p
}

func (r *fileReader) readCompass(t *Trial, v *fileTable) {
	c := &Compass{}
	c.Port, _, c.Wire = r.readWire(v, wireOf{kinds: onlyNMEA, eg: `"./deck/heading"`})
	c.Offset = angle(v, "offset", "what is to be added to the heading it sends")
	v.done()
	t.Compass = c
}

func angle(v *fileTable, name, what string) Angle {
	return quantity(v, ask{name: name, what: what, eg: `"0 deg"`, optional: true}, ParseAngle,
		bounds{least: -math.Pi, leastSay: "-180 deg", most: 2 * math.Pi, mostSay: "360 deg"})
}

func (r *fileReader) readSatClock(t *Trial, v *fileTable) {
	c := &SatClock{}
	c.Port, _, c.Wire = r.readWire(v, wireOf{kinds: onlyNMEA, eg: `"./deck/clock"`})
	v.done()
	t.SatClock = c
}

// readDrum reads the drum by whose layers line is counted.
func (r *fileReader) readDrum(t *Trial, v *fileTable) {
	d := &Drum{}
	size := func(name, what, eg string, least float64, leastSay string) float64 {
		return float64(quantity(v, ask{name: name, what: what, eg: eg}, ParseLength,
			bounds{least: least, leastSay: leastSay, most: 100, mostSay: "100 m"}))
	}
	d.Barrel = size("barrel", "the diameter of the bare drum", `"200 mm"`, 0.01, "10 mm")
	d.Flange = size("flange", "the diameter of its flanges", `"500 mm"`, 0.01, "10 mm")
	d.Width = size("width", "the width between the flanges", `"400 mm"`, 0.01, "10 mm")
	d.Line = size("rope", "the diameter of the rope", `"12 mm"`, 0.001, "1 mm")
	d.PerTurn, _ = v.plain(ask{name: "per_turn", what: "the counts for each turn", eg: "500"}, bounds{least: 0.1, leastSay: "0.1", most: 1e6, mostSay: "1000000"})
	d.Holds = quantity(v, ask{name: "holds", what: "the line on the drum when none is out", eg: `"80 m"`}, ParseLength,
		bounds{above: true, most: 1e5, mostSay: "100000 m"})
	v.done()
	if !r.sound(v.path) {
		return
	}
	if err := d.Check(); err != nil {
		r.failAt(v.path, "is none that line can lie on: "+strings.TrimPrefix(err.Error(), rode.ErrInput.Error()+": "), "correct its sizes")
		return
	}
	if room := d.Capacity(); float64(d.Holds) > room {
		r.failAt(v.key("holds"), d.Holds.String()+" is more than the drum can hold, "+shortest(math.Round(room*10)/10)+" m", "check the sizes of drum and rope")
		return
	}
	t.Line.Drum, t.Line.PerMetre = d, d.PerTurn/(math.Pi*d.WrapDiameter(1))
}

// readLayers reads counts a metre that change with the rode out.
func (r *fileReader) readLayers(t *Trial, list []*fileTable) {
	for _, v := range list {
		var l LayerScale
		l.From = quantity(v, ask{name: "from", what: "the rode out from which on it holds", eg: `"0 m"`}, ParseLength, bounds{most: 1e5, mostSay: "100000 m"})
		l.PerMetre = r.readScale(v)
		v.done()
		if n := len(t.Line.Layers); n > 0 && l.From <= t.Line.Layers[n-1].From && r.sound(v.path) {
			r.failAt(v.key("from"), l.From.String()+" is not more than in the layer before", "order them from the least rode out to the most")
		} else if n == 0 && l.From != 0 && r.sound(v.path) {
			r.failAt(v.key("from"), l.From.String()+" leaves out what is nearer", `begin with from = "0 m"`)
		}
		t.Line.Layers = append(t.Line.Layers, l)
	}
	if len(t.Line.Layers) > 0 {
		t.Line.PerMetre = t.Line.Layers[0].PerMetre
	}
}
