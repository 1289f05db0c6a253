package tui

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// form is what is asked when the anchor is up: what it came up with, and whether
// it can be pulled again. Answers are digits: hands are wet. Words come last, and
// only over a slack line. What is filled in stays when the form is left, or a STOP
// closes it: the next time it goes on from there. Once it is in the record, it
// opens with what stands there, to be changed or taken back.
type form struct {
	at    int // in the questions that are asked
	said  trial.CameUp
	was   trial.CameUp // in the record, when it was begun
	typed string       // a number, or words, being written
}

// question is one of the form's.
type question uint8

const (
	askFlukes question = iota
	askSoilAt
	askSoil
	askDamage
	askAngle
	askPhoto
	askFit
	askZero
	askRemark
	askAll // shown whole, to be confirmed
)

// listOf are the questions that are answered from a list.
var listOf = map[question]*trial.CameUpList{
	askFlukes: &trial.CameUpLists[0], askSoilAt: &trial.CameUpLists[1], askSoil: &trial.CameUpLists[2],
	askDamage: &trial.CameUpLists[3], askFit: &trial.CameUpLists[4],
}

var asks = map[question]string{
	askFlukes: "How did the flukes come up?", askSoilAt: "Where did the soil sit?", askSoil: "What soil was on the flukes?",
	askDamage: "What damage is seen?", askAngle: "Fluke angle as measured, in degrees", askPhoto: "Number of the photo",
	askFit: "Is it fit for another pull?", askZero: "Nothing pulls on the load cell: what does it show?", askRemark: "What else is to be said?",
}

// questions are those that are asked: clean flukes carry no soil, and nobody
// writes words at a screen over a line that may be loaded.
func (m model) questions(f form) (out []question) {
	for q := askFlukes; q <= askAll; q++ {
		clean := f.said.Flukes == "clean" && (q == askSoilAt || q == askSoil)
		if !clean && !(q == askRemark && m.aboveSlack() && f.said.Remark == "") {
			out = append(out, q)
		}
	}
	return out
}

func (m model) questionOf(f form) question {
	all := m.questions(f)
	return all[min(f.at, len(all)-1)]
}

// formOf is the form as it is opened: where it was left, or with what stands in
// the record.
func (m model) formOf() form {
	if m.half == (form{}) && m.formDone() {
		return form{said: *m.snap.CameUp, was: *m.snap.CameUp}
	}
	return m.half
}

// formDone says whether the form of this pull is in the record.
func (m model) formDone() bool { return m.snap.CameUp != nil }

