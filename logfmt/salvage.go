package logfmt

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"iter"
	"slices"
)

// A Salvage takes out of a log all records that are whole. The log is only
// read, and read several times, so no one may be writing it.
//
//	s, err := logfmt.NewSalvage(func() (io.ReadCloser, error) { return logfmt.Open(path) })
//	for rec, err := range s.Records() { ... }
//	for _, gap := range s.Gaps { ... } // what was not there
type Salvage struct {
	Report Report // of the log it is taken from

	// Whole, Missing and Gaps are set when Records was read to its end.
	Whole   uint64 // records given
	Missing uint64 // numbers from 1 to the greatest that no record has
	Gaps    []Gap  // where they are missing; at most 1000, as Missing counts on

	open  func() (io.ReadCloser, error)
	moved [][2]int64 // first and last record of each piece out of place, by byte
	held  []Record   // the records of those, in the order of their numbers
	ready bool       // held is filled
}

// A Gap is a row of numbers that no whole record has.
type Gap struct {
	From, To      uint64
	AfterT        int64 // T of the record before, if any
	BeforeT       int64 // T of the record after
	NothingBefore bool  // the log's beginning is missing
}

// Records is how many numbers the gap has.
func (g Gap) Records() uint64 { return g.To - g.From + 1 }

func (g Gap) String() string {
	is := "are"
	if g.From == g.To {
		is = "is"
	}
	if g.NothingBefore {
		return fmt.Sprintf("%s %s missing, before t=%s s", numbersText(g.From, g.To), is, FormatNs(g.BeforeT))
	}
	return fmt.Sprintf("%s %s missing, between t=%s and t=%s s", numbersText(g.From, g.To), is, FormatNs(g.AfterT), FormatNs(g.BeforeT))
}

// errChanged ends a salvage of a log that is being written.
var errChanged = errors.New("logfmt: the log changed while it was read; salvage a copy, or wait until nobody writes it")

// NewSalvage verifies the log that open gives. Damage is no error.
func NewSalvage(open func() (io.ReadCloser, error)) (*Salvage, error) {
	src, err := open()
	if err != nil {
		return nil, err
	}
	defer src.Close()
	r := NewReader(src)
	s := &Salvage{open: open}
	if s.Report, err = verify(r); err != nil {
		return nil, err
	}
	if r.order.jumbled { // more pieces than are kept: the file's order is all there is
		return s, nil
	}
	for i, stays := range r.order.inOrder() {
		if p := r.order.pieces[i]; !stays {
			s.moved = append(s.moved, [2]int64{p.first.off, p.last.off})
		}
	}
	return s, nil
}

// Records gives every whole record once, with its own number and time, in the
// order of the numbers. Records that stand out of place are held in memory. A
// log that is out of order in more than 1000 places is given in the order of
// the file.
//
// The last pair may be an error: then what came before is not all.
func (s *Salvage) Records() iter.Seq2[Record, error] {
	return func(yield func(Record, error) bool) {
		if err := s.hold(); err != nil {
			yield(Record{}, err)
			return
		}
		src, err := s.open()
		if err != nil {
			yield(Record{}, err)
			return
		}
		defer src.Close()
		s.Whole, s.Missing, s.Gaps = 0, 0, nil
		held, tip := s.held, Record{}
		give := func(r Record) bool {
			s.count(&tip, &r)
			return yield(r, nil)
		}
		r := NewReader(src)
		for r.Next() {
			if s.isMoved(r.order.at) {
				continue
			}
			rec := r.Record()
			for len(held) > 0 && held[0].N < rec.N {
				if !give(held[0]) {
					return
				}
				held = held[1:]
			}
			if !give(rec) {
				return
			}
		}
		for _, rec := range held {
			if !give(rec) {
				return
			}
		}
		if err := readFault(r); err != nil {
			yield(Record{}, err)
		} else if s.Whole != s.Report.Records || r.lines.off != s.Report.Bytes {
			yield(Record{}, errChanged)
		}
	}
}

// readFault is what ended reading, but for the end of the log and a packing
// that is damaged: that one the report has.
func readFault(r *Reader) error {
	err := r.Err()
	if _, ok := errors.AsType[*PackError](err); ok {
		return nil
	}
	return err
}

// hold reads the records that are out of place.
func (s *Salvage) hold() error {
	if len(s.moved) == 0 || s.ready {
		return nil
	}
	src, err := s.open()
	if err != nil {
		return err
	}
	defer src.Close()
	r := NewReader(src)
	for r.Next() {
		if s.isMoved(r.order.at) {
			s.held = append(s.held, r.Record())
		}
	}
	slices.SortStableFunc(s.held, func(a, b Record) int { return cmp.Compare(a.N, b.N) })
	s.ready = true
	return readFault(r)
}

// isMoved tells whether the record at that byte is out of place.
func (s *Salvage) isMoved(off int64) bool {
	i, _ := slices.BinarySearchFunc(s.moved, off, func(m [2]int64, off int64) int { return cmp.Compare(m[1], off) })
	return i < len(s.moved) && s.moved[i][0] <= off
}

// count notes what is missing before r. tip is the record with the greatest
// number so far.
func (s *Salvage) count(tip, r *Record) {
	first := s.Whole == 0
	s.Whole++
	if r.N > tip.N+1 {
		gap := Gap{From: tip.N + 1, To: r.N - 1, AfterT: tip.T, BeforeT: r.T, NothingBefore: first}
		s.Missing += gap.Records()
		if len(s.Gaps) < maxListed {
			s.Gaps = append(s.Gaps, gap)
		}
	}
	if first || r.N > tip.N {
		*tip = *r
	}
}
