package tui

import (
	"math"
	"time"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// checklist is the list before arming with the first n lines that a person does
// done.
func checklist(n int) []safety.CheckItem {
	list := []safety.CheckItem{
		{Check: safety.CheckGear, State: safety.CheckPassed},
		{Check: safety.CheckClock, State: safety.CheckPassed},
		{Check: safety.CheckDisk, State: safety.CheckPassed},
		{Check: safety.CheckLoad, State: safety.CheckPassed},
		{Check: safety.CheckLine, State: safety.CheckPassed},
		{Check: safety.CheckStop, State: safety.CheckPassed},
		{Check: safety.CheckZero, Text: "with the cell hanging free, or the rode slack"},
		{Check: safety.CheckWeight, Text: "hang a known weight on the cell, or waive it with a reason"},
		{Check: safety.CheckHorn, Text: "sound it once"},
		{Check: safety.CheckSlowCell, Text: "a cell under 3 Hz misses peaks; the director accepts it"},
		{Check: safety.CheckLimits, Text: "read the limits aloud"},
		{Check: safety.ReadyLogger, Text: `"logging, all live"`},
		{Check: safety.ReadyWinch, Text: `"winch ready, line clear"`},
		{Check: safety.ReadyDirector, Text: "people in their places, deck clear"},
	}
	for i := range list {
		if j := i - 6; j >= 0 && j < n {
			list[i].State = safety.CheckPassed
		}
	}
	return list
}

// before is a screen before arming.
func before(n int) *session.Snapshot {
	s := base(trial.StandBy, 142*second, nil)
	s.Checklist = checklist(n)
	s.Config.Limits[trial.Preset] = trial.Limits{
		TensionWarn: 1.6 * kN, TensionStop: 2 * kN, WLLWarn: 0.64, WLLStop: 0.8, TensionEnd: 1.3 * kN, Haul: 4.5,
		Duration: 10 * time.Minute, SilentStop: 2 * time.Second,
	}
	s.Config.Things = []trial.Joint{{Name: "chain shackle", At: 10}, {Name: "anchor"}}
	s.Config.KeepOut = 1
	s.Haul = session.Haul{Known: true, RodeOut: 60, Depth: 6, DepthOK: true, Scope: 8, ScopeOK: true, Scope2: 10}
	s.Horn = session.Stream{Src: "horn", State: "open", LastAt: -1, HeardAt: -1}
	s.Margins = []safety.Margin{
		{Cause: safety.WLLShare, Now: 0.008, Warn: 0.64, Limit: 0.8, Left: 0.792, Share: 0.01, In: math.NaN()},
	}
	s.News = []session.News{{T: 31 * second, Text: "director: rode out 60 m, as planned"}, {T: second, Text: "log opened"}}
	return s
}

// carried is a screen before arming that goes on after a crash.
func carried() *session.Snapshot {
	s := before(0)
	s.After = "A1-20240514.log"
	s.Log.Path = "runs/A1-20240514-2.log"
	s.Carried = []session.Carried{
		{Item: session.CarryStage, Text: "pull", State: session.CarryOpen},
		{Item: session.CarryDepth, Text: "6.00 m", State: session.CarryTaken},
		{Item: session.CarryHaul, Text: "rode out 41.2 m at count 1880", State: session.CarryOpen},
		{Item: session.CarryZero, Text: "0.131 kN", State: session.CarryOpen},
		{Item: "lower tension_stop", Text: "6 kN", State: session.CarryOpen},
	}
	return s
}

// guardScenes are what the guard asks and tells, beside a plain stop.
func guardScenes() []scene {
	var list []scene
	add := func(s scene) { list = append(list, s) }
	none := &trial.Trace{}

	half := before(2)
	half.Checklist[7].State = safety.CheckWaived
	add(scene{name: "checks-half", snap: half, trace: none, keys: []string{"a"}})
	add(scene{name: "limits-read-out", snap: half, trace: none, keys: []string{"a", "l"}})
	add(scene{name: "waive", snap: before(1), trace: none, keys: []string{"a", "v", "2", "c", "r", "a", "n", "e", "tab", "o", "u", "t"}})

	failed := before(1)
	failed.Checklist[7].State = safety.CheckFailed
	fault := "known weight not taken: the cell shows 1.09 kN for 0.245 kN: it is 4.448 times what hangs there: newtons are taken for lbf"
	failed.Refusal = session.News{T: failed.T - second, Text: fault, Loud: true}
	failed.News = append([]session.News{{T: failed.T - second, Text: fault, Loud: true}}, failed.News...)
	add(scene{name: "checks-weight-failed", snap: failed, trace: none, keys: []string{"a"}})
	add(scene{name: "correct", snap: failed, trace: none, keys: []string{"a", "c"}})
	add(scene{name: "checks-done", snap: before(8), trace: none, keys: []string{"a"}})

	add(scene{name: "checks-taken-over", snap: carried(), trace: none, keys: []string{"a"}})
	add(scene{name: "taken-over", snap: carried(), trace: none, keys: []string{"a", "t", "4"}})
	latched := carried()
	tripped(latched, safety.TensionLimit, 8060, 8000, safety.OrderStop)
	latched.Guard.Stop.Taken = true
	latched.Carried = append([]session.Carried{{Item: session.CarryStop, Text: "a stop was in force (TENSION LIMIT)", State: session.CarryLatched}}, latched.Carried...)
	add(scene{name: "checks-stop-taken-over", snap: latched, trace: none, keys: []string{"a"}})

	moves, tr := hauling(12, textbook)
	tripped(moves, safety.VesselMoves, 910, 800, safety.OrderEase)
	moves.Haul.Speed, moves.Phase = 0, trial.Unclear // a rise with nothing hauled
	add(scene{name: "ease-vessel-moves", snap: moves, trace: tr})

	unit, tr := hauling(12, textbook)
	tripped(unit, safety.LoadUnit, 2.204, 9.80665/4.4482216152605, safety.OrderStop)
	add(scene{name: "unit-changed", snap: unit, trace: tr})
	add(scene{name: "unit-changed-more", snap: unit, trace: tr, keys: []string{"x"}})

	noisy, tr := hauling(12, textbook)
	noisy.Guard.Alarms[safety.LoadNoisy] = safety.Alarm{State: safety.Unacknowledged, Priority: safety.Warning, Since: noisy.T - 2*second, Value: 12.2, Limit: 5}
	add(scene{name: "load-noisy", snap: noisy, trace: tr})

	acked := *moves
	acked.Guard.Stop.Acked, acked.Guard.Stop.Later = true, safety.TensionLimit
	acked.Guard.Alarms = [safety.NumCauses]safety.Alarm{}
	add(scene{name: "ease-acknowledged", snap: &acked, trace: tr})

	add(scene{name: "rode-mark", snap: moves, trace: tr, keys: []string{"x", "1"}})
	add(scene{name: "abandon-ask", snap: moves, trace: tr, keys: []string{"!"}})

	off, tr := hauling(30, textbook)
	off.Guard.Stage, off.Guard.Cell, off.Guard.Permit = trial.Recover, safety.CellOff, false
	off.Phase = trial.Unclear
	for c := range off.Guard.Alarms {
		switch safety.Cause(c) {
		case safety.LoadOverRange, safety.LoadNotNumber, safety.LoadAngle, safety.CellsDisagree, safety.CellMissing, safety.LoadSilent, safety.LoadGarbled, safety.LoadUnchanged,
			safety.LoadReversed, safety.LoadNeverFalls, safety.LoadSlow:
			off.Guard.Alarms[c].State = safety.Suppressed
		}
	}
	off.Relay = session.Relay{Heard: true, Reason: "open", At: off.T - second}
	off.Margins = []safety.Margin{off.Margins[1], off.Margins[2]}
	for i := range off.Margins {
		m := &off.Margins[i]
		m.Now, m.Left, m.Share = math.NaN(), math.NaN(), math.NaN()
	}
	add(scene{name: "cell-off", snap: off, trace: tr})

	up, tr := hauling(30, textbook)
	up.Guard.Stage = trial.Recover
	up.Haul.RodeOut, up.Phase = 4.2, trial.Aweigh
	up.Margins = []safety.Margin{
		{Cause: safety.AtFairlead, Now: 4.2, Warn: math.NaN(), Limit: 1, Left: 3.2, Share: 0.24, In: 80, Name: "anchor"},
		up.Margins[1], up.Margins[2],
	}
	up.Config.Things, up.Config.KeepOut = []trial.Joint{{Name: "anchor"}}, 1
	add(scene{name: "at-fairlead", snap: up, trace: tr})
	add(scene{name: "more", snap: up, trace: tr, keys: []string{"x"}})

	there, tr := hauling(30, textbook)
	there.Guard.Stage, there.Guard.Permit = trial.Recover, false
	there.Haul.RodeOut, there.Phase = 10.9, trial.ShortStay
	there.Config.Things, there.Config.KeepOut = []trial.Joint{{Name: "chain shackle", At: 10}, {Name: "anchor"}}, 1
	there.Guard.Order, there.Guard.OrderSince = safety.OrderStop, there.T-2*second
	there.Guard.Stop = safety.Stop{Kind: safety.PlannedEnd, Cause: safety.AtFairlead, At: there.T - 2*second, Value: 1, Limit: 1}
	there.Relay = session.Relay{Heard: true, Reason: "open", At: there.T - second}
	there.Margins = []safety.Margin{
		{Cause: safety.AtFairlead, Now: 0.9, Warn: math.NaN(), Limit: 1, Left: 0, Share: 1, In: 0, Name: "chain shackle"},
		there.Margins[1], there.Margins[2],
	}
	add(scene{name: "fairlead-end", snap: there, trace: tr})

	soon, tr := hauling(5.25, tooGood)
	soon.Tension.Rate = 625
	soon.Margins = []safety.Margin{
		{Cause: safety.TensionLimit, Now: 6500, Warn: 6400, Limit: 8000, Left: 1500, Share: 0.81, In: 2.4},
		{Cause: safety.WLLShare, Now: 0.65, Warn: 0.64, Limit: 0.8, Left: 0.15, Share: 0.81, In: 2.4},
		soon.Margins[0], soon.Margins[3],
	}
	soon.Guard.FirstUp = safety.LimitSoon
	soon.Guard.Alarms[safety.LimitSoon] = safety.Alarm{State: safety.Unacknowledged, Priority: safety.Warning, Since: soon.T - second/2, Value: 2.9, Limit: 3}
	add(scene{name: "stop-soon", snap: soon, trace: tr})
	add(scene{name: "lower", snap: soon, trace: tr, keys: []string{"x", "3", "1", "7", ".", "2"}})

	three, tr := hauling(9, textbook)
	tr.Gap(three.T - 3*second)
	tripped(three, safety.TensionLimit, 8040, 8000, safety.OrderStop)
	three.Guard.FirstUp = safety.Snag
	three.Guard.Alarms[safety.Snag] = safety.Alarm{State: safety.Acknowledged, Priority: safety.Warning, Since: three.T - 6*second, Value: 0.82, Limit: 0.7}
	three.Guard.Alarms[safety.LineContradicts] = safety.Alarm{State: safety.Returned, Priority: safety.Warning, Since: three.T - 5*second, Value: 0.07, Limit: 0.05}
	three.T += second / 2 // the other half of the second
	add(scene{name: "first-up", snap: three, trace: tr})
	add(scene{name: "alarm-list", snap: three, trace: tr, keys: []string{"l"}})

	preset, tr := hauling(1.5, textbook)
	preset.Guard.Stage = trial.Preset
	preset.Relay = session.Relay{Heard: true, Reason: "arm not taken", At: preset.T - second/3}
	preset.Guard.Alarms[safety.RelayStaysOpen] = safety.Alarm{State: safety.Unacknowledged, Priority: safety.Warning, Since: preset.T - 2*second}
	preset.Margins = []safety.Margin{
		{Cause: safety.LineHauled, Now: 1.5, Warn: math.NaN(), Limit: 4.5, Left: 3, Share: 0.33, In: 75},
		{Cause: safety.TensionReached, Now: 80, Warn: math.NaN(), Limit: 1300, Left: 1220, Share: 0.06, In: math.NaN()},
		preset.Margins[1], preset.Margins[2],
	}
	add(scene{name: "preset-relay-open", snap: preset, trace: tr})
	return list
}
