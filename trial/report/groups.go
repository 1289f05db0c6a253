package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"hawse/trial"
	"hawse/trial/compare"
)

// group is the repeats of one treatment, and where they stand in the campaign.
type group struct {
	compare.Group
	pulls []int
}

func (g *group) outcomes() []compare.Outcome { return g.Outcomes() }

// short is a treatment in a few words.
func (g *group) short() string { return g.name() + ", " + g.Bottom }

// name is it without its bottom.
func (g *group) name() string {
	t := fmt.Sprintf("%s %s kg", g.Pattern, kg(g.Mass))
	if g.Fluke > 0 {
		t += fmt.Sprintf(" %.0f°", g.Fluke*180/math.Pi)
	}
	return t
}

// groupsOf pools the pulls of a campaign, by one quantity.
func groupsOf(c *Campaign, by trial.Quantity) (groups []group, apart []compare.Difference) {
	blocks := blocksOf(c)
	var members []compare.Member
	var at []int
	for i := range c.Pulls {
		p := &c.Pulls[i]
		if !p.Compared() || p.Anchor == nil {
			continue
		}
		m := compare.Member{Treatment: treatmentOf(p), Outcome: outcomeOf(p, by)}
		m.Block, m.Place, m.Drawn = blocks[i].name, blocks[i].place, blocks[i].drawn
		members = append(members, m)
		at = append(at, i)
	}
	pooled, apart := sorted(compare.Pool(members))
	index := map[compare.Treatment]int{}
	for i, g := range pooled {
		index[g.Treatment] = i
		groups = append(groups, group{Group: g})
	}
	for i, m := range members { // in the order in which they stand in their group
		g := &groups[index[m.Treatment]]
		g.pulls = append(g.pulls, at[i])
	}
	return groups, apart
}

// sorted puts the groups of each bottom in the order of pattern, mass and setting.
func sorted(groups []compare.Group, apart []compare.Difference) ([]compare.Group, []compare.Difference) {
	var bottoms []string
	for _, g := range groups {
		if !slices.Contains(bottoms, g.Bottom) {
			bottoms = append(bottoms, g.Bottom)
		}
	}
	order := make([]int, len(groups))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int {
		a, b := &groups[i], &groups[j]
		return cmp.Or(cmp.Compare(slices.Index(bottoms, a.Bottom), slices.Index(bottoms, b.Bottom)), cmp.Compare(a.Pattern, b.Pattern), cmp.Compare(a.Mass, b.Mass), cmp.Compare(a.Fluke, b.Fluke))
	})
	out, at := make([]compare.Group, len(groups)), make([]int, len(groups))
	for to, from := range order {
		out[to], at[from] = groups[from], to
	}
	for i := range apart {
		apart[i].A, apart[i].B = at[apart[i].A], at[apart[i].B]
	}
	return out, apart
}

// treatmentOf is how a pull was treated: what its trial file says and, of the
// soak, what was done.
func treatmentOf(p *Pull) compare.Treatment {
	t := compare.Treatment{Pattern: p.Anchor.Pattern, Mass: float64(p.Anchor.Mass), Fluke: float64(p.Anchor.Fluke)}
	if s, ok := p.Trial.Station(p.Run.Station); ok {
		t.Bottom = s.Bottom
	}
	if t.Bottom == "" {
		t.Bottom = p.Run.Station
	}
	soak := "no soak"
	if p.Figures != nil {
		if s := p.Figures.Stages[trial.Soak].Time; s > 0 {
			soak = fmt.Sprintf("soak %.0f min", float64(s)/60e9)
		}
	}
	preset := "no preset"
	if p.Figures != nil && p.Figures.Stages[trial.Preset].Time > 0 {
		preset = "preset"
	}
	lim := &p.Trial.Limits[trial.Pull]
	stop := "no tension stop"
	if lim.TensionStop > 0 {
		stop = "stop at " + p.Trial.Show.ForceText(lim.TensionStop)
	}
	var rode []string
	for _, k := range p.Trial.Rode {
		rode = append(rode, p.Trial.Show.LengthText(k.Length)+" "+k.Name)
	}
	t.Protocol = strings.Join([]string{p.Trial.Method, p.Trial.Show.LengthText(p.Run.Payout) + " out", p.Trial.Show.SpeedText(p.Run.Speed),
		preset, soak, stop, strings.Join(rode, " and ")}, "; ")
	return t
}

// outcomeOf is what a pull came to in one quantity.
func outcomeOf(p *Pull, by trial.Quantity) compare.Outcome {
	o := compare.Outcome{Pull: p.ID}
	f := p.Figures
	if p.Corrected != nil {
		f = p.Corrected
	}
	if f == nil || !f.Told {
		return o
	}
	if f.Quantities[trial.SetOrNot].Word == "not set" {
		o.Kind = compare.NotSet
		return o
	}
	v := f.Quantities[by].Read[0]
	switch {
	case !v.Known:
	case f.Quantities[by].Bound != "":
		o.Kind, o.V, o.Called = compare.AtLeast, v.V, p.CalledStop
	default:
		o.Kind, o.V = compare.Measured, v.V
	}
	return o
}

type place struct {
	name  string
	place int
	drawn bool
}

// blocksOf says in which block each pull stands. A block is every treatment once
// at one station. Where a plan says which, that holds, and its order counts as
// drawn by lot only if the pulls kept to it. Elsewhere, in the order in which they
// were pulled, a new block begins where something comes that the present one has
// already.
func blocksOf(c *Campaign) []place {
	out := make([]place, len(c.Pulls))
	type state struct {
		n, at int
		seen  map[string]bool
	}
	stations := map[string]*state{}
	last := map[string]int{}    // place of the newest pull of a planned block
	broken := map[string]bool{} // its order was not kept
	for i := range c.Pulls {
		p := &c.Pulls[i]
		if k, ok := c.Planned[p.ID]; ok && k.Block > 0 {
			name := fmt.Sprintf("%s, planned %d", p.Run.Station, k.Block)
			broken[name] = broken[name] || k.Place < last[name]
			last[name] = k.Place
			out[i] = place{name, k.Place, k.Drawn}
			continue
		}
		s := stations[p.Run.Station]
		if s == nil {
			s = &state{n: 1, seen: map[string]bool{}}
			stations[p.Run.Station] = s
		}
		what := p.Run.Kind + " " + p.Run.Anchor
		if s.seen[what] {
			s.n, s.at, s.seen = s.n+1, 0, map[string]bool{}
		}
		s.seen[what] = true
		s.at++
		out[i] = place{fmt.Sprintf("%s %d", p.Run.Station, s.n), s.at, false}
	}
	for i := range out {
		out[i].drawn = out[i].drawn && !broken[out[i].name]
	}
	return out
}

// middleText is a median as it is printed.
func (u units) middleText(m compare.Middle, unit string) string {
	switch {
	case !m.Known:
		return dash
	case m.NotSet:
		return "not set"
	}
	by, _ := u.show.InUnit(unit)
	t := digits3(m.V / by)
	if m.Bound {
		t = "> " + t
	}
	return t
}

func bottomsOf(groups []group) (out []string) {
	for _, g := range groups {
		if !slices.Contains(out, g.Bottom) {
			out = append(out, g.Bottom)
		}
	}
	return out
}
