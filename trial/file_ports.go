package trial

import (
	"errors"
	"fmt"
	"regexp"
	"regexp/syntax"
	"slices"
	"strings"
)

func (r *fileReader) readPort(v *fileTable, eg string) Port {
	p := Port{
		Names: v.texts(ask{name: "port", what: "the port, or a list of it and the names under which it may come back", eg: eg}, true, false, 200),
		Baud:  v.whole(ask{name: "baud", what: "the bits a second the box is set to", eg: "9600"}, 50, 4_000_000),
		Frame: v.text(frameAsk, maxName),
	}
	if p.Frame != "" && !frameText.MatchString(p.Frame) {
		v.fail(frameAsk, shown(p.Frame)+" is no frame of 5 to 8 data bits, parity N, E, O, M or S, and 1, 1.5 or 2 stop bits")
	}
	return p
}

var (
	frameAsk  = ask{name: "frame", what: "data bits, parity and stop bits as the box is set", eg: `"8N1"`}
	frameText = regexp.MustCompile(`^[5-8][NEOMS](1|1\.5|2)$`)
)

// checkPorts: two boxes on one port would steal each other's bytes.
func (r *fileReader) checkPorts(t *Trial) {
	owner := map[string]string{}
	type ports struct {
		table string
		names []string
	}
	list := []ports{{"load", t.Load.Port.Names}, {"line", t.Line.Port.Names}, {"stop", t.Stop.Port.Names}, {"horn", t.Horn.names()}}
	for _, ins := range t.Instruments()[2:] {
		list = append(list, ports{ins.Table, ins.Port.Names})
	}
	for _, p := range list {
		for _, name := range p.names {
			if first, have := owner[name]; have {
				r.failAt(p.table+".port", fmt.Sprintf("%s is also %s.port", shown(name), first), r.apart(p.table, first))
				continue
			}
			owner[name] = p.table
		}
	}
}

func (r *fileReader) apart(second, first string) string {
	const want = "give each box its own port"
	if first == "stop" || second == "stop" || second == "horn" {
		return want
	}
	return fmt.Sprintf("%s, or, if both are on it, write on = %q in place of port, baud and frame", want, first)
}

// pattern reads a regular expression with named groups. It must take in a
// whole line: half a line with a number in it is no reading.
func (r *fileReader) pattern(v *fileTable, a ask, needed string, optional ...string) string {
	s := v.text(a, maxText)
	if s == "" {
		return ""
	}
	re, err := regexp.Compile(s)
	if err != nil {
		reason := err.Error()
		if se, ok := errors.AsType[*syntax.Error](err); ok {
			reason = se.Code.String()
		}
		v.fail(a, fmt.Sprintf("%s does not compile: %s", shown(s), visible(reason)))
		return ""
	}
	var named []string
	for _, name := range re.SubexpNames()[1:] {
		switch {
		case name == "":
			continue
		case name != needed && !slices.Contains(optional, name):
			v.fail(a, fmt.Sprintf("has a group named %s, which means nothing here", shown(name)))
			return ""
		}
		named = append(named, name)
	}
	switch {
	case !slices.Contains(named, needed):
		v.fail(a, fmt.Sprintf("has no group (?P<%s>...)", needed))
	case !wholeLine(s):
		v.fail(a, "does not begin with ^ and end with $, so half a line could pass for a reading")
	default:
		return s
	}
	return ""
}

// wholeLine reports whether a pattern that compiles is tied to both ends.
func wholeLine(s string) bool {
	re, err := syntax.Parse(s, syntax.Perl)
	if err != nil || re.Op != syntax.OpConcat || len(re.Sub) < 2 {
		return false
	}
	return re.Sub[0].Op == syntax.OpBeginText && re.Sub[len(re.Sub)-1].Op == syntax.OpEndText
}

