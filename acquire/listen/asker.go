package listen

import (
	"fmt"
	"slices"

	"hawse/acquire"
	"hawse/trial"
)

// Asker reads registers of Modbus units nobody knows: it looks which units are
// there, then which registers they have, then reads those again and again. It is
// pure: whoever has the port sends what Next says and hands back what came.
//
// It only ever reads, by functions 3 and 4. It asks a bounded number of questions
// before it only repeats.
type Asker struct {
	Traffic Traffic

	queue  []trial.Registers // of a first question or a block still to be looked at; Number holds nothing
	counts []int             // registers of each
	scan   int               // how many of the queue only look whether a unit is there
	first  int
	span   int
	good   []trial.Registers
	sizes  []int
	next   int // of good
	looked bool
	// parts are the good ones as they were found, should a unit refuse them joined.
	parts  []trial.Registers
	pieces []int
	asked  int
	now    trial.Registers
	size   int // registers asked for; 0 nothing was asked yet
	sent   []byte
}

// Bounds of a search.
const (
	MostAskedUnits = 32
	MostAskedSpan  = 256 // registers
	askedBlock     = 32  // registers of one question
	mostLooks      = 4096
)

// NewAsker looks at units and a span of registers.
func NewAsker(units []int, first, last int) (*Asker, error) {
	switch {
	case len(units) == 0 || len(units) > MostAskedUnits:
		return nil, fmt.Errorf("%d units: give 1 to %d of them", len(units), MostAskedUnits)
	case first < 0 || last < first || last > 65535:
		return nil, fmt.Errorf("registers %d to %d: give the first and the last on the wire, from 0 to 65535", first, last)
	case last-first >= MostAskedSpan:
		return nil, fmt.Errorf("%d registers: look at %d at most at a time", last-first+1, MostAskedSpan)
	}
	a := &Asker{first: first, span: last - first + 1}
	a.Traffic.Own = true
	for _, u := range units {
		if u < 1 || u > 247 {
			return nil, fmt.Errorf("unit %d: Modbus units are 1 to 247", u)
		}
		for _, fn := range []int{fnHolding, fnInput} {
			a.push(trial.Registers{Address: u, Function: fn, Register: first}, 1)
			a.scan++
		}
	}
	return a, nil
}

func (a *Asker) push(r trial.Registers, count int) {
	a.queue, a.counts = append(a.queue, r), append(a.counts, count)
}

// Next is the question to be sent; false if nobody has anything to be read.
func (a *Asker) Next() ([]byte, bool) {
	if !a.Looking() && !a.looked {
		a.looked = true
		a.join()
	}
	switch {
	case len(a.queue) > 0 && a.asked < mostLooks:
		a.now, a.size = a.queue[0], a.counts[0]
	case len(a.good) > 0:
		a.now, a.size = a.good[a.next], a.sizes[a.next]
	default:
		return nil, false
	}
	// A span is said by a number of two bytes and its scale register behind it.
	r := a.now
	r.Number.Holds = "int16"
	if a.size > 1 {
		r.Scale, r.HasScale = r.Register+a.size-1, true
	}
	a.sent = acquire.AppendModbusRead(nil, r)
	return a.sent, true
}

// Size is how many registers the last question asked for.
func (a *Asker) Size() int { return a.size }

// Looking says that it still looks for units and registers.
func (a *Asker) Looking() bool { return len(a.queue) > 0 && a.asked < mostLooks }

// Whole says whether what came so far is the whole answer, or a refusal: nothing
// more is to be waited for.
func (a *Asker) Whole(raw []byte) bool {
	for i := range raw {
		if n, _ := answerAt(raw[i:], a.now, a.size); n > 0 {
			return true
		}
	}
	return false
}

// answerAt is how long the answer to a question is that begins there; 0 none.
func answerAt(p []byte, r trial.Registers, count int) (n int, refused bool) {
	if len(p) < 5 || p[0] != byte(r.Address) {
		return 0, false
	}
	switch n := 5 + 2*count; {
	case p[1] == byte(r.Function)|0x80 && acquire.ModbusFits(p[:5]):
		return 5, true
	case p[1] == byte(r.Function) && p[2] == byte(2*count) && len(p) >= n && acquire.ModbusFits(p[:n]):
		return n, false
	}
	return 0, false
}

// Answer takes what came to the last question, at t; nothing if it stayed silent.
func (a *Asker) Answer(t int64, raw []byte) {
	if a.size == 0 {
		return
	}
	n, refused, at := 0, false, 0
	for i := range raw {
		if n, refused = answerAt(raw[i:], a.now, a.size); n > 0 {
			at = i
			break
		}
	}
	if len(a.queue) == 0 || a.asked >= mostLooks {
		if refused && a.parts != nil { // it does not take so many at once
			a.good, a.sizes, a.parts, a.next = a.parts, a.pieces, nil, 0
			return
		}
		if a.next++; a.next >= len(a.good) {
			a.next = 0
		}
		if n > 0 {
			a.record(t, raw[at:at+n])
		}
		return
	}
	a.asked++
	a.queue, a.counts = a.queue[1:], a.counts[1:]
	if a.scan > 0 {
		a.scan--
		if n == 0 {
			return // nobody there, or not by this function
		}
		for off := 0; off < a.span; off += askedBlock {
			a.push(trial.Registers{Address: a.now.Address, Function: a.now.Function, Register: a.first + off}, min(askedBlock, a.span-off))
		}
		return
	}
	switch {
	case n > 0 && !refused:
		a.good, a.sizes = append(a.good, a.now), append(a.sizes, a.size)
		a.record(t, raw[at:at+n])
	case a.size > 1: // some of them are not there
		half := a.size / 2
		r := a.now
		a.push(r, half)
		r.Register += half
		a.push(r, a.size-half)
	}
}

// join makes one question of blocks that lie side by side: a number may stand
// across two of them.
func (a *Asker) join() {
	at := make([]int, len(a.good))
	for i := range at {
		at[i] = i
	}
	key := func(i int) [3]int { r := a.good[i]; return [3]int{r.Address, r.Function, r.Register} }
	slices.SortFunc(at, func(i, j int) int { x, y := key(i), key(j); return slices.Compare(x[:], y[:]) })
	var good []trial.Registers
	var sizes []int
	for _, i := range at {
		r, n := a.good[i], len(good)-1
		if n >= 0 && good[n].Address == r.Address && good[n].Function == r.Function && good[n].Register+sizes[n] == r.Register && sizes[n]+a.sizes[i] <= trial.MaxRegisters {
			sizes[n] += a.sizes[i]
			continue
		}
		good, sizes = append(good, r), append(sizes, a.sizes[i])
	}
	a.parts, a.pieces = a.good, a.sizes
	a.good, a.sizes = good, sizes
	a.Traffic = Traffic{Own: true, Frames: a.Traffic.Frames} // what was heard in parts says less
}

func (a *Asker) record(t int64, answer []byte) {
	a.Traffic.Feed(t, a.sent)
	a.Traffic.Feed(t, answer)
}
