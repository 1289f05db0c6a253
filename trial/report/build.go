package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"hawse/trial"
)

// builder puts a report together.
type builder struct {
	*page
	campaign *Campaign
	u        units
	each     func(n int, do func(int))
	taken    map[string]bool // names of figures, in small letters
	given
}

// The lines that stand in every report.
var cautions = []string{
	"Hawse is an aid to watching a pull. It is not a safety function and does not make a pull safe.",
	"A result of one method on one ground is of that method and that ground: the vessel was held still and the scope fell while the winch hauled, unless the method says otherwise. A boat does not lie to its anchor so.",
	"The measured tension is that of the system of anchor and rode, at the place where the load cell sits.",
	"A lower bound (>) is what was reached, not what the anchor holds. It stays one in every table and statistic.",
	"Local law, the vessel's rules and the licensed person in charge govern.",
}

func (b *builder) build() {
	c := b.campaign
	one := len(c.Pulls) == 1
	switch {
	case one:
		b.title = "Pull " + c.Pulls[0].ID
		if c.Trial != nil {
			b.title += ", " + c.Trial.Name
		}
	case c.Trial != nil:
		b.title = c.Trial.Name
	default:
		b.title = "Report of a trial"
	}
	if n := b.invented(); n > 0 {
		b.u.invented = "invented data"
		if n < len(c.Pulls) {
			b.u.invented = "some of it invented data"
		}
		b.warn(fmt.Sprintf("INVENTED DATA: %d of %s are simulated. No real anchor was pulled in them.", n, count(len(c.Pulls), "pull")))
	}
	if len(c.Pulls) == 0 {
		b.warn("No pull could be read. The appendix says why of each file.")
		b.appendix()
		return
	}
	groups, apart := groupsOf(c, c.By)
	s := scaleOf(c)
	var h *held
	if !one {
		h = b.holdAgainst(groups)
		b.summary(groups, apart, h)
		b.figure(b.u.stripFigure(c, groups))
	}
	b.pullsTable()
	if !one {
		b.compared(groups, h)
		b.head(2, "Repeats")
		for _, bottom := range bottomsOf(groups) {
			b.figure(b.u.repeatsFigure(c, bottom, groups, s))
		}
		b.figure(b.u.scopeFigure(c, groups))
	}
	b.method()
	b.instruments()
	b.ground()
	if !one {
		b.plan()
	}
	b.recovery()
	b.head(2, "Each pull")
	b.say("Top panel: as it is to be read, tension against how far the anchor came, with the scope it had there. Second: against line hauled, the phases along the bottom. The others: against time, with the stages; they show what the record is made of, and are no result. All panels of this report have the same scales.")
	for i, f := range b.pullFigures(s) {
		b.onePull(&c.Pulls[i], f)
	}
	b.head(2, "Cautions")
	b.list(cautions)
	b.disclosure()
	b.appendix()
}

func (b *builder) invented() (n int) {
	for i := range b.campaign.Pulls {
		if b.campaign.Pulls[i].Invented() {
			n++
		}
	}
	return n
}

// quantities that have a column on the page; the file has them all.
var shown = []trial.Quantity{trial.Peak1s, trial.Peak1m, trial.Efficiency1m, trial.Mean10to20m, trial.TravelAtPeak, trial.ScopeAtPeak, trial.TravelEnd}

// pullsTable is a row a pull.
func (b *builder) pullsTable() {
	c := b.campaign
	b.head(2, "Every pull")
	t := &table{name: "pulls", title: "One row a pull"}
	t.columns = []column{{"run", "run", false}, {"started, UTC", "started_utc", false}, {"what", "what", false}, {"station", "", false}, {"", "kind", false}, {"", "anchor", false}, {"", "pattern", false}, {"", "mass_kg", false},
		{"", "fluke_rad", false}, {"", "station", false}, {"", "bottom", false}, {"lane", "lane", true}, {"", "block", false}}
	name := func(q trial.Quantity) string {
		_, unit := b.u.show.InUnit(trial.Quantities[q].Unit)
		n := trial.Quantities[q].Name
		if unit != "" {
			n += ", " + unit
		}
		return n
	}
	type col struct {
		q       trial.Quantity
		reading int
	}
	var cols []col
	for q := range trial.NumQuantities {
		info := &trial.Quantities[q]
		for r := range trial.Readings {
			if r > 0 && !info.Loads {
				continue
			}
			head := ""
			if r == 0 && slices.Contains(shown, q) {
				head = name(q)
			}
			cols = append(cols, col{q, r})
			t.columns = append(t.columns, column{head, info.ReadingKey(r), true})
		}
		t.columns = append(t.columns, column{"", info.Key + "_lower_bound", false})
		cols = append(cols, col{q, -1})
	}
	t.columns = append(t.columns, column{"set", "", false}, column{"flags", "flags", false}, column{"", "excluded", false})
	blocks := blocksOf(c)
	for i := range c.Pulls {
		p := &c.Pulls[i]
		a := p.Anchor
		if a == nil {
			a = &trial.Anchor{}
		}
		known := func(v float64) string {
			if v == 0 {
				return ""
			}
			return raw(v)
		}
		bottom := ""
		if s, ok := p.Trial.Station(p.Run.Station); ok {
			bottom = s.Bottom
		}
		row := []cell{plain(p.ID), {utc(p.Started), utc(p.Started)}, {shortText(p), treatmentText(p)}, plain(p.Run.Station), plain(p.Run.Kind), plain(a.ID), plain(a.Pattern), plain(known(float64(a.Mass))),
			plain(known(float64(a.Fluke))), plain(p.Run.Station), plain(bottom), plain(fmt.Sprint(p.Run.Lane)), plain(blocks[i].name)}
		for _, k := range cols {
			switch {
			case p.Figures == nil || !p.Figures.Told:
				row = append(row, cell{dash, ""})
			case k.reading < 0:
				row = append(row, plain(string(p.Figures.Quantities[k.q].Bound)))
			default:
				row = append(row, b.u.quantity(&p.Figures.Quantities[k.q], k.q, k.reading))
			}
		}
		set := dash
		if p.Figures != nil && p.Figures.Told {
			set = b.u.quantity(&p.Figures.Quantities[trial.SetOrNot], trial.SetOrNot, 0).text
		}
		flags := strings.Join(flagsOf(p), "; ")
		t.rows = append(t.rows, append(row, plain(set), plain(flags), plain(p.Excluded)))
	}
	t.note = "Tension at deck, as the load cell has it less its zero. A figure has its window in its name. \"–\" is not known; the file says more, and holds every quantity in every reading (SI). \">\" marks a lower bound. Digits are three: repeats differ by far more. Figures here are as recorded; where an addendum corrects a pull, its own part says what it is compared by."
	b.table(t)
}

