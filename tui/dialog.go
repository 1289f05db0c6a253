package tui

import (
	"strings"
	"time"
	"unicode/utf8"

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
	abandonDialog
	alarmsDialog
	moreDialog
	passDialog
	clearDialog
	whichLimitDialog
	lowerDialog
	cellOffDialog
	cellOnDialog
	// The list before arming, and what it asks.
	checkDialog
	zeroDialog
	weightDialog
	hornDialog
	slowDialog
	limitsDialog
	readyDialog
	correctDialog
	waiveDialog
	reasonDialog
	carriedDialog
	formDialog
	// Of a replay: what was said afterwards, and what is being written.
	afterDialog
	wordsDialog
)

// dialog is the open question. The zero value is none.
type dialog struct {
	kind   dialogKind
	opened time.Time
	stage  trial.Stage // the guard's stage when it was opened: the question is about that one
	into   trial.Stage // nextDialog, rearmDialog: where to
	hasTo  bool        // rearmDialog: into means something
	value  string      // the number, in unit; reasonDialog: the words
	unit   string
	typed  bool            // the person has begun a number or words of his own
	plan   bool            // value came from the trial, or from the rode out
	back   bool            // the list before arming opens again afterwards
	seat   safety.Who      // readyDialog, reasonDialog: whose word it is
	check  safety.Check    // reasonDialog: what is gone without
	limit  safety.LimitKey // lowerDialog
	thing  string          // clearDialog
	// dropped are the items of carriedDialog marked to be left behind, a bit
	// each.
	dropped uint16
	form    form  // formDialog
	words   words // afterDialog, wordsDialog
}

// aboutStage says whether the question loses its sense when a stop comes or
// the stage changes.
func (d dialog) aboutStage() bool {
	switch d.kind {
	case armDialog, nextDialog, stageDialog, rearmDialog, cellOffDialog, clearDialog:
		return true
	}
	return false
}

// number says whether the question is answered by a number.
func (d dialog) number() bool {
	switch d.kind {
	case depthDialog, outDialog, weightDialog, passDialog, lowerDialog:
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
		d.into = stageAhead(m.snap)
	case rearmDialog:
		d.into, d.hasTo = g.Stage, g.Stage != trial.Stopped && g.Stage != trial.Done
	case clearDialog:
		d.thing, _ = nextThing(m.snap)
	case formDialog:
		d.form = m.formOf()
	}
	m.dlg, m.helpPage = m.proposed(d), 0
	return m
}

// then opens a question that follows from the one in hand.
func (m model) then(from dialog, kind dialogKind) model {
	m = m.open(kind)
	m.dlg.back = from.back || from.kind == checkDialog
	return m
}

// digitActs says whether a digit is an act, not the way to another question.
func (d dialog) digitActs() bool {
	switch d.kind {
	case stageDialog, rearmDialog, markDialog, correctDialog:
		return true
	}
	return false
}

// confirmTime is how long a question must have stood before it is answered:
// one that permits hauling longer, since the key before may have been a y too.
func (d dialog) confirmTime() time.Duration {
	if d.kind == checkDialog {
		return armAfter
	}
	return confirmAfter
}

