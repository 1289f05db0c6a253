package main

import (
	"fmt"
	"math"

	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/trial"
)

// cells says which load cell the figures are from, where that wants saying: one
// that says where it sits, or one of several. Then what the others told, and what
// came late.
func (p *resultsPage) cells(r *session.Result, show trial.Show) {
	t := r.Head.Trial
	if len(r.Cells) > 0 || t.Load.Sits != "" {
		text := "all tensions are of load: " + cellText(t.Load.Sits, t.Load.Place, t.Load.Serial)
		if t.Load.Sits == trial.SitsRoller {
			text += "; it feels the bend of the line over the roller, and the tension is worked out with the line's angle; the limits acted on the most it could be"
		}
		if t.LargerGuards {
			text += "; the limits acted on the largest of the cells that told a tension"
		}
		p.about("cells", "%s", text)
	}
	for _, c := range r.Cells {
		text := fmt.Sprintf("%s: %s; ", c.Table, cellText(c.Sits, c.Place, c.Serial))
		if c.Known {
			text += fmt.Sprintf("greatest in pull %s (instant) at %s", forceIn(show, c.Greatest), clock(c.At))
		} else {
			text += dash + "; it told no tension in the pull"
		}
		text += fmt.Sprintf("; %s frames, %s bad", cli.Grouped(c.Good+c.Bad), cli.Grouped(c.Bad))
		if c.Over > 0 {
			text += fmt.Sprintf(", %s over range", cli.Grouped(c.Over))
		}
		p.about("", "%s", text)
	}
	for _, l := range r.Late {
		p.about("late", "%s: %s lines came late and at once, in %d bursts; when each was measured is not known", l.Src, cli.Grouped(l.Lines), l.Bursts)
	}
}

func cellText(sits, place, serial string) string {
	text := visible(place)
	if sits != "" {
		text = sits + ", " + text
	}
	if serial != "" {
		text += ", serial " + visible(serial)
	}
	return text
}

// cellDoc is a load cell of `hawse results --json`.
type cellDoc struct {
	Table    string   `json:"cell"`
	Figures  bool     `json:"figures_are_of_it"`
	Sits     string   `json:"sits,omitempty"`
	Place    string   `json:"place,omitempty"`
	Serial   string   `json:"serial,omitempty"`
	Good     uint64   `json:"good_frames,omitempty"`
	Bad      uint64   `json:"bad_frames,omitempty"`
	Over     uint64   `json:"over_range_frames,omitempty"`
	Greatest *float64 `json:"pull_greatest_n,omitempty"`
	AtS      *float64 `json:"pull_greatest_at_s,omitempty"`
}

// lateDoc is what came late and all at once on a port.
type lateDoc struct {
	Src    string `json:"port"`
	Lines  uint64 `json:"lines"`
	Bursts uint64 `json:"bursts"`
}

func cellDocs(r *session.Result) (cells []cellDoc, late []lateDoc) {
	for _, l := range r.Late {
		late = append(late, lateDoc{l.Src, l.Lines, l.Bursts})
	}
	if !r.Ready || len(r.Cells) == 0 && r.Head.Trial.Load.Sits == "" {
		return nil, late
	}
	t := r.Head.Trial
	cells = append(cells, cellDoc{Table: session.SrcLoad, Figures: true, Sits: t.Load.Sits, Place: t.Load.Place, Serial: t.Load.Serial})
	for _, c := range r.Cells {
		d := cellDoc{Table: c.Table, Sits: c.Sits, Place: c.Place, Serial: c.Serial, Good: c.Good, Bad: c.Bad, Over: c.Over}
		if v, at := float64(c.Greatest), float64(c.At)/1e9; c.Known && !math.IsNaN(v) {
			d.Greatest, d.AtS = &v, &at
		}
		cells = append(cells, d)
	}
	return cells, late
}
