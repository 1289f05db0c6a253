package session

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

const (
	checkWindow = 1e9     // ns of samples a check is judged by
	checkLines  = 4       // or so many lines of a box that is slower than that
	gravity     = 9.80665 // m/s2, standard gravity: ISO 80000-3, from memory
)

// reading is what the load cell has shown of late.
func (c *Core) reading() safety.Reading {
	ns := int64(checkWindow)
	if hz := c.cfg.LoadHz; hz > 0 {
		ns = max(ns, int64(checkLines/hz*1e9))
	}
	return c.tension.window.reading(c.t, ns)
}

// checked tells the guard how a check went.
func (c *Core) checked(check safety.Check, to safety.CheckState, who safety.Who) (refused string) {
	return c.guard.Do(c.t, safety.Act{What: safety.DoCheck, Who: who, Check: check, To: to}, &c.ev)
}

// failed notes that a check did not pass, and says why.
func (c *Core) failed(check safety.Check, who safety.Who, why string) (refused string) {
	if refused = c.checked(check, safety.CheckFailed, who); refused != "" {
		return refused
	}
	return check.String() + " not taken: " + why
}

// zero takes the mean of what the cell showed of late as its software zero.
func (c *Core) zero(r *logfmt.Record, who safety.Who) (refused string) {
	ts := &c.tension
	if c.guard.State().Permit {
		return "zero not taken: hauling is permitted, so the rode counts as loaded; say another stage first"
	}
	now, was := c.reading(), c.zeroWas()
	cfg := *c.cfg
	if c.pin != nil {
		cfg.Slack = 0 // that is a tension; what a pin feels of a loaded rode may be less
	}
	moved, bad := safety.JudgeZero(now, was, &cfg)
	if bad != "" {
		return c.failed(safety.CheckZero, who, bad)
	}
	if refused = c.checked(safety.CheckZero, safety.CheckPassed, who); refused != "" {
		return refused
	}
	ts.take(Zero{Known: true, Force: now.Mean, At: r.T})
	c.guard.Fault(r.T, safety.ZeroMoved, moved, float64(now.Mean-was), safety.ZeroBand*float64(c.cfg.Range), &c.ev)
	c.tell(r.N, fmt.Sprintf("zero taken at %s, it was %s", c.force(now.Mean), c.force(was)),
		logfmt.Field{Key: "what", Val: "zero"},
		newtons("before_n", was), newtons("after_n", now.Mean), newtons("low_n", now.Low), newtons("high_n", now.High),
		logfmt.Field{Key: "samples", Val: strconv.Itoa(now.N)})
	c.zeroCells(r)
	return ""
}

func newtons(key string, v trial.Force) logfmt.Field {
	return logfmt.Field{Key: key, Val: logfmt.FormatFloat(float64(v))}
}

// weight holds what the cell shows against a weight that hangs on it.
func (c *Core) weight(r *logfmt.Record, who safety.Who) (refused string) {
	const not = "known weight not taken: "
	want, err := ParseWeight(r.Str("value"))
	switch {
	case err != nil:
		return not + err.Error()
	case c.guard.State().Permit:
		return not + "hauling is permitted, so the rode counts as loaded; say another stage first"
	}
	now := c.reading()
	fault, tooLittle := safety.JudgeWeight(now, c.tension.zero.Force, want, c.cfg)
	switch {
	case tooLittle:
		return not + fault
	case fault != "":
		refused = c.failed(safety.CheckWeight, who, fault)
		if c.guard.State().Checks[safety.CheckWeight] == safety.CheckFailed {
			c.fix.open = true
		}
		return refused
	}
	if refused = c.checked(safety.CheckWeight, safety.CheckPassed, who); refused != "" {
		return refused
	}
	c.fix.open = false
	got := now.Mean - c.tension.zero.Force
	c.tell(r.N, fmt.Sprintf("known weight: the cell shows %s for %s", c.force(got), c.force(want)),
		logfmt.Field{Key: "what", Val: "weight"}, newtons("value_n", got), newtons("weight_n", want))
	return ""
}

