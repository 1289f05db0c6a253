package main

import (
	"hawse/trial"
)

// courseDoc is what `hawse results --json` tells of the course of a pull: its
// quantities by their keys, and what they are told from.
type courseDoc struct {
	Quantities map[string]map[string]any `json:"quantities"`
	Phases     []phaseDoc                `json:"phases"`
	Segments   []segmentDoc              `json:"segments"`
	Falls      []fallDoc                 `json:"falls"`
	Holds      []holdDoc                 `json:"holds"`
	Overshoots []overshotDoc             `json:"overshoots"`
	Anew       []anewDoc                 `json:"rode_out_said_anew"`
}

type phaseDoc struct {
	Phase     string  `json:"phase"`
	TimeS     float64 `json:"time_s"`
	LengthM   float64 `json:"line_hauled_m"`
	Stretches int     `json:"stretches"`
}

type segmentDoc struct {
	Phase  string   `json:"phase"`
	BeginS float64  `json:"begin_s"`
	EndS   float64  `json:"end_s"`
	From   *float64 `json:"hauled_from_m"`
	To     *float64 `json:"hauled_to_m"`
	Cause  string   `json:"cause,omitempty"`
}

type fallDoc struct {
	Breakout bool     `json:"breakout"`
	Cause    string   `json:"cause"`
	AtS      float64  `json:"at_s"`
	Hauled   *float64 `json:"hauled_m"`
	From     *float64 `json:"from_n"`
	Lowest   *float64 `json:"lowest_n"`
	Reset    bool     `json:"re_set"`
	Top      *float64 `json:"greatest_after_mean_1s_n"`
	Before   *float64 `json:"greatest_before_mean_1s_n"`
}

type holdDoc struct {
	BeginS float64  `json:"begin_s"`
	EndS   float64  `json:"end_s"`
	Hauled *float64 `json:"hauled_m"`
	From   *float64 `json:"from_mean_1s_n"`
	Left10 *float64 `json:"left_after_10s_ratio"`
	Left60 *float64 `json:"left_after_60s_ratio"`
	Least  *float64 `json:"least_ratio"`
}

type overshotDoc struct {
	AtS     float64  `json:"at_s"`
	Tension *float64 `json:"tension_n"`
	Line    *float64 `json:"line_m"`
}

type anewDoc struct {
	AtS   float64  `json:"at_s"`
	Stage string   `json:"stage"`
	Was   *float64 `json:"counted_before_m"`
	Now   float64  `json:"said_m"`
}

type partOfDoc struct {
	Name  string  `json:"name"`
	Shape string  `json:"shape"`
	U     float64 `json:"u"`
	Why   string  `json:"why"`
}

func courseOf(f *trial.Figures, budget bool) courseDoc {
	d := courseDoc{Quantities: map[string]map[string]any{}, Phases: []phaseDoc{}, Segments: []segmentDoc{}, Falls: []fallDoc{}, Holds: []holdDoc{}, Overshoots: []overshotDoc{}, Anew: []anewDoc{}}
	for q := range f.Quantities {
		d.Quantities[trial.Quantities[q].Key] = quantityDoc(&trial.Quantities[q], &f.Quantities[q], budget)
	}
	for p, t := range f.Phases {
		if t.N > 0 {
			d.Phases = append(d.Phases, phaseDoc{trial.Phase(p).String(), secondsOf(t.Time), float64(t.Length), t.N})
		}
	}
	for _, g := range f.Segments {
		s := segmentDoc{Phase: g.Phase.String(), BeginS: secondsOf(g.T0), EndS: secondsOf(g.T1), From: numberOf(float64(g.X0)), To: numberOf(float64(g.X1))}
		if g.Fell {
			s.Cause = g.Cause.String()
		}
		d.Segments = append(d.Segments, s)
	}
	for _, b := range f.Breaks {
		one := fallDoc{Breakout: b.Breakout, Cause: b.Cause.String(), AtS: secondsOf(b.T), Hauled: numberOf(float64(b.X)), From: numberOf(float64(b.From)),
			Lowest: numberOf(float64(b.Low)), Reset: b.Breakout && b.Reset}
		if b.Top > 0 {
			one.Top = numberOf(float64(b.Top))
		}
		if b.Before > 0 {
			one.Before = numberOf(float64(b.Before))
		}
		d.Falls = append(d.Falls, one)
	}
	for _, h := range f.Holds {
		d.Holds = append(d.Holds, holdDoc{secondsOf(h.T), secondsOf(h.End), numberOf(float64(h.X)), numberOf(float64(h.From)), numberOf(h.Left10), numberOf(h.Left60), numberOf(h.Least)})
	}
	for _, a := range f.Anew {
		one := anewDoc{AtS: secondsOf(a.T), Stage: a.Stage.Key(), Now: float64(a.Now)}
		if a.Was != 0 {
			one.Was = numberOf(float64(a.Was))
		}
		d.Anew = append(d.Anew, one)
	}
	for _, s := range f.Stops {
		d.Overshoots = append(d.Overshoots, overshotDoc{secondsOf(s.T), numberOf(float64(s.Tension)), numberOf(float64(s.Line))})
	}
	return d
}

// quantityDoc is one quantity: its values with the unit in the key, _u their
// standard uncertainty; what is not known is null, and named in missing of the pull.
func quantityDoc(i *trial.QuantityInfo, f *trial.Figure, budget bool) map[string]any {
	d := map[string]any{}
	parts := map[string][]partOfDoc{}
	for j := range f.Read {
		v, name := &f.Read[j], "value"
		if i.Loads {
			name = trial.Readings[j].Key
		} else if j > 0 {
			break
		}
		key := trial.WithUnit(name, i.Unit)
		if i.Unit == "word" {
			d[name] = nil
			if v.Known {
				d[name] = f.Word
			}
			continue
		}
		d[key] = numberOf(v.V)
		if u := numberOf(v.U); u != nil {
			d[key+"_u"] = u
		}
		for _, p := range v.Budget {
			parts[name] = append(parts[name], partOfDoc{p.Name, string(p.Shape), p.U, p.Why})
		}
	}
	if i.Window != "" {
		d["window"] = i.Window
	}
	if f.Bound != "" {
		d["lower_bound"], d["lower_bound_why"] = true, string(f.Bound)
	} else if i.Group == "peaks" || i.Group == "efficiency" {
		d["lower_bound"] = false
	}
	if f.Note != "" {
		d["note"] = f.Note
	}
	if f.Placed {
		d["at_s"], d["hauled_m"], d["scope_ratio"], d["travel_m"] = secondsOf(f.T), numberOf(float64(f.X)), numberOf(f.Scope), numberOf(float64(f.Travel))
	}
	if budget && len(parts) > 0 {
		d["budget"] = parts
	}
	return d
}