// fill takes a key of the form. A key that is no answer does nothing: a glove
// presses many.
func (m model) fill(d dialog, key string) model {
	f, q := d.form, m.questionOf(d.form)
	if key == "esc" {
		m.half = f
		return m.say("the form is left as it is; x, then 8, goes on with it")
	}
	digit := -1
	if len(key) == 1 && key[0] >= '0' && key[0] <= '9' {
		digit = int(key[0] - '0')
	}
	yes := key == "enter" || (key == "y" || key == "Y") && q != askRemark
	next := false
	switch list := listOf[q]; {
	case key == "backspace" && f.typed != "":
		_, n := utf8.DecodeLastRuneInString(f.typed)
		f.typed = f.typed[:len(f.typed)-n]
	case key == "backspace":
		f.at = max(f.at-1, 0)
	case list != nil && digit == 0:
		list.Set(&f.said, "")
		next = true
	case list != nil && digit > 0 && digit <= len(list.Words):
		before := f.said.Flukes
		list.Set(&f.said, list.Words[digit-1].Word)
		switch clean := f.said.Flukes == "clean"; {
		case clean:
			f.said.SoilAt, f.said.Soil = "nowhere", "none"
		case before == "clean": // that went without saying, and nobody has said it
			f.said.SoilAt, f.said.Soil = "", ""
		}
		next = true
	case list != nil && yes && list.Word(&f.said) != "": // as said
		next = true
	case list != nil:
	case q == askAngle:
		if next = yes; yes && f.typed != "" {
			if f.said.Angle, next = angleOf(f.typed); !next {
				return m.hold(d, d.form).say("a fluke angle is above 0 and at most 90 degrees; " + f.typed + " is not")
			}
		}
		if yes {
			break
		}
		f.typed = typeNumber(f.typed, key, digit, true)
	case q == askPhoto:
		if next = yes; yes && f.typed != "" {
			f.said.Photo = strings.TrimLeft(f.typed, "0")
		}
		if yes {
			break
		}
		f.typed = typeNumber(f.typed, key, digit, false)
	case q == askZero && digit == 0:
		f.said.Zero, f.said.Zeroed, next = 0, false, true
	case q == askZero && yes && f.said.Zeroed:
		next = true
	case q == askZero && digit == 1 && !m.blank():
		f.said.Zero, f.said.Zeroed, next = cellShows(m.snap), true, true
	case q == askRemark:
		switch next = yes; {
		case yes && f.typed == "0" && f.said.Remark != "":
			f.said.Remark = ""
		case yes && f.typed != "":
			f.said.Remark = strings.TrimSpace(f.typed)
		}
		if yes {
			break
		}
		if m.aboveSlack() {
			return m.hold(d, f).say("the line may be loaded: no words now; ENTER goes on, an addendum can be written later")
		}
		f.typed = typeWords(f.typed, key)
	case q == askAll && yes:
		say := f.was.To(f.said)
		if say == (trial.CameUp{}) {
			none := "nothing is answered"
			if f.was != (trial.CameUp{}) {
				none = "nothing is other than in the record"
			}
			return m.hold(d, f).say(none + ": backspace goes back, ESC leaves it for later")
		}
		m.half = form{}
		return m.act(session.Act{What: session.ActCameUp, Value: say.Typed()})
	}
	if next {
		f.at, f.typed = f.at+1, ""
	}
	return m.hold(d, f)
}

// hold leaves the form open, as it is now.
func (m model) hold(d dialog, f form) model {
	if f.at != d.form.at {
		d.opened = m.now() // the same press is no answer to the next one
	}
	d.form, m.half = f, f
	m.dlg = d
	return m
}

// angleOf reads an angle in degrees; 0 is none measured.
func angleOf(typed string) (trial.Angle, bool) {
	typed = strings.Trim(typed, ".")
	if strings.Trim(typed, "0.") == "" {
		return 0, true
	}
	c, err := trial.ParseCameUp("angle=" + typed + " deg")
	return c.Angle, err == nil
}

func typeNumber(typed, key string, digit int, point bool) string {
	if digit >= 0 && len(typed) < 6 || point && key == "." && len(typed) < 5 && !strings.Contains(typed, ".") {
		return typed + key
	}
	return typed
}

// typeWords takes a key of words. The space bar is STOP here as everywhere, so
// TAB writes the blank.
func typeWords(typed, key string) string {
	if key == "tab" || key == "_" {
		key = " "
	}
	r, n := utf8.DecodeRuneInString(key)
	if n != len(key) || r == utf8.RuneError || !unicode.IsGraphic(r) || utf8.RuneCountInString(typed) >= longestReason || r == ' ' && typed == "" {
		return typed
	}
	return typed + key
}

