package trial

import (
	"fmt"
	"math"
	"regexp"
	"strings"
)

// An id becomes part of file names and commands, so it is one plain word.
var idText = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9._-]{0,31}$`)

func (t *fileTable) id(a ask) string {
	s := t.text(a, maxName)
	if s != "" && !idText.MatchString(s) {
		t.fail(a, shown(s)+" is not one plain word of up to 32 letters, digits, dots, hyphens and underscores")
		return ""
	}
	return s
}

// readPlan reads what is pulled, where, and in which runs.
func (r *fileReader) readPlan(t *Trial, doc *fileTable) {
	for _, v := range doc.tables("anchor", "the anchors as measured") {
		a := Anchor{
			ID:      v.id(ask{name: "id", what: "a short id for the anchor", eg: `"A16"`}),
			Pattern: v.text(ask{name: "pattern", what: "the pattern's label", eg: `"A"`}, maxName),
			Mass:    quantity(v, ask{name: "mass", what: "its mass in air, weighed", eg: `"16 kg"`}, ParseMass, massBounds),
			Fluke: quantity(v, ask{name: "fluke", what: "the angle between fluke and shank", eg: `"45 deg"`}, ParseAngle,
				bounds{above: true, most: math.Pi / 2, mostSay: "90 deg"}),
		}
		shank := ask{name: "shank", what: "what of the rode out as counted is its shank, not line", eg: `"0.6 m"`, optional: true}
		a.HasShank = v.n.vals[shank.name] != nil
		a.Shank = quantity(v, shank, ParseLength, bounds{most: 20, mostSay: "20 m"})
		if _, have := v.n.vals["note"]; have {
			a.Note = v.text(ask{name: "note", what: "a remark", eg: `"edges as new"`, optional: true}, maxText)
		}
		v.asked = append(v.asked, "note")
		v.done()
		t.Anchors = append(t.Anchors, a)
	}
	for _, v := range doc.tables("station", "the positions of the vessel") {
		t.Stations = append(t.Stations, Station{
			Name:   v.text(ask{name: "name", what: "the station's name", eg: `"Alder Flat"`}, maxName),
			Bottom: v.text(ask{name: "bottom", what: "the ground there", eg: `"soft mud"`}, maxText),
			Depth: quantity(v, ask{name: "depth", what: "the planned depth of water", eg: `"6.0 m"`}, ParseLength,
				depthBounds),
		})
		r.readDepthBox(t, v, &t.Stations[len(t.Stations)-1])
		v.done()
	}
	for _, v := range doc.tables("run", "the runs as planned") {
		t.Runs = append(t.Runs, r.readRun(v))
	}
	r.noDoubles(doubles{list: "anchor", key: "id", n: len(t.Anchors), id: func(i int) string { return t.Anchors[i].ID }})
	r.noDoubles(doubles{list: "station", key: "name", n: len(t.Stations), id: func(i int) string { return t.Stations[i].Name }})
	r.noDoubles(doubles{list: "run", key: "id", n: len(t.Runs), id: func(i int) string { return t.Runs[i].ID }})
}

var depthBounds = bounds{above: true, most: 2000, mostSay: "2000 m"}

// readDepthBox reads the depths between which the station is to be pulled.
func (r *fileReader) readDepthBox(t *Trial, v *fileTable, s *Station) {
	say := t.Show.LengthText
	least := ask{name: "depth_min", what: "the least depth at which to pull there", eg: `"5.0 m"`, optional: true}
	most := ask{name: "depth_max", what: "the greatest depth at which to pull there", eg: `"8.0 m"`, optional: true}
	s.DepthMin, s.DepthMax = quantity(v, least, ParseLength, depthBounds), quantity(v, most, ParseLength, depthBounds)
	if !r.sound(v.key("depth")) {
		return
	}
	if s.DepthMin > s.Depth {
		r.failAt(v.key("depth_min"), fmt.Sprintf("%s is more than the planned depth, %s", say(s.DepthMin), say(s.Depth)), "lower it, or correct depth")
	}
	if s.DepthMax != 0 && s.DepthMax < s.Depth {
		r.failAt(v.key("depth_max"), fmt.Sprintf("%s is less than the planned depth, %s", say(s.DepthMax), say(s.Depth)), "raise it, or correct depth")
	}
}

func (r *fileReader) readRun(v *fileTable) Run {
	run := Run{ID: v.id(ask{name: "id", what: "a short id for the run", eg: `"A1"`})}
	kind := ask{name: "kind", what: `what is pulled, "pull" for an anchor, "bare rode" or "dead weight"`, eg: `"pull"`}
	run.Kind = v.text(kind, maxName)
	if run.Kind != "" && run.Kind != KindPull && run.Kind != KindBareRode && run.Kind != KindDeadWeight {
		v.fail(kind, shown(run.Kind)+" is none of them")
		run.Kind = ""
	}
	anchor := ask{name: "anchor", what: "the id of the anchor", eg: `"A16"`, optional: run.Kind != KindPull}
	switch _, have := v.n.vals["anchor"]; {
	case !have || run.Kind == KindPull || run.Kind == "":
		run.Anchor = v.text(anchor, maxName)
	default:
		v.get(anchor)
		r.failAt(v.key("anchor"), "a "+run.Kind+" run pulls no anchor", `take it out, or write kind = "pull"`)
	}
	run.Station = v.text(ask{name: "station", what: "the name of the station", eg: `"Alder Flat"`}, maxName)
	run.Lane = v.whole(ask{name: "lane", what: "the lane at the station", eg: "1"}, 1, 999)
	run.Payout = quantity(v, ask{name: "payout", what: "the rode out at the start", eg: `"60 m"`}, ParseLength,
		bounds{above: true, most: 20e3, mostSay: "20 km"})
	run.Speed = quantity(v, ask{name: "speed", what: "the speed of hauling", eg: `"2.4 m/min"`}, ParseSpeed,
		bounds{above: true, most: 2, mostSay: "2 m/s"})
	v.done()
	return run
}

// checkRuns holds each run against the lists it names, the rode and the
// limits.
func (r *fileReader) checkRuns(t *Trial, from *LimitKeys) {
	lanes := map[string]string{}
	for i, run := range t.Runs {
		key := func(name string) string { return fmt.Sprintf("run[%d].%s", i+1, name) }
		if _, have := t.Anchor(run.Anchor); run.Anchor != "" && !have && r.sound("anchor") {
			ids := make([]string, len(t.Anchors))
			for j, a := range t.Anchors {
				ids[j] = a.ID
			}
			r.failAt(key("anchor"), shown(run.Anchor)+" is no [[anchor]] of this file", namesWant("id", run.Anchor, ids))
		}
		station, have := t.Station(run.Station)
		if run.Station != "" && !have && r.sound("station") {
			names := make([]string, len(t.Stations))
			for j, s := range t.Stations {
				names[j] = s.Name
			}
			r.failAt(key("station"), shown(run.Station)+" is no [[station]] of this file", namesWant("name", run.Station, names))
		}
		if lane := fmt.Sprint(run.Lane, " ", run.Station); run.Lane > 0 && have {
			if first, taken := lanes[lane]; taken {
				r.note(key("lane"), fmt.Sprintf("lane %d of %s is also that of run %s: ground already touched", run.Lane, shown(run.Station), visible(first)))
			} else {
				lanes[lane] = run.ID
			}
		}
		if have && r.sound(key("payout"), "station", "vessel.fairlead") {
			r.checkPayout(t, from, key("payout"), run, station.Depth)
		}
	}
}

func namesWant(key, given string, names []string) string {
	if near := nearest(given, names); near != "" {
		return fmt.Sprintf("write %s if that is meant, or add one with this %s", shown(near), key)
	}
	quoted := make([]string, 0, 12)
	for _, n := range names[:min(len(names), 12)] {
		quoted = append(quoted, shown(n))
	}
	return fmt.Sprintf("write one of %s, or add one with this %s", strings.Join(quoted, ", "), key)
}

func (r *fileReader) checkPayout(t *Trial, from *LimitKeys, key string, run Run, depth Length) {
	say, payout := t.Show.LengthText, run.Payout
	if whole := t.RodeLength(); r.sound("rode") && payout > whole {
		r.failAt(key, fmt.Sprintf("%s is more than the whole rode, %s", say(payout), say(whole)), "shorten it, or add the piece that is missing to [[rode]]")
		return
	}
	height := depth + t.Vessel.Fairlead
	scope, err := Scope(payout, depth, t.Vessel.Fairlead)
	if err != nil {
		r.failAt(key, fmt.Sprintf("%s does not reach the bottom, %s under the roller", say(payout), say(height)), "pay out more, or correct the depth of the station")
		return
	}
	if !r.sound("limits") {
		return
	}
	for _, s := range []Stage{Preset, Pull} {
		l := t.Limits[s]
		if l.ScopeMin != 0 && scope <= l.ScopeMin {
			r.failAt(key, fmt.Sprintf("gives a scope of %.3g, not above scope_min of the %s, %s", scope, s, shortest(l.ScopeMin)),
				"pay out more, or lower scope_min")
			return
		}
		// With a least scope, that ends the stage first.
		haul := from[s][kHaul]
		if left := payout - l.Haul; l.Haul != 0 && l.ScopeMin == 0 && left < height && r.sound(haul) {
			r.failAt(haul, fmt.Sprintf("%s hauled in run %s leaves %s of its %s, and the bottom is %s under the roller",
				say(l.Haul), visible(run.ID), say(max(0, left)), say(payout), say(height)), "shorten it, pay out more, or give scope_min")
			return
		}
	}
}
