package main

import (
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/charmbracelet/x/ansi"

	"hawse/trial"
	"hawse/trial/plan"
)

// planPage is the plan for people.
func planPage(path string, p *plan.Plan, size *sizeDoc) string {
	page := &limitsPage{t: p.Trial}
	show := p.Trial.Show
	length := func(l trial.Length) string { return fmt.Sprintf("%.1f", show.Length.In(l)) }
	page.line(2, "%s", p.Trial.Name)
	page.line(2, "%s", visible(path))
	page.line(2, "An aid to watching a pull. It does not make the pull safe.")
	if p.Drawn {
		page.line(2, "Order drawn in randomised blocks, seed %d.", p.Seed)
	} else {
		page.line(2, "The runs of the file as they stand; [plan] or --blocks draws an order.")
	}
	for _, st := range p.Stations {
		page.WriteString("\n")
		if len(st.Runs) == 0 {
			page.line(2, "%s: no runs", strings.ToUpper(st.Name))
			continue
		}
		l := st.Lanes
		page.line(2, "%s, %s", strings.ToUpper(st.Name), st.Bottom)
		if st.HasPos {
			page.line(2, "  roller at %s WGS-84", st.Position)
		}
		page.line(4, "  lanes: %d, %.3g deg apart from %05.1f deg true; start %s %s, end %s %s from the roller (%s), %.1f m apart there, %.3g m wanted",
			l.Count, l.Step/math.Pi*180, l.From/math.Pi*180, length(trial.Length(l.Start)), show.Length.Name, length(trial.Length(l.End)), show.Length.Name,
			st.EndBy(), plan.Gap(l.End, l.Step), l.Gap)
		var spent []string
		for _, x := range st.Spent {
			spent = append(spent, fmt.Sprintf("%d by %s", x.Lane, visible(x.Log)))
		}
		switch {
		case len(spent) == 0:
			spent = []string{"none"}
		case len(spent) > mostSpentTold:
			spent = []string{fmt.Sprintf("%s, by %d logs", ranges(st.Spent), len(spent))}
		}
		page.line(4, "  spent: %s; %d free", strings.Join(spent, ", "), st.Free())
		page.line(4, "  used up: move more than %.0f %s", math.Ceil(show.Length.In(trial.Length(2*l.Start))), show.Length.Name)
		page.WriteString("\n" + st.Map(21) + "  V vessel, o planned, x spent, . free; north is up\n\n")
		u := show.Length.Name
		page.WriteString(fmt.Sprintf("%-7s %-26s %4s %6s %6s %6s %6s %6s %5s\n", "run", "what", "lane", "brg", "depth", "out", "start", "haul", "scope"))
		page.WriteString(fmt.Sprintf("%-7s %-26s %4s %6s %6s %6s %6s %6s %5s\n", "", "", "", "deg", u, u, u, u, "to"))
		for _, r := range st.Runs {
			what := r.What()
			if r.Block > 0 {
				what = fmt.Sprintf("%d: %s", r.Block, what)
			}
			if r.Done != "" {
				what = "done: " + what
			}
			to := float64(r.LeastOut) / float64(r.Depth+p.Trial.Vessel.Fairlead)
			page.WriteString(fmt.Sprintf("%-7s %s %4d %6.1f %6s %6s %6s %6s %5.2f\n", clipped(r.ID, 7), pad(clipped(what, 26), 26), r.Lane, r.Bearing/math.Pi*180,
				length(r.Depth), length(r.Payout), length(r.Distance), length(r.Haul), to))
		}
		page.again(st)
		for _, n := range st.Notes {
			page.line(4, "  note: %s", n)
		}
	}
	if size != nil {
		page.WriteString("\nSAMPLE SIZE\n")
		from := size.From
		if size.DoF > 0 {
			from = fmt.Sprintf("%s, %d degrees of freedom", from, size.DoF)
		}
		page.line(2, "scatter %.3g %% (%s)", 100*size.Scatter, from)
		page.line(2, "%d pulls of each treatment to see a difference of %.3g %% in 4 trials of 5, and one that is not there in 1 of 20", size.Repeats, 100*size.See)
		if size.LeftOut > 0 {
			page.line(2, "%d pulls are left out: lower bounds, or without a peak", size.LeftOut)
		}
	}
	for i, n := range p.Notes {
		if i == 0 {
			page.WriteString("\nNOTES\n")
		}
		page.line(4, "  %s", n)
	}
	return page.String()
}

