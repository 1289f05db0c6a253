package logfmt

import (
	"cmp"
	"fmt"
	"slices"
)

// maxListed bounds each list kept of a file's damage, so that a file of noise
// needs no more memory than a log.
const maxListed = 1000

// An order finds out from n and prev what became of a log's lines. While the
// file is read it only keeps its pieces and scraps; damage judges them.
type order struct {
	at       int64 // where the last accepted line begins
	tip      tip
	firstCRC uint32 // of record n=1
	end      tip    // the sealing line, once seen
	fell     bool   // numbers fell in the lines as they were written
	salvaged bool   // its lines were taken from another log: see salvage.go
	seen     numberSet
	pieces   []piece
	scraps   []scrap
	notes    []Damage // known at sight
	crlfNote int      // index of the one about CR LF in notes, plus 1
	other    Damage   // another log in the file; Lines 0: none
	unlisted int      // damages that found no room
	jumbled  bool     // pieces found no room, so the order is not judged
}

// A tip is the record returned last.
type tip struct {
	set bool
	n   uint64
	t   int64
	crc uint32
}

// accept takes the record in p and tells whether the reader returns it.
func (o *order) accept(at place, p *parser) bool {
	linked := o.tip.set && p.prev == o.tip.crc
	next := linked && p.n == o.tip.n+1 && p.n != 0
	switch {
	case o.seen.has(p.n) && (!linked || next && !o.fell), o.other.Lines > 0 && !linked:
		o.again(at, p)
		return false
	case next, linked && p.n == 0 && o.tip.n == 0: // the heads of a log salvaged twice
		o.extend(at, p)
	case linked:
		o.misnumbered(at, p)
		o.extend(at, p)
	default:
		o.fell = false
		o.begin(at, p)
	}
	if linked && p.t < o.tip.t {
		o.note(Damage{Kind: Disorder, Line: at.line, Lines: 1, Byte: at.off,
			Text: fmt.Sprintf("time falls from %s to %s s", FormatNs(o.tip.t), FormatNs(p.t)), Cost: "no record; durations across it are doubtful"})
	}
	if o.end.set && p.n > o.end.n {
		o.note(Damage{Kind: Disorder, Line: at.line, Lines: 1, Byte: at.off,
			Text: "a record after the end", Cost: "no record; the seal does not cover it"})
	}
	switch {
	case p.n == 0 && p.kind == Head:
		o.salvaged = true
	case p.n == 1:
		o.firstCRC = p.crc
	}
	o.tip = tip{true, p.n, p.t, p.crc}
	if p.kind == End {
		o.end = o.tip
	}
	o.seen.add(p.n)
	o.at = at.off
	return true
}

// again judges a record whose number was read before.
func (o *order) again(at place, p *parser) {
	if o.other.Lines == 0 {
		if p.n != 1 || p.prev != 0 || p.crc == o.firstCRC {
			o.repeated(at, p.n)
			return
		}
		o.other = Damage{Kind: Foreign, Line: at.line, Byte: at.off}
	}
	o.other.Lines++
}

// misnumbered judges a record that was written after the one before it though
// its number is not the next: the chain proves that no line is missing there.
func (o *order) misnumbered(at place, p *parser) {
	switch {
	case p.n <= o.tip.n:
		o.fell = true
		o.note(Damage{Kind: Disorder, Line: at.line, Lines: 1, Byte: at.off,
			Text: fmt.Sprintf("record n=%d was written after n=%d", p.n, o.tip.n), Cost: "no record"})
	case !o.fell:
		o.note(o.neverWritten(at, o.tip.n+1, p.n-1))
	}
}

func (o *order) neverWritten(at place, from, to uint64) Damage {
	lost := to - from + 1
	if o.salvaged {
		return Damage{Kind: Missing, Line: at.line, Byte: at.off, Lost: lost,
			Text: numbersText(from, to) + " could not be salvaged: not whole in the log this was taken from", Cost: recordsText(lost)}
	}
	return Damage{Kind: Missing, Line: at.line, Byte: at.off, Lost: lost,
		Text: numbersText(from, to) + " never reached the disk: the line before is the one it was written after",
		Cost: recordsText(lost) + ", dropped when the disk refused"}
}

