package session

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"hawse/acquire"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// saidAnew notes that an act said what was also to be taken over.
func (c *Core) saidAnew(r *logfmt.Record) {
	if len(c.carry.state) == 0 {
		return
	}
	word, value := r.Str("act"), r.Str("value")
	item := ""
	switch word {
	case ActStage, ActRearm, ActArm:
		item = CarryStage
	case ActDepth:
		item = CarryDepth
	case ActPayout:
		item = CarryHaul
	case ActZero:
		item = CarryZero
	case ActCorrect:
		item = CarryCorrect
	case ActCellOff, ActCellOn:
		item = CarryCell
	case ActClear:
		item = carryClear + value
	case ActLower:
		limit, _, _ := strings.Cut(value, " ")
		item = carryLower + limit
	case ActWaive:
		if what, _, _ := strings.Cut(value, " "); what == "zero" {
			item = CarryZero
		}
	}
	for i, s := range c.carry.state {
		switch {
		case s == CarryOpen && (c.carry.from.Carries[i].Item == item || c.zeroSaidAnew(&c.carry.from.Carries[i], r)):
			c.carry.state[i] = CarrySaid
		case s == CarryLatched && word == ActRearm:
			c.carry.state[i] = CarryLifted
		}
	}
}

// carryAct confirms what was taken over, or leaves it behind. The value is the
// item, with or without its text; with it, it must be the one that is shown.
func (c *Core) carryAct(r *logfmt.Record, who safety.Who, take bool) (refused string) {
	word, value := r.Str("act"), r.Str("value")
	not := word + " not taken: "
	switch {
	case who != safety.Director && who != safety.Logger:
		return not + "only the director and the logger confirm what was taken over; ask one of them"
	case len(c.carry.state) == 0:
		return not + "this log goes on from no other one"
	case c.guard.State().Armed:
		return not + "the pull is armed; say the thing itself anew"
	}
	found := false
	for i := range c.carry.state {
		k := &c.carry.from.Carries[i]
		if c.carry.state[i] != CarryOpen {
			continue
		}
		text := c.carryText(k)
		if value != CarryAll && value != k.Item && value != k.Item+" "+text {
			continue
		}
		if value == CarryAll && take && k.Item == CarryStage && c.guard.State().Stop.Kind == safety.Trip {
			continue // the stage is said as the stop is re-armed
		}
		found = true
		if !take && who != safety.Director && strings.HasPrefix(k.Item, carryLower) && c.strict() {
			refused = not + acquire.Visible([]byte(k.Item)) + ": left behind, it makes a limit laxer; only the director may; ask the director"
			continue
		}
		c.carry.state[i] = CarryDropped
		did := "left behind: "
		if take {
			if no := c.takeOver(k, r, who); no != "" {
				c.carry.state[i] = CarryOpen
				if refused == "" {
					refused = not + acquire.Visible([]byte(k.Item)) + ": " + no
				}
				continue
			}
			c.carry.state[i] = CarryTaken
			did = "carried over: "
		}
		c.tell(r.N, did+acquire.Visible([]byte(k.Item))+" "+text,
			append([]logfmt.Field{{Key: "what", Val: "carry"}, {Key: "item", Val: k.Item}, {Key: "state", Val: string(c.carry.state[i])}}, k.Fields...)...)
	}
	if !found {
		var open []string
		for i, s := range c.carry.state {
			if s == CarryOpen {
				k := &c.carry.from.Carries[i]
				open = append(open, strconv.QuoteToASCII(k.Item+" "+c.carryText(k)))
			}
		}
		if len(open) == 0 {
			return not + "nothing that was taken over is open"
		}
		return not + strconv.QuoteToASCII(value) + " is not open as that; there is " + strings.Join(open, ", ")
	}
	return refused
}

// takeOver puts one item in force.
func (c *Core) takeOver(k *Carry, r *logfmt.Record, who safety.Who) (refused string) {
	kr := k.rec()
	a := safety.Act{Who: who}
	switch item := k.Item; {
	case item == CarryStage:
		stage, err := trial.ParseStage(kr.Str("stage"))
		if err != nil {
			return err.Error()
		}
		if stage == c.guard.State().Stage {
			return ""
		}
		a.What, a.Stage = safety.NextStage, stage
	case item == CarryDepth:
		v, _ := kr.Float("value_m")
		c.depthSaid(trial.Length(v))
		return ""
	case item == CarryHaul:
		return c.takeHaul(kr)
	case item == CarryCorrect:
		return c.takeCorrection(fixCarried(kr), who)
	case item == CarryZero:
		return c.takeZero(kr, r.T, who)
	case item == CarryCell:
		if refused = c.guard.Do(r.T, safety.Act{What: safety.TakeCellOff, Who: who}, &c.ev); refused == "" {
			c.gap()
		}
		return refused
	case strings.HasPrefix(item, carryZero):
		return c.takeZeroOf(k, r.T)
	case strings.HasPrefix(item, carryClear):
		if refused = c.thing(strings.TrimPrefix(item, carryClear), &a); refused != "" {
			return refused
		}
	case strings.HasPrefix(item, carryLower):
		a.What = safety.Lower
		a.Limit, _ = safety.ParseLimitKey(strings.TrimPrefix(item, carryLower))
		a.Value, _ = kr.Float("value")
	default:
		return "this program does not know how"
	}
	return c.guard.Do(r.T, a, &c.ev)
}

