package tui

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"hawse/acquire/session"
)

// What is said of a pull after it is over: an addendum beside the log, written at
// the screen of a replay. Nothing is loaded there, so words may be written, and
// the space bar writes a blank while they are.

// words are what is being written, one field after the other.
type words struct {
	kind   session.AddendumKind
	at     session.Here
	step   int
	fields [3]string
	going  bool // it was playing when the form was opened
}

// wordsAsk is one field of an addendum: what is asked, and what is wrong with what was
// written; "" nothing.
type wordsAsk struct {
	ask   string
	wrong func(string) error
}

// longestWords of a field, in runes.
const longestWords = 300

func someWords(what string) func(string) error {
	return func(s string) error {
		if strings.TrimSpace(s) == "" {
			return fmt.Errorf("%s", what)
		}
		return nil
	}
}

func isWeight(s string) error { _, err := session.ParseWeight(s); return err }
func isFactor(s string) error { _, err := session.ParseFactor(s); return err }
func isOffset(s string) error { _, err := session.ParseOffset(s); return err }
func anyWords(string) error   { return nil }

// wordsAsks are the fields of each kind.
var wordsAsks = map[session.AddendumKind][]wordsAsk{
	session.AddendumRemark: {{"What should a reader know?", someWords("a remark needs its words")}},
	session.AddendumDoubt:  {{"Why may this not be what it seems?", someWords("a doubt needs its words")}},
	session.AddendumWeight: {
		{`What hung on the cell afterwards? "25.0 kg" or "245 N"`, isWeight},
		{"What did the cell show for it, less its zero? With its unit", isWeight},
		{"In words, if there is more to say", anyWords},
	},
	session.AddendumCorrect: {
		{"Factor: tension is so many times the recorded; empty is 1", isFactor},
		{`And so much more: "12 N" or "-0.1 kN"; empty is none`, isOffset},
		{"Why?", someWords("a correction says why")},
	},
}

// wordsKinds in the order of the digits.
var wordsKinds = []session.AddendumKind{session.AddendumRemark, session.AddendumDoubt, session.AddendumWeight, session.AddendumCorrect}

// writing says whether words are being written.
func (m model) writing() bool {
	return m.player != nil && m.comment != nil && m.dlg.kind == wordsDialog
}

// hearComments takes what was said of the pull, and tells what came of the last
// word.
func (m model) hearComments() model {
	if m.comment == nil {
		return m
	}
	before := 0
	if m.heard != nil {
		before = m.heard.Count
	}
	m.heard = m.comment.Comments()
	if m.heard.Count > before && m.heard.Told != "" {
		text := m.heard.Told
		if len(m.heard.Failed) > 0 {
			text += "; r, then 9 tries again"
		}
		m = m.say(text)
	}
	if len(m.heard.Failed) == 0 && m.heard.Pending == 0 {
		m.leaving = false
	}
	return m
}

// unkept says what would be lost by leaving; "" nothing.
func (m model) unkept() string {
	if m.heard == nil {
		return ""
	}
	if n := len(m.heard.Failed); n > 0 {
		return fmt.Sprintf("%d said afterwards not kept: %v; r, then 9 tries again; q again leaves, and prints it", n, m.heard.Failed[0].Err)
	}
	return ""
}

// askAfterwards opens the list of what was said, at the moment that is shown.
func (m model) askAfterwards() model {
	if m.comment == nil {
		return m.say("nothing can be said of this log here; 'hawse addendum LOG' can")
	}
	going := !m.player.Paused()
	m.player.SetPaused(true)
	m = m.open(afterDialog)
	m.dlg.words = words{at: m.comment.Here(), going: going}
	return m
}

// chooseWords takes a key of the list.
func (m model) chooseWords(d dialog, digit int) model {
	if digit == 9 && m.heard != nil && len(m.heard.Failed) > 0 {
		m.comment.Retry()
		return m.goOn(d).say("trying again")
	}
	if digit < 1 || digit > len(wordsKinds) {
		return m.goOn(d).say("nothing said")
	}
	w := d.words
	w.kind = wordsKinds[digit-1]
	if m.draft.kind == w.kind { // begun before: about the moment of then
		was := w.going
		w = m.draft
		w.going = was
	}
	m = m.open(wordsDialog)
	m.dlg.words = w
	return m
}

// goOn has the replay go on if it played before.
func (m model) goOn(d dialog) model {
	if d.words.going {
		m.player.SetPaused(false)
	}
	return m
}

// write takes a key of the words.
func (m model) write(d dialog, key string) model {
	w := d.words
	asks := wordsAsks[w.kind]
	field := &w.fields[w.step]
	r, n := utf8.DecodeRuneInString(key)
	switch {
	case key == "esc" || key == "ctrl+c":
		m.draft = w
		return m.goOn(d).say("not said yet; r and the same digit go on with it")
	case key == "backspace" && *field == "" && w.step > 0:
		w.step--
	case key == "backspace":
		_, last := utf8.DecodeLastRuneInString(*field)
		*field = (*field)[:len(*field)-last]
	case key == "enter":
		if err := asks[w.step].wrong(strings.TrimSpace(*field)); err != nil {
			m.dlg = d
			return m.say(err.Error())
		}
		if w.step++; w.step == len(asks) {
			m.draft = words{}
			m.comment.Comment(w.at, w.addendum())
			return m.goOn(d).say("being written")
		}
	case n == len(key) && r != utf8.RuneError && unicode.IsGraphic(r):
		if utf8.RuneCountInString(*field) < longestWords {
			*field += key
		}
	}
	d.words = w
	m.dlg = d
	return m
}

