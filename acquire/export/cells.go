package export

import (
	"hawse/acquire/session"
	"hawse/logfmt"
)

// cellRow is a row of [Cells].
type cellRow struct {
	place
	*session.CellSampled
}

var cellColumns = []column[cellRow]{
	{Column{"run", "", "the run's name in the trial file", Text}, func(r *cellRow) value { return text(r.run) }},
	{Column{"mode", "", "live, demo or simulated: anything but live is invented data", Text}, func(r *cellRow) value { return text(r.mode) }},
	{Column{"n", "1", "number of the record that brought the end of the frame", Int}, func(r *cellRow) value { return count(r.place.n) }},
	{Column{"t_ns", "ns", "time since the log's start", Int}, func(r *cellRow) value { return integer(r.t) }},
	{Column{"t_s", "s", "the same in seconds", Seconds}, func(r *cellRow) value { return at(r.t, true) }},
	{Column{"wall_utc", "", "the computer's clock then, counted on from its last record in the log", Time}, func(r *cellRow) value { return at(r.wall, r.wallKnown) }},
	{Column{"cell", "", "the load cell, by its table in the trial file", Text}, func(r *cellRow) value { return known(r.Table) }},
	{Column{"sits", "", "where it sits: outboard, inboard, or roller, a pin; missing where not said", Text}, func(r *cellRow) value { return text(r.Sits) }},
	{Column{"reading", "", "what the frame was: good, over-range, garbled", Text}, func(r *cellRow) value { return known(readings[r.Kind]) }},
	{Column{"tension_n", "N", "tension: calibrated, less zero_n; of a good reading; of a pin the likely one", Real}, func(r *cellRow) value { return number(r.Tension) }},
	{Column{"most_n", "N", "the most it can be: of a pin more than tension_n", Real}, func(r *cellRow) value { return number(r.Most) }},
	{Column{"indicated_n", "N", "as the box showed it; over range it is a lower bound at best", Real}, func(r *cellRow) value { return number(r.Indicated) }},
	{Column{"zero_n", "N", "the zero in force; missing while none was taken", Real}, func(r *cellRow) value { return number(r.Zero) }},
	{Column{"apart_n", "N", "by how much it stood off the guarding cell in the last second compared, beyond friction and uncertainty", Real}, func(r *cellRow) value { return number(r.Apart) }},
	{Column{"stage", "", "what the crew was doing, as the director said it", Text}, func(r *cellRow) value { return known(r.Stage.String()) }},
	{Column{"lost_records", "1", "records of the log that are not there between the row before and this one", Int}, func(r *cellRow) value { return count(r.lost) }},
}

// folded folds one record in and writes the rows of the table that is wanted.
func (e *exporter) folded(r *logfmt.Record) error {
	taken, err := e.fold(r)
	if err != nil || !e.sampler.Ready() {
		return err
	}
	if err := e.begin(); err != nil {
		return err
	}
	if e.o.Of == Cells {
		cells := e.sampler.Cells()
		for i := range cells {
			fill(e.row, cellColumns, &cellRow{e.place, &cells[i]})
			if err := e.write(); err != nil {
				return err
			}
		}
		return nil
	}
	for i := range taken {
		fill(e.row, sampleColumns, &sampleRow{e.place, &taken[i]})
		if err := e.write(); err != nil {
			return err
		}
	}
	return nil
}
