package session

import "hawse/trial"

// LateTold is what came late and all at once on a port.
type LateTold struct {
	Src           string
	Lines, Bursts uint64
}

// CellTold is what a load cell beside the guarding one told of the pull. The
// figures are none of its numbers.
type CellTold struct {
	Table               string
	Place, Sits, Serial string
	Good, Bad, Over     uint64      // frames
	Known               bool        // it told a tension in pull or hold
	Greatest            trial.Force // there, one sample as it came
	At                  int64       // ns
}

// late adds what a part's streams have found late.
func (r *Result) late(c *Core) {
	add := func(src string, s *stream) {
		if s.late.bursts == 0 {
			return
		}
		for i := range r.Late {
			if r.Late[i].Src == src {
				r.Late[i].Lines += s.late.lines
				r.Late[i].Bursts += s.late.bursts
				return
			}
		}
		r.Late = append(r.Late, LateTold{src, s.late.lines, s.late.bursts})
	}
	add(SrcLoad, &c.load)
	add(SrcLine, &c.line)
	for _, o := range c.cells.list {
		add(o.Table, &o.s)
	}
}

func (r *Result) cellOf(table string) *CellTold {
	for i := range r.Cells {
		if r.Cells[i].Table == table {
			return &r.Cells[i]
		}
	}
	r.Cells = append(r.Cells, CellTold{Table: table})
	return &r.Cells[len(r.Cells)-1]
}

// cells adds what a part knows of its load cells.
func (r *Result) cells(c *Core) {
	for _, o := range c.cells.list {
		k := r.cellOf(o.Table)
		k.Place, k.Sits, k.Serial = clip(o.Place), o.Sits, clip(o.Serial)
		k.Good, k.Bad, k.Over = k.Good+o.s.good, k.Bad+o.s.bad, k.Over+o.overs
	}
}

// cell takes one of its numbers.
func (r *Result) cell(s CellSample, t int64, stage trial.Stage) {
	k := r.cellOf(s.Table)
	if stage != trial.Pull && stage != trial.Hold || k.Known && s.Tension <= k.Greatest {
		return
	}
	k.Known, k.Greatest, k.At = true, s.Tension, t
}
