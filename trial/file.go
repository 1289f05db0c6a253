package trial

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"
)

// maxFileBytes keeps the trial file, which every log's head carries whole,
// inside one line of the log even when each byte is escaped.
const maxFileBytes = 128 << 10

// FormatVersion is the version of the trial file this package reads.
const FormatVersion = 1

// ParseTrial reads a trial file. name is what errors and notes call it, as
// the user would; it is not opened. The text is kept in Trial.Text.
//
// The error, if any, is a [FileErrors] with every fault found: unknown and
// missing keys, wrong types and units, bare numbers, names that lead nowhere,
// limits that contradict. Then the Trial is nil. Checks that need a value
// which is itself at fault wait until that is mended.
func ParseTrial(name string, text []byte) (*Trial, error) {
	t := &Trial{Text: bytes.Clone(text)}
	r := &fileReader{file: name, lines: map[string]int{}, bad: map[string]bool{}, stray: map[string]bool{}}
	if reason, line := unreadable(text); reason != "" {
		r.fail(line, "", reason, "give a trial file in TOML, such as `hawse new` writes")
		return nil, r.errs
	}
	b := &treeBuilder{text: t.Text, fail: r.fail}
	b.build()
	r.broken = b.syntax > 0
	r.read(t, &fileTable{r: r, n: b.root})
	if len(r.errs) == 0 {
		b.secondOpinion()
	}
	if len(r.errs) > 0 {
		return nil, r.errs.inOrder()
	}
	t.Notes = r.notes
	return t, nil
}

func unreadable(text []byte) (reason string, line int) {
	switch {
	case len(text) > maxFileBytes:
		return fmt.Sprintf("is %d bytes long, more than the %d a log's head can carry", len(text), maxFileBytes), 1
	case len(bytes.TrimSpace(text)) == 0:
		return "is empty", 1
	}
	for line, l := range bytes.Split(text, []byte{'\n'}) {
		if !utf8.Valid(l) {
			return "is not UTF-8 text from here on", line + 1
		}
	}
	return "", 0
}

func (r *fileReader) read(t *Trial, doc *fileTable) {
	format := ask{name: "format", what: "the version of the trial file", eg: "1"}
	t.Format = doc.whole(format, FormatVersion, FormatVersion)
	if r.sound("format") && len(doc.n.keys) > 0 && doc.n.keys[0] != "format" {
		doc.fail(format, "is not the first key")
	}
	t.Name = doc.text(ask{name: "name", what: "the name of the campaign", eg: `"Three grounds, three patterns"`}, maxName)
	t.Method = doc.text(ask{name: "method", what: "how it pulls", eg: `"vessel held still, winch hauls"`}, maxText)

	if v := doc.table("vessel", "the vessel and its roller", false); v != nil {
		r.readVessel(t, v)
	}
	if v := doc.table("show", "the units to show", false); v != nil {
		r.readShow(t, v)
	}
	r.readRode(t, doc)
	if v := doc.table("load", "the load cell's box", false); v != nil {
		r.readLoad(t, &t.Load, v)
		r.readGuards(t, v)
		v.done()
	}
	for _, table := range otherTables {
		if v := doc.table(table, "another load cell", true); v != nil {
			c := OtherCell{Table: table}
			r.readLoad(t, &c.LoadCell, v)
			v.done()
			t.Others = append(t.Others, c)
		}
	}
	if v := doc.table("line", "the line counter's box", false); v != nil {
		r.readLine(t, v)
	}
	for _, aid := range []struct {
		table, what string
		read        func(*Trial, *fileTable)
	}{
		{TableDepth, "the depth sounder", r.readSounder}, {TablePosition, "the satellite receiver", r.readPositioner},
		{TableHeading, "the compass", r.readCompass}, {TableClock, "the time of satellites", r.readSatClock},
	} {
		if v := doc.table(aid.table, aid.what, true); v != nil {
			aid.read(t, v)
		}
	}
	if v := doc.table("stop", "the port to the stop relay", false); v != nil {
		r.readStop(t, v)
	}
	if v := doc.table("horn", "the port to horn and lamp", true); v != nil {
		r.readHorn(t, v)
	}
	if v := doc.table("screens", "what screens may do", true); v != nil {
		r.readScreens(t, v)
	}
	t.Winch = Winch{Reaction: defaultReaction, RunOn: defaultRunOn, Assumed: true}
	if v := doc.table("winch", "how long line still comes in after a stop", true); v != nil {
		r.readWinch(t, v)
	}
	var limits LimitKeys
	if v := doc.table("limits", "the limits of every stage", false); v != nil {
		limits = r.readLimits(t, v)
	}
	if v := doc.table("levels", "the tensions of the reference runs", true); v != nil {
		r.readLevels(t, v)
	}
	t.Phases = DefaultPhaseRules()
	if v := doc.table("phases", "the thresholds of the phases", true); v != nil {
		r.readPhases(t, v)
	}
	r.readPlan(t, doc)
	if v := doc.table("plan", "what the runs are planned from", true); v != nil {
		r.readPlanning(t, v)
	}
	if v := doc.table("disclosure", "who stands behind the trial", true); v != nil {
		r.readDisclosure(t, v)
	}
	doc.done()
	t.LimitsAt = limits

	r.checkGear(t)
	r.checkPins(t)
	r.checkPorts(t)
	r.checkWires(t)
	r.checkCells(t)
	r.checkLimits(t, &limits)
	r.checkLevels(t)
	r.checkRuns(t, &limits)
}