func (o *order) extend(at place, p *parser) {
	if o.jumbled {
		return
	}
	last := &o.pieces[len(o.pieces)-1]
	last.last, last.n1, last.crc = at, max(last.n1, p.n), p.crc
	last.lines++
}

func (o *order) begin(at place, p *parser) {
	if o.jumbled {
		return
	}
	if len(o.pieces) == maxListed {
		o.jumbled = true
		return
	}
	o.pieces = append(o.pieces, piece{first: at, last: at, lines: 1, n0: p.n, n1: p.n, prev: p.prev, crc: p.crc})
}

func (o *order) repeated(at place, n uint64) {
	if k := len(o.notes); k > 0 {
		if d := &o.notes[k-1]; d.Kind == Repeated && d.Line+d.Lines == at.line {
			d.Lines++
			return
		}
	}
	o.note(Damage{Kind: Repeated, Line: at.line, Lines: 1, Byte: at.off,
		Text: fmt.Sprintf("from record n=%d on, whole records stand here that were read before", n), Cost: "no record; they are returned once"})
}

func (o *order) note(d Damage) {
	if len(o.notes) == maxListed {
		o.unlisted++
		return
	}
	o.notes = append(o.notes, d)
}

// crlf notes a line that ends with CR LF: usually all do, so there is one note.
func (o *order) crlf(line int, off int64) {
	if o.crlfNote == 0 {
		if len(o.notes) == maxListed {
			o.unlisted++
			return
		}
		o.note(Damage{Kind: Altered, Line: line, Byte: off,
			Text: "lines end with CR LF, not LF: a program converted the file as text", Cost: "no record"})
		o.crlfNote = len(o.notes)
	}
	o.notes[o.crlfNote-1].Lines++
}

func (o *order) scrap(s scrap) {
	if k := len(o.scraps); k > 0 && !s.torn {
		last := &o.scraps[k-1]
		if last.line+last.lines == s.line && last.ours == s.ours && last.nul == s.nul {
			last.lines++
			last.size += s.size
			return
		}
	}
	if len(o.scraps) == maxListed {
		o.unlisted++
		return
	}
	o.scraps = append(o.scraps, s)
}

// damage judges what was read.
func (o *order) damage() []Damage {
	all := slices.Clone(o.notes)
	lost := make([]uint64, len(o.scraps)) // records that each scrap accounts for
	if o.jumbled {
		end := o.pieces[len(o.pieces)-1].last
		all = append(all, Damage{Kind: Disorder, Line: end.line + 1, Byte: end.off,
			Text: fmt.Sprintf("the order is broken in more than %d places; it is not judged from here on", maxListed), Cost: "no record"})
	}
	all = append(all, o.holes(lost)...)
	all = append(all, o.moved()...)
	for i, s := range o.scraps {
		all = append(all, o.judge(s, lost[i]))
	}
	if d := o.other; d.Lines > 0 {
		d.Text = fmt.Sprintf("another log begins here; %s of it are not returned", recordsText(uint64(d.Lines)))
		d.Cost = "no record of the first log; cut the file in two here"
		all = append(all, d)
	}
	slices.SortStableFunc(all, func(a, b Damage) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Byte, b.Byte))
	})
	if o.unlisted > 0 {
		all = append(all, Damage{Kind: Altered, Line: all[len(all)-1].Line, Lines: o.unlisted,
			Byte: all[len(all)-1].Byte, Text: "more damage than is listed", Cost: "not counted"})
	}
	return all
}

// tail tells whether a scrap stands after the last record.
func (o *order) tail(s scrap) bool {
	if o.jumbled || len(o.pieces) == 0 {
		return false
	}
	return s.off > o.pieces[len(o.pieces)-1].last.off
}

