package trial

import (
	"fmt"
	"strconv"
	"time"
)

// KV is one value of the trial with its key.
type KV struct{ Key, Val string }

// SI is every quantity of the trial in SI, for a log's head: a stranger can
// then redo the work without knowing the units of the file. The keys are
// plain words of [a-z0-9_] that end in the unit (n, m, s, kg, rad, hz,
// m_per_s, n_per_m, per_m), lists are counted from 1, and the order is that
// of the file. A value not said has no entry. Numbers are the shortest text
// that reads back to the same float64.
func (t *Trial) SI() []KV {
	var out []KV
	put := func(key string, v float64) { out = append(out, KV{key, shortest(v)}) }
	said := func(key string, v float64) {
		if v != 0 {
			put(key, v)
		}
	}
	whole := func(key string, v int) { out = append(out, KV{key, strconv.Itoa(v)}) }
	yes := func(key string, v bool) {
		if v {
			whole(key, 1)
		} else {
			whole(key, 0)
		}
	}
	wire := func(k string, p Port, w Wire) {
		if w.On == "" {
			whole(k+"baud", p.Baud)
		}
		number := func(k string, n Number) {
			whole(k+"bytes", n.Bytes())
			put(k+"factor", n.Factor)
		}
		switch w.Kind {
		case WireAsked:
			put(k+"asked_wait_s", w.Asked.Wait.Seconds())
			put(k+"asked_late_s", w.Asked.Late.Seconds())
		case WireModbus:
			m, k := w.Registers, k+"modbus_"
			whole(k+"address", m.Address)
			whole(k+"function", m.Function)
			whole(k+"register", m.Register)
			if m.HasScale {
				whole(k+"scale_register", m.Scale)
			}
			number(k, m.Number)
			put(k+"wait_s", m.Wait.Seconds())
			put(k+"late_s", m.Late.Seconds())
		case WireFrames:
			f, k := w.Frames, k+"frames_"
			whole(k+"length", f.Length)
			whole(k+"checksum_from", f.SumFrom)
			whole(k+"at", f.At)
			number(k, f.Number)
			if f.HasFlags {
				whole(k+"flags_at", f.Flags)
				whole(k+"flags_over", f.Over)
			}
		}
	}
	rated := func(k string, wll, mbl Force, factor float64) {
		said(k+"wll_n", float64(wll))
		said(k+"mbl_n", float64(mbl))
		said(k+"factor", factor)
	}

	cell := func(k string, c *LoadCell) {
		put(k+"unit_n", c.ForceUnit().N)
		put(k+"range_n", float64(c.Range))
		put(k+"rate_hz", float64(c.Rate))
		said(k+"step_n", float64(c.Step))
		yes(k+"slow_cell", c.SlowCell)
		said(k+"angle_u_rad", float64(c.AngleU))
		wire(k, c.Port, c.Wire)
		// The polynomial is in the calibration's unit, which is beside it in
		// newtons; its coefficients are not turned into others and rounded.
		put(k+"calibration_unit_n", c.CalUnit.N)
		for i, v := range c.Cal {
			put(fmt.Sprintf("%scalibration_c%d", k, i), v)
		}
	}
	put("vessel_fairlead_m", float64(t.Vessel.Fairlead))
	put("vessel_keep_out_m", float64(t.Vessel.KeepOut))
	if t.Vessel.HasLead {
		put("vessel_lead_rad", float64(t.Vessel.Lead))
	}
	said("vessel_roller_friction", t.Vessel.RollerFriction)
	if t.Vessel.HasRoller {
		put("vessel_roller_m", float64(t.Vessel.Roller))
	}
	for i, p := range t.Rode {
		k := fmt.Sprintf("rode%d_", i+1)
		put(k+"length_m", float64(p.Length))
		put(k+"weight_n_per_m", float64(p.Weight))
		put(k+"ea_n", float64(p.EA))
		if p.HasFriction {
			put(k+"friction", p.Friction)
		}
		rated(k, p.WLL, p.MBL, p.Factor)
	}
	for i, g := range t.Gear {
		k := fmt.Sprintf("gear%d_", i+1)
		rated(k, g.WLL, g.MBL, g.Factor)
		if g.HasAt {
			put(k+"at_m", float64(g.At))
			yes(k+"passes", g.Passes)
			said(k+"weight_n", float64(g.Weight))
		}
	}
	if _, wll := t.Weakest(); wll != 0 {
		put("weakest_wll_n", float64(wll))
	}

	cell("load_", &t.Load)
	if t.LargerGuards {
		yes("load_guards_larger", true)
	}
	for i := range t.Others {
		cell(t.Others[i].Table+"_", &t.Others[i].LoadCell)
	}
	put("line_scale_per_m", t.Line.PerMetre)
	for i, l := range t.Line.Layers {
		k := fmt.Sprintf("line_layer%d_", i+1)
		put(k+"from_m", float64(l.From))
		put(k+"scale_per_m", l.PerMetre)
	}
	if d := t.Line.Drum; d != nil {
		put("line_drum_barrel_m", d.Barrel)
		put("line_drum_flange_m", d.Flange)
		put("line_drum_width_m", d.Width)
		put("line_drum_rope_m", d.Line)
		put("line_drum_per_turn", d.PerTurn)
		put("line_drum_holds_m", float64(d.Holds))
	}
	whole("line_haul_sign", t.Line.HaulSign)
	put("line_rate_hz", float64(t.Line.Rate))
	wire("line_", t.Line.Port, t.Line.Wire)
	if d := t.Sounder; d != nil {
		wire("depth_", d.Port, d.Wire)
		put("depth_unit_m", d.Unit.M)
		put("depth_rate_hz", float64(d.Rate))
		put("depth_transducer_m", float64(d.Transducer))
	}
	if p := t.Positioner; p != nil {
		wire("position_", p.Port, p.Wire)
		put("position_antenna_aft_m", float64(p.Aft))
		put("position_antenna_starboard_m", float64(p.Starboard))
		put("position_uncertain_m", float64(p.Uncertain))
		put("position_lead_rad", float64(p.Lead))
	}
	if c := t.Compass; c != nil {
		wire("heading_", c.Port, c.Wire)
		put("heading_offset_rad", float64(c.Offset))
	}
	if c := t.SatClock; c != nil {
		wire("clock_", c.Port, c.Wire)
	}
	if t.Screens != nil {
		yes("screens_watch_keys", t.Screens.WatchKeys)
	}
	put("stop_beat_s", t.Stop.Beat.Seconds())
	put("stop_window_s", t.Stop.Window.Seconds())
	whole("stop_baud", t.Stop.Port.Baud)
	if m := t.Stop.Modbus; t.Stop.Kind == StopModbus {
		whole("stop_unit", m.Unit)
		whole("stop_coil", m.Coil)
		whole("stop_session_register", m.Session)
		whole("stop_beat_register", m.Beat)
	}
	put("winch_reaction_s", t.Winch.Reaction.Seconds())
	put("winch_run_on_s", t.Winch.RunOn.Seconds())

	for s := range NumStages {
		l, k := t.Limits[s], "limits_"+s.Key()+"_"
		said(k+"tension_warn_n", float64(l.TensionWarn))
		said(k+"tension_stop_n", float64(l.TensionStop))
		said(k+"wll_warn", l.WLLWarn)
		said(k+"wll_stop", l.WLLStop)
		said(k+"tension_end_n", float64(l.TensionEnd))
		said(k+"haul_m", float64(l.Haul))
		said(k+"scope_min", l.ScopeMin)
		for _, d := range []struct {
			key string
			d   time.Duration
		}{
			{"duration_s", l.Duration}, {"soon_warn_s", l.SoonWarn}, {"soon_stop_s", l.SoonStop},
			{"silent_warn_s", l.SilentWarn}, {"silent_stop_s", l.SilentStop},
			{"line_silent_warn_s", l.LineSilentWarn}, {"line_silent_stop_s", l.LineSilentStop},
		} {
			said(k+d.key, d.d.Seconds())
		}
		said(k+"come_up", l.ComeUp)
	}
	if t.Levels.Known {
		put("levels_bare_rode_n", float64(t.Levels.BareRode))
		put("levels_dead_weight_n", float64(t.Levels.DeadWeight))
		put("levels_dead_mass_kg", float64(t.Levels.DeadMass))
	}
	for i := range phaseThresholds {
		h := &phaseThresholds[i]
		put(h.si(), h.get(&t.Phases))
	}
	for i, a := range t.Anchors {
		k := fmt.Sprintf("anchor%d_", i+1)
		put(k+"mass_kg", float64(a.Mass))
		put(k+"fluke_rad", float64(a.Fluke))
		if a.HasShank {
			put(k+"shank_m", float64(a.Shank))
		}
	}
	for i, s := range t.Stations {
		k := fmt.Sprintf("station%d_", i+1)
		put(k+"depth_m", float64(s.Depth))
		said(k+"depth_min_m", float64(s.DepthMin))
		said(k+"depth_max_m", float64(s.DepthMax))
	}
	for i, r := range t.Runs {
		k := fmt.Sprintf("run%d_", i+1)
		put(k+"payout_m", float64(r.Payout))
		put(k+"speed_m_per_s", float64(r.Speed))
	}
	if t.Plan != nil {
		t.Plan.planSI(put, whole)
	}
	return out
}
