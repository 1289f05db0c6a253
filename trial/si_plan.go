package trial

import (
	"fmt"
	"math"
)

// planSI hands on what [plan] says, in SI. Times of day are seconds since
// 1970-01-01 00:00 by the clock they are in, which names no zone: only their
// differences count. What was not said has no entry.
func (p *Planning) planSI(put func(key string, v float64), whole func(key string, v int)) {
	said := func(key string, v float64) {
		if v != 0 {
			put(key, v)
		}
	}
	drawn := 0
	if p.Order == OrderDrawn {
		drawn = 1
	}
	whole("plan_drawn", drawn)
	whole("plan_seed", p.Seed)
	whole("plan_blocks", p.Blocks)
	said("plan_scope", p.Scope)
	said("plan_speed_m_per_s", float64(p.Speed))
	said("plan_gap_m", float64(p.Gap))
	said("plan_fluke_width_m", float64(p.Flukes))
	said("plan_drop_within_m", float64(p.DropWithin))
	said("plan_step_rad", float64(p.Step))
	put("plan_from_rad", float64(p.From))
	put("plan_to_rad", float64(p.To))
	if !p.Start.IsZero() {
		put("plan_start_s", float64(p.Start.Unix()))
	}
	said("plan_each_s", p.Each.Seconds())
	for i, t := range p.Tides {
		k := fmt.Sprintf("plan_tide%d_", i+1)
		put(k+"time_s", float64(t.Time.Unix()))
		put(k+"height_m", float64(t.Height))
	}
	for i, b := range p.Berths {
		k := fmt.Sprintf("plan_berth%d_", i+1)
		if b.Blocks > 0 {
			whole(k+"blocks", b.Blocks)
		}
		if b.HasPosition {
			put(k+"north_rad", b.Position.Lat*math.Pi/180)
			put(k+"east_rad", b.Position.Lon*math.Pi/180)
		}
		if b.HasCharted {
			put(k+"charted_m", float64(b.Charted))
		}
	}
	for i, t := range p.Treatments {
		k := fmt.Sprintf("plan_treatment%d_", i+1)
		said(k+"scope", t.Scope)
		said(k+"preset_scope", t.Preset)
		said(k+"soak_s", t.Soak.Seconds())
		said(k+"speed_m_per_s", float64(t.Speed))
	}
	for i, l := range p.Laws {
		k := fmt.Sprintf("plan_holding%d_", i+1)
		put(k+"hr_n", float64(l.HR))
		put(k+"wr_kg", float64(l.WR))
		put(k+"b", l.B)
	}
}
