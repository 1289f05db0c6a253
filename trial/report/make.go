package report

import (
	"fmt"
	"io"
	"strings"
	"sync"
)

// Put takes a file of a report: its name, with a slash where it stands in a
// folder, and what writes it. It is done with write when it returns. Several
// goroutines may call it at once.
type Put func(name string, write func(io.Writer) error) error

// Make makes the report: report.html, which needs nothing beside it, report.md,
// tables/*.csv, plots/*.svg and plots/*.png. Each file is given to put as soon as
// it is made, and kept no longer than the page needs it. After an error of put,
// which is returned, no more is given to it.
//
// each, if not nil, does something for every number under n, in any order and as
// many at once as it likes, and returns when all is done.
func Make(c *Campaign, each func(n int, do func(i int)), put Put) error {
	p := &page{}
	b := builder{page: p, campaign: c, each: each, given: given{to: put}}
	if c.Trial != nil {
		b.u.show = c.Trial.Show
	}
	b.build()
	for _, t := range p.tables {
		b.put("tables/"+t.name+".csv", t.csv)
	}
	b.put("report.md", p.markdown)
	b.put("report.html", p.html)
	return b.err
}

// put gives a file away, unless one could not be.
func (b *builder) put(name string, write func(io.Writer) error) {
	b.mu.Lock()
	failed := b.err != nil
	b.mu.Unlock()
	if failed {
		return
	}
	if err := b.to(name, write); err != nil {
		b.mu.Lock()
		defer b.mu.Unlock()
		if b.err == nil {
			b.err = err
		}
	}
}

// given is what has been given away, and the first error.
type given struct {
	to  Put
	mu  sync.Mutex
	err error
}

func bytesTo(data []byte) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	}
}

// figure puts a figure on the page, and gives its files away.
func (b *builder) figure(f *figure) {
	if f == nil {
		return
	}
	f.name = b.unique(f.name)
	b.give(f)
	b.page.figure(f)
}

// give gives the files of a figure away. The page needs no PNG.
func (b *builder) give(f *figure) {
	b.put("plots/"+f.name+".svg", bytesTo(f.svg))
	b.put("plots/"+f.name+".png", bytesTo(f.png))
	f.png = nil
}

// unique gives figures names that no other has: a run may have been pulled twice,
// and names are cut to what any disk takes.
func (b *builder) unique(name string) string {
	if b.taken == nil {
		b.taken = map[string]bool{}
	}
	free := name
	for n := 2; b.taken[strings.ToLower(free)]; n++ { // some disks tell no case
		free = fmt.Sprintf("%s-%d", name, n)
	}
	b.taken[strings.ToLower(free)] = true
	return free
}

// pullFigures draws the pulls' own figures, and gives their files away.
func (b *builder) pullFigures(s scale) []*figure {
	out := make([]*figure, len(b.campaign.Pulls))
	names := make([]string, len(out))
	for i := range names {
		names[i] = b.unique(fileName("pull-" + b.campaign.Pulls[i].ID))
	}
	one := func(i int) {
		if f := b.u.pullFigure(&b.campaign.Pulls[i], s); f != nil {
			f.name = names[i]
			b.give(f)
			out[i] = f
		}
	}
	if b.each != nil {
		b.each(len(out), one)
		return out
	}
	for i := range out {
		one(i)
	}
	return out
}
