package tui

import (
	"fmt"
	"strings"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

const (
	armWarning   = "Nobody near the rode."
	loadsAreKept = "The load cell's numbers change with it; what was recorded stays."
)

// lines is the question in words, and the choices that go with it.
func (m model) lines() (title string, body, choices []string) {
	d, s := m.dlg, m.snap
	switch d.kind {
	case formDialog:
		return m.formLines()
	case afterDialog:
		return m.afterLines()
	case wordsDialog:
		return m.wordsLines()
	case armDialog:
		return "Arm?", []string{
			"Hauling is then permitted in every stage that hauls, until a stop.",
			"The three have said ready, and why. " + armWarning,
			"y arms.",
		}, nil
	case nextDialog:
		body = []string{"It is " + d.stage.String() + " now. y says it."}
		switch {
		case d.into.Hauls() && !s.Guard.Armed:
			body = append(body, "Not armed: nothing is hauled in it before a, the list, and y.")
		case d.into.Hauls():
			body = append(body, "This stage hauls. "+armWarning)
		}
		return "Next stage: " + strings.ToUpper(d.into.String()) + "?", body, nil
	case stageDialog:
		return "Which stage is it now? A digit says it", nil, stageChoices()
	case rearmDialog:
		title = "Re-arm, into another stage?"
		first := "A digit re-arms into that stage."
		if d.hasTo {
			title = "Re-arm, into " + strings.ToUpper(d.into.String()) + "?"
			first = "y re-arms into " + d.into.String() + ", a digit into another stage."
		}
		return title, []string{first, "The winch operator has repeated it aloud."}, stageChoices()
	case depthDialog, outDialog, weightDialog, passDialog, lowerDialog:
		return d.numberLines(s)
	case markDialog:
		choices = make([]string, len(marks))
		for i, t := range marks {
			choices[(i+len(marks)-1)%len(marks)] = fmt.Sprintf("%d %s", i, t)
		}
		return "Mark. A digit puts it into the record", nil, choices
	case leaveDialog:
		body = []string{"y ends the capture and seals the log; any other key stays."}
		if orderWord(s) != "" || !s.Tension.Known {
			body = append(body, "After that nothing is watched.")
		}
		return "Leave?", body, nil
	case abandonDialog:
		return "Say ABANDON?", []string{
			"The crew slips the rode by its own plan, with its own gear: nothing here lets anything go.",
			"y says ABANDON to the deck and stops the winch.",
		}, nil
	case clearDialog:
		if d.thing == "" {
			return "Taken in by hand", []string{"Nothing in the trial file is left that may not pass the fairlead."}, nil
		}
		return "Taken in by hand: " + d.thing + "?", []string{
			"y says that " + d.thing + " has been taken past the fairlead by hand. Hauling then counts to the next thing.",
		}, nil
	case cellOffDialog:
		return "Load cell out of the rode?", []string{
			"Only while the rode is slack. From then on tension is not measured: treat as loaded. Its alarms are suppressed by design.",
			"y says it is out.",
		}, nil
	case cellOnDialog:
		return "Load cell back in the rode?", []string{
			"y says it is back. Tension is told again once it has been zeroed (x, then 5).",
		}, nil
	case moreDialog:
		for _, c := range m.moreList() {
			choices = append(choices, c.key+" "+c.text)
		}
		return "More", nil, choices
	case whichLimitDialog:
		for i, l := range lowerable(s) {
			choices = append(choices, fmt.Sprintf("%d %s, now %s", i+1, l.name, l.now))
		}
		return "Which limit becomes stricter?", []string{"During a pull limits only become stricter, never laxer."}, choices
	}
	return d.checkLines(s)
}

// checkLines are the questions that the list before arming asks.
func (d dialog) checkLines(s *session.Snapshot) (title string, body, choices []string) {
	u := unitsOf(s)
	switch d.kind {
	case zeroDialog:
		reading := "The cell tells nothing now."
		if s.Tension.Known {
			reading = "The cell shows " + u.tensionUnit(cellShows(s)) + " now."
		}
		return "Zero the load cell?", []string{
			reading + " Nothing hangs on it, or the rode lies slack and still.",
			"y takes what it shows as zero.",
		}, nil
	case hornDialog:
		return "Horn and lamp?", []string{
			"y sounds them for a second. Everyone on deck hears or sees them; if not, a seat is not ready.",
		}, nil
	case slowDialog:
		return "Accept a slow load cell?", []string{
			"It sends fewer than 3 lines a second: peaks between them are missed, and a stop comes later.",
			"y: the director accepts it, in the record.",
		}, nil
	case readyDialog:
		who := seatName(d.seat)
		body = []string{"y: the " + who + " has said ready: " + readyWords[d.seat] + ".", "n: not ready, with the reason."}
		if checkState(s, readyCheck(d.seat)) == safety.CheckPassed {
			body[1] = "n takes the ready back, with the reason."
		}
		return "Is the " + who + " ready?", body, nil
	case correctDialog:
		body = []string{loadsAreKept + " Zero and known weight are then done again."}
		if f := weightFault(s); f != "" {
			body = append([]string{"The last one: " + f + "."}, body...)
		}
		if s.Correction != "" {
			body = append(body, "In force now: "+s.Correction+".")
		}
		for i, c := range corrections {
			choices = append(choices, fmt.Sprintf("%d %s", i+1, c.text))
		}
		return "Correct the load cell", body, choices
	case waiveDialog:
		for i, c := range waivable(s) {
			choices = append(choices, fmt.Sprintf("%d %s", i+1, checkName(c)))
		}
		return "Go without which check?", []string{"The director goes without it, for a reason that is in the record."}, choices
	case reasonDialog:
		return d.reasonLines()
	case carriedDialog:
		return d.carriedLines(s)
	}
	return "", nil, nil
}

func (d dialog) reasonLines() (title string, body, choices []string) {
	title = "Going without " + checkName(d.check) + ". Why?"
	if d.seat != safety.Nobody {
		title = "The " + seatName(d.seat) + " is not ready. Why?"
	}
	if !d.typed {
		for i, r := range reasonsFor(d) {
			choices = append(choices, fmt.Sprintf("%d %s", i+1, r))
		}
	}
	hint := "A digit takes one below, letters write another, TAB writes a blank (SPACE is STOP)."
	if d.value != "" {
		hint = "ENTER says it. TAB writes a blank (SPACE is STOP)."
	}
	return title, []string{"» " + d.value + "_", hint}, choices
}

func (d dialog) numberLines(s *session.Snapshot) (title string, body, choices []string) {
	u := unitsOf(s)
	value := d.value
	if value == "" {
		value = "_"
	}
	body = []string{"y says it; digits and . write another number."}
	what := "Water depth now"
	none := "The trial has no number for it: write one, then y."
	switch d.kind {
	case outDialog:
		what = "Rode out beyond the fairlead now"
		body = append(body, "Line hauled counts from here.")
	case passDialog:
		what, none = "Rode mark at the fairlead", "Write the number on the mark, then y."
		body = append(body, "Say it when the mark is at the fairlead: rode out is then taken from it.")
	case weightDialog:
		what, none = "Hangs on the cell", "Write what hangs on the cell, then y. u changes the unit."
		reading := "the cell tells nothing now"
		if s.Tension.Known {
			reading = "the cell shows " + u.tensionUnit(cellShows(s)) + " now"
		}
		body = append(body, "It hangs still; "+reading+". It must fit within 1 %.")
	case lowerDialog:
		none = "Write the new one, then y. It can only be stricter."
		for _, l := range lowerable(s) {
			if l.key == d.limit {
				what = "New " + l.name
				body = append(body, "Now: "+l.now+". It is never made laxer again in this run.")
			}
		}
	}
	switch {
	case d.plan && d.kind != passDialog:
		body[0] += " This one is the plan's."
	case !d.typed && !d.plan:
		body[0] = none
	}
	return strings.TrimSpace(fmt.Sprintf("%s: %s %s", what, value, d.unit)), body, nil
}

// seatName is the seat as the deck calls it.
func seatName(w safety.Who) string {
	if w == safety.Director {
		return "director"
	}
	return w.String()
}

func readyCheck(w safety.Who) safety.Check {
	switch w {
	case safety.Logger:
		return safety.ReadyLogger
	case safety.WinchOperator:
		return safety.ReadyWinch
	}
	return safety.ReadyDirector
}

func stageChoices() []string {
	c := make([]string, trial.NumStages)
	for i := range c {
		st := trial.Stage(i)
		c[i] = fmt.Sprintf("%d %s", i, st)
		if st.Hauls() {
			c[i] += " (hauls)"
		}
	}
	return c
}

// keyLine is what the keys do while a question is open, and what any other key
// does.
func (m model) keyLine() (keys, rest string) {
	d := m.dlg
	rest = "any other key: no"
	switch d.kind {
	case noDialog:
		return "", ""
	case stageDialog, markDialog, correctDialog, waiveDialog, whichLimitDialog:
		keys = "a digit says it"
	case rearmDialog:
		keys = "y or a digit"
	case depthDialog, outDialog, passDialog, lowerDialog:
		keys = "y says it"
	case weightDialog:
		keys = "y says it   u unit"
	case readyDialog:
		keys = "y ready   n not ready"
	case reasonDialog:
		keys, rest = "ENTER says it   TAB blank", "ESC: no"
	case moreDialog:
		keys = "a key of the list"
	case alarmsDialog:
		keys, rest = "k ack", "any other key: back"
		if m.player != nil {
			keys = ""
		}
	case checkDialog:
		keys, rest = "a key of the list   v go without", "any other key: back"
		if toDo(m.snap) == 0 {
			keys = "y arms   a key of the list"
		}
		if len(openCarried(m.snap)) > 0 {
			keys = "t taken over   a key of the list"
		}
		if checkState(m.snap, safety.CheckWeight) == safety.CheckFailed {
			keys += "   c correct"
		}
	case carriedDialog:
		keys = "y confirm   n drop all   1-9 change one"
	case formDialog:
		keys, rest = m.formKeys(), "ESC: later"
	case afterDialog:
		keys, rest = "a digit", "any other key: back"
	case wordsDialog:
		keys, rest = "ENTER says it", "ESC: later"
		if w := m.dlg.words; w.step+1 < len(wordsAsks[w.kind]) {
			keys = "ENTER on"
		}
	case limitsDialog:
		keys = "y they were read out"
	default:
		keys = "y yes"
	}
	return keys, rest
}