// answer takes a key for the open question. Whatever is not an answer closes
// it and does nothing else.
func (m model) answer(key string) model {
	d := m.dlg
	if d.kind == reasonDialog && m.aboveSlack() && utf8.RuneCountInString(key) == 1 && (d.typed || key < "0" || key > "9") {
		return m.say("the line may be loaded: the reasons of the list alone, by their digits")
	}
	if next, taken := d.edit(key); taken {
		m.dlg = next
		return m
	}
	digit, isDigit := -1, len(key) == 1 && key[0] >= '0' && key[0] <= '9'
	if isDigit {
		digit = int(key[0] - '0')
	}
	yes := key == "y" || key == "Y" || d.kind == reasonDialog && key == "enter"
	no := d.kind == carriedDialog && strings.EqualFold(key, "n") // an act as well
	if (yes || no || isDigit && d.digitActs()) && m.now().Sub(d.opened) < d.confirmTime() {
		return m // the same press, or one that was already on its way
	}
	m.dlg = dialog{}
	switch d.kind {
	case formDialog:
		if m.now().Sub(d.opened) < confirmAfter {
			m.dlg = d
			return m // the same press, or one that was already on its way
		}
		return m.fill(d, key)
	case afterDialog:
		return m.chooseWords(d, digit)
	case wordsDialog:
		return m.write(d, key)
	case checkDialog:
		return m.check(d, strings.ToLower(key), yes)
	case alarmsDialog:
		if intentOf(key, live) == acknowledge && m.player == nil && !m.snap.Ended {
			return m.act(session.Act{What: session.ActAck}).open(alarmsDialog)
		}
		return m
	case moreDialog:
		if next, ok := m.more(d, key); ok {
			return next
		}
	case carriedDialog:
		if yes || no {
			if next, ok := m.carry(d, yes); ok {
				return next.open(checkDialog)
			}
		}
	case readyDialog, waiveDialog, whichLimitDialog:
		if next, ok := m.choose(d, strings.ToLower(key), digit); ok {
			return next
		}
	}
	next, done := m.said(d, digit, yes)
	if d.back && !m.snap.Guard.Armed {
		next = next.open(checkDialog)
	}
	if !done {
		next = next.say("nothing done")
	}
	return next
}

// said hands over what a question was about, if the key says so.
func (m model) said(d dialog, digit int, yes bool) (next model, done bool) {
	with := func(what, value string) (model, bool) {
		return m.act(session.Act{What: what, Value: value}), true
	}
	into := func(what string, stage trial.Stage) (model, bool) {
		return m.act(session.Act{What: what, Stage: stage}), true
	}
	isStage := digit >= 0 && digit < int(trial.NumStages)
	switch {
	case d.kind == stageDialog && isStage:
		next, done := into(session.ActStage, trial.Stage(digit))
		return next.afterStage(trial.Stage(digit)), done
	case d.kind == rearmDialog && isStage:
		return into(session.ActRearm, trial.Stage(digit))
	case d.kind == markDialog && digit >= 0 && digit < len(marks):
		return with(session.ActMark, marks[digit])
	case d.kind == correctDialog && digit >= 1 && digit <= len(corrections):
		return with(session.ActCorrect, corrections[digit-1].value)
	case !yes || d.number() && d.value == "":
		return m, false
	}
	switch d.kind {
	case armDialog:
		return with(session.ActArm, "")
	case nextDialog:
		next, done := into(session.ActStage, d.into)
		return next.afterStage(d.into), done
	case rearmDialog:
		if d.hasTo {
			return into(session.ActRearm, d.into)
		}
	case depthDialog:
		return with(session.ActDepth, d.value+" "+d.unit)
	case outDialog:
		return with(session.ActPayout, d.value+" "+d.unit)
	case passDialog:
		return with(session.ActPass, d.value+" "+d.unit)
	case weightDialog:
		return with(session.ActWeight, d.value+" "+d.unit)
	case lowerDialog:
		return with(session.ActLower, strings.TrimSpace(d.limit.String()+" "+d.value+" "+d.unit))
	case leaveDialog:
		m.endAsked = true
		return with(session.ActEnd, "ended at the screen")
	case abandonDialog:
		return with(session.ActAbandon, "")
	case cellOffDialog:
		return with(session.ActCellOff, "")
	case cellOnDialog:
		return with(session.ActCellOn, "")
	case zeroDialog:
		return with(session.ActZero, "")
	case hornDialog:
		return with(session.ActHorn, "")
	case slowDialog:
		return with(session.ActAccept, "slow cell")
	case limitsDialog:
		return with(session.ActRead, "")
	case clearDialog:
		if d.thing != "" {
			return with(session.ActClear, d.thing)
		}
	case readyDialog:
		return m.actFor(d.seat, session.Act{What: session.ActReady, Value: readyWords[d.seat]}), true
	case reasonDialog:
		return m.reasoned(d)
	}
	return m, false
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
