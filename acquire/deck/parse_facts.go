package deck

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"hawse/trial"
)

// fact reads one of [facts]. Title and caption are the rest of their line.
func (p *parser) fact(line int, text string, toks []token) {
	key := toks[0].text
	if before := p.facts[key]; before != 0 {
		p.fail(line, fmt.Sprintf("%s is on line %d already", key, before), "say it once")
		return
	}
	if key == "title" || key == "caption" {
		p.facts[key] = line
		if err := checkText(rest(text, key)); err != nil {
			p.fail(line, err.Error(), "write plain text")
		}
		if key == "title" {
			p.s.Title = rest(text, key)
		} else {
			p.s.Caption = rest(text, key)
		}
		return
	}
	_, m, ok := p.choose(line, "fact", factForms, toks)
	p.facts[key] = line
	if !ok {
		return
	}
	var v float64
	if len(m.si) > 0 {
		v = m.si[0]
	}
	if p.boxesFact(key, line, m) || p.rollerFact(key, m) {
		return
	}
	switch s := p.s; key {
	case "depth":
		s.Depth = trial.Length(v)
	case "fairlead":
		s.Fairlead = trial.Length(v)
	case "payout":
		s.Payout = trial.Length(v)
	case "start":
		s.Start = trial.Length(v)
	case "speed":
		s.Speed = trial.Speed(v)
	case "ramp":
		s.Ramp = nsOf(v)
	case "run-on":
		s.RunOn = nsOf(v)
	case "operator":
		s.Answer = nsOf(v)
	case "window":
		s.Window = nsOf(v)
	case "stiffness":
		s.Stiffness = trial.Force(v)
	case "slack":
		s.Slack = trial.Force(v)
	case "noise":
		s.Noise = trial.Force(v)
	case "relax":
		s.Relax, s.RelaxIn = v, nsOf(m.si[1])
	case "load":
		s.LoadHz = v
	case "load-line":
		if err := s.box.picture(m.args[0]); err != nil {
			p.fail(line, err.Error(), `write it as: load-line "`+defaultLoadLine+`", a 0 for each digit at least`)
		}
	case "load-unit":
		s.box.unit, _ = trial.ForceUnitNamed(m.args[0]) // the pattern has seen to it
	case "load-step":
		s.box.step = trial.Force(v)
	case "load-top":
		s.box.top = trial.Force(v)
	case "load-sign":
		s.box.reversed = true
	case "swell":
		s.Swell, s.SwellEvery = trial.Force(v), nsOf(m.si[1])
	case "line":
		s.LineHz = v
	case "relay":
		s.Relay = m.args[0]
	case "run":
		s.Run = m.args[0]
	case "count":
		_, _ = fmt.Sscan(m.args[0], &s.Count) // digits only: the pattern has seen to it
	}
}

// rest is what follows the key, without comment, blanks and quotes.
func rest(text, key string) string {
	text = strings.TrimSpace(text)
	text = strings.TrimSpace(strings.TrimPrefix(text, key))
	if strings.HasPrefix(text, `"`) {
		if end := strings.IndexByte(text[1:], '"'); end >= 0 {
			return text[1 : 1+end]
		}
	}
	text, _, _ = strings.Cut(text, "#")
	return strings.TrimSpace(text)
}

