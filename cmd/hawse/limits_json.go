package main

import (
	"io"

	"hawse/cmd/hawse/cli"
	"hawse/trial"
)

// limitsDoc is `hawse limits --json`: SI, the unit at the end of each key. What
// is not known or not said is left out, never 0.
type limitsDoc struct {
	File      string         `json:"file"`
	Name      string         `json:"name"`
	Weakest   string         `json:"weakest,omitempty"`
	WLL       float64        `json:"weakest_wll_n,omitempty"`
	Unrated   []string       `json:"unrated"`
	Gear      []gearDoc      `json:"gear"`
	KeepOut   float64        `json:"keep_out_m"`
	NoPass    []jointDoc     `json:"no_pass"`
	Stages    []stageDoc     `json:"stages"`
	Times     timesDoc       `json:"times"`
	Overshoot []overshootDoc `json:"overshoot"`
	Notes     []string       `json:"notes"`
}

type gearDoc struct {
	Name   string  `json:"name"`
	Rode   bool    `json:"rode"`
	WLL    float64 `json:"wll_n,omitempty"`
	MBL    float64 `json:"mbl_n,omitempty"`
	Factor float64 `json:"factor,omitempty"`
	Source string  `json:"source,omitempty"`
}

type jointDoc struct {
	Name string  `json:"name"`
	At   float64 `json:"at_m"`
}

type stageDoc struct {
	Stage  string     `json:"stage"`
	Stop   float64    `json:"stop_n,omitempty"` // left out: no stop by tension
	Limits []limitDoc `json:"limits"`
}

type limitDoc struct {
	Key       string  `json:"key"`
	Value     float64 `json:"value"`
	From      string  `json:"from,omitempty"`
	Inherited bool    `json:"inherited"`
	Default   bool    `json:"default"`
}

type timesDoc struct {
	Confirm  float64 `json:"confirm_s"`
	Reaction float64 `json:"reaction_s"`
	RunOn    float64 `json:"run_on_s"`
	Window   float64 `json:"relay_window_s"`
	ByHand   float64 `json:"by_hand_s"`
	ByRelay  float64 `json:"by_relay_s"`
	Assumed  bool    `json:"assumed"`
}

type overshootDoc struct {
	Runs    []string `json:"runs"`
	Stage   string   `json:"stage"`
	Speed   float64  `json:"speed_m_per_s"`
	Stop    float64  `json:"stop_n,omitempty"`
	StopBy  string   `json:"stop_from"`
	WLL     float64  `json:"weakest_wll_n,omitempty"`
	Payout  snagDoc  `json:"at_payout"`
	Least   snagDoc  `json:"at_least"`
	Governs string   `json:"governs"`
	Covered bool     `json:"covered"`
	// Only where the margin does not cover it: 0 where no limit or speed does.
	LowerBy *float64 `json:"lower_by_n,omitempty"`
	LowerTo *float64 `json:"lower_to_n,omitempty"`
	SlowTo  *float64 `json:"slow_to_m_per_s,omitempty"`
}

type snagDoc struct {
	Out       float64  `json:"rode_out_m"`
	Why       string   `json:"why"`
	Stiffness float64  `json:"stiffness_n_per_m"`
	Slope     float64  `json:"slope_n_per_s"`
	Hand      reachDoc `json:"by_hand"`
	Relay     reachDoc `json:"by_relay"`
}

type reachDoc struct {
	After  float64  `json:"after_s"`
	Over   float64  `json:"over_n"`
	Top    float64  `json:"top_n"`
	Margin *float64 `json:"margin_n,omitempty"` // under the weakest WLL; left out where none is known
}

func limitsJSON(w io.Writer, path string, t *trial.Trial) error {
	weakest, wll := t.Weakest()
	times := t.StopTimes()
	d := limitsDoc{
		File: path, Name: t.Name, Weakest: weakest, WLL: float64(wll), KeepOut: float64(t.Vessel.KeepOut),
		Unrated: append([]string{}, t.Unrated()...), Notes: append([]string{}, t.Notes...), Overshoot: []overshootDoc{},
		Times: timesDoc{times.Confirm.Seconds(), times.Reaction.Seconds(), times.RunOn.Seconds(), times.Window.Seconds(),
			times.ByHand().Seconds(), times.ByRelay().Seconds(), t.Winch.Assumed},
	}
	for _, p := range t.Rode {
		d.Gear = append(d.Gear, gearDoc{p.Name, true, float64(p.WLL), float64(p.MBL), p.Factor, p.Source})
	}
	for _, g := range t.Gear {
		d.Gear = append(d.Gear, gearDoc{g.Name, false, float64(g.WLL), float64(g.MBL), g.Factor, g.Source})
	}
	for _, j := range t.NoPass() {
		d.NoPass = append(d.NoPass, jointDoc{j.Name, float64(j.At)})
	}
	for s := range trial.NumStages {
		stop, _ := t.TensionStop(s)
		sd := stageDoc{Stage: s.Key(), Stop: float64(stop), Limits: []limitDoc{}}
		for _, l := range t.LimitsSaid(s) {
			key := l.Key
			if l.Unit != "" {
				key += "_" + l.Unit
			}
			sd.Limits = append(sd.Limits, limitDoc{key, l.Value, l.From, l.Inherited(), l.From == ""})
		}
		d.Stages = append(d.Stages, sd)
	}
	for _, o := range t.Overshoots() {
		d.Overshoot = append(d.Overshoot, overshootOf(o))
	}
	return cli.WriteJSON(w, d)
}

func overshootOf(o trial.Overshoot) overshootDoc {
	d := overshootDoc{
		Runs: o.Runs, Stage: o.Stage.Key(), Speed: float64(o.Speed), Stop: float64(o.Stop), StopBy: o.By.From, WLL: float64(o.WLL),
		Payout: snagOf(o, o.Payout), Least: snagOf(o, o.Least), Governs: "at_payout", Covered: o.Covered(),
	}
	if o.Governs() != o.Payout {
		d.Governs = "at_least"
	}
	if !d.Covered && o.WLL > 0 {
		to := float64(max(0, o.StopAtMost()))
		by, slow := d.Stop-to, float64(o.SpeedAtMost())
		d.LowerBy, d.LowerTo, d.SlowTo = &by, &to, &slow
	}
	return d
}

func snagOf(o trial.Overshoot, s trial.Snag) snagDoc {
	reach := func(r trial.Reach) reachDoc {
		d := reachDoc{After: r.After.Seconds(), Over: float64(r.Over), Top: float64(r.Top)}
		if margin := float64(r.Margin); o.WLL > 0 {
			d.Margin = &margin
		}
		return d
	}
	return snagDoc{float64(s.Out), s.Why, s.Stiffness, s.Slope, reach(s.Hand), reach(s.Relay)}
}
