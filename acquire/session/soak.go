package session

import (
	"fmt"
	"hash"
	"math"

	"hawse/logfmt"
	"hawse/trial"
)

// soaking is how the scope stands while the anchor soaks, which may take hours of
// tide, to what it was when the soak began. It is told, and nothing is done: a
// person pays out or does not.
type soaking struct {
	stage trial.Stage
	scope float64 // when the soak began, or as soon as it was known in it; 0 not yet
	told  float64 // the last that was told, or the greatest since
}

// scopeLeft is the share by which the scope must have sunk to be told, and to be
// told again: common practice, no source. The median of a sounder wavers by less.
const scopeLeft = 0.03

// followSoak tells, in the soak, what has to go out to be at the scope again that
// there was when it began: after each 3 % that the scope has sunk by.
func (c *Core) followSoak() {
	s, h, stage := &c.soak, &c.haul, c.guard.State().Stage
	if stage != s.stage {
		*s = soaking{stage: stage}
	}
	if stage != trial.Soak || !h.hasScope || !(h.scope > 0) {
		return
	}
	if s.scope == 0 {
		s.scope, s.told = h.scope, h.scope
		return
	}
	s.told = max(s.told, h.scope) // paid out, or the tide has turned
	if h.scope > s.told*(1-scopeLeft) || c.toSoakScope() == 0 {
		return
	}
	s.told = h.scope
	out := c.toSoakScope()
	words := fmt.Sprintf("scope %.2f, it was %.2f when the soak began: ", h.scope, s.scope)
	if all, rode := h.rodeOut+out, c.head.Trial.RodeLength(); all > rode {
		words += fmt.Sprintf("it takes %s out to be there again, and the rode is %s", c.length(all), c.length(rode))
	} else {
		words += fmt.Sprintf("pay out %s to be there again", c.length(out))
	}
	number := func(key string, v float64) logfmt.Field { return text(key, logfmt.FormatFloat(v)) }
	c.tell(c.by, words, text("what", "scope"), number("scope", h.scope), number("began", s.scope), metres("pay_out_m", out), metres("depth_m", h.depth))
}

// toSoakScope is what has to go out to be at the scope at which the soak began; 0
// outside it, or where the scope has not sunk by as much as is told.
func (c *Core) toSoakScope() trial.Length {
	s, h := &c.soak, &c.haul
	if s.stage != trial.Soak || s.scope == 0 || !h.hasScope || !(h.scope > 0) || h.scope > s.scope*(1-scopeLeft) {
		return 0
	}
	return h.rodeOut * trial.Length(s.scope/h.scope-1)
}

func (s *soaking) digest(h hash.Hash64) {
	fmt.Fprintln(h, s.stage, math.Float64bits(s.scope), math.Float64bits(s.told))
}
