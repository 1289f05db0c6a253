package trial

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hawse/trial/geo"
)

// Orders of a plan.
const (
	OrderDrawn = "drawn" // in randomised complete blocks
	OrderFile  = "file"  // the runs of the file as they stand
)

// mostLoad is more than any anchor here holds.
var mostLoad = bounds{above: true, most: 1e8, mostSay: "100 MN"}

// readPlanning reads [plan], of which every key may be left out.
func (r *fileReader) readPlanning(t *Trial, v *fileTable) {
	p := DefaultPlanning()
	p.Order = OrderDrawn
	t.Plan = p
	has := func(key string) bool { return v.n.vals[key] != nil }
	if has("seed") {
		p.Seed = v.whole(ask{name: "seed", what: "the number the order is drawn by", eg: "20260503"}, 0, math.MaxInt32)
	}
	if has("blocks") {
		p.Blocks = v.whole(ask{name: "blocks", what: "how often each treatment is pulled at each station", eg: "5"}, 1, 50)
	}
	p.Scope = v.optional("scope", "the scope wanted at the start of a pull", "8.0")
	p.Speed = quantity(v, ask{name: "speed", what: "the speed of hauling", eg: `"2.4 m/min"`, optional: true}, ParseSpeed, bounds{above: true, most: 2, mostSay: "2 m/s"})
	size := func(name, what, eg string) Length {
		return quantity(v, ask{name: name, what: what, eg: eg, optional: true}, ParseLength, bounds{above: true, most: 1000, mostSay: "1000 m"})
	}
	p.Gap = size("gap", "the least distance between two lanes", `"5 m"`)
	p.Flukes = size("fluke_width", "the greatest width of the flukes", `"0.6 m"`)
	p.DropWithin = size("drop_within", "how far from the planned drop point an anchor may be lowered", `"2 m"`)
	turn := bounds{most: 2 * math.Pi, mostSay: "360 deg"}
	p.Step = quantity(v, ask{name: "step", what: "the angle from lane to lane", eg: `"10 deg"`, optional: true}, ParseAngle, bounds{above: true, most: math.Pi, mostSay: "180 deg"})
	p.From = quantity(v, ask{name: "from", what: "the bearing of the first lane", eg: `"0 deg"`, optional: true}, ParseAngle, turn)
	if has("to") {
		p.To = quantity(v, ask{name: "to", what: "the bearing past which there is no lane", eg: `"180 deg"`}, ParseAngle, turn)
	}
	order := ask{name: "order", what: `"drawn" for randomised blocks, "file" for the runs as they stand`, eg: `"drawn"`, optional: true}
	if s := v.text(order, maxName); s != "" {
		if p.Order = s; s != OrderDrawn && s != OrderFile {
			v.fail(order, shown(s)+" is neither")
		}
	}
	ref := ask{name: "reference", what: "the id of the anchor pulled first and last", eg: `"A16"`, optional: true}
	if p.Reference = v.text(ref, maxName); p.Reference != "" {
		r.knownAnchor(t, v.key("reference"), p.Reference)
	}
	p.Start = v.moment(ask{name: "start", what: "when the first run begins", eg: `"2026-05-03 08:00"`, optional: true})
	p.Each = v.duration(ask{name: "each", what: "the time from one run to the next", eg: `"45 min"`, optional: true}, time.Minute, 1000*time.Hour)
	for _, w := range v.some("tide", "the high and low waters") {
		at := Tide{Time: w.moment(ask{name: "time", what: "when it is", eg: `"2026-05-03 06:10"`}),
			Height: quantity(w, ask{name: "height", what: "its height over chart datum", eg: `"4.1 m"`}, signedLength, bounds{least: -20, leastSay: "-20 m", most: 20, mostSay: "20 m"})}
		if n := len(p.Tides); n > 0 && r.sound(w.path) && !at.Time.After(p.Tides[n-1].Time) {
			r.failAt(w.key("time"), "is not after the one before it", "order high and low waters by time")
		}
		p.Tides = append(p.Tides, at)
		w.done()
	}
	for _, w := range v.some("berth", "where the vessel lies") {
		p.Berths = append(p.Berths, r.readBerth(t, w, p))
	}
	for _, w := range v.some("treatment", "the ways of pulling an anchor") {
		p.Treatments = append(p.Treatments, r.readTreatment(t, w))
	}
	for _, w := range v.some("holding", "what anchors are expected to hold") {
		p.Laws = append(p.Laws, r.readLaw(t, w))
	}
	r.noDoubles(doubles{list: "plan.treatment", key: "id", n: len(p.Treatments), id: func(i int) string { return p.Treatments[i].ID }})
	v.done()
}

func (r *fileReader) readBerth(t *Trial, w *fileTable, p *Planning) Berth {
	b := Berth{Station: w.text(ask{name: "station", what: "the name of the station", eg: `"Alder Flat"`}, maxName)}
	if b.Station != "" {
		r.knownStation(t, w.key("station"), b.Station)
		if slices.ContainsFunc(p.Berths, func(o Berth) bool { return o.Station == b.Station }) {
			r.failAt(w.key("station"), shown(b.Station)+" has a berth already", "give a second station its own name")
		}
	}
	if w.n.vals["blocks"] != nil {
		b.Blocks = w.whole(ask{name: "blocks", what: "how often each treatment is pulled here", eg: "3"}, 1, 50)
	}
	w.asked = append(w.asked, "blocks")
	at := ask{name: "position", what: "where the roller is, WGS-84", eg: `"50 45.072 N 1 18.264 W"`, optional: true}
	if s := w.text(at, maxName); s != "" {
		var err error
		if b.Position, err = geo.ParsePoint(s); err != nil {
			w.fail(at, shown(s)+" is no position")
		}
		b.HasPosition = err == nil
	}
	if w.n.vals["charted"] != nil {
		b.Charted = quantity(w, ask{name: "charted", what: "the depth under chart datum, negative where it dries", eg: `"4.2 m"`}, signedLength,
			bounds{least: -20, leastSay: "-20 m", most: 2000, mostSay: "2000 m"})
		b.HasCharted = true
	}
	w.asked = append(w.asked, "charted")
	w.done()
	return b
}