// ParseWeight reads what hangs on the cell: a mass or a force.
func ParseWeight(s string) (trial.Force, error) {
	if m, err := trial.ParseMass(s); err == nil {
		return trial.Force(float64(m) * gravity), nil
	}
	f, err := trial.ParseForce(s)
	if err != nil {
		return 0, errors.New(strconv.QuoteToASCII(s) + ` is neither a mass nor a force; give it with its unit, "25.0 kg" or "245 N"`)
	}
	return f, nil
}

// correction is what is read into the load cell's lines beside the trial file,
// because a known weight did not fit. It holds for the rest of the log.
type correction struct {
	reversed bool
	unit     string // "" as the trial file says
	open     bool   // a known weight did not fit, and none has since
}

func (k correction) String() string {
	var said []string
	if k.reversed {
		said = append(said, "sign reversed")
	}
	if k.unit != "" {
		said = append(said, "numbers are "+k.unit)
	}
	return strings.Join(said, ", ")
}

// correct changes how the load cell's lines are read. Nothing is ever mended in
// silence: a person says it, and it is a record.
func (c *Core) correct(r *logfmt.Record, who safety.Who) (refused string) {
	const not = "correction not taken: "
	g := c.guard.State()
	switch {
	case who != safety.Director && who != safety.Logger:
		return not + "only the director and the logger correct the load cell; ask one of them"
	case g.EverArmed:
		return not + "the pull has been armed; what was measured since then stands as it is"
	case !c.fix.open:
		return not + "only after a known weight that did not fit; hang one on the cell first"
	}
	next := c.fix
	switch word, unit, _ := strings.Cut(r.Str("value"), " "); {
	case word == "sign" && unit == "":
		next.reversed = !next.reversed
	case word == "unit":
		next.unit = strings.TrimSpace(unit)
		if refused = c.mayBeUnit(next.unit); refused != "" {
			return not + refused
		}
	default:
		return not + `say "sign", or "unit" and the unit of the box's numbers`
	}
	dec, err := acquire.NewLoadDecoder(next.apply(c.head.Trial.Load))
	if err != nil {
		return not + err.Error()
	}
	for _, check := range []safety.Check{safety.CheckWeight, safety.CheckZero} {
		if refused = c.checked(check, safety.CheckOpen, who); refused != "" {
			return refused
		}
	}
	c.fix, c.loadDec = next, dec
	c.tension.take(Zero{At: -1}) // it was taken from other numbers
	c.tension.window.reset()
	text := c.fix.String()
	if text == "" {
		text = "none, lines are read as the trial file says"
	}
	c.tell(r.N, "load cell corrected: "+text+"; zero it and hang the known weight again",
		logfmt.Field{Key: "what", Val: "correct"}, logfmt.Field{Key: "sign", Val: map[bool]string{false: "1", true: "-1"}[c.fix.reversed]},
		logfmt.Field{Key: "unit", Val: c.fix.unit})
	return ""
}

func (c *Core) mayBeUnit(unit string) (refused string) {
	if hasGroup(c.head.Trial.Load.Line, "unit") {
		return "the box sends the unit in every line; change the line pattern in the trial file, or the box"
	}
	if _, ok := trial.ForceUnitNamed(unit); !ok {
		return strconv.QuoteToASCII(unit) + " is no unit of force; give N, kN, lbf, kgf, tf, lb, kg or t"
	}
	return ""
}

// apply is the load cell as it is with the correction. The sign goes into the
// calibration: p(-x) has the odd coefficients of p turned round.
func (k correction) apply(cell trial.LoadCell) trial.LoadCell {
	if k.unit != "" {
		cell.Unit = k.unit
	}
	if !k.reversed {
		return cell
	}
	if len(cell.Cal) == 0 {
		cell.Cal, cell.CalUnit = []float64{0, 1}, cell.ForceUnit()
		if !(cell.CalUnit.N > 0) { // it is in each line
			cell.CalUnit = trial.ForceUnit{Name: "N", N: 1}
		}
	}
	turned := make([]float64, len(cell.Cal))
	for i, k := range cell.Cal {
		if i%2 == 1 {
			k = -k
		}
		turned[i] = k
	}
	cell.Cal = turned
	return cell
}

// reasons are why a check may be gone without, for example.
var reasons = map[string]string{"zero": " zeroed earlier today", "weight": " no weight on board", "cells": " box of load2 broken"}