// flagsOf is what must be known of a pull before it is read.
func flagsOf(p *Pull) (out []string) {
	add := func(is bool, text string) {
		if is {
			out = append(out, text)
		}
	}
	add(!p.Holds, "record not whole")
	add(p.NotSeen > 0, hms(p.NotSeen)+" not recorded")
	add(len(p.Files) > 1, fmt.Sprintf("%d logs", len(p.Files)))
	add(p.CalledStop, "ended by a person")
	add(len(p.Doubts) > 0, "doubtful")
	add(p.Corrected != nil, "corrected afterwards")
	add(p.Excluded != "", "not compared: "+p.Excluded)
	if f := p.Figures; f != nil && f.Told {
		for _, q := range []struct {
			q    trial.Quantity
			name string
		}{{trial.BreakoutsAnchor, "breakout"}, {trial.BreakoutsUndecided, "breakout, cause undecided"}, {trial.FallsUndecided, "fall, cause undecided"}, {trial.Resets, "re-set"}} {
			if v := f.Quantities[q.q].Read[0]; v.Known && v.V > 0 {
				if v.V == 1 {
					out = append(out, "1 "+q.name)
				} else {
					out = append(out, fmt.Sprintf("%.0f × %s", v.V, q.name))
				}
			}
		}
		add(f.Phases[trial.SawTooth].N > 0, "saw-tooth")
		add(f.Phases[trial.Snagged].N > 0, "snag")
		add(f.Pull.Bound == trial.BoundOver, "load cell over range")
	}
	for _, s := range p.Stops {
		if s.Kind == "trip" && !s.Person {
			out = append(out, "trip")
			break
		}
	}
	return out
}

// onePull is a pull's own part: figure, stops, marks, checks, doubts.
func (b *builder) onePull(p *Pull, f *figure) {
	if f == nil {
		b.head(3, pullTitle(p))
		b.say("No sample of this pull could be drawn.")
	} else {
		b.page.figure(f)
	}
	lines := slices.Clone(p.Drops)
	for _, s := range p.Stops {
		text := hms(s.T) + " " + s.Text
		if s.Lifted != "" {
			text += "; " + s.Lifted
		}
		lines = append(lines, text)
	}
	if p.Figures != nil && p.Figures.Told {
		lines = append(lines, b.readings(p.Figures))
	}
	if c := p.Corrected; c != nil && c.Told {
		lines = append(lines, "with the corrections of its addenda, by which it is compared: "+b.readings(c))
	}
	if c := p.CameUp; c != nil {
		lines = append(lines, "came up: "+c.Text(p.Trial.Show)+", said by "+c.Said)
	}
	for _, m := range p.Marks {
		lines = append(lines, fmt.Sprintf("%s marked by the %s: %s", hms(m.T), m.Who, m.Text))
	}
	for _, d := range p.Doubts {
		lines = append(lines, "doubtful: "+d)
	}
	for _, a := range p.Addenda {
		lines = append(lines, "addendum: "+a)
	}
	b.list(lines)
}

// readings are the quantity that anchors are held against each other by, in every
// reading.
func (b *builder) readings(f *trial.Figures) string {
	info, q := &trial.Quantities[b.campaign.By], &f.Quantities[b.campaign.By]
	if !q.Read[0].Known {
		return info.Name + ": " + dash + "; " + q.Read[0].Why
	}
	by, name := b.u.show.InUnit(info.Unit)
	text := info.Name
	for r, k := range trial.Readings {
		if v := q.Read[r]; v.Known {
			text += "; " + k.Name + " "
			if q.Bound != "" {
				text += "> "
			}
			text += digits3(v.V / by)
			if v.U > 0 {
				text += " ± " + digits2(2*v.U/by)
			}
			text += " " + name
		}
	}
	return text + " (k = 2)"
}

func digits2(v float64) string {
	if !(v > 0) {
		return "0"
	}
	d := min(max(1-int(math.Floor(math.Log10(v))), 0), 6)
	return fmt.Sprintf("%.*f", d, v)
}