// check holds the whole against itself once every line is read. Faults of the
// whole are told at the line that matters, or at the last one.
func (p *parser) check(last int) {
	s := p.s
	for _, example := range needed {
		if key, _, _ := strings.Cut(example, " "); p.facts[key] == 0 {
			p.fail(max(p.sections["facts"], 1), key+" is missing in [facts]", "add a line such as: "+example)
		}
	}
	p.bound("title", s.Title != "", "is empty", "say what is played")
	p.bound("caption", s.Caption != "", "is empty", "say that the data is invented")
	p.bound("depth", s.Depth > 0 && s.Depth <= 1000, "is 0 or more than 1000 m", "give the depth of water")
	p.bound("fairlead", s.Fairlead <= 100, "is more than 100 m", "give its height above water")
	p.bound("payout", s.Payout > 0 && s.Payout <= 10000, "is 0 or more than 10000 m", "give the rode out at the start")
	p.bound("start", s.Start < s.Payout || p.facts["payout"] == 0, "is not less than payout", "give the line hauled when the deck begins")
	p.bound("speed", s.Speed > 0 && s.Speed <= 10, "is 0 or more than 10 m/s", "give the winch's speed")
	p.bound("stiffness", s.Stiffness >= 1000 && s.Stiffness <= 1e9, "is below 1 kN or above 1e6 kN", "give EA of the whole rode")
	p.bound("slack", s.Slack <= 1e6, "is above 1000 kN", "give the tension of the slack rode")
	p.bound("noise", s.Noise <= 1e6, "is above 1000 kN", "give the scatter of a reading")
	p.bound("swell", s.Swell <= 1e6 && s.SwellEvery >= 100*time.Millisecond && s.SwellEvery <= time.Hour, "is above 1000 kN, or its time is below 0.1 s or above 60 min", "write for example: swell 0.4 kN every 6 s")
	p.bound("load-top", s.box.top > 0 && s.box.top <= maxTension, "is 0 or above 10000 kN", "give the most the box can show")
	p.bound("load-step", s.box.step > 0 && s.box.step <= 1e6, "is 0 or above 1000 kN", "give the step of the display")
	p.bound("ramp", s.Ramp <= time.Minute, "is above 60 s", "give the time to come to speed")
	p.bound("run-on", s.RunOn <= time.Minute, "is above 60 s", "give the time until the winch begins to stop")
	p.bound("operator", s.Answer <= time.Hour, "is above 60 min", "give the time until the operator hauls again")
	p.bound("window", s.Window >= 10*time.Millisecond && s.Window <= time.Minute, "is below 10 ms or above 60 s", "give the relay's window")
	p.bound("relax", s.Relax < 1 && s.RelaxIn >= time.Millisecond && s.RelaxIn <= 24*time.Hour, "is 100 %, or its time is 0 or above a day", "write for example: relax 4 % in 10 s")
	p.bound("load", s.LoadHz >= 0.1 && s.LoadHz <= 20000, "is not from 0.1 Hz to 20000 Hz", "give the lines a second")
	p.bound("line", s.LineHz >= 0.1 && s.LineHz <= 20000, "is not from 0.1 Hz to 20000 Hz", "give the lines a second")

	if p.sections["model"] != 0 {
		p.model(last)
	} else {
		p.tables(last)
	}
	if s.wiring.sits() != "" && s.Depth > 0 && s.Payout > 0 {
		if _, err := s.statics(); err != nil {
			p.fail(max(p.facts["cells"], 1), err.Error(), "pay out less, or add a piece to the model")
		}
	}
	p.bound("latency", s.wiring.latency <= time.Second, "is above 1 s", "give the time a box takes to answer")
	p.checkFaults()
	for _, f := range s.faults {
		if f.when == "step" && p.steps[f.step] == 0 {
			p.fail(f.line, fmt.Sprintf("unknown step %q", f.step), "name one that [winch] has as: step "+f.step)
		}
	}
}

// needed are the facts a script cannot do without, each as it may stand.
var needed = []string{
	"title Textbook pull", "caption Invented data", "depth 6 m", "fairlead 1.5 m", "payout 60 m", "speed 2.4 m/min", "stiffness 400 kN",
}

// bound complains about a fact that was said and is out of its bounds.
func (p *parser) bound(key string, good bool, what, do string) {
	line := p.facts[key]
	if line == 0 || good || slices.ContainsFunc(p.errs, func(e *ScriptError) bool { return e.Line == line }) {
		return
	}
	p.fail(line, key+" "+what, do)
}

const maxTension = trial.Force(1e7) // 10 MN: no rode of this trade

// tables puts the two tables in order and complains about rows that are not.
func (p *parser) tables(last int) {
	s := p.s
	if len(p.pullRows) == 0 && !p.rowTried {
		p.fail(max(p.sections["tension"], last), "[tension] has no row", "add rows such as: x 18 m 3.1 kN")
	}
	for i, r := range p.pullRows {
		if i > 0 && !(r.at > p.pullRows[i-1].at) {
			p.fail(r.line, fmt.Sprintf("x does not rise from line %d to here", p.pullRows[i-1].line), "sort the rows by line hauled")
		}
		p.force(r)
		s.pull.rows = append(s.pull.rows, r.point)
	}
	for i, r := range p.recRows {
		switch {
		case i > 0 && !(r.at < p.recRows[i-1].at):
			p.fail(r.line, fmt.Sprintf("rode out does not fall from line %d to here", p.recRows[i-1].line), "sort the rows from long to short")
		case r.at > s.Payout && s.Payout > 0:
			p.fail(r.line, "more rode out than was paid out", "begin the recovery below payout")
		}
		p.force(r)
		s.recovery.rows = append(s.recovery.rows, point{s.Payout - r.at, r.t})
	}
	for i := range s.pull.extras {
		if e := s.pull.extras[i]; e.amp > maxTension || e.top > maxTension {
			p.fail(p.sections["tension"], "a ripple, scratch or saw-tooth is above 10000 kN", "give what a rode can bear")
		}
	}
	if p.ahead != 0 && len(p.recRows) == 0 {
		p.fail(p.ahead, "the vessel goes ahead but there is no [recovery] table", "add one, or leave ahead out")
	}
}

func (p *parser) force(r row) {
	if r.t > maxTension {
		p.fail(r.line, "the tension is above 10000 kN", "give what a rode can bear")
	}
}