// checkOf turns the acts that are the guard's alone into its own.
func (c *Core) checkOf(word, value string, a *safety.Act) (refused string) {
	seats := map[safety.Who]safety.Check{safety.WinchOperator: safety.ReadyWinch, safety.Logger: safety.ReadyLogger, safety.Director: safety.ReadyDirector}
	a.What, a.To = safety.DoCheck, safety.CheckPassed
	switch word {
	case ActRead:
		a.Check = safety.CheckLimits
	case ActReady, ActNotReady:
		check, ok := seats[a.Who]
		if !ok {
			return word + " not taken: winch, logger and director say it, each for the own seat"
		}
		a.Check = check
		if word == ActNotReady {
			a.To = safety.CheckOpen
		}
	case ActHorn:
		a.Check = safety.CheckHorn
		switch {
		case !c.cfg.HasHorn:
			return "horn not tried: the trial file has no [horn]"
		case !c.horn.up():
			return c.failed(safety.CheckHorn, a.Who, "its output is not open; see its port")
		}
	case ActWaive:
		what, reason, _ := strings.Cut(value, " ")
		switch what {
		case "zero":
			a.Check = safety.CheckZero
		case "weight":
			a.Check = safety.CheckWeight
		case "cells":
			a.Check = safety.CheckCells
		default:
			return `not waived: say "zero", "weight" or "cells", and the reason; nothing else can be done without`
		}
		if strings.TrimSpace(reason) == "" {
			return "not waived: say the reason too, such as \"" + what + reasons[what] + "\""
		}
		a.To = safety.CheckWaived
	case ActAccept:
		if value != "slow cell" {
			return `not accepted: "slow cell" is all there is to accept`
		}
		a.Check = safety.CheckSlowCell
	case ActClear:
		return c.thing(value, a)
	case ActLower:
		return lowered(value, a)
	default:
		return "unknown act " + strconv.Quote(word) + ": this program is older than the one that sent it"
	}
	return ""
}

// thing finds what may not pass the fairlead by its name.
func (c *Core) thing(name string, a *safety.Act) (refused string) {
	a.What = safety.Clear
	var names []string
	for i, t := range c.cfg.Things {
		if t.Name == name {
			a.Thing = i
			return ""
		}
		names = append(names, strconv.Quote(t.Name))
	}
	return "not cleared: nothing here is called " + strconv.QuoteToASCII(name) + "; there is " + strings.Join(names, ", ")
}

// lowered reads a limit and its new value, "tension_stop 7.0 kN".
func lowered(value string, a *safety.Act) (refused string) {
	a.What = safety.Lower
	word, rest, _ := strings.Cut(value, " ")
	rest = strings.TrimSpace(rest)
	key, ok := safety.ParseLimitKey(word)
	if !ok {
		return "limit not changed: " + strconv.QuoteToASCII(word) + " is none that can be; say tension_warn, tension_stop, haul or scope_min, and its new value"
	}
	var err error
	switch a.Limit = key; key {
	case safety.LimitHaul:
		var v trial.Length
		v, err = trial.ParseLength(rest)
		a.Value = float64(v)
	case safety.LimitScopeMin:
		a.Value, err = strconv.ParseFloat(rest, 64)
		if err != nil || math.IsNaN(a.Value) || math.IsInf(a.Value, 0) {
			err = errors.New(strconv.QuoteToASCII(rest) + ` is no number; scope has no unit, "4.5"`)
		}
	default:
		var v trial.Force
		v, err = trial.ParseForce(rest)
		a.Value = float64(v)
	}
	if err != nil {
		return word + " not changed: " + err.Error()
	}
	return ""
}

// cell takes the load cell out of the rode, or back. Between the two what it
// shows is no tension, and the Judge sees a gap.
func (c *Core) cell(r *logfmt.Record, who safety.Who) (refused string) {
	a := safety.Act{What: safety.TakeCellOff, Who: who}
	if r.Str("act") == ActCellOn {
		a.What = safety.TakeCellBack
	}
	if refused = c.guard.Do(r.T, a, &c.ev); refused != "" {
		return refused
	}
	c.tension.slope.reset()
	c.tension.window.reset()
	c.gap()
	return ""
}

// hasGroup says whether a line pattern has a group of that name.
func hasGroup(line, name string) bool {
	re, err := regexp.Compile(line)
	return err == nil && re.SubexpIndex(name) >= 0
}