// addendum is what was written; every field was found good before.
func (w words) addendum() session.Addendum {
	f := func(i int) string { return strings.TrimSpace(w.fields[i]) }
	a := session.Addendum{Kind: w.kind, Text: f(len(wordsAsks[w.kind]) - 1)}
	switch w.kind {
	case session.AddendumWeight:
		a.Weight, _ = session.ParseWeight(f(0))
		a.Shown, _ = session.ParseWeight(f(1))
	case session.AddendumCorrect:
		a.Factor, _ = session.ParseFactor(f(0))
		a.Offset, _ = session.ParseOffset(f(1))
	}
	return a
}

// momentText is the moment that something is said of.
func momentText(at session.Here, u units) string {
	text := fmt.Sprintf("Of %s, record %d", logClock(at.At), at.N)
	if at.HasX {
		text += ", " + u.metresUnit(at.X) + " hauled"
	}
	return text + "."
}

// afterLines is the list of what was said, newest first.
func (m model) afterLines() (title string, body, choices []string) {
	u := unitsOf(m.snap)
	title = "Said afterwards: nothing yet"
	if m.heard != nil && len(m.heard.List)+len(m.heard.Faults) > 0 {
		title = "Said afterwards: " + countText(len(m.heard.List))
	}
	body = []string{momentText(m.dlg.words.at, u) + " The log itself is never changed."}
	if m.heard != nil {
		for _, f := range m.heard.Faults {
			body = append(body, "! "+f)
		}
		for i := range m.heard.List {
			if i == 4 {
				body = append(body, "'hawse addendum' lists the others")
				break
			}
			body = append(body, "– "+commentText(&m.heard.List[len(m.heard.List)-1-i], u))
		}
	}
	for i, k := range wordsKinds {
		choices = append(choices, fmt.Sprintf("%d a %s", i+1, strings.ToLower(wordsTitles[k])))
	}
	if m.heard != nil && len(m.heard.Failed) > 0 {
		choices = append(choices, "9 try again what was not kept")
	}
	return title, body, choices
}

// commentText is one addendum as a line.
func commentText(c *session.Commented, u units) string {
	text := ""
	if c.HasAt {
		text = logClock(c.At) + " "
	}
	if c.About.HasX {
		text += u.metresUnit(c.About.X) + " "
	}
	text += string(c.Kind)
	switch c.Kind {
	case session.AddendumWeight:
		text += fmt.Sprintf(": the cell showed %+.2f %%", 100*c.Off())
	case session.AddendumCorrect:
		text += fmt.Sprintf(": %.6g times and %s", c.Factor, u.tensionUnit(c.Offset))
	}
	if c.Text != "" {
		text += ": " + c.Text
	}
	text += " (" + c.Name + ", " + c.Who + ")"
	if !c.Whole || !c.Matches {
		text += ", NOT applied"
	}
	return text
}

var wordsTitles = map[session.AddendumKind]string{session.AddendumRemark: "Remark", session.AddendumDoubt: "Doubt",
	session.AddendumWeight: "Known weight", session.AddendumCorrect: "Correction"}

// wordsLines is a field being written. What was written comes first: it must be
// seen.
func (m model) wordsLines() (title string, body, choices []string) {
	w := m.dlg.words
	asks := wordsAsks[w.kind]
	title = wordsTitles[w.kind]
	if len(asks) > 1 {
		title += fmt.Sprintf(", %d of %d", w.step+1, len(asks))
	}
	written := []rune(w.fields[w.step])
	if most := max(m.w-8, 20); len(written) > most {
		written = append([]rune{'…'}, written[len(written)-most:]...)
	}
	return title, []string{"» " + string(written) + "_", asks[w.step].ask, momentText(w.at, unitsOf(m.snap))}, nil
}

// drawComments puts a hollow wedge below the marks for each moment that something
// was said of.
func (p plot) drawComments(c *canvas, said *session.Comments) {
	if said == nil {
		return
	}
	for i := range said.List {
		k := &said.List[i]
		at := math.NaN()
		switch {
		case p.byTime && k.HasAt:
			at = float64(k.At)
		case !p.byTime && k.About.HasX:
			at = float64(k.About.X)
		}
		if x, ok := p.dotX(at); ok && !math.IsNaN(at) {
			c.put(p.area.x+x/2, p.area.y+min(1, p.area.h-1), '▽', strong)
		}
	}
}

// markLine is a line of the list of marks: one of the record, or what was said
// afterwards.
type markLine struct {
	t    int64
	x    float64
	text string
}

// markLines are the marks and what was said of moments afterwards, newest first.
func (m model) markLines() (list []markLine) {
	for _, k := range slices.Backward(m.snap.Marks) {
		list = append(list, markLine{k.T, float64(k.X), k.Text})
	}
	if m.heard == nil {
		return list
	}
	for i := range m.heard.List {
		c := &m.heard.List[len(m.heard.List)-1-i]
		if !c.HasAt {
			continue
		}
		x := math.NaN()
		if c.About.HasX {
			x = float64(c.About.X)
		}
		at := len(list)
		for j, l := range list {
			if c.At >= l.t {
				at = j
				break
			}
		}
		list = append(list[:at:at], append([]markLine{{c.At, x, "▽ said afterwards, " + string(c.Kind) + ": " + c.Text}}, list[at:]...)...)
	}
	return list
}