// mostSpentTold is how many logs are named; --json names all.
const mostSpentTold = 8

// ranges is lanes in order, those in a row as one: "1 to 5, 9".
func ranges(spent []plan.Spent) string {
	var parts []string
	for i := 0; i < len(spent); {
		j := i
		for j+1 < len(spent) && spent[j+1].Lane <= spent[j].Lane+1 {
			j++
		}
		part := fmt.Sprint(spent[i].Lane)
		if spent[j].Lane > spent[i].Lane {
			part = fmt.Sprintf("%d to %d", spent[i].Lane, spent[j].Lane)
		}
		parts, i = append(parts, part), j+1
	}
	return strings.Join(parts, ", ")
}

func pad(s string, wide int) string {
	return s + strings.Repeat(" ", max(0, wide-ansi.StringWidth(s)))
}

// again says what of a run does not fit a row: drop points, presets, warnings;
// the same words of several runs once.
func (p *limitsPage) again(st *plan.Station) {
	if st.HasPos {
		p.WriteString("\n")
		p.line(2, "  drop points, WGS-84")
		for _, r := range st.Runs {
			if r.HasDrop && r.Done == "" {
				p.line(4, "  %-7s %s", clipped(r.ID, 7), r.Drop)
			}
		}
	}
	said := map[string][]string{}
	var order []string
	say := func(r *plan.Run, text string) {
		if said[text] == nil {
			order = append(order, text)
		}
		said[text] = append(said[text], r.ID)
	}
	for _, r := range st.Runs {
		if r.Done != "" {
			continue
		}
		if r.PresetOut > 0 {
			say(r, fmt.Sprintf("preset at scope %.3g: %s out, %s from the anchor; then astern to %s", r.PresetScope, p.t.Show.LengthText(tenth(r.PresetOut)), p.t.Show.LengthText(tenth(r.PresetDistance)), p.t.Show.LengthText(tenth(r.Distance))))
		}
		if r.Soak > 0 {
			say(r, "soak "+plan.Lasts(r.Soak.Round(time.Second)))
		}
		if r.Expected > 0 {
			say(r, "expected "+finely(p.t.Show, r.Expected))
		}
		for _, w := range r.Warnings {
			say(r, "!!! "+w)
		}
	}
	if len(order) > 0 {
		p.WriteString("\n")
	}
	for _, text := range order {
		p.line(4, "  %s: %s", strings.Join(said[text], " "), text)
	}
}

func tenth(l trial.Length) trial.Length { return trial.Length(math.Round(float64(l)*10) / 10) }

// planDoc is `hawse plan --json`: SI; what is not known is left out, never 0.
type planDoc struct {
	File     string        `json:"file"`
	Name     string        `json:"name"`
	Drawn    bool          `json:"drawn"`
	Seed     *int          `json:"seed,omitempty"`
	Stations []stationPlan `json:"stations"`
	Size     *sizeDoc      `json:"sample_size,omitempty"`
	Notes    []string      `json:"notes"`
}

type stationPlan struct {
	Station string     `json:"station"`
	Bottom  string     `json:"bottom"`
	Lat     *float64   `json:"lat_deg,omitempty"`
	Lon     *float64   `json:"lon_deg,omitempty"`
	Lanes   int        `json:"lanes"`
	Free    int        `json:"lanes_free"`
	Step    float64    `json:"step_rad,omitempty"`
	Start   float64    `json:"start_radius_m,omitempty"`
	End     float64    `json:"end_radius_m,omitempty"`
	Gap     float64    `json:"gap_at_end_m,omitempty"`
	Spent   []spentDoc `json:"spent"`
	Runs    []runPlan  `json:"runs"`
	Notes   []string   `json:"notes"`
}

