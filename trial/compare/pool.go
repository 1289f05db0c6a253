package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Treatment is all that must be alike before two pulls are repeats of each
// other.
type Treatment struct {
	Bottom   string
	Pattern  string  // "" of a reference run
	Mass     float64 // kg, as weighed
	Fluke    float64 // rad; 0 unsaid
	Protocol string  // how it was pulled, in words that differ if anything does
}

// Aspects names the aspects in which two treatments differ.
func (t Treatment) Aspects(o Treatment) (out []string) {
	add := func(differ bool, format string, args ...any) {
		if differ {
			out = append(out, fmt.Sprintf(format, args...))
		}
	}
	add(t.Bottom != o.Bottom, "bottom %s and %s", said(t.Bottom), said(o.Bottom))
	add(t.Pattern != o.Pattern, "pattern %s and %s", said(t.Pattern), said(o.Pattern))
	add(t.Mass != o.Mass, "mass %.4g and %.4g kg", t.Mass, o.Mass)
	add(t.Fluke != o.Fluke, "fluke setting %.3g and %.3g deg", t.Fluke*180/math.Pi, o.Fluke*180/math.Pi)
	if t.Protocol != o.Protocol {
		out = append(out, protocolAspects(t.Protocol, o.Protocol)...)
	}
	return out
}

// protocolAspects names what differs between two protocols, which are lists with
// semicolons.
func protocolAspects(a, b string) (out []string) {
	as, bs := strings.Split(a, "; "), strings.Split(b, "; ")
	for i := range max(len(as), len(bs)) {
		x, y := "unsaid", "unsaid"
		if i < len(as) {
			x = as[i]
		}
		if i < len(bs) {
			y = bs[i]
		}
		if x != y {
			out = append(out, x+" and "+y)
		}
	}
	return out
}

func said(s string) string {
	if s == "" {
		return "unsaid"
	}
	return s
}

// Member is one pull and how it was treated.
type Member struct {
	Treatment
	Outcome
	Block string // which it stands in; "" in none
	Place int    // in the order of the block, from 1; 0 unknown
	Drawn bool   // that order was drawn by lot
}

// Group is the repeats of one treatment.
type Group struct {
	Treatment
	Members []Member
}

// Outcomes of the members, in their order.
func (g *Group) Outcomes() []Outcome {
	out := make([]Outcome, len(g.Members))
	for i, m := range g.Members {
		out[i] = m.Outcome
	}
	return out
}

// Difference is why two groups of one pattern on one bottom are not one.
type Difference struct {
	A, B    int // indices of groups
	Aspects []string
}

// Pool puts repeats together, equal treatments alone, in the order in which they
// first come, by bottom. For groups that have a bottom and a pattern in common it
// names what keeps them apart.
func Pool(all []Member) (groups []Group, apart []Difference) {
	at := map[Treatment]int{}
	for _, m := range all {
		i, some := at[m.Treatment]
		if !some {
			i = len(groups)
			at[m.Treatment] = i
			groups = append(groups, Group{Treatment: m.Treatment})
		}
		groups[i].Members = append(groups[i].Members, m)
	}
	first := map[string]int{}
	for i, g := range groups {
		if _, some := first[g.Bottom]; !some {
			first[g.Bottom] = i
		}
	}
	slices.SortStableFunc(groups, func(a, b Group) int { return cmp.Compare(first[a.Bottom], first[b.Bottom]) })
	for i := range groups {
		for j := i + 1; j < len(groups); j++ {
			a, b := groups[i].Treatment, groups[j].Treatment
			if a.Bottom == b.Bottom && a.Pattern == b.Pattern && a.Pattern != "" {
				apart = append(apart, Difference{i, j, a.Aspects(b)})
			}
		}
	}
	return groups, apart
}
