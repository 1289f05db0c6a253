package session

import (
	"math"
	"strings"

	"hawse/logfmt"
	"hawse/trial"
)

// The zeros of further load cells are taken over as that of the first is: proposed,
// and confirmed by a person.

// handOverZeros proposes the zero of each further cell that is set in the next trial
// as in this one.
func (c *Core) handOverZeros(next *trial.Trial, either func(item string, known bool, fields ...logfmt.Field)) {
	for _, o := range c.cells.list {
		i, ok := next.Other(o.Table)
		if !ok || !sameKeys(c.head.Trial, next, o.Table+"_") || o.Line != next.Others[i].Line {
			continue
		}
		either(carryZero+o.Table, o.zero.Known, newtons("value_n", o.zero.Force))
	}
}

// zeroOf is the number of the further cell that an item tells of, and its zero; -1 it
// is none, or of no cell of this trial file. The head is told before the cells are set up.
func (c *Core) zeroOf(k *Carry) (i int, v trial.Force) {
	table, ok := strings.CutPrefix(k.Item, carryZero)
	i, here := c.head.Trial.Other(table)
	n, number := k.rec().Float("value_n")
	if !ok || !here || !number || math.IsNaN(n) || math.IsInf(n, 0) {
		return -1, 0
	}
	return i, trial.Force(n)
}

// takeZeroOf puts such a zero in force.
func (c *Core) takeZeroOf(k *Carry, t int64) (refused string) {
	i, v := c.zeroOf(k)
	if i < 0 {
		return "there is no such load cell here"
	}
	c.cells.list[i].zero = Zero{Known: true, Force: v, At: t}
	return ""
}

// zeroSaidAnew says whether an act has zeroed the cell that an item tells of, or done
// without. A cell that was not fit to be zeroed waits for a person's word yet.
func (c *Core) zeroSaidAnew(k *Carry, r *logfmt.Record) bool {
	i, _ := c.zeroOf(k)
	switch {
	case i < 0:
		return false
	case r.Str("act") == ActWaive:
		return strings.HasPrefix(r.Str("value"), "zero ")
	}
	zero := c.cells.list[i].zero
	return r.Str("act") == ActZero && zero.Known && zero.At == r.T
}

// zeroText is it in words, with its cell.
func (c *Core) zeroText(k *Carry) string {
	i, v := c.zeroOf(k)
	if i < 0 {
		return ""
	}
	return c.force(v)
}
