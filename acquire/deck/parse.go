package deck

import (
	"cmp"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"hawse/trial"
)

// ParseScenario reads a script. Its error joins a [*ScriptError] for every
// line that is wrong, in order, twenty at most.
func ParseScenario(file string, text []byte) (*Scenario, error) {
	p := &parser{file: file, facts: map[string]int{}, sections: map[string]int{}, steps: map[string]int{}}
	p.s = &Scenario{
		Name: strings.TrimSuffix(filepath.Base(file), ".txt"), Text: slices.Clone(text),
		LoadHz: 10, LineHz: 10, Ramp: 300 * time.Millisecond, RunOn: 200 * time.Millisecond, Answer: time.Second,
		Window: 300 * time.Millisecond, Relax: 0.04, RelaxIn: 10 * time.Second, Run: "A1",
		wiring: newWiring(),
		box:    loadBox{unit: trial.ForceUnit{Name: "kgf", N: float64(kgf)}, top: 1000 * kgf},
	}
	_ = p.s.box.picture(defaultLoadLine) // a good one
	if len(text) > maxScript {
		return nil, &ScriptError{file, 1, fmt.Sprintf("the script has more than %d bytes", maxScript), "give a scenario script"}
	}
	line := 0
	for l := range strings.SplitSeq(string(text), "\n") {
		line++
		p.statement(line, strings.TrimSuffix(l, "\r"))
	}
	p.check(line)
	slices.SortStableFunc(p.errs, func(a, b *ScriptError) int { return cmp.Compare(a.Line, b.Line) })
	if len(p.errs) > maxScriptErrors {
		p.errs = p.errs[:maxScriptErrors]
	}
	if err := joined(p.errs); err != nil {
		return nil, err
	}
	return p.s, nil
}

const maxScriptErrors = 20

type parser struct {
	file     string
	s        *Scenario
	section  string
	sections map[string]int // section -> line it began at
	facts    map[string]int // fact -> line
	steps    map[string]int // name of a step -> line
	ahead    int            // line of the first "ahead"
	recRows  []row          // the recovery table as written
	pullRows []row
	rowTried bool           // a row of the tension table was meant
	said     map[string]int // statement of [model] -> line
	errs     []*ScriptError
}

// row is a row of a table with its line.
type row struct {
	line int
	point
}

func (p *parser) fail(line int, what, do string) {
	p.errs = append(p.errs, &ScriptError{p.file, line, what, do})
}

var sectionNames = []string{"facts", "trial", "tension", "model", "recovery", "faults", "winch", "crew"}

func (p *parser) statement(line int, text string) {
	if !utf8.ValidString(text) {
		p.fail(line, "the line is not UTF-8 text", "give a scenario script")
		return
	}
	if p.section == "trial" && !strings.HasPrefix(strings.TrimSpace(text), "[") {
		p.setting(line, strings.TrimSpace(text))
		return
	}
	toks, err := tokens(text)
	if err != nil {
		what, do, _ := strings.Cut(err.Error(), "; ")
		p.fail(line, what, do)
		return
	}
	if len(toks) == 0 {
		return
	}
	if first := toks[0].text; strings.HasPrefix(first, "[") && !toks[0].quoted {
		name := strings.TrimSuffix(strings.TrimPrefix(first, "["), "]")
		switch {
		case len(toks) > 1 || first != "["+name+"]" || !slices.Contains(sectionNames, name):
			p.fail(line, "unknown section "+quoted(first), "write one of ["+strings.Join(sectionNames, "], [")+"]")
			p.section = "unknown"
		case p.sections[name] != 0:
			p.fail(line, fmt.Sprintf("section [%s] began already on line %d", name, p.sections[name]), "put its statements together")
			p.section = name
		default:
			p.sections[name], p.section = line, name
		}
		return
	}
	switch p.section {
	case "facts":
		p.fact(line, text, toks)
	case "tension":
		p.tension(line, toks)
	case "model":
		p.modelLine(line, toks)
	case "recovery":
		if _, m, ok := p.choose(line, "statement", []string{"rode_out LENGTH FORCE"}, toks); ok {
			p.recRows = append(p.recRows, row{line, point{trial.Length(m.si[0]), trial.Force(m.si[1])}})
		}
	case "faults":
		p.fault(line, toks)
	case "winch":
		p.winch(line, toks)
	case "crew":
		p.crew(line, toks)
	case "":
		p.fail(line, "a statement before the first section", "begin with [facts]")
	}
}

// choose is the package's choose with its complaint filed.
func (p *parser) choose(line int, what string, patterns []string, toks []token) (string, match, bool) {
	pattern, m, wrong, do := choose(what, patterns, toks)
	if wrong == "" {
		return pattern, m, true
	}
	if a, b, both := strings.Cut(wrong, "; write "); both { // a quantity knows best what it wants
		wrong, do = a, "write "+b
	}
	p.fail(line, wrong, do)
	return "", match{}, false
}

func step(line int, verb string, m match) Step {
	s := Step{Line: line, Verb: verb, Args: m.args}
	if len(m.si) > 0 {
		s.SI = m.si[0]
	}
	return s
}