// readLoad reads a load cell; whoever asks may ask for more.
func (r *fileReader) readLoad(t *Trial, c *LoadCell, v *fileTable) {
	guards := v.path == TableLoad
	c.Port, c.Line, c.Wire = r.readWire(v, wireOf{kinds: []string{WireLines, WireAsked, WireModbus, WireFrames}, eg: `"./deck/` + v.path + `"`,
		pattern: ask{name: "line", what: "the pattern of one line, with the groups value, and unit and status if the box sends them",
			eg: `'^(?P<value>[+-]?\d+(\.\d+)?) (?P<unit>kgf)$'`}, needed: "value", groups: []string{"unit", "status"}})

	unitAsk := ask{name: "unit", what: "the unit of the numbers the box sends (" + loadUnits.names() + ")", eg: `"kgf"`}
	if c.Unit = v.text(unitAsk, maxName); c.Unit != "" {
		if _, ok := ForceUnitNamed(c.Unit); !ok {
			v.fail(unitAsk, loadUnits.strayUnit(c.Unit, c.Unit))
		} else if d := loadUnits.folded(c.Unit); d.force != "" {
			r.note(v.key("unit"), fmt.Sprintf("%s: %s taken as %s", shown(c.Unit), d.name, d.force))
		}
	}
	c.Range = v.load(ask{name: "range", what: "the most the box can show", eg: `"1000 kgf"`}, loadBounds)
	c.Over = v.texts(ask{name: "over", what: "what the box sends instead of a number when over range, or an empty list", eg: `["OL"]`}, false, true, maxName)
	c.Rate = r.readRate(v)
	step := ask{name: "step", what: "the smallest change the box can show", eg: `"0.1 kgf"`, optional: true}
	if c.Step = v.load(step, loadBounds); c.Step != 0 && r.sound(v.key("range"), v.key("step")) && c.Step >= c.Range/10 {
		v.fail(step, fmt.Sprintf("%s is a tenth of the range, %s, or more", t.Show.ForceText(c.Step), t.Show.ForceText(c.Range)))
	}
	if guards {
		r.readSlow(c, v)
	}
	c.Place = v.text(ask{name: "place", what: "where the cell sits in the line", eg: `"link inboard of the roller"`}, maxText)
	r.readSits(c, v)
	c.Serial = v.text(ask{name: "serial", what: "the cell's serial number, or that it is unknown", eg: `"unknown"`}, maxName)
	c.Filter = v.text(ask{name: "filter", what: "the filter set in the box, or none", eg: `"none"`}, maxText)
	if cal := v.table("calibration", "the calibration of the load cell", false); cal != nil {
		r.readCalibration(c, cal)
	}
}

// readSlow reads whether a slow cell may guard.
func (r *fileReader) readSlow(c *LoadCell, v *fileTable) {
	slow := ask{name: "slow_cell", what: "true if a cell under 3 Hz may guard", eg: "true", optional: true}
	if c.SlowCell = v.yes(slow); !c.SlowCell && c.Rate != 0 && c.Rate < slowCell && r.sound("load.slow_cell") {
		r.note("load.rate", fmt.Sprintf("%s is under %s: such a cell can be armed only with slow_cell = true and the director's acceptance", c.Rate, slowCell))
	}
}

// slowCell is the rate under which a load cell may guard only by the
// director's acceptance: it may see nothing of a jerk. Common practice, no
// source.
const slowCell Rate = 3

func (t *unitTable) folded(name string) unitDef {
	i := slices.IndexFunc(t.defs, func(d unitDef) bool { return strings.EqualFold(d.name, name) })
	return t.defs[i]
}

// readRate: below 1 Hz the silence of five periods, which is a stop, would be
// past the five seconds no guard may wait.
func (r *fileReader) readRate(v *fileTable) Rate {
	return quantity(v, ask{name: "rate", what: "the lines a second the box sends", eg: `"10 Hz"`}, ParseRate,
		bounds{least: 1, leastSay: "1 Hz, too slow to guard a pull", most: 10e3, mostSay: "10000 Hz"})
}

