package trial

import (
	"fmt"
	"math"
	"time"
)

const defaultKeepOut Length = 1 // m, common practice, no source

// The winch's times where the file says none: common practice, no source.
const (
	defaultReaction = 1500 * time.Millisecond
	defaultRunOn    = 500 * time.Millisecond
)

func (r *fileReader) readRode(t *Trial, doc *fileTable) {
	for _, v := range doc.tables("rode", "the rode piece by piece, from the anchor") {
		p := Piece{
			Name: v.text(ask{name: "name", what: "what the piece is", eg: `"8 mm chain"`}, maxName),
			Length: quantity(v, ask{name: "length", what: "its length", eg: `"10 m"`},
				ParseLength, bounds{above: true, most: 20e3, mostSay: "20 km"}),
			Weight: quantity(v, ask{name: "weight", what: "its weight in water, negative if it floats", eg: `"12 N/m"`},
				ParseLineWeight, bounds{least: -1e3, leastSay: "-1000 N/m", most: 1e5, mostSay: "100000 N/m"}),
			EA: quantity(v, ask{name: "ea", what: "its axial stiffness EA", eg: `"400 kN"`},
				ParseForce, bounds{above: true, most: 1e11, mostSay: "100 GN"}),
		}
		p.Friction, p.HasFriction = v.plain(ask{name: "friction", what: "its friction on the seabed, tension lost over weight", eg: "0.7", optional: true},
			bounds{most: mostFriction, mostSay: "3"})
		p.WLL, p.MBL, p.Factor, p.Source = r.readRating(t, v, p.Name)
		v.done()
		t.Rode = append(t.Rode, p)
	}
	for _, v := range doc.tables("gear", "everything else that carries the load") {
		g := Gear{Name: v.text(ask{name: "name", what: "what it is", eg: `"anchor shackle"`}, maxName)}
		g.WLL, g.MBL, g.Factor, g.Source = r.readRating(t, v, g.Name)
		r.readPlace(&g, v)
		v.done()
		t.Gear = append(t.Gear, g)
	}
	r.noDoubles(doubles{list: "rode", key: "name", n: len(t.Rode), id: func(i int) string { return t.Rode[i].Name }},
		doubles{list: "gear", key: "name", n: len(t.Gear), id: func(i int) string { return t.Gear[i].Name }})
}

var (
	wllAsk    = ask{name: "wll", what: "its working load limit, from its certificate", eg: `"10 kN"`, optional: true}
	mblAsk    = ask{name: "mbl", what: "its minimum breaking load, from its certificate", eg: `"60 kN"`, optional: true}
	factorAsk = ask{name: "factor", what: "the number that divides its breaking load and so gives its working load limit", eg: "5", optional: true}
	sourceAsk = ask{name: "source", what: "where the figures come from", eg: `"certificate no. 12"`, optional: true}

	loadBounds = bounds{above: true, most: 1e8, mostSay: "100 MN"}
)

const (
	mostFactor   = 50 // far past any factor in use; it catches a load put there
	mostFriction = 3  // far past any seabed; it catches a percentage put there
)

// A WLL beside MBL and factor may differ from their quotient by the rounding
// of a certificate.
const wllAgrees = 0.01

// readRating reads what a piece of rode or gear may carry. One that does not
// say is no fault of the file: it is noted, and nothing can be armed.
func (r *fileReader) readRating(t *Trial, v *fileTable, name string) (wll, mbl Force, factor float64, source string) {
	wll, mbl = v.load(wllAsk, loadBounds), v.load(mblAsk, loadBounds)
	factor = v.number(factorAsk, 1, mostFactor)
	source = v.text(sourceAsk, maxText)
	has := func(a ask) bool { return v.n.vals[a.name] != nil }
	if !r.sound(v.key(wllAsk.name), v.key(mblAsk.name), v.key(factorAsk.name), v.key(sourceAsk.name)) {
		return wll, mbl, factor, source
	}
	say := t.Show.ForceText
	if has(factorAsk) && !has(mblAsk) {
		v.missing(mblAsk.name, mblAsk.want("add")+", or take factor out")
	}
	if has(mblAsk) && has(factorAsk) {
		of := Force(float64(mbl) / factor)
		if has(wllAsk) && math.Abs(float64(wll-of)) > wllAgrees*float64(min(wll, of)) {
			r.failAt(v.key(wllAsk.name), fmt.Sprintf("%s is not mbl / factor, which is %s", say(wll), say(of)),
				"correct one of the three, or give only wll, or only mbl and factor")
		} else if !has(wllAsk) || of < wll {
			wll = of
		}
	}
	if mbl != 0 && wll >= mbl {
		r.failAt(v.key(wllAsk.name), fmt.Sprintf("%s is not under mbl, %s", say(wll), say(mbl)), "write the working load, not the breaking load, as wll")
	}
	const until = "; nothing can be armed until it is there"
	switch {
	case wll == 0 && mbl != 0:
		r.note(v.path, shown(name)+" has mbl without a factor, which is no working load limit"+until)
	case wll == 0:
		r.note(v.path, shown(name)+" has no wll, and no mbl and factor"+until)
	}
	if source == "" {
		r.note(v.path, shown(name)+" does not say the source of its figures"+until)
	}
	return wll, mbl, factor, source
}

// readPlace reads where a thing sits in the rode. The two keys need each other:
// taking for granted that a joint passes, or that it does not, is wrong half
// the time.
func (r *fileReader) readPlace(g *Gear, v *fileTable) {
	at := ask{name: "at", what: "how far along the rode it is from the anchor", eg: `"30 m"`, optional: true}
	passes := ask{name: "passes", what: "whether it may pass the fairlead", eg: "false", optional: true}
	g.HasAt = v.n.vals[at.name] != nil
	g.At = quantity(v, at, ParseLength, bounds{most: 20e3, mostSay: "20 km"})
	g.Passes = v.yes(passes)
	weight := ask{name: "weight", what: "what it weighs in water", eg: `"60 N"`, optional: true}
	g.Weight = quantity(v, weight, ParseForce, bounds{most: 1e6, mostSay: "1 MN"})
	switch says := v.n.vals[passes.name] != nil; {
	case g.HasAt && !says:
		v.missing(passes.name, passes.want("add")+", or take at out")
	case says && !g.HasAt:
		v.missing(at.name, at.want("add")+", or take passes out")
	case g.Weight != 0 && !g.HasAt:
		v.missing(at.name, at.want("add")+", or take weight out")
	}
}

// checkGear holds the things in the rode against its length.
func (r *fileReader) checkGear(t *Trial) {
	if !r.sound("rode") {
		return
	}
	for i, g := range t.Gear {
		key := fmt.Sprintf("gear[%d].at", i+1)
		if whole := t.RodeLength(); g.HasAt && r.sound(key) && g.At > whole {
			r.failAt(key, fmt.Sprintf("%s is past the end of the rode, %s", t.Show.LengthText(g.At), t.Show.LengthText(whole)),
				"count it from the anchor, or take at and passes out if it stays on board")
		}
	}
}

func (r *fileReader) readWinch(t *Trial, v *fileTable) {
	t.Winch = Winch{
		Reaction: v.duration(ask{name: "reaction", what: "the time from an alarm until a hand has stopped the winch", eg: `"1.5 s"`}, time.Millisecond, time.Minute),
		RunOn:    v.duration(ask{name: "run_on", what: "the time the drum still turns once it is stopped", eg: `"0.5 s"`}, time.Millisecond, time.Minute),
	}
	v.done()
}
