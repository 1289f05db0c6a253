package tui

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// dialogKind is a question on the screen. STOP never reaches one: its key is
// looked up first.
type dialogKind uint8

const (
	noDialog dialogKind = iota
	armDialog
	nextDialog
	stageDialog
	rearmDialog
	depthDialog
	outDialog
	markDialog
	leaveDialog
)

// dialog is the open question. The zero value is none.
type dialog struct {
	kind   dialogKind
	opened time.Time
	stage  trial.Stage // the guard's stage when it was opened: the question is about that one
	into   trial.Stage // nextDialog, rearmDialog: where to
	hasTo  bool        // rearmDialog: into means something
	value  string      // depthDialog, outDialog: the number, in the crew's unit
	unit   string
	typed  bool // the person has begun a number of his own
	plan   bool // value came from the trial
}

// aboutStage says whether the question loses its sense when a stop comes or
// the stage changes.
func (d dialog) aboutStage() bool {
	switch d.kind {
	case armDialog, nextDialog, stageDialog, rearmDialog:
		return true
	}
	return false
}

// marks are what a crew notes most, one digit each. The list is common
// practice, no source.
var marks = []string{
	"doubt: do not trust this bit",
	"anchor on bottom",
	"line taut",
	"rode mark passing",
	"thruster or engine change",
	"wake or swell",
	"line jumps on the drum",
	"people move",
	"felt or heard",
	"vessel moves",
}

// open asks a question about the present state.
func (m model) open(kind dialogKind) model {
	g := &m.snap.Guard
	d := dialog{kind: kind, opened: m.now(), stage: g.Stage}
	switch kind {
	case nextDialog:
		d.into = g.Stage.Next()
	case rearmDialog:
		d.into, d.hasTo = g.Stage, g.Stage != trial.Stopped && g.Stage != trial.Done
	case depthDialog, outDialog:
		u := unitsOf(m.snap)
		d.unit = u.length.Name
		if v := m.planned(kind); v > 0 {
			d.value, d.plan = strconv.FormatFloat(u.length.In(v), 'f', -1, 64), true
			if short := fixed(u.length.In(v), 3); len(short) < len(d.value) {
				d.value = short
			}
		}
	}
	m.dlg, m.helpPage = d, 0
	return m
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

// answer takes a key for the open question. Whatever is not an answer closes
// it and does nothing else.
func (m model) answer(key string) model {
	d := m.dlg
	if d.kind == depthDialog || d.kind == outDialog {
		if next, taken := d.edit(key); taken {
			m.dlg = next
			return m
		}
	}
	digit, isDigit := -1, len(key) == 1 && key[0] >= '0' && key[0] <= '9'
	if isDigit {
		digit = int(key[0] - '0')
	}
	yes := key == "y" || key == "Y"
	if (yes || isDigit) && m.now().Sub(d.opened) < confirmAfter {
		return m // the same press, or one that was already on its way
	}
	m.dlg = dialog{}
	switch {
	case d.kind == armDialog && yes:
		return m.act(session.Act{What: session.ActArm})
	case d.kind == nextDialog && yes:
		return m.act(session.Act{What: session.ActStage, Stage: d.into})
	case d.kind == stageDialog && isDigit && digit < int(trial.NumStages):
		return m.act(session.Act{What: session.ActStage, Stage: trial.Stage(digit)})
	case d.kind == rearmDialog && yes && d.hasTo:
		return m.act(session.Act{What: session.ActRearm, Stage: d.into})
	case d.kind == rearmDialog && isDigit && digit < int(trial.NumStages):
		return m.act(session.Act{What: session.ActRearm, Stage: trial.Stage(digit)})
	case d.kind == depthDialog && yes && d.value != "":
		return m.act(session.Act{What: session.ActDepth, Value: d.value + " " + d.unit})
	case d.kind == outDialog && yes && d.value != "":
		return m.act(session.Act{What: session.ActPayout, Value: d.value + " " + d.unit})
	case d.kind == markDialog && isDigit && digit < len(marks):
		return m.act(session.Act{What: session.ActMark, Value: marks[digit]})
	case d.kind == leaveDialog && yes:
		m.endAsked = true
		return m.act(session.Act{What: session.ActEnd, Value: "ended at the screen"})
	}
	return m.say("nothing done")
}

// edit takes a key that writes the number. The first one replaces the value
// of the plan.
func (d dialog) edit(key string) (dialog, bool) {
	switch {
	case key == "backspace":
		d.typed, d.plan = true, false
		if d.value != "" {
			d.value = d.value[:len(d.value)-1]
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

// lines is the question in words, and the choices that go with it.
func (d dialog) lines(s *session.Snapshot) (title string, body, choices []string) {
	switch d.kind {
	case armDialog:
		return "Arm?", []string{
			"Hauling is then permitted in every stage that hauls, until a stop.",
			"The three have said ready, and why. " + armWarning,
			"y arms.",
		}, nil
	case nextDialog:
		body = []string{"It is " + d.stage.String() + " now. y says it."}
		if d.into.Hauls() {
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
	case depthDialog, outDialog:
		what := "Water depth"
		if d.kind == outDialog {
			what = "Rode out beyond the fairlead"
		}
		value := d.value
		if value == "" {
			value = "_"
		}
		body = []string{"y says it; digits and . write another number."}
		switch {
		case d.plan:
			body[0] += " This one is the plan's."
		case !d.typed:
			body[0] = "The trial has no number for it: write one, then y."
		}
		if d.kind == outDialog {
			body = append(body, "Line hauled counts from here.")
		}
		return fmt.Sprintf("%s now: %s %s", what, value, d.unit), body, nil
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
	}
	return "", nil, nil
}

const armWarning = "Nobody near the rode."

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

// orderWord is the order to show big, empty for none.
func orderWord(s *session.Snapshot) string {
	switch s.Guard.Order {
	case safety.NoOrder:
		return ""
	case safety.OrderEase:
		return "EASE"
	case safety.OrderAbandon:
		return "ABANDON"
	}
	return "STOP"
}
