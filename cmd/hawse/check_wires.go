package main

import (
	"fmt"
	"math"
	"slices"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// stream is port, frames and rate of a box.
func (k *checks) stream(name string, s *session.Stream, declared trial.Rate, slowRefused bool) {
	open := s.State == acquire.StateOpen
	k.add(name+" port", either(open, checkCannot), portText(s), "plug it in, end what else uses it, or correct port= in ["+name+"]; hawse ports lists them")
	all := s.Good + s.Bad
	share := 0.0
	if all > 0 {
		share = float64(s.Bad) / float64(all)
	}
	switch {
	case s.Good == 0 && all == 0:
		k.add(name+" frames", checkCannot, "not a line", "is the box on, is baud= right? hawse listen "+s.Port)
		return
	case s.Good == 0:
		k.add(name+" frames", checkCannot, "none of "+fmt.Sprint(all)+" fits; the last "+s.LastText, "correct line= and unit=: hawse listen "+s.Port)
		return
	}
	k.add(name+" frames", either(share <= 0.01, checkLook), fmt.Sprintf("%d fit, %.1f %% bad, the last %s", s.Good, 100*share, s.LastText), "check the cable, baud= and line=")
	rate := float64(s.Good) / k.seen.long.Seconds()
	want := float64(declared)
	result, do := checkSeen, ""
	if math.Abs(rate/want-1) > 0.2 {
		result, do = checkLook, "set the box, or correct rate="
	}
	if slowRefused && rate < 3 {
		result, do = checkCannot, "a load cell under 3 lines a second cannot guard: set the box faster, or slow_cell = true"
	}
	k.add(name+" rate", result, fmt.Sprintf("%.1f a second, %.3g said", rate, want), do)
}

// cell is value, flicker, zero and known weight of the load cell.
func (k *checks) cell() {
	v := k.seen.loads
	say := func(f trial.Force) string { return finely(k.t.Show, f) }
	s := k.seen.last
	if s.Tension.Over {
		k.add("load value", checkCannot, "over range", "take the load off; a cell that stays there is broken")
		return
	}
	if len(v) == 0 {
		return
	}
	mean, different := trial.Force(0), map[trial.Force]bool{}
	for _, f := range v {
		mean += f / trial.Force(len(v))
		different[f] = true
	}
	k.add("load value", either(math.Abs(float64(mean)) < 0.9*float64(k.t.Load.Range), checkLook), fmt.Sprintf("%s, as indicated, lowest %s, greatest %s", say(mean), say(slices.Min(v)), say(slices.Max(v))), "near the end of its range with nothing being pulled: wrong unit?")
	k.add("load flickers", either(len(different) > 1, checkLook), fmt.Sprintf("%d different of %d", len(different), len(v)), "a real cell flickers in its last digit: is it held, or the box frozen?")
	if k.weight == 0 {
		k.add("load zero", either(math.Abs(float64(mean)) <= 0.005*float64(k.t.Load.Range), checkLook), fmt.Sprintf("%s, %s of the range", say(mean), percent(float64(mean/k.t.Load.Range))), "with nothing on the cell: zero it in the run; if it moved since last time, have the cell looked at")
		k.add("known weight", checkLook, "not tried", `hang one on and say --weight "25.0 kg"`)
		return
	}
	off := float64(mean/k.weight) - 1
	k.add("known weight", either(math.Abs(off) <= 0.01, checkLook), fmt.Sprintf("%s shown, %s hangs on it: %s, zero not taken off", say(mean), say(k.weight), percent(off)), suspectUnit(float64(mean/k.weight)))
}

// suspectUnit names what a known weight that does not fit points at: ratio is
// what is shown over what hangs there.
func suspectUnit(ratio float64) string {
	const near = 0.03
	if ratio < 0 {
		return "the sign is reversed: change the cell's wires, or correct the sign in the run"
	}
	if why := safety.SuspectUnit(ratio, near); why != "" {
		return fmt.Sprintf("%.4g times: %s; correct unit= or the box", ratio, why)
	}
	return "zero first, then again; then the calibration"
}

// counter is what can be seen of a line counter at rest.
func (k *checks) counter() {
	c := k.seen.counts
	if k.seen.last.Line.Good == 0 || len(c) == 0 {
		return
	}
	value := "no change, " + c[0]
	if len(c) > 1 {
		value = fmt.Sprintf("%d different lines, the last %s", len(c), c[len(c)-1])
	}
	k.add("line at rest", either(len(c) <= 1, checkLook), value, "counts change though nobody hauls: does the drum turn?")
}

// stop is what the relay says of itself without being spoken to.
func (k *checks) stop(s *session.Snapshot) {
	k.add("stop port", either(s.Stop.State == acquire.StateOpen, checkCannot), portText(&s.Stop), "plug it in, or correct port= in [stop]: without it haul cannot be permitted")
	switch {
	case k.t.Stop.Kind == trial.StopPulse:
		k.add("relay stands open", checkLook, "it cannot tell", "see at the winch that haul is not permitted")
	case !s.Relay.Heard:
		k.add("relay stands open", checkLook, "it has said nothing", "is it on? text relays speak once a second, Modbus ones when asked")
	case s.Relay.Closed:
		k.add("relay stands open", checkCannot, "it says CLOSED with nothing armed", "is it welded, or held by another program? do not haul")
	default:
		k.add("relay stands open", checkSeen, "open, "+s.Relay.Reason, "")
	}
}
