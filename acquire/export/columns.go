package export

import (
	"fmt"
	"math"

	"hawse/acquire/session"
	"hawse/safety"
	"hawse/trial"
)

// Of says which table.
type Of string

// The tables.
const (
	Samples Of = "samples"
	Frames  Of = "frames"
	Cells   Of = "cells"
)

// Kind says what a column holds.
type Kind uint8

// The kinds. Seconds are nanoseconds inside: CSV has all nine places, Parquet
// the nearest 64-bit float. Time is UTC, in RFC 3339 or as a timestamp in
// nanoseconds.
const (
	Int Kind = iota
	Real
	Seconds
	Time
	Text
	Truth
)

// Column is one column of a table. Any may be missing in a row.
type Column struct {
	Name  string
	Unit  string // "N", "m", "s", "m/s", "rad", "ns", "1" for counts and ratios, "" for words
	About string
	Kind  Kind
}

// Columns are those of a table, in order.
func Columns(of Of) ([]Column, error) {
	switch of {
	case Samples:
		return plain(sampleColumns), nil
	case Frames:
		return plain(frameColumns), nil
	case Cells:
		return plain(cellColumns), nil
	}
	return nil, fmt.Errorf("there is no table %q; choose %s, %s or %s", of, Samples, Cells, Frames)
}

// value is one field of a row; its column says which part counts. The zero value
// is a missing one.
type value struct {
	set bool
	i   int64 // Int; ns for Seconds and Time; 0 or 1 for Truth
	f   float64
	s   string
}

type column[R any] struct {
	Column
	get func(*R) value
}

func plain[R any](cols []column[R]) []Column {
	out := make([]Column, len(cols))
	for i, c := range cols {
		out[i] = c.Column
	}
	return out
}

func fill[R any](row []value, cols []column[R], r *R) {
	for i := range cols {
		row[i] = cols[i].get(r)
	}
}

func missing() value             { return value{} }
func integer(i int64) value      { return value{set: true, i: i} }
func text(s string) value        { return value{set: s != "", s: s} }
func known(s string) value       { return value{set: true, s: s} }
func at(ns int64, ok bool) value { return value{set: ok, i: ns} }

// number is missing where there is none: it is not known, or no number.
func number[F ~float64](f F) value {
	return value{set: !math.IsNaN(float64(f)) && !math.IsInf(float64(f), 0), f: float64(f)}
}

func count(n uint64) value { return value{set: n <= math.MaxInt64, i: int64(n)} }

func truth(b bool) value {
	v := value{set: true}
	if b {
		v.i = 1
	}
	return v
}

// place is what all rows have: which log, and where in it.
type place struct {
	run, mode string
	n         uint64
	t         int64
	wall      int64 // ns since 1970
	wallKnown bool
	lost      uint64 // records that are not there right before this row
}

// sampleRow is a row of [Samples].
type sampleRow struct {
	place
	*session.Sampled
}

// readings are the words of the column reading, by [session.SampledKind].
var readings = [...]string{"garbled", "good", "over-range", "break"}

