package report

import (
	"fmt"
	"strings"
)

// Output is one file of a report: its name, with a slash where it stands in a
// folder.
type Output struct {
	Name  string
	Bytes []byte
}

// Make makes the report: report.html, which needs nothing beside it, report.md,
// tables/*.csv, plots/*.svg and plots/*.png. each, if not nil, does something for
// every number under n, in any order and as many at once as it likes, and returns
// when all is done.
func Make(c *Campaign, each func(n int, do func(i int))) []Output {
	p := &page{}
	b := builder{page: p, campaign: c, each: each}
	if c.Trial != nil {
		b.u = units{c.Trial.Show}
	}
	b.build()
	out := []Output{{"report.html", p.html()}, {"report.md", p.markdown()}}
	for _, t := range p.tables {
		out = append(out, Output{"tables/" + t.name + ".csv", t.csv()})
	}
	for _, f := range p.plots {
		out = append(out, Output{"plots/" + f.name + ".svg", f.svg}, Output{"plots/" + f.name + ".png", f.png})
	}
	return out
}

// unique gives figures names that no other has: a run may have been pulled twice,
// and names are cut to what any disk takes.
func (b *builder) unique(name string) string {
	if b.names == nil {
		b.names = map[string]int{}
	}
	key := strings.ToLower(name) // some disks take no other
	b.names[key]++
	if n := b.names[key]; n > 1 {
		return fmt.Sprintf("%s-%d", name, n)
	}
	return name
}

// pullFigures draws the pulls' own figures.
func (b *builder) pullFigures(s scale) []*figure {
	out := make([]*figure, len(b.campaign.Pulls))
	one := func(i int) { out[i] = b.u.pullFigure(&b.campaign.Pulls[i], s) }
	if b.each != nil {
		b.each(len(out), one)
		return out
	}
	for i := range out {
		one(i)
	}
	return out
}