func (r *fileReader) readVessel(t *Trial, v *fileTable) {
	t.Vessel.Name = v.text(ask{name: "name", what: "the vessel's name", eg: `"our workboat"`}, maxName)
	t.Vessel.Fairlead = quantity(v, ask{name: "fairlead", what: "the height of the roller above the water", eg: `"1.5 m"`},
		ParseLength, bounds{most: 50, mostSay: "50 m"})
	t.Vessel.KeepOut = defaultKeepOut
	keep := ask{name: "keep_out", what: "the rode to leave between the roller and what may not pass it", eg: `"1 m"`, optional: true}
	if l := quantity(v, keep, ParseLength, bounds{above: true, most: 50, mostSay: "50 m"}); l != 0 {
		t.Vessel.KeepOut = l
	}
	r.readRoller(t, v)
	roller := ask{name: "roller", what: "the line from where it is counted to where it hangs straight down", eg: `"0.1 m"`, optional: true}
	t.Vessel.HasRoller = v.n.vals[roller.name] != nil
	t.Vessel.Roller = quantity(v, roller, ParseLength, bounds{most: 10, mostSay: "10 m"})
	v.done()
}

func (r *fileReader) readShow(t *Trial, v *fileTable) {
	t.Show.Tension = unit(v, "tension", "a unit of force to show", "kN", forceUnits, func(d unitDef) ForceUnit { return ForceUnit{d.name, d.f} })
	t.Show.Length = unit(v, "length", "a unit of length to show", "m", lengthUnits, func(d unitDef) LengthUnit { return LengthUnit{d.name, d.f} })
	t.Show.Speed = unit(v, "speed", "a unit of speed to show", "m/min", speedUnits, func(d unitDef) SpeedUnit { return SpeedUnit{d.name, d.f} })
	v.done()
}

// unit reads the name of a unit.
func unit[U any](t *fileTable, name, what, eg string, units *unitTable, make func(unitDef) U) U {
	var zero U
	a := ask{name: name, what: what + " (" + units.names() + ")", eg: `"` + eg + `"`}
	s := t.text(a, maxName)
	if s == "" {
		return zero
	}
	d, ok := units.find(s)
	if !ok {
		t.fail(a, units.strayUnit(s, s))
		return zero
	}
	return make(d)
}

// doubles is a list of tables whose entries must differ in one key.
type doubles struct {
	list, key string
	n         int
	id        func(i int) string
}

// noDoubles refuses a name given twice, in any case, over one or more lists:
// an alarm names a piece and a log is named after a run.
func (r *fileReader) noDoubles(lists ...doubles) {
	first := map[string]int{}
	for _, l := range lists {
		for i := range l.n {
			key := fmt.Sprintf("%s[%d].%s", l.list, i+1, l.key)
			id := strings.ToLower(l.id(i))
			if id == "" {
				continue
			}
			if line, have := first[id]; have {
				r.failAt(key, fmt.Sprintf("%s is given twice, first on line %d", shown(l.id(i)), line), "give each its own "+l.key)
				continue
			}
			first[id] = r.lineOf(key)
		}
	}
}

func (r *fileReader) readLevels(t *Trial, v *fileTable) {
	most := bounds{above: true, most: 1e8, mostSay: "100 MN"}
	t.Levels = Levels{
		BareRode:   quantity(v, ask{name: "bare_rode", what: "the mean tension of the bare-rode run", eg: `"0.12 kN"`}, ParseForce, most),
		DeadWeight: quantity(v, ask{name: "dead_weight", what: "the mean tension of the dead-weight run", eg: `"0.25 kN"`}, ParseForce, most),
		DeadMass:   quantity(v, ask{name: "dead_mass", what: "the mass of the block", eg: `"16 kg"`}, ParseMass, massBounds),
		Source:     v.text(ask{name: "source", what: `"assumed", or the logs the levels come from`, eg: `"assumed"`}, maxText),
		Known:      true,
	}
	v.done()
}

var massBounds = bounds{above: true, most: 1e5, mostSay: "100 t"}

// checkLevels: a block drags harder than the rode alone, and neither is near
// what the gear may carry.
func (r *fileReader) checkLevels(t *Trial) {
	if !t.Levels.Known || !r.sound("levels") {
		return
	}
	l, say := t.Levels, t.Show.ForceText
	if l.DeadWeight <= l.BareRode {
		r.failAt("levels.dead_weight", fmt.Sprintf("%s is not above bare_rode, %s", say(l.DeadWeight), say(l.BareRode)),
			"check both runs: the block is dragged on the same rode, so its level is the higher one")
	}
	if name, wll := t.Weakest(); r.sound("rode", "gear") && wll != 0 && l.DeadWeight >= wll {
		r.failAt("levels.dead_weight", fmt.Sprintf("%s is not under the weakest WLL, %s (%s)", say(l.DeadWeight), say(wll), visible(name)),
			"check its unit")
	}
}
