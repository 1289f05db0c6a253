package tui

import (
	"fmt"
	"strings"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// form is what is asked when the anchor is up: what it came up with, and whether
// it can be pulled again. Answers are digits: hands are wet, and nothing is typed
// over a loaded line. What comes of it is one mark in the record.
type form struct {
	at      int
	answers [formSteps]string
	number  string // being typed
}

const formSteps = 8

// question is one of the form's. One without choices is answered by a number;
// none is what stands for no answer.
type question struct {
	word    string // in the record
	ask     string
	choices []string
	unit    string
	none    string
}

// What is looked at on an anchor that has come up. The lists are common
// practice, no source.
var questions = [formSteps]question{
	{word: "flukes", ask: "How did the flukes come up?", choices: []string{"clean", "partly clogged", "clogged"}},
	{word: "soil sat on", ask: "Where was the soil?", choices: []string{"nowhere", "the flukes", "shank and crown", "the chain", "all of it"}},
	{word: "soil", ask: "What soil was on the flukes?", choices: []string{"none", "soft mud", "stiff clay", "sand", "gravel or shell", "weed", "stones"}},
	{word: "damage", ask: "What damage is seen?", choices: []string{"none seen", "fluke bent", "shank bent", "shackle or swivel", "coating alone", "another: put it in a remark"}},
	{word: "fluke angle", ask: "Fluke angle as measured, in degrees", unit: "deg", none: "not measured"},
	{word: "photo", ask: "Number of the photo", none: "none"},
	{word: "fit for another pull", ask: "Is it fit for another pull?", choices: []string{"as it is", "once cleaned", "no"}},
	{word: "zero after", ask: "Is the load cell free, and what does it show?", choices: []string{"not looked at"}},
}

// formMark begins the mark that a form becomes.
const formMark = "anchor up: "

// text is the form as it stands in the record.
func (f form) text() string {
	var parts []string
	for i, q := range questions {
		parts = append(parts, q.word+" "+f.answers[i])
	}
	return formMark + strings.Join(parts, "; ")
}

// formDone says whether the form of this pull is in the record.
func (m model) formDone() bool {
	for _, k := range m.marks.marks {
		if strings.HasPrefix(k.text, formMark) {
			return true
		}
	}
	return false
}

// questionOf is the question in hand, with its choices. What the cell shows is one, as
// long as it shows anything.
func (m model) questionOf(f form) question {
	q := questions[f.at]
	if q.word == "zero after" && !m.blank() {
		q.choices = append([]string{unitsOf(m.snap).tensionUnit(m.snap.Tension.Now) + ", hanging free"}, q.choices...)
	}
	return q
}

// fill takes a key of the form. done: it is complete, or left.
func (m model) fill(d dialog, key string) (next model, done bool) {
	f := d.form
	if f.at == formSteps { // shown whole, to be confirmed
		if key == "y" || key == "Y" {
			return m.act(session.Act{What: session.ActMark, Value: f.text()}), true
		}
		return m.say("not put into the record; x, then 8, asks again"), true
	}
	q := m.questionOf(f)
	answer := ""
	digit := len(key) == 1 && key[0] >= '0' && key[0] <= '9'
	switch {
	case key == "backspace" && f.number != "":
		f.number = f.number[:len(f.number)-1]
	case key == "backspace" && f.at > 0:
		f.at--
		f.number = ""
	case key == "backspace":
	case len(q.choices) > 0 && digit && key[0] >= '1' && int(key[0]-'1') < len(q.choices):
		answer = q.choices[key[0]-'1']
	case len(q.choices) > 0 && digit:
	case len(q.choices) == 0 && digit:
		if len(f.number) < 6 {
			f.number += key
		}
	case len(q.choices) == 0 && key == ".":
		if q.unit != "" && len(f.number) < 5 && !strings.Contains(f.number, ".") {
			f.number += key
		}
	case len(q.choices) == 0 && (key == "y" || key == "Y" || key == "enter"):
		answer = q.none
		if n := strings.Trim(f.number, "."); n != "" {
			answer = strings.TrimSpace(n + " " + q.unit)
		}
	default:
		return m.say("the form is left; x, then 8, asks again"), true
	}
	if answer != "" {
		f.answers[f.at] = answer
		f.at++
		f.number = ""
	}
	d.form, d.opened = f, m.now()
	m.dlg = d
	return m, false
}

// formLines is the form as a question.
func (m model) formLines() (title string, body, choices []string) {
	f := m.dlg.form
	if f.at == formSteps {
		body = []string{"y puts it into the record."}
		for i, q := range questions {
			choices = append(choices, q.word+": "+f.answers[i])
		}
		return "The anchor is up", body, choices
	}
	q := m.questionOf(f)
	title = fmt.Sprintf("The anchor is up, %d of %d", f.at+1, formSteps)
	body = []string{q.ask}
	if len(q.choices) == 0 {
		body = append(body, "> "+f.number+"_ "+q.unit, "y says it; y alone: "+q.none)
	}
	for i, c := range q.choices {
		choices = append(choices, fmt.Sprintf("%d %s", i+1, c))
	}
	return title, body, choices
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