var sampleColumns = []column[sampleRow]{
	{Column{"run", "", "the run's name in the trial file", Text}, func(r *sampleRow) value { return text(r.run) }},
	{Column{"mode", "", "live, demo or simulated: anything but live is invented data", Text}, func(r *sampleRow) value { return text(r.mode) }},
	{Column{"n", "1", "number of the record that brought the end of the frame", Int}, func(r *sampleRow) value { return count(r.place.n) }},
	{Column{"t_ns", "ns", "time since the log's start", Int}, func(r *sampleRow) value { return integer(r.t) }},
	{Column{"t_s", "s", "the same in seconds", Seconds}, func(r *sampleRow) value { return at(r.t, true) }},
	{Column{"wall_utc", "", "the computer's clock then, counted on from its last record in the log", Time}, func(r *sampleRow) value { return at(r.wall, r.wallKnown) }},
	{Column{"reading", "", "what the frame was: good, over-range, garbled; break: the port was lost or opened anew, join nothing across it", Text},
		func(r *sampleRow) value { return known(readings[r.Kind]) }},
	{Column{"cell", "", "where the load cell was; only in the rode its number is the rode's tension", Text}, func(r *sampleRow) value { return known(r.Guard.Cell.String()) }},
	{Column{"tension_n", "N", "tension: calibrated, less zero_n; only of a good reading with the cell in the rode; of a pin in the roller the likely one", Real}, func(r *sampleRow) value { return number(r.Tension) }},
	{Column{"guarded_n", "N", "what the limits acted on: of a pin the most it can be, with guards = larger the largest of all cells", Real}, func(r *sampleRow) value { return number(r.Guarded) }},
	{Column{"felt_n", "N", "what a pin in the roller feels, less zero_n; missing of another cell", Real}, func(r *sampleRow) value { return number(r.Felt) }},
	{Column{"tension_u_n", "N", "of a pin: standard uncertainty of tension_n by angle, length and friction", Real}, func(r *sampleRow) value { return number(r.U) }},
	{Column{"bend_rad", "rad", "of a pin: by how much the line turns over the roller", Real}, func(r *sampleRow) value { return number(r.Bend) }},
	{Column{"indicated_n", "N", "as the box showed it; over range it is a lower bound at best", Real}, func(r *sampleRow) value { return number(r.Indicated) }},
	{Column{"zero_n", "N", "the zero in force; missing while none was taken", Real}, func(r *sampleRow) value { return number(r.Zero) }},
	{Column{"hauled_m", "m", "line hauled since the rode out was said; missing once the count is old", Real}, func(r *sampleRow) value { return number(r.X) }},
	{Column{"hauled_in_stage_m", "m", "line hauled since the stage began", Real}, func(r *sampleRow) value { return number(r.InStage) }},
	{Column{"rode_out_m", "m", "rode outboard of the fairlead", Real}, func(r *sampleRow) value { return number(r.RodeOut) }},
	{Column{"speed_m_per_s", "m/s", "line speed over the last two seconds, hauling positive", Real}, func(r *sampleRow) value { return number(r.Speed) }},
	{Column{"depth_m", "m", "water depth as last said", Real}, func(r *sampleRow) value { return number(r.Depth) }},
	{Column{"scope_ratio", "1", "rode out over depth and fairlead height", Real}, func(r *sampleRow) value { return number(r.Scope) }},
	{Column{"scope_by_depth_ratio", "1", "rode out over depth alone", Real}, func(r *sampleRow) value { return number(r.Scope2) }},
	{Column{"line_counts", "1", "the encoder's last count, however old", Int}, func(r *sampleRow) value { return value{set: r.CountsAt >= 0, i: r.Counts} }},
	{Column{"line_age_s", "s", "how old that count was", Seconds}, func(r *sampleRow) value { return at(r.t-r.CountsAt, r.CountsAt >= 0) }},
	{Column{"stage", "", "what the crew was doing, as the director said it", Text}, func(r *sampleRow) value { return known(r.Guard.Stage.String()) }},
	{Column{"phase", "", "what the anchor was doing, as read from the data; missing where the Judge was not shown the frame", Text}, phaseOf},
	{Column{"winch_order", "", "what was asked of the winch once this frame had been judged", Text}, func(r *sampleRow) value { return known(r.Guard.Order.String()) }},
	{Column{"stop_kind", "", "kind of the stop in force", Text}, func(r *sampleRow) value { return stopWord(r, r.Guard.Stop.Kind.String()) }},
	{Column{"stop_cause", "", "its first cause, as the log's words name it", Text}, func(r *sampleRow) value { return stopWord(r, r.Guard.Stop.Cause.String()) }},
	{Column{"haul_permitted", "", "the guard permitted hauling", Truth}, func(r *sampleRow) value { return truth(r.Guard.Permit) }},
	{Column{"relay_closed", "", "what the relay last said of itself; missing before it spoke", Truth}, relayOf},
	{Column{"lost_records", "1", "records of the log that are not there between the row before and this one", Int}, func(r *sampleRow) value { return count(r.lost) }},
}

func phaseOf(r *sampleRow) value {
	if !r.Judged || r.Phase >= trial.NumPhases {
		return missing()
	}
	return known(r.Phase.String())
}

func stopWord(r *sampleRow, word string) value {
	if r.Guard.Stop.Kind == safety.NoStop {
		return missing()
	}
	return known(word)
}

func relayOf(r *sampleRow) value {
	if !r.Relay.Heard {
		return missing()
	}
	return truth(r.Relay.Closed)
}

// frameRow is a row of [Frames].
type frameRow struct {
	place
	kind, src, cut, raw string
	t0, at              int64
	hasT0, hasAt        bool
	chunk               int64
	hasChunk            bool
}

var frameColumns = []column[frameRow]{
	{Column{"run", "", "the run's name in the trial file", Text}, func(r *frameRow) value { return text(r.run) }},
	{Column{"mode", "", "live, demo or simulated: anything but live is invented data", Text}, func(r *frameRow) value { return text(r.mode) }},
	{Column{"n", "1", "number of the record", Int}, func(r *frameRow) value { return count(r.n) }},
	{Column{"t_ns", "ns", "time of the record since the log's start", Int}, func(r *frameRow) value { return integer(r.t) }},
	{Column{"t_s", "s", "the same in seconds", Seconds}, func(r *frameRow) value { return at(r.t, true) }},
	{Column{"wall_utc", "", "the computer's clock then, counted on from its last record in the log", Time}, func(r *frameRow) value { return at(r.wall, r.wallKnown) }},
	{Column{"kind", "", "rx: bytes that came; tx: bytes that were sent; head: bytes read before this log began", Text}, func(r *frameRow) value { return known(r.kind) }},
	{Column{"src", "", "the port: load, line, stop, horn", Text}, func(r *frameRow) value { return text(r.src) }},
	{Column{"first_byte_s", "s", "when the first byte was read (t0)", Seconds}, func(r *frameRow) value { return at(r.t0, r.hasT0) }},
	{Column{"last_byte_s", "s", "when the last byte was read (at), if that was before t_s", Seconds}, func(r *frameRow) value { return at(r.at, r.hasAt) }},
	{Column{"chunk", "1", "number of the Read that brought the last byte", Int}, func(r *frameRow) value { return value{set: r.hasChunk, i: r.chunk} }},
	{Column{"cut", "", "why the bytes end here", Text}, func(r *frameRow) value { return text(r.cut) }},
	{Column{"raw", "", "the bytes, escaped as in the log: \\r \\n \\t \\\" \\\\ \\xHH", Text}, func(r *frameRow) value { return known(r.raw) }},
	{Column{"lost_records", "1", "records of the log that are not there between the row before and this one", Int}, func(r *frameRow) value { return count(r.lost) }},
}