func (p *parser) winch(line int, toks []token) {
	_, m, ok := p.choose(line, "winch step", winchForms, toks)
	if !ok {
		return
	}
	s := step(line, toks[0].text, m)
	switch s.Verb {
	case "step":
		if before := p.steps[s.Args[0]]; before != 0 {
			p.fail(line, fmt.Sprintf("step %s is on line %d already", s.Args[0], before), "give each step its own name")
		}
		p.steps[s.Args[0]] = line
	case "ahead":
		if p.ahead == 0 {
			p.ahead = line
		}
	case "haul", "ease":
		if len(s.Args) > 0 && !(s.SI > 0) {
			p.fail(line, "the speed is 0", "write stop")
		}
	}
	p.s.Winch = append(p.s.Winch, s)
}

func (p *parser) crew(line int, toks []token) {
	verb, forms := toks[0].text, crewForms
	if verb == "refused" && len(toks) > 1 && toks[1].text == "act" {
		toks, forms = toks[1:], actForms
	}
	if _, m, ok := p.choose(line, "crew step", forms, toks); ok {
		p.s.Crew = append(p.s.Crew, step(line, verb, m))
	}
}

func (p *parser) tension(line int, toks []token) {
	p.rowTried = p.rowTried || toks[0].text == "x"
	_, m, ok := p.choose(line, "statement", tensionForms, toks)
	if !ok {
		return
	}
	e := extra{kind: toks[0].text}
	si := m.si
	switch e.kind {
	case "x":
		p.pullRows = append(p.pullRows, row{line, point{trial.Length(si[0]), trial.Force(si[1])}})
		return
	case "saw-tooth":
		e.low, e.top = trial.Force(si[0]), trial.Force(si[1])
		e.wave, e.fall = trial.Length(si[2]), trial.Length(si[3])
		if !(e.low < e.top) || !(e.fall > 0 && e.fall < e.wave) {
			p.fail(line, "the saw-tooth does not rise, or falls over more than its wave", "give low before high and a fall shorter than the wave")
			return
		}
		si = si[2:]
	default:
		e.amp, e.wave = trial.Force(si[0]), trial.Length(si[1])
	}
	e.from, e.to = trial.Length(si[len(si)-2]), trial.Length(si[len(si)-1])
	if !(e.from < e.to) || !(e.wave >= leastWave) {
		p.fail(line, "its stretch has no length, or its wave is under 1 mm", "give two places in order and a wave of 1 mm or more")
		return
	}
	p.s.pull.extras = append(p.s.pull.extras, e)
}

const leastWave = trial.Length(0.001)

// fault reads "at WHEN: WHAT".
func (p *parser) fault(line int, toks []token) {
	cut := slices.IndexFunc(toks, func(t token) bool { return !t.quoted && strings.HasSuffix(t.text, ":") })
	if cut < 0 || cut == len(toks)-1 || toks[0].text != "at" {
		p.fail(line, "a fault has no time or nothing after it", "write it as: at x 9 m: unplug load 14 s")
		return
	}
	when := slices.Clone(toks[:cut+1])
	when[cut].text = strings.TrimSuffix(when[cut].text, ":")
	if when[cut].text == "" {
		when = when[:cut]
	}
	pattern, m, ok := p.choose(line, "moment", whenForms, when)
	if !ok {
		return
	}
	f := fault{line: line, text: asText(toks[cut+1:])}
	switch pattern {
	case "at TIME":
		f.when, f.at = "time", m.si[0]
	case "at x LENGTH":
		f.when, f.at = "x", m.si[0]
	default:
		f.when, f.step = "step", m.args[1]
	}
	pattern, m, ok = p.choose(line, "fault", faultForms, toks[cut+1:])
	if !ok {
		return
	}
	f.kind = strings.Fields(readable(pattern))[0]
	if len(m.args) > 0 {
		f.port = max(slices.Index(insNames[:], m.args[0]), 0)
	}
	times := m.si
	switch f.kind {
	case "zero", "wake", "slip", "slow", "surge", "drift", "late", "drop", "bit-errors":
		f.value, times = m.si[0], m.si[1:]
	case "time-step":
		f.value, times = m.si[0], nil
	case "refuse":
		f.value, _ = strconv.ParseFloat(m.args[1], 64) // digits only: the pattern has seen to it
	case "unit":
		f.word = m.args[1]
	}
	if f.kind == "slow" && !(f.value > 0) {
		p.fail(line, "the rate is 0", "write silence")
	}
	if m.args != nil && m.args[0] == "ahead" {
		f.value = -f.value
	}
	if len(times) > 0 {
		f.lasts = nsOf(times[0])
		if f.lasts <= 0 || f.lasts > time.Hour {
			p.fail(line, "the fault lasts no time, or more than an hour", "give a time up to 60 min")
		}
	}
	p.s.faults = append(p.s.faults, f)
}

// asText is a statement's words as one text.
func asText(toks []token) string {
	words := make([]string, len(toks))
	for i, t := range toks {
		words[i] = t.text
	}
	return strings.Join(words, " ")
}

// nsOf is a number of seconds as a duration.
func nsOf(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
