package tui

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// proposed fills in the number a question begins with.
func (m model) proposed(d dialog) dialog {
	u := unitsOf(m.snap)
	switch d.kind {
	case depthDialog, outDialog:
		d.unit = u.length.Name
		if v := m.planned(d.kind); v > 0 {
			d.value, d.plan = shortNumber(u.length.In(v)), true
		}
	case passDialog:
		d.unit = u.length.Name
		if h := m.snap.Haul; h.Known {
			// Rodes are marked every 5 m or 10 ft, and more: common practice, no source.
			every := 5.0
			if u.length.M < 0.5 {
				every = 10
			}
			if mark := math.Floor(u.length.In(h.RodeOut)/every) * every; mark > 0 {
				d.value, d.plan = shortNumber(mark), true
			}
		}
	case weightDialog:
		d.unit = "kg"
	}
	return d
}

// shortNumber has no more decimals than three, and no noughts at its end.
func shortNumber(v float64) string {
	s := strconv.FormatFloat(v, 'f', -1, 64)
	if short := fixed(v, 3); len(short) < len(s) {
		return short
	}
	return s
}

// planned is the value the trial has for the run in hand; 0 if none.
func (m model) planned(kind dialogKind) trial.Length {
	if kind == outDialog {
		return m.snap.Run.Payout
	}
	if t := m.snap.Trial; t != nil {
		if st, ok := t.Station(m.snap.Run.Station); ok {
			return st.Depth
		}
	}
	return 0
}

// longest words of a reason, in runes: it must be read back at a glance.
const longestReason = 60

// edit takes a key that writes the number or the words. The first one replaces
// what was proposed.
func (d dialog) edit(key string) (dialog, bool) {
	switch {
	case d.kind == reasonDialog:
		return d.write(key)
	case d.kind == carriedDialog:
		return d.toggle(key)
	case !d.number():
		return d, false
	case key == "backspace":
		d.typed, d.plan = true, false
		if d.value != "" {
			d.value = d.value[:len(d.value)-1]
		}
		return d, true
	case d.kind == weightDialog && (key == "u" || key == "U"):
		d.unit = map[string]string{"kg": "lb", "lb": "kN", "kN": "N"}[d.unit]
		if d.unit == "" {
			d.unit = "kg"
		}
		return d, true
	case len(key) == 1 && strings.Contains("0123456789.", key):
		if !d.typed {
			d.value, d.typed, d.plan = "", true, false
		}
		if len(d.value) < 8 && (key != "." || !strings.Contains(d.value, ".")) {
			d.value += key
		}
		return d, true
	}
	return d, false
}

// write takes a key of a reason. The space bar is STOP here as everywhere, so
// TAB writes the blank. A digit takes one of the reasons that are ready, until
// other words have been begun.
func (d dialog) write(key string) (dialog, bool) {
	r, n := utf8.DecodeRuneInString(key)
	ready := reasonsFor(d)
	switch {
	case key == "backspace":
		if _, last := utf8.DecodeLastRuneInString(d.value); last > 0 {
			d.value = d.value[:len(d.value)-last]
		}
		d.typed = d.value != ""
		return d, true
	case key == "tab" || key == "_":
		r, n = ' ', len(key)
	}
	if n != len(key) || r == utf8.RuneError || !unicode.IsGraphic(r) {
		return d, false
	}
	if i := int(r - '1'); !d.typed && i >= 0 && i < len(ready) {
		d.value = ready[i]
		return d, true
	}
	if !d.typed {
		d.value, d.typed = "", true
	}
	if utf8.RuneCountInString(d.value) < longestReason && (r != ' ' || d.value != "") {
		d.value += string(r)
	}
	return d, true
}

// reasonsFor are the reasons that are ready, one digit each. The lists are
// common practice, no source.
func reasonsFor(d dialog) []string {
	switch {
	case d.seat != safety.Nobody:
		return []string{"people not clear", "line not clear", "gear not ready", "wait for traffic or weather"}
	case d.check == safety.CheckCells:
		return []string{"its box or cable is broken", "cell not fitted today"}
	case d.check == safety.CheckZero:
		return []string{"cell cannot be unloaded now", "zeroed earlier today", "rode weight is in the zero by plan"}
	}
	if !d.back { // in a pull: UNIT CHANGED is asked about
		return []string{"the tension leapt: a breakout", "unit looked at in the box", "no weight on board"}
	}
	return []string{"no weight on board", "checked earlier today", "cannot hang a weight in this sea"}
}

// reasoned hands over an act that needs a reason.
func (m model) reasoned(d dialog) (next model, done bool) {
	reason := strings.TrimSpace(d.value)
	switch {
	case reason == "":
		return m, false
	case d.seat != safety.Nobody:
		return m.actFor(d.seat, session.Act{What: session.ActNotReady, Value: reason}), true
	case d.check == safety.CheckCells:
		return m.act(session.Act{What: session.ActWaive, Value: "cells " + reason}), true
	case d.check == safety.CheckZero:
		return m.act(session.Act{What: session.ActWaive, Value: "zero " + reason}), true
	}
	return m.act(session.Act{What: session.ActWaive, Value: "weight " + reason}), true
}