func (r *fileReader) readCalibration(c *LoadCell, v *fileTable) {
	unitAsk := ask{name: "unit", what: "the unit of the calibration (" + loadUnits.names() + ")", eg: `"kgf"`}
	if s := v.text(unitAsk, maxName); s != "" {
		u, ok := ForceUnitNamed(s)
		if !ok {
			v.fail(unitAsk, loadUnits.strayUnit(s, s))
		} else if d := loadUnits.folded(s); d.force != "" {
			r.note(v.key("unit"), fmt.Sprintf("%s: %s taken as %s", shown(s), d.name, d.force))
		}
		c.CalUnit = u
	}
	coefAsk := ask{name: "coefficients", what: "two to six numbers c0, c1, ..., true = c0 + c1 x + c2 x^2 ..., x as indicated", eg: "[0.0, 1.0]"}
	if n := v.get(coefAsk); n != nil {
		c.Cal = v.coefficients(coefAsk, n)
	}
	c.CalSource = v.text(ask{name: "source", what: "who calibrated it and when", eg: `"works certificate of 3 May"`}, maxText)
	v.done()

	if r.sound(v.path, joinKey(parentKey(v.path), "range")) && !rises(c.Cal, c.CalUnit.In(c.Range)) {
		r.failAt(v.key("coefficients"), "do not rise all the way from 0 to the range of the box",
			"check their order and signs: more load must read as more")
	}
}

func (t *fileTable) coefficients(a ask, n *fileNode) []float64 {
	if n.kind != aList {
		t.fail(a, "is "+n.kind.String()+", not a list of numbers")
		return nil
	}
	if len(n.list) < 2 || len(n.list) > 6 {
		t.fail(a, fmt.Sprintf("is a list of %d", len(n.list)))
		return nil
	}
	var out []float64
	for _, e := range n.list {
		f, reason := e.number()
		if reason != "" {
			t.r.fail(e.line, t.key(a.name), reason, a.want("write"))
			return nil
		}
		out = append(out, f)
	}
	return out
}

// rises reports whether the polynomial rises at every step of 0 to top; also
// false where it leaves the finite numbers.
func rises(cal []float64, top float64) bool {
	const steps = 200
	at := func(x float64) float64 {
		y := 0.0
		for i := len(cal) - 1; i >= 0; i-- {
			y = y*x + cal[i]
		}
		return y
	}
	for i := range steps {
		if !(at(top*float64(i+1)/steps) > at(top*float64(i)/steps)) {
			return false
		}
	}
	return true
}

var haulSigns = map[string]int{"counts rise": +1, "counts fall": -1}

func (r *fileReader) readLine(t *Trial, v *fileTable) {
	c := &t.Line
	c.Port, c.Line, c.Wire = r.readWire(v, wireOf{kinds: []string{WireLines, WireAsked, WireModbus, WireFrames}, eg: `"./deck/line"`, whole: true,
		pattern: ask{name: "line", what: "the pattern of one line, with the group counts", eg: `'^N (?P<counts>[+-]?\d+)$'`},
		needed:  "counts", groups: []string{"status"}})
	drum := v.table("drum", "the drum the encoder sits on", true)
	var layers []*fileTable
	if v.n.vals["layer"] != nil {
		layers = v.tables("layer", "the counts a metre from a length of rode out on")
	} else {
		v.asked = append(v.asked, "layer")
	}
	switch {
	case drum != nil && layers != nil:
		r.failAt("line.layer", "is given besides [line.drum]", "take one of the two out")
	case drum == nil && layers == nil:
		c.PerMetre = r.readScale(v)
	case v.n.vals["scale"] != nil:
		v.asked = append(v.asked, "scale")
		r.fail(v.n.vals["scale"].line, "line.scale", "is given besides drum or layers, which say it", "take it out")
	}
	if drum != nil {
		r.readDrum(t, drum)
	}
	r.readLayers(t, layers)
	haul := ask{name: "haul", what: `which way the counts go while hauling, "counts rise" or "counts fall"`, eg: `"counts rise"`}
	if s := v.text(haul, maxName); s != "" {
		if c.HaulSign = haulSigns[s]; c.HaulSign == 0 {
			v.fail(haul, shown(s)+" says neither")
		}
	}
	c.Rate = r.readRate(v)
	v.done()
}

// readScale reads counts a metre, which has a type of its own only so that it
// can be bounded like the rest.
func (r *fileReader) readScale(v *fileTable) float64 {
	type perMetre float64
	return float64(quantity(v, ask{name: "scale", what: "the counts for each metre of line", eg: `"1000 /m"`},
		func(s string) (perMetre, error) { f, err := ParsePerLength(s); return perMetre(f), err },
		bounds{least: 0.01, leastSay: "0.01 /m", most: 1e7, mostSay: "10000000 /m"}))
}
