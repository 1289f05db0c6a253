package session

import (
	"fmt"

	"hawse/trial"
)

// oneWay looks whether a count ever turns. An encoder that has lost one of its
// two channels counts the same way whichever way the drum goes.
type oneWay struct {
	stage trial.Stage
	from  int64   // the count when the stage began
	in    float64 // m of line by the count that came in in this stage, at most
	out   bool    // the count has run out once in this run: it can
	told  bool
}

// wayTold is how much line may come in by the count while the crew lets it out:
// common practice, no source.
const wayTold = 2.0 // m

// watchWay tells of line that comes in by the count in the stages in which it
// is let out, where the count has never run out yet.
func (c *Core) watchWay(counts int64) {
	w := &c.haul.way
	stage := c.guard.State().Stage
	if stage != w.stage || !c.haul.hasCounts {
		w.stage, w.from, w.in = stage, counts, 0
	}
	moved := (float64(counts) - float64(w.from)) * float64(c.head.Trial.Line.HaulSign) / c.head.Trial.Line.PerMetre
	if moved < -wayTold {
		w.out = true
	}
	w.in = max(w.in, moved)
	if w.told || w.out || w.in < wayTold || stage != trial.Ease && stage != trial.PayOut {
		return
	}
	w.told = true
	c.tell(c.by, fmt.Sprintf("the count says %s hauled in while the stage is %s, and has never run out: a channel of the encoder may be missing, or haul= is the wrong way",
		c.length(trial.Length(w.in)), stage), text("what", "line-one-way"), metres("in_m", trial.Length(w.in)))
}
