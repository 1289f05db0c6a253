package tui

import (
	"strings"
	"time"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// armAfter is how long the list must have stood before y arms: the question
// before it may have been answered with y as well. Common practice, no source.
const armAfter = time.Second

// checkKeys are the lines of the list before arming that a person does, each
// with its key, its name and what to do about it.
var checkKeys = [safety.NumChecks]struct{ key, name, do string }{
	safety.CheckZero:     {"z", "zero", "zero the load cell: it hangs free, or the rode lies slack"},
	safety.CheckWeight:   {"w", "known weight", "hang a known weight on the cell, or go without it (v)"},
	safety.CheckHorn:     {"h", "horn and lamp", "sound horn and lamp once"},
	safety.CheckSlowCell: {"s", "slow cell", "the director accepts a cell under 3 Hz: it misses peaks"},
	safety.CheckLimits:   {"l", "limits read out", "read the limits aloud"},
	safety.ReadyLogger:   {"1", "logger ready", `the logger says: "logging, all live"`},
	safety.ReadyWinch:    {"2", "winch ready", `the winch operator says: "winch ready, line clear"`},
	safety.ReadyDirector: {"3", "director ready", "the director says: people in their places, deck clear"},
}

// readyWords are what each seat says with its "ready".
var readyWords = map[safety.Who]string{
	safety.Logger:        "logging, all live",
	safety.WinchOperator: "winch ready, line clear",
	safety.Director:      "people in their places, deck clear",
}

// seatOf is whose word a line is; Nobody for the others.
func seatOf(c safety.Check) safety.Who {
	switch c {
	case safety.ReadyLogger:
		return safety.Logger
	case safety.ReadyWinch:
		return safety.WinchOperator
	case safety.ReadyDirector:
		return safety.Director
	}
	return safety.Nobody
}

// waivable are the checks that can be gone without now.
func waivable(s *session.Snapshot) []safety.Check {
	list := []safety.Check{safety.CheckZero, safety.CheckWeight}
	if checkState(s, safety.CheckCells) == safety.CheckFailed {
		list = append(list, safety.CheckCells)
	}
	return list
}

// corrections are what a known weight that did not fit may call for.
var corrections = []struct{ value, text string }{
	{"sign", "sign reversed: more pull shows as less"},
	{"unit N", "numbers are newtons"},
	{"unit kN", "numbers are kN"},
	{"unit kgf", "numbers are kgf"},
	{"unit lbf", "numbers are lbf"},
}

// askToArm opens the list before arming, or, without one, the question itself.
func (m model) askToArm() model {
	if len(m.snap.Checklist) > 0 && !m.snap.Guard.Armed {
		return m.ask(checkDialog)
	}
	return m.ask(armDialog)
}

// check takes a key of the list before arming.
func (m model) check(d dialog, key string, yes bool) model {
	s := m.snap
	kinds := map[safety.Check]dialogKind{
		safety.CheckZero: zeroDialog, safety.CheckWeight: weightDialog, safety.CheckHorn: hornDialog,
		safety.CheckSlowCell: slowDialog, safety.CheckLimits: limitsDialog,
	}
	for _, l := range s.Checklist {
		if checkKeys[l.Check].key != key {
			continue
		}
		if kind, ok := kinds[l.Check]; ok {
			return m.then(d, kind)
		}
		seat := seatOf(l.Check)
		if seat != m.seat && m.seat != safety.Director {
			return m.open(checkDialog).say("only the director speaks for another seat; this is the seat of the " + m.seat.String())
		}
		m = m.then(d, readyDialog)
		m.dlg.seat = seat
		return m
	}
	switch {
	case key == "v":
		return m.then(d, waiveDialog)
	case key == "c" && checkState(s, safety.CheckWeight) == safety.CheckFailed:
		return m.then(d, correctDialog)
	case key == "d":
		return m.then(d, depthDialog)
	case key == "o":
		return m.then(d, outDialog)
	case key == "t" && len(openCarried(s)) > 0:
		return m.then(d, carriedDialog)
	case yes:
		if open := against(s); len(open) > 0 {
			return m.open(checkDialog).say("not armed: taken over and not confirmed: " + carriedTexts(open))
		}
		if next, ok := nextCheck(s); ok {
			return m.open(checkDialog).say("not armed: " + next.Check.String() + " first")
		}
		return m.act(session.Act{What: session.ActArm})
	}
	return m.say("nothing done")
}

func checkState(s *session.Snapshot, c safety.Check) safety.CheckState {
	for _, l := range s.Checklist {
		if l.Check == c {
			return l.State
		}
	}
	return safety.CheckOpen
}

// nextCheck is the first line that stands against arming.
func nextCheck(s *session.Snapshot) (safety.CheckItem, bool) {
	for _, l := range s.Checklist {
		if !l.Good() {
			return l, true
		}
	}
	return safety.CheckItem{}, false
}

// toDo counts the lines that stand against arming.
func toDo(s *session.Snapshot) (n int) {
	n = len(against(s))
	for _, l := range s.Checklist {
		if !l.Good() {
			n++
		}
	}
	return n
}

// nextText is the one thing to do next, in words.
func nextText(s *session.Snapshot) string {
	l, ok := nextCheck(s)
	k := checkKeys[l.Check]
	open := against(s)
	switch {
	case len(open) > 0:
		return "next: t, does it still hold: " + carriedTexts(open)
	case !ok && latchedStop(s):
		return "next: leave this list, then r: the stop that was taken over is re-armed"
	case !ok && !s.Haul.DepthOK && s.Config != nil && s.Config.Limits[trial.Pull].ScopeMin > 0:
		return "y arms, but d first: without the water depth there is no scope, and pull cannot be entered. " + armWarning
	case !ok:
		return "Nothing is left to do. y arms: hauling is then permitted in every stage that hauls, until a stop. " + armWarning
	case l.Check == safety.CheckWeight && l.State == safety.CheckFailed:
		fault := weightFault(s)
		if fault != "" {
			fault = " Last: " + fault
		}
		return "next: c corrects sign or unit, w hangs it on again, v goes without it." + fault
	case k.key != "" && l.State == safety.CheckFailed:
		return "next: " + k.key + " again, " + k.do
	case k.key != "":
		return "next: " + k.key + ", " + k.do
	case l.Check == safety.CheckCells:
		return "next: " + l.Text + " (v)"
	case l.Check == safety.CheckLoad && s.Tension.Pin != nil && s.Tension.Pin.Why != "" && !s.Haul.Known:
		return "next: o, say the rode out: a pin in the roller tells no tension without it"
	case l.Check == safety.CheckLoad && s.Tension.Pin != nil && s.Tension.Pin.Why != "" && !s.Haul.DepthOK:
		return "next: d, say the water depth: a pin in the roller tells no tension without it"
	case l.Check == safety.CheckLine && !s.Haul.Known && strings.Contains(l.Text, "rode out"):
		return "next: o, say the rode out"
	case l.Check == safety.CheckLine && !s.Haul.DepthOK && strings.Contains(l.Text, "depth"):
		return "next: d, say the water depth"
	}
	return "next: " + checkName(l.Check) + ": " + l.Text
}

// weightFault is what the last known weight was found to show.
func weightFault(s *session.Snapshot) string {
	for _, n := range s.News {
		if _, fault, ok := strings.Cut(n.Text, "known weight not taken: "); ok {
			return fault
		}
	}
	return ""
}

func checkName(c safety.Check) string {
	if k := checkKeys[c]; k.name != "" {
		return k.name
	}
	return c.String()
}

// checkMark tells how a line stands by a shape and a word.
func checkMark(st safety.CheckState) (shape, text string, r role) {
	switch st {
	case safety.CheckPassed:
		return "■", st.String(), plain
	case safety.CheckWaived:
		return "–", st.String(), strong
	case safety.CheckFailed:
		return "×", "FAILED", caution
	}
	return "□", st.String(), strong
}

// checkRow is a line of the list as it is drawn.
type checkRow struct {
	shape, key, name, state, text string
	st                            role
	next                          bool
}

// checkRows are the lines of the list; with short set, those that tell by
// themselves and stand well are one row.
func checkRows(s *session.Snapshot, short bool) []checkRow {
	next, some := nextCheck(s)
	some = some && len(against(s)) == 0
	var rows []checkRow
	var well []string
	for _, l := range s.Checklist {
		k := checkKeys[l.Check]
		if short && k.key == "" && l.State == safety.CheckPassed {
			well = append(well, checkName(l.Check))
			continue
		}
		r := checkRow{key: k.key, name: checkName(l.Check), text: l.Text, next: some && l.Check == next.Check}
		r.shape, r.state, r.st = checkMark(l.State)
		if l.Good() {
			r.text = ""
		}
		rows = append(rows, r)
	}
	if len(well) > 0 {
		shape, state, st := checkMark(safety.CheckPassed)
		rows = append([]checkRow{{shape: shape, name: strings.Join(well, ", "), state: state, st: st}}, rows...)
	}
	return rows
}