func (r *fileReader) readTreatment(t *Trial, w *fileTable) Treatment {
	d := Treatment{
		ID:     w.id(ask{name: "id", what: "a short id for the treatment", eg: `"A16-8"`}),
		Anchor: w.text(ask{name: "anchor", what: "the id of the anchor", eg: `"A16"`}, maxName),
		Scope:  w.optional("scope", "the scope at the start", "8.0"),
		Preset: w.optional("preset", "the scope of the preset", "2.5"),
		Soak:   w.duration(ask{name: "soak", what: "the wait between preset and pull", eg: `"10 min"`, optional: true}, 0, 1000*time.Hour),
		Speed:  quantity(w, ask{name: "speed", what: "the speed of hauling", eg: `"2.4 m/min"`, optional: true}, ParseSpeed, bounds{above: true, most: 2, mostSay: "2 m/s"}),
	}
	d.Station = w.text(ask{name: "station", what: "the name of the only station where it is pulled", eg: `"Alder Flat"`, optional: true}, maxName)
	if d.Anchor != "" {
		r.knownAnchor(t, w.key("anchor"), d.Anchor)
	}
	if d.Station != "" {
		r.knownStation(t, w.key("station"), d.Station)
	}
	w.done()
	return d
}

func (r *fileReader) readLaw(t *Trial, w *fileTable) HoldingLaw {
	l := HoldingLaw{
		Pattern: w.text(ask{name: "pattern", what: "the pattern", eg: `"A"`}, maxName),
		Station: w.text(ask{name: "station", what: "the name of the station", eg: `"Alder Flat"`, optional: true}, maxName),
		HR:      quantity(w, ask{name: "hr", what: "what an anchor of the mass wr holds", eg: `"107 kN"`}, ParseForce, mostLoad),
		WR:      quantity(w, ask{name: "wr", what: "the mass hr is of", eg: `"4536 kg"`}, ParseMass, bounds{above: true, most: 1e6, mostSay: "1000 t"}),
		B:       w.number(ask{name: "b", what: "the exponent", eg: "0.92"}, 0, 2),
		Source:  w.text(ask{name: "source", what: "where the figures come from", eg: `"table 5-3"`}, maxText),
	}
	if l.Station != "" {
		r.knownStation(t, w.key("station"), l.Station)
	}
	if l.Pattern != "" && r.sound("anchor") && !slices.ContainsFunc(t.Anchors, func(a Anchor) bool { return a.Pattern == l.Pattern }) {
		r.failAt(w.key("pattern"), shown(l.Pattern)+" is the pattern of no [[anchor]]", "write one that is")
	}
	w.done()
	return l
}

func (r *fileReader) knownAnchor(t *Trial, key, id string) {
	if _, have := t.Anchor(id); !have && r.sound("anchor") {
		ids := make([]string, len(t.Anchors))
		for i, a := range t.Anchors {
			ids[i] = a.ID
		}
		r.failAt(key, shown(id)+" is no [[anchor]] of this file", namesWant("id", id, ids))
	}
}

func (r *fileReader) knownStation(t *Trial, key, name string) {
	if _, have := t.Station(name); !have && r.sound("station") {
		names := make([]string, len(t.Stations))
		for i, s := range t.Stations {
			names[i] = s.Name
		}
		r.failAt(key, shown(name)+" is no [[station]] of this file", namesWant("name", name, names))
	}
}

// some is a list of tables that may be left out.
func (t *fileTable) some(name, what string) []*fileTable {
	t.asked = append(t.asked, name)
	if t.n.vals[name] == nil {
		return nil
	}
	return t.tables(name, what)
}

// optional is a scope that may be left out.
func (t *fileTable) optional(name, what, eg string) float64 {
	f, _ := t.plain(ask{name: name, what: what, eg: eg, optional: true}, bounds{least: 1, leastSay: "1", above: true, most: 100, mostSay: "100"})
	return f
}

// moment reads a date and a time of day.
func (t *fileTable) moment(a ask) time.Time {
	s := t.text(a, maxName)
	if s == "" {
		return time.Time{}
	}
	at, err := time.Parse(PlanClock, s)
	if err != nil {
		t.fail(a, fmt.Sprintf("%s is no date and time of day", shown(s)))
		return time.Time{}
	}
	return at
}

// signedLength is a length that may be negative, as a height of tide is.
func signedLength(s string) (Length, error) {
	if rest, negative := cutMinus(s); negative {
		l, err := ParseLength(rest)
		return -l, err
	}
	return ParseLength(s)
}

func cutMinus(s string) (string, bool) {
	if len(s) > 1 && s[0] == '-' && s[1] != '-' && s[1] != '+' {
		return s[1:], true
	}
	return s, false
}
