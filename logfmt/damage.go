package logfmt

import "fmt"

// A DamageKind says in what way a log is not as it was written.
type DamageKind string

// The kinds of damage.
const (
	Altered  DamageKind = "altered"  // bytes of a line were changed
	Missing  DamageKind = "missing"  // records are not there
	Moved    DamageKind = "moved"    // whole records stand in another place
	Repeated DamageKind = "repeated" // whole records stand there again
	Disorder DamageKind = "disorder" // written so: n or t that does not rise, records after the seal
	Cut      DamageKind = "cut"      // the last line is torn
	Foreign  DamageKind = "foreign"  // was never a line of this log
)

// Damage is one thing that is not as it was written.
type Damage struct {
	Kind  DamageKind `json:"kind"`
	Line  int        `json:"line"`         // the first line concerned, from 1; for Missing the line after the hole
	Lines int        `json:"lines"`        // how many lines are concerned, 0 for Missing
	Byte  int64      `json:"byte"`         // where that line begins
	Text  string     `json:"text"`         // what is wrong; fit to be shown, whatever the file holds
	Cost  string     `json:"cost"`         // what is lost by it
	Lost  uint64     `json:"records_lost"` // so many records are lost by it, as far as the numbers tell
}

func (d Damage) String() string {
	where := fmt.Sprintf("line %d", d.Line)
	if d.Lines > 1 {
		where += fmt.Sprintf(" and %d more", d.Lines-1)
	}
	return fmt.Sprintf("%s, byte %d: %s: %s; cost: %s", where, d.Byte, d.Kind, d.Text, d.Cost)
}

func recordsText(n uint64) string {
	switch n {
	case 0:
		return "no record"
	case 1:
		return "1 record"
	}
	return fmt.Sprintf("%d records", n)
}

func numbersText(from, to uint64) string {
	if from == to {
		return fmt.Sprintf("record n=%d", from)
	}
	return fmt.Sprintf("records n=%d to n=%d", from, to)
}

// A place in the file.
type place struct {
	line int
	off  int64
}

// A piece is a row of records that follow each other in the file as they were
// written, by prev.
type piece struct {
	first, last place
	lines       int
	n0, n1      uint64 // its first and its greatest number
	prev, crc   uint32 // prev of its first, crc of its last
}

// A scrap is a line, or several, that prove nothing.
type scrap struct {
	place
	lines int
	size  int64
	what  string
	ours  bool // looks as if it was a record
	torn  bool // the last line, without an LF
	nul   bool // nothing but NUL bytes
}

// A numberSet holds the numbers seen, as spans in rising order.
type numberSet struct {
	spans []span
}

type span struct{ lo, hi uint64 }

// find returns the first span that ends at n or later.
func (s *numberSet) find(n uint64) int {
	lo, hi := 0, len(s.spans)
	for lo < hi {
		if mid := (lo + hi) / 2; s.spans[mid].hi < n {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return lo
}

func (s *numberSet) has(n uint64) bool {
	i := s.find(n)
	return i < len(s.spans) && s.spans[i].lo <= n
}

// add is quick for the number after the last one.
func (s *numberSet) add(n uint64) {
	if k := len(s.spans); k > 0 && n != 0 && s.spans[k-1].hi == n-1 {
		s.spans[k-1].hi = n
		return
	}
	i := s.find(n)
	if i < len(s.spans) && s.spans[i].lo <= n {
		return
	}
	before := i > 0 && s.spans[i-1].hi == n-1
	after := i < len(s.spans) && s.spans[i].lo == n+1
	switch {
	case before && after:
		s.spans[i-1].hi = s.spans[i].hi
		s.spans = append(s.spans[:i], s.spans[i+1:]...)
	case before:
		s.spans[i-1].hi = n
	case after:
		s.spans[i].lo = n
	case len(s.spans) < maxListed:
		s.spans = append(s.spans, span{})
		copy(s.spans[i+1:], s.spans[i:])
		s.spans[i] = span{n, n}
	}
}
