package deck

import (
	"regexp"
	"slices"
	"strings"

	"hawse/trial"
)

// Setting is one line of a script's [trial] section: where the trial file that
// goes with it differs from the template.
type Setting struct {
	Line       int    // in the script
	Table, Key string // Table is "" for a key before the first table
	Value      string // as it stands in the file
}

var settingForm = regexp.MustCompile(`^(?:([a-z_]+(?:\.[a-z_]+)*)\.)?([a-z_]+)\s*=\s*(\S.*)$`)

// setting reads one line of [trial].
func (p *parser) setting(line int, text string) {
	if text == "" || text[0] == '#' {
		return
	}
	m := settingForm.FindStringSubmatch(text)
	if m == nil {
		p.fail(line, "it is no setting of the trial file", `write it as: load.rate = "2 Hz"`)
		return
	}
	if err := checkText(m[3]); err != nil {
		p.fail(line, err.Error(), "write plain text")
		return
	}
	p.s.Trial = append(p.s.Trial, Setting{line, m[1], m[2], m[3]})
}

// TrialFile is the text of the trial file that goes with the scenario: the
// template, with what [trial] says otherwise. Whether it is a good trial file is
// for trial.ParseTrial to say.
func (s *Scenario) TrialFile() string {
	e := &edit{strings.SplitAfter(trial.Template(), "\n")}
	s.ofBoxes(e)
	for _, set := range s.Trial {
		if set.Table == "load" && (set.Key == "line" || set.Key == "over") && s.wiring.ownPattern() {
			continue // of a box that sends lines
		}
		e.lines = set.put(e.lines)
	}
	return strings.Join(e.lines, "")
}

// TrialFileOn is TrialFile for ports in another folder than ./deck: where that is
// seen from the trial file, as "./other", or whole.
func (s *Scenario) TrialFileOn(dir string) string {
	return strings.ReplaceAll(s.TrialFile(), `"./deck/`, `"`+dir+"/")
}

// put sets the key in its table, and adds what is not there.
func (set Setting) put(lines []string) []string {
	text := set.Key + " = " + set.Value + "\n"
	table := ""
	at := 0 // where a key that is not there goes: the table's first line
	found := set.Table == ""
	for i, l := range lines {
		l = strings.TrimSpace(l)
		if strings.HasPrefix(l, "[") {
			head, _, _ := strings.Cut(l, "#")
			table = strings.Trim(strings.TrimSpace(head), "[]")
			if table == set.Table && !found {
				found, at = true, i+1
			}
			continue
		}
		key, _, ok := strings.Cut(l, "=")
		if ok && table == set.Table && strings.TrimSpace(key) == set.Key {
			lines[i] = text
			return lines
		}
	}
	if !found {
		return append(lines, "\n["+set.Table+"]\n", text)
	}
	return slices.Insert(lines, at, text)
}