// holes goes through the pieces by number and finds what lies between them. It
// shares out the missing records among the scraps in lost.
func (o *order) holes(lost []uint64) []Damage {
	if len(o.pieces) == 0 {
		return nil
	}
	var found []Damage
	byNumber := slices.Clone(o.pieces)
	slices.SortStableFunc(byNumber, func(a, b piece) int { return cmp.Compare(a.n0, b.n0) })
	before := piece{last: place{off: -1}} // as if a record 0 with crc 0 stood before the file
	for _, p := range byNumber {
		linked := p.prev == before.crc
		switch {
		case p.n0 <= before.n1 && before.lines > 0, p.n0 == 0:
			// Written so, and noted when it was read.
		case p.n0 == before.n1+1 && linked:
		case p.n0 == before.n1+1 && before.lines == 0:
			found = append(found, Damage{Kind: Altered, Line: p.first.line, Lines: 1, Byte: p.first.off,
				Text: "the first record says that a line stood before it", Cost: "not known"})
		case p.n0 == before.n1+1:
			found = append(found, Damage{Kind: Altered, Line: before.last.line, Lines: 1, Byte: before.last.off,
				Text: fmt.Sprintf("%s is not the one that n=%d was written after: it was replaced", numbersText(before.n1, before.n1), p.n0), Cost: "what stood here first"})
		default:
			if d := o.hole(before, p, linked, lost); d.Lost > 0 {
				found = append(found, d)
			}
		}
		if before.lines == 0 || p.n1 > before.n1 {
			before = p
		}
	}
	return found
}

// hole judges the numbers between two pieces.
func (o *order) hole(before, after piece, linked bool, lost []uint64) Damage {
	from, to := before.n1+1, after.n0-1
	d := Damage{Kind: Missing, Line: after.first.line, Byte: after.first.off, Lost: to - from + 1}
	if linked {
		return o.neverWritten(after.first, from, to)
	}
	for _, ours := range []bool{true, false} {
		for i, s := range o.scraps {
			if s.ours == ours && s.off > before.last.off && s.off < after.first.off {
				take := min(d.Lost, uint64(s.lines)-min(lost[i], uint64(s.lines)))
				lost[i] += take
				d.Lost -= take
			}
		}
	}
	d.Text = numbersText(from, to) + " are gone"
	if from == to {
		d.Text = numbersText(from, to) + " is gone"
	}
	if d.Lost < to-from+1 {
		d.Text = fmt.Sprintf("%d of the %s are gone, beside the damaged lines there", d.Lost, numbersText(from, to))
	}
	d.Cost = recordsText(d.Lost)
	return d
}

// moved names the pieces that stand out of order.
func (o *order) moved() []Damage {
	var found []Damage
	for i, in := range o.inOrder() {
		if p := o.pieces[i]; !in {
			found = append(found, Damage{Kind: Moved, Line: p.first.line, Lines: p.lines, Byte: p.first.off,
				Text: numbersText(p.n0, p.n1) + " out of place", Cost: "no record; returned in the order of the file"})
		}
	}
	return found
}

// inOrder tells of each piece whether it stays if pieces are taken out until
// the others, as many lines as possible, stand in the order of their numbers.
func (o *order) inOrder() []bool {
	n := len(o.pieces)
	best := make([]int, n) // most lines in order that end with piece i
	from := make([]int, n)
	last := -1
	for i, p := range o.pieces {
		best[i], from[i] = p.lines, -1
		for j, q := range o.pieces[:i] {
			if q.n1 < p.n0 && best[j]+p.lines > best[i] {
				best[i], from[i] = best[j]+p.lines, j
			}
		}
		if last < 0 || best[i] > best[last] {
			last = i
		}
	}
	stays := make([]bool, n)
	for i := last; i >= 0; i = from[i] {
		stays[i] = true
	}
	return stays
}

// judge names what a scrap is, given how many missing records it accounts for.
func (o *order) judge(s scrap, lost uint64) Damage {
	d := Damage{Kind: Foreign, Line: s.line, Lines: s.lines, Byte: s.off, Text: s.what, Lost: lost, Cost: recordsText(lost)}
	tail, begun := o.tail(s), len(o.pieces) > 0
	switch {
	case tail && o.end.set && o.end == o.tip:
		d.Text += "; it stands after the end"
		d.Cost = "no record; the seal does not cover it"
	case s.torn && s.nul && begun:
		d.Kind, d.Cost = Cut, "not known: what stood here was never written"
	case s.torn && (s.ours || begun):
		d.Kind, d.Lost = Cut, 1
		d.Text = fmt.Sprintf("the last line is torn after %d bytes", s.size)
		d.Cost = "the record that was being written"
	case s.ours && tail, s.ours && !begun:
		d.Kind, d.Lost = Altered, uint64(s.lines)
		d.Cost = "up to " + recordsText(d.Lost)
	case s.ours, lost > 0:
		d.Kind = Altered
	case tail:
		d.Cost = "not known: no later record tells whether one stood here"
	}
	return d
}