// formLines is the form as a question.
func (m model) formLines() (title string, body, choices []string) {
	f := m.dlg.form
	q, n := m.questionOf(f), len(m.questions(f))-1
	if q == askAll {
		puts := "y puts it into the record."
		if f.was != (trial.CameUp{}) {
			puts = "y puts what is other than in the record into it."
		}
		return "The anchor is up: is this right?", []string{puts}, m.formAnswers(f)
	}
	title, body = fmt.Sprintf("The anchor is up, %d of %d", min(f.at, n-1)+1, n), []string{asks[q]}
	was := ""
	if list := listOf[q]; list != nil {
		for i, w := range list.Words {
			choices = append(choices, fmt.Sprintf("%d %s", i+1, w.Text))
		}
		choices = append(choices, "0 not looked at")
		was = list.Of(&f.said)
	}
	switch q {
	case askAngle:
		was = f.said.AngleText()
		body = append(body, "» "+f.typed+"_ deg", "y says it; "+alone("y", was, "not measured"))
	case askPhoto:
		was = f.said.Photo
		body = append(body, "» "+f.typed+"_", "y says it; "+alone("y", was, "no photo"))
	case askZero:
		if m.blank() {
			body = append(body, "The cell tells nothing now.")
		} else {
			if m.aboveSlack() {
				body = append(body, "It shows more than a slack rode: take the rode off it first.")
			}
			choices = append(choices, "1 "+unitsOf(m.snap).tensionUnit(cellShows(m.snap))+", hanging free")
		}
		choices = append(choices, "0 not looked at")
		if f.said.Zeroed {
			was = unitsOf(m.snap).tensionUnit(f.said.Zero)
		}
	case askRemark:
		was = f.said.Remark
		body = append(body, "» "+f.typed+"_", "ENTER says it; "+alone("ENTER", was, "goes on")+". TAB writes a blank (SPACE is STOP).")
	}
	if was != "" {
		body[0] += " Said: " + was + "."
	}
	return title, body, choices
}

// alone is what a key says where nothing is typed.
func alone(key, was, none string) string {
	if was != "" {
		return key + " alone: as said; 0 takes it back"
	}
	if none == "goes on" {
		return key + " alone goes on"
	}
	return key + " alone: " + none
}

// formAnswers are all answers, a line each.
func (m model) formAnswers(f form) (out []string) {
	add := func(name, answer, none string) {
		if answer == "" {
			answer = none
		}
		out = append(out, name+": "+answer)
	}
	const not = "not looked at"
	for q := askFlukes; q < askAll; q++ {
		switch list := listOf[q]; {
		case list != nil:
			add(list.Name, list.Of(&f.said), not)
		case q == askAngle:
			add("fluke angle", f.said.AngleText(), "not measured")
		case q == askPhoto:
			add("photo", f.said.Photo, "none")
		case q == askZero && f.said.Zeroed:
			add("cell free", unitsOf(m.snap).tensionUnit(f.said.Zero), "")
		case q == askZero:
			add("cell free", "", not)
		case q == askRemark && f.said.Remark != "":
			add("remark", f.said.Remark, "")
		}
	}
	return out
}

// formKeys are the keys of the form.
func (m model) formKeys() string {
	f := m.dlg.form
	switch q := m.questionOf(f); {
	case q == askAll:
		return "y puts it in   BKSP back"
	case listOf[q] != nil && listOf[q].Word(&f.said) != "" || q == askZero && f.said.Zeroed:
		return "a digit, y as said   BKSP back"
	case q == askRemark:
		return "ENTER says it   TAB blank"
	case listOf[q] == nil && q != askZero:
		return "digits, y   BKSP back"
	}
	return "a digit   BKSP back"
}

// aboveSlack says whether the line may be loaded more than a slack rode is: then
// nobody writes words at a screen. An unknown tension is.
func (m model) aboveSlack() bool {
	if c := m.snap.Config; c != nil && c.Slack > 0 && !m.blank() {
		return !(m.snap.Tension.Big <= c.Slack)
	}
	return m.loaded()
}

// afterStage asks for what belongs to a stage that was just said.
func (m model) afterStage(to trial.Stage) model {
	if to == trial.Done && !m.formDone() && m.seat != safety.Watcher {
		return m.open(formDialog)
	}
	return m
}

// cellShows is what the load cell shows, less its zero. Of a pin in the roller that is
// what it feels, not the tension that is worked out from it.
func cellShows(s *session.Snapshot) trial.Force {
	if p := s.Tension.Pin; p != nil && !math.IsNaN(float64(p.Felt)) {
		return p.Felt
	}
	return s.Tension.Now
}