// choose takes a key of a question that leads to another one.
func (m model) choose(d dialog, key string, digit int) (next model, ok bool) {
	switch d.kind {
	case readyDialog:
		if key == "n" {
			m = m.then(d, reasonDialog)
			m.dlg.seat = d.seat
			return m, true
		}
	case waiveDialog:
		i, list := digit-1, waivable(m.snap)
		if at := slices.IndexFunc(list, func(c safety.Check) bool { return key != "" && checkKeys[c].key == key }); at >= 0 {
			i = at // its letter in the list
		}
		if i >= 0 && i < len(list) {
			m = m.then(d, reasonDialog)
			m.dlg.check = list[i]
			return m, true
		}
	case whichLimitDialog:
		if list := lowerable(m.snap); digit >= 1 && digit <= len(list) {
			m = m.then(d, lowerDialog)
			m.dlg.limit, m.dlg.unit = list[digit-1].key, list[digit-1].unit
			return m, true
		}
	}
	return m, false
}

// more takes a key of the rarely used ones.
func (m model) more(d dialog, key string) (next model, ok bool) {
	for _, c := range m.moreList() {
		if c.key == key {
			return m.then(d, c.kind), true
		}
	}
	return m, false
}

// moreChoice is a line of the rarely used keys.
type moreChoice struct {
	key  string
	kind dialogKind
	text string
}

func (m model) moreList() []moreChoice {
	cell := moreChoice{"4", cellOffDialog, "load cell comes out of the rode"}
	if m.snap.Guard.Cell == safety.CellOff {
		cell = moreChoice{"4", cellOnDialog, "load cell is back in the rode"}
	}
	taken := "taken in by hand: what comes to the fairlead"
	if name, _ := nextThing(m.snap); name != "" {
		taken = "taken in by hand: " + name
	}
	list := []moreChoice{
		{"1", passDialog, "a rode mark is at the fairlead"},
		{"2", clearDialog, taken},
		{"3", whichLimitDialog, "make a limit stricter"},
		cell,
		{"5", zeroDialog, "zero the load cell"},
		{"6", weightDialog, "hang a known weight on the cell"},
		{"7", hornDialog, "try horn and lamp"},
		{"8", formDialog, "the anchor is up: what it came up with"},
		{"l", alarmsDialog, "list of all alarms"},
		{"!", abandonDialog, "say ABANDON"},
	}
	if m.snap.Guard.Alarms[safety.LoadUnit].Standing() { // the only way out where the tension truly leapt
		list = slices.Insert(list, 8, moreChoice{"9", waiveDialog, "no known weight now: the unit is right"})
	}
	return list
}

// strict is a limit that can be made stricter, as it holds now.
type strict struct {
	key             safety.LimitKey
	name, now, unit string
}

// lowerable are the limits of the present stage that can be made stricter. Of
// one that it does not have the guard says so.
func lowerable(s *session.Snapshot) []strict {
	l, u := limitsNow(s, s.Guard.Stage), unitsOf(s)
	list := []strict{
		{safety.LimitTensionStop, "tension stop", "none in this stage", u.force.Name},
		{safety.LimitTensionWarn, "tension warning", "none in this stage", u.force.Name},
		{safety.LimitHaul, "line hauled", "none in this stage", u.length.Name},
		{safety.LimitScopeMin, "minimum scope", "none in this stage", ""},
	}
	if l.TensionStop > 0 {
		list[0].now = u.tensionUnit(l.TensionStop)
	}
	if l.TensionWarn > 0 {
		list[1].now = u.tensionUnit(l.TensionWarn)
	}
	if l.Haul > 0 {
		list[2].now = u.metresUnit(l.Haul)
	}
	if l.ScopeMin > 0 {
		list[3].now = scopeText(l.ScopeMin)
	}
	return list
}

// limitsNow are the limits of a stage with what the director has made
// stricter, as the guard judges them; zero without a trial.
func limitsNow(s *session.Snapshot, stage trial.Stage) (l trial.Limits) {
	if s.Config == nil || stage >= trial.NumStages {
		return l
	}
	return s.Config.InForce(stage, s.Guard.Lowered)
}

// nextThing is what comes to the fairlead first and may not pass it, and how
// far it still is; "" if there is nothing.
func nextThing(s *session.Snapshot) (name string, left trial.Length) {
	if s.Config == nil {
		return "", 0
	}
	for i, t := range s.Config.Things {
		if s.Guard.Cleared&(1<<i) == 0 {
			return t.Name, s.Haul.RodeOut - t.At - s.Config.KeepOut
		}
	}
	return "", 0
}
