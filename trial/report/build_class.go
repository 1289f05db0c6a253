package report

import (
	"fmt"
	"math"
	"strings"

	"hawse/trial/compare"
)

// class is the class societies' rule, where a reference anchor is named.
func (b *builder) class(groups []group) {
	c := b.campaign
	if c.Reference == "" {
		return
	}
	b.head(3, "By the class societies' rule")
	b.say("High holding power is at least 2 times, super high at least 4 times that of an ordinary stockless anchor of the same mass, on each of several bottoms, three pulls each. This is the rule's arithmetic, and no approval: that is the society's to give.")
	var lines []string
	for _, bottom := range bottomsOf(groups) {
		var ref *group
		for i := range groups {
			if g := &groups[i]; g.Bottom == bottom && c.Pulls[g.pulls[0]].Anchor.ID == c.Reference {
				ref = g
			}
		}
		if ref == nil {
			lines = append(lines, bottom+": the reference anchor was not pulled here")
			continue
		}
		for i := range groups {
			g := &groups[i]
			if g.Bottom != bottom || g == ref {
				continue
			}
			k := compare.ClassRule(g.outcomes(), ref.outcomes(), g.Mass, ref.Mass, b.leastScope(g))
			factor := dash
			if !math.IsNaN(k.Factor) {
				factor = digits3(k.Factor)
				if k.AtLeast {
					factor = "> " + factor
				}
			}
			word := map[compare.Word]string{compare.Open: "can not be told", compare.Yes: "reached", compare.No: "not reached"}
			text := fmt.Sprintf("%s: %s times the reference; 2 times %s, 4 times %s", g.short(), factor, word[k.High], word[k.Super])
			if len(k.Short) > 0 {
				text += "; the rule wants besides: " + strings.Join(k.Short, "; ")
			}
			lines = append(lines, text)
		}
	}
	b.list(lines)
}

// leastScope is the least scope by depth alone in the pulls of a group.
func (b *builder) leastScope(g *group) float64 {
	least := math.Inf(1)
	for _, i := range g.pulls {
		p := &b.campaign.Pulls[i]
		for _, k := range p.Trace.Cols {
			if inPull(&k) && k.Depth > 0 && k.Scope > 0 {
				least = min(least, k.Scope*(k.Depth+float64(p.Trial.Vessel.Fairlead))/k.Depth)
			}
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}