// takeHaul ties the line to the count as it was tied before, if the box has
// gone on counting meanwhile.
func (c *Core) takeHaul(r *logfmt.Record) (refused string) {
	const again = "; say the rode out anew"
	h := &c.haul
	k, ok := haulCarried(r)
	switch {
	case !ok:
		return "its numbers cannot be read" + again
	case !h.hasCounts || !c.lineFresh(c.t):
		return "the line encoder has said nothing of late, so there is no count to tie it to; see the line port"
	}
	perMetre := c.head.Trial.Line.PerMetre
	moved := math.Abs(float64(h.counts)-float64(k.last)) / perMetre
	switch {
	case math.Abs(float64(h.counts))/perMetre <= lineLeap && moved > lineLeap:
		return fmt.Sprintf("the line box counts from zero again (it was at %d)%s", k.last, again)
	case k.outAt(c, h.counts) <= 0 || k.outAt(c, h.counts) > c.head.Trial.RodeLength():
		return fmt.Sprintf("by the count %d the rode out would be %s%s", h.counts, c.length(k.outAt(c, h.counts)), again)
	}
	if away := c.head.Started.Sub(k.wall).Seconds() + float64(c.t)/1e9; !k.wall.IsZero() && away >= 0 && moved > fastestLine*away+lineLeap {
		return fmt.Sprintf("the count moved by %s in %.0f s, which no winch does%s", c.length(trial.Length(moved)), away, again)
	}
	h.payout, h.said, h.hasPayout = trial.Length(k.payout), true, true
	h.from = fix{counts: k.counts, x: trial.Length(k.x)}
	h.marks.begin(h.from)
	h.marks.scale, h.marks.refMark = k.scale, k.marked
	h.marks.passed, h.marks.passedAt = k.marked, k.counts
	if off, ok := r.Float("off"); ok && math.Abs(off) < 1e6 {
		h.marks.off = off
	}
	h.speed.reset()
	c.measure()
	c.guard.CountedOn(c.t, c.lineNow(), &c.ev)
	return ""
}

func (c *Core) takeCorrection(next correction, who safety.Who) (refused string) {
	if next.unit != "" {
		if refused = c.mayBeUnit(next.unit); refused != "" {
			return refused
		}
	}
	dec, err := acquire.NewLoadDecoder(next.apply(c.head.Trial.Load))
	if err != nil {
		return err.Error()
	}
	for _, check := range []safety.Check{safety.CheckWeight, safety.CheckZero} {
		if refused = c.checked(check, safety.CheckOpen, who); refused != "" {
			return refused
		}
	}
	c.fix, c.loadDec = next, dec
	c.tension.take(Zero{At: -1})
	c.tension.window.reset()
	return ""
}

// takeZero is not judged by what the cell shows now: the rode may be loaded.
func (c *Core) takeZero(r *logfmt.Record, t int64, who safety.Who) (refused string) {
	for i, s := range c.carry.state {
		if s == CarryOpen && c.carry.from.Carries[i].Item == CarryCorrect {
			return "it was taken with a correction; confirm or drop that first"
		}
	}
	v, ok := r.Float("value_n")
	if !ok {
		return "its number cannot be read"
	}
	done := safety.Act{What: safety.DoCheck, Who: who, Check: safety.CheckZero, To: safety.CheckPassed, Taken: c.strict()}
	if refused = c.guard.Do(t, done, &c.ev); refused != "" {
		return refused
	}
	c.tension.take(Zero{Known: true, Force: trial.Force(v), At: t})
	return ""
}

// zeroWas is what a new zero is held against: the one in force or, before there
// is one, that of the log before, if the cell's lines are read as they were then.
func (c *Core) zeroWas() trial.Force {
	was, asThen := c.tension.zero.Force, c.strict() && !c.tension.zero.Known && c.fix.String() == ""
	for i := range c.carry.state {
		switch k := &c.carry.from.Carries[i]; k.Item {
		case CarryCorrect:
			return c.tension.zero.Force
		case CarryZero:
			if v, ok := k.rec().Float("value_n"); asThen && ok && c.carry.state[i] != CarryUnread {
				was = trial.Force(v)
			}
		}
	}
	return was
}