type spentDoc struct {
	Lane int    `json:"lane"`
	Run  string `json:"run"`
	Log  string `json:"log"`
}

type runPlan struct {
	Run       string   `json:"run"`
	Kind      string   `json:"kind"`
	Anchor    string   `json:"anchor,omitempty"`
	Treatment string   `json:"treatment,omitempty"`
	Role      string   `json:"role,omitempty"`
	Block     int      `json:"block,omitempty"`
	Lane      int      `json:"lane"`
	At        string   `json:"at,omitempty"`
	Bearing   float64  `json:"bearing_rad"`
	Lat       *float64 `json:"drop_lat_deg,omitempty"`
	Lon       *float64 `json:"drop_lon_deg,omitempty"`
	Depth     float64  `json:"depth_m"`
	DepthFrom string   `json:"depth_from"`
	Scope     float64  `json:"scope"`
	Payout    float64  `json:"payout_m"`
	Distance  float64  `json:"start_distance_m"`
	MinScope  float64  `json:"scope_min,omitempty"`
	LeastOut  float64  `json:"least_rode_out_m"`
	Haul      float64  `json:"largest_haul_m"`
	Near      float64  `json:"end_distance_m"`
	PresetOut float64  `json:"preset_rode_out_m,omitempty"`
	PresetX   float64  `json:"preset_distance_m,omitempty"`
	Soak      float64  `json:"soak_s,omitempty"`
	Speed     float64  `json:"speed_m_per_s,omitempty"`
	Expected  float64  `json:"expected_n,omitempty"`
	Warnings  []string `json:"warnings"`
	Done      string   `json:"done_by,omitempty"`
}

func planJSON(path string, p *plan.Plan, size *sizeDoc) planDoc {
	d := planDoc{File: path, Name: p.Trial.Name, Drawn: p.Drawn, Size: size, Notes: append([]string{}, p.Notes...)}
	if p.Drawn {
		d.Seed = &p.Seed
	}
	for _, st := range p.Stations {
		s := stationPlan{Station: st.Name, Bottom: st.Bottom, Lanes: st.Lanes.Count, Free: st.Free(), Step: st.Lanes.Step, Start: st.Lanes.Start,
			End: st.Lanes.End, Spent: []spentDoc{}, Runs: []runPlan{}, Notes: append([]string{}, st.Notes...)}
		if s.Lanes > 0 {
			s.Gap = plan.Gap(st.Lanes.End, st.Lanes.Step)
		}
		if st.HasPos {
			s.Lat, s.Lon = &st.Position.Lat, &st.Position.Lon
		}
		for _, x := range st.Spent {
			s.Spent = append(s.Spent, spentDoc{x.Lane, x.Run, x.Log})
		}
		for _, r := range st.Runs {
			v := runPlan{Run: r.ID, Kind: r.Kind, Anchor: r.Anchor, Treatment: r.Treatment, Role: r.Role, Block: r.Block, Lane: r.Lane, Bearing: r.Bearing,
				Depth: float64(r.Depth), DepthFrom: r.DepthFrom, Scope: r.Scope, Payout: float64(r.Payout), Distance: float64(r.Distance), MinScope: r.MinScope,
				LeastOut: float64(r.LeastOut), Haul: float64(r.Haul), Near: float64(r.Near), PresetOut: float64(r.PresetOut), PresetX: float64(r.PresetDistance),
				Soak: r.Soak.Seconds(), Speed: float64(r.Speed), Expected: float64(r.Expected), Warnings: append([]string{}, r.Warnings...), Done: r.Done}
			if !r.At.IsZero() {
				v.At = r.At.Format(trial.PlanClock)
			}
			if r.HasDrop {
				v.Lat, v.Lon = &r.Drop.Lat, &r.Drop.Lon
			}
			s.Runs = append(s.Runs, v)
		}
		d.Stations = append(d.Stations, s)
	}
	return d
}
