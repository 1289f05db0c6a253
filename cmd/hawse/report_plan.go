package main

import (
	"math"

	"hawse/trial"
	"hawse/trial/plan"
	"hawse/trial/report"
)

// plannedRuns is what the plan inside a trial file says of its runs; nil where it has
// none, or none that can be drawn up.
func plannedRuns(t *trial.Trial) map[string]report.Planned {
	if t == nil || t.Plan == nil {
		return nil
	}
	p, err := plan.Make(t, nil)
	if err != nil {
		return nil
	}
	out := map[string]report.Planned{}
	for _, s := range p.Stations {
		place := map[int]int{}
		for _, r := range s.Runs {
			place[r.Block]++
			bearing := r.Bearing
			if !p.Drawn && bearing == 0 {
				bearing = math.NaN()
			}
			out[r.ID] = report.Planned{Block: r.Block, Place: place[r.Block], Drawn: p.Drawn && r.Block > 0, Bearing: bearing}
		}
	}
	return out
}
