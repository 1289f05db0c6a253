package session

import (
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// errNoHead says that a log cannot be gone on from.
var errNoHead = errors.New("it has no whole head, so there is nothing to go on from")

// handOver is what this fold would hand to a log that goes on from its own. t is
// that log's trial: what was read of a load cell or encoder that is set
// otherwise now is not handed on.
func (c *Core) handOver(next *trial.Trial) ([]Carry, error) {
	if c.cfg == nil {
		return nil, errNoHead
	}
	var out []Carry
	f := func(k, v string) logfmt.Field { return logfmt.Field{Key: k, Val: v} }
	num := logfmt.FormatFloat
	add := func(item string, fields ...logfmt.Field) { out = append(out, Carry{item, fields}) }
	open := func(item string) *Carry { // taken over itself, and not yet confirmed
		for i, s := range c.carry.state {
			if k := &c.carry.from.Carries[i]; (s == CarryOpen || s == CarryLatched) && k.Item == item {
				return k
			}
		}
		return nil
	}
	either := func(item string, known bool, fields ...logfmt.Field) {
		if k := open(item); k != nil {
			add(item, k.Fields...)
		} else if known {
			add(item, fields...)
		}
	}
	g := c.guard.State()
	k := open(CarryStop)
	l, latched := g.Latched()
	switch unread := g.Stop.By == safety.Program && !g.Stop.Taken; {
	case k != nil && (!c.begun || latched && unread): // as it came
		add(CarryStop, k.Fields...)
	case latched:
		add(CarryStop, latchedFields(l)...)
	}
	either(CarryStage, g.Stage != trial.StandBy, f("stage", g.Stage.String()))
	h := &c.haul
	either(CarryDepth, h.hasDepth, f("value_m", num(float64(h.depth))))
	if sameKeys(c.head.Trial, next, "line_", "rode") {
		fields := []logfmt.Field{f("payout_m", num(float64(h.payout))), f("x_m", num(float64(h.from.x))),
			f("counts", strconv.FormatInt(h.from.counts, 10)), f("last", strconv.FormatInt(h.counts, 10)), f("scale", num(h.marks.scale)),
			f("marked", strconv.FormatBool(h.marks.passed)), f("wall", wallText(c.wall.last))}
		if !math.IsNaN(h.marks.off) { // by how much rode out may be wrong
			fields = append(fields, f("off", num(h.marks.off)))
		}
		either(CarryHaul, h.hasPayout && h.hasCounts, fields...)
	}
	if sameKeys(c.head.Trial, next, "load_") && c.head.Trial.Load.Line == next.Load.Line {
		sign := map[bool]string{false: "1", true: "-1"}[c.fix.reversed]
		either(CarryCorrect, c.fix.reversed || c.fix.unit != "", f("sign", sign), f("unit", c.fix.unit))
		either(CarryZero, c.tension.zero.Known, f("value_n", num(float64(c.tension.zero.Force))))
	}
	c.handOverZeros(next, either)
	either(CarryCell, g.Cell == safety.CellOff)
	for i, th := range c.cfg.Things {
		either(carryClear+th.Name, g.Cleared&(1<<i) != 0)
	}
	lower := func(key safety.LimitKey, v float64) {
		either(carryLower+key.String(), v > 0, f("value", num(v)))
	}
	lower(safety.LimitTensionWarn, float64(g.Lowered.TensionWarn))
	lower(safety.LimitTensionStop, float64(g.Lowered.TensionStop))
	lower(safety.LimitHaul, float64(g.Lowered.Haul))
	lower(safety.LimitScopeMin, g.Lowered.ScopeMin)
	return out, nil
}

func wallText(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.RFC3339Nano)
}

// sameKeys says whether two trials agree in all values whose keys begin so.
func sameKeys(a, b *trial.Trial, prefixes ...string) bool {
	of := func(t *trial.Trial) (out []trial.KV) {
		for _, kv := range t.SI() {
			if slices.ContainsFunc(prefixes, func(p string) bool { return strings.HasPrefix(kv.Key, p) }) {
				out = append(out, kv)
			}
		}
		return out
	}
	return slices.Equal(of(a), of(b))
}
