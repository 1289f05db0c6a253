package main

import (
	"fmt"
	"math"
	"slices"

	"hawse/acquire/session"
	"hawse/trial"
	"hawse/trial/rode"
)

// pinFeels says whether a pin in the roller is felt: its tension needs the rode
// out, which nobody has said in a check.
func pinFeels(p *session.Pin) bool { return p != nil && !math.IsNaN(float64(p.Felt)) }

// hearCells keeps what the further load cells show, a value for each new frame.
func (h *heardAll) hearCells(cells []session.CellShot, at map[string]int64) {
	for _, c := range cells {
		if was, heard := at[c.Src]; c.Good == 0 || heard && c.LastAt <= was || c.Over || math.IsNaN(float64(c.Indicated)) || len(h.cells[c.Src]) >= mostAids {
			continue
		}
		at[c.Src] = c.LastAt
		h.cells[c.Src] = append(h.cells[c.Src], c.Indicated)
	}
}

// cells is each load cell beside the first: its port, frames, rate, value, zero and
// place. A pull can do without them, so that none of it says cannot pull.
func (k *checks) cells() {
	say := func(f trial.Force) string { return finely(k.t.Show, f) }
	for _, o := range k.t.Others {
		shots := k.seen.last.Cells
		i := slices.IndexFunc(shots, func(c session.CellShot) bool { return c.Src == o.Table })
		if i < 0 {
			continue
		}
		from := len(k.items)
		k.stream(o.Table, &shots[i].Stream, o.Rate, false)
		for j := range k.items[from:] {
			if item := &k.items[from+j]; item.Result == checkCannot {
				item.Result = checkLook
			}
		}
		guards := "does not guard"
		if k.t.LargerGuards {
			guards = "guards where it is the larger"
		}
		k.add(o.Table+" sits", either(o.Sits != "", checkLook), fmt.Sprintf("%s, %s: %s", cmpText(o.Sits, "not said"), o.Place, guards), "write sits = under ["+o.Table+"]: the roller's friction counts in comparing cells")
		if shots[i].Over {
			k.add(o.Table+" value", checkLook, "over range", "take the load off; a cell that stays there is broken")
		} else if v := k.seen.cells[o.Table]; len(v) > 0 {
			mean := meanOf(v)
			share := mean / o.Range
			k.add(o.Table+" zero", either(math.Abs(float64(share)) <= 0.005, checkLook), fmt.Sprintf("%s, %s of the range; lowest %s, greatest %s, as indicated", say(mean), percent(float64(share)), say(slices.Min(v)), say(slices.Max(v))),
				"with nothing on it: it is zeroed with the first cell in the run; if it moved since last time, have it looked at")
		}
		k.pin(o.Table, o.LoadCell)
	}
}

func cmpText(text, other string) string {
	if text == "" {
		return other
	}
	return text
}

func meanOf(v []trial.Force) (mean trial.Force) {
	for _, f := range v {
		mean += f / trial.Force(len(v))
	}
	return mean
}

// pin is what a cell that is a pin in the roller takes for its angle, and what it
// makes of the tension at which the pull is to stop, with the run's rode out.
func (k *checks) pin(table string, cell trial.LoadCell) {
	if cell.Sits != trial.SitsRoller {
		return
	}
	say := func(f trial.Force) string { return finely(k.t.Show, f) }
	deg := func(a trial.Angle) float64 { return float64(a) * 180 / math.Pi }
	st, _ := k.t.Station(k.run.Station)
	depth, from := k.hand, "by hand"
	if depth == 0 {
		depth, from = st.Depth, "as planned"
	}
	stop, _ := k.t.TensionStop(trial.Pull)
	at := trial.PinAt{Out: k.run.Payout, Height: depth + k.t.Vessel.Fairlead, OutU: 0.1, HeightU: 0.1} // m, as in a run
	pin := trial.NewPin(k.t, cell)
	bend := pin.BendAt(stop, at)
	felt := trial.Force(float64(stop) * rode.PinRatio(float64(bend), 1))
	now := pin.Tension(felt, at)
	lead := k.t.Vessel.Lead
	value := fmt.Sprintf("inboard %.1f deg down, friction up to %.2g; at %s with %s out, depth %s %s, the line leads %.1f deg down: it feels %s", deg(lead), k.t.Vessel.RollerFriction,
		say(stop), k.t.Show.LengthText(at.Out), k.t.Show.LengthText(depth), from, deg(bend-lead), say(felt))
	do := "measure the angles; friction is the most it may be"
	switch {
	case !now.Known:
		k.add(table+" pin angle", checkLook, value+"; the tension cannot be told of that", now.Why)
	case felt > cell.Range:
		k.add(table+" pin angle", checkLook, value+", beyond its range", "the stop limit comes by over range: take a stronger pin, or a lower limit")
	default:
		k.add(table+" pin angle", checkLook, fmt.Sprintf("%s, so %s, known to %.0f %%, %s at most", value, say(now.T), 100*float64(now.U/now.T), say(now.Most)), do)
	}
}
