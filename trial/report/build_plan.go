package report

import (
	"fmt"
	"math"
	"strings"

	"hawse/trial"
)

// plan holds what was planned against what was done.
func (b *builder) plan() {
	c, t := b.campaign, b.campaign.Trial
	b.head(2, "Plan against what was done")
	tab := &table{name: "plan", title: "Runs as planned, in the order of the trial file", columns: []column{{"run", "run", false}, {"what", "what", false}, {"block", "block", true}, {"lane", "lane", true}, {"bearing, deg", "bearing_rad", true}, {"done, UTC", "done_utc", false}, {"speed planned, m/min", "speed_m_per_s", true}, {"speed hauled, m/min", "speed_done_m_per_s", true}, {"remarks", "remarks", false}}}
	order := map[string]int{}
	for i := range c.Pulls {
		order[c.Pulls[i].ID] = i
	}
	last := -1
	done := 0
	for _, r := range t.Runs {
		what := r.Kind
		if r.Anchor != "" {
			what = "anchor " + r.Anchor
		}
		block, bearing := cell{dash, ""}, cell{dash, ""}
		if k, ok := c.Planned[r.ID]; ok {
			if k.Block > 0 {
				block = plain(fmt.Sprint(k.Block))
			}
			if !math.IsNaN(k.Bearing) {
				bearing = num(fmt.Sprintf("%.0f", k.Bearing*180/math.Pi), k.Bearing)
			}
		}
		row := []cell{plain(r.ID), plain(what + ", " + r.Station), block, plain(fmt.Sprint(r.Lane)), bearing, {"not pulled", ""}, num(digits3(float64(r.Speed)*60), float64(r.Speed)), {dash, ""}, plain("")}
		var remarks []string
		n := 0
		for i := range c.Pulls {
			p := &c.Pulls[i]
			if p.ID != r.ID {
				continue
			}
			if n++; n > 1 {
				remarks = append(remarks, "pulled more than once: "+utc(p.Started))
				continue
			}
			done++
			row[5] = plain(utc(p.Started))
			if p.Figures != nil && p.Figures.Told && p.Figures.Quantities[trial.LineSpeed].Read[0].Known {
				v := p.Figures.Quantities[trial.LineSpeed].Read[0].V
				row[7] = num(digits3(v*60), v)
			}
			if p.Run != r {
				remarks = append(remarks, "the plan in its log is another one")
			}
			if i < last {
				remarks = append(remarks, "out of the planned order")
			}
			last = max(last, i)
		}
		row[8] = plain(strings.Join(remarks, "; "))
		tab.rows = append(tab.rows, row)
	}
	tab.note = fmt.Sprintf("%d of %s pulled. %s", done, count(len(t.Runs), "planned run"), b.lanes())
	b.table(tab)
	if len(c.Planned) == 0 {
		b.say("The trial file has no plan that could be drawn up: of blocks, of an order drawn by lot and of the bearings of lanes nothing is known.")
	}
	var stray []string
	for i := range c.Pulls {
		if _, ok := t.Run(c.Pulls[i].ID); !ok {
			stray = append(stray, c.Pulls[i].ID)
		}
	}
	if len(stray) > 0 {
		b.say("Pulled, but no run of the trial file: " + strings.Join(stray, ", ") + ".")
	}
	for _, s := range t.Stations {
		b.figure(b.u.planFigure(c, t, s))
	}
}

// lanes is how many lanes were planned and how many are spent, by station.
func (b *builder) lanes() string {
	var told []string
	for _, s := range b.campaign.Trial.Stations {
		planned, spent := map[int]bool{}, map[int]bool{}
		for _, r := range b.campaign.Trial.Runs {
			if r.Station == s.Name {
				planned[r.Lane] = true
			}
		}
		for i := range b.campaign.Pulls {
			if r := b.campaign.Pulls[i].Run; r.Station == s.Name {
				spent[r.Lane] = true
			}
		}
		told = append(told, fmt.Sprintf("%s: %s planned, %d spent", s.Name, count(len(planned), "lane"), len(spent)))
	}
	return strings.Join(told, "; ") + "."
}
