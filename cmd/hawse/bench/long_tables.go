package bench

import (
	"fmt"
	"time"

	"hawse/acquire/session"
)

func longReport(o options, marks []longMark, end *session.Snapshot, scores [instruments]score) *report {
	r := &report{title: fmt.Sprintf("Long: %v simulated hours, two instruments at %d lines/s each, %v times real time", o.hours, o.rate, o.scale),
		settings: []setting{{"hours", o.hours}, {"rate_per_port_hz", o.rate}, {"scale", o.scale}}}
	t := &table{key: "marks"}
	row := func(of func(longMark) cell) (cells []cell) {
		for _, k := range marks {
			cells = append(cells, of(k))
		}
		return cells
	}
	for _, k := range marks {
		t.columns = append(t.columns, column{k.key, "after " + k.name})
	}
	t.add("lines_per_port", "lines of each instrument", row(func(k longMark) cell { return cellInt(k.lines) })...)
	t.add("records", "records", row(func(k longMark) cell { return cellInt(k.records) })...)
	t.add("heap_in_use_bytes", "heap in use, MB", row(func(k longMark) cell { return cellMB(k.heap) })...)
	t.add("memory_peak_bytes", "most memory so far, MB", row(func(k longMark) cell { return cellMB(k.peak) })...)
	micro := func(key, label string, of func(frameTimes) time.Duration) {
		t.add(key, label, row(func(k longMark) cell {
			return cell{of(k.frame).Seconds(), fmt.Sprintf("%.1f", of(k.frame).Seconds()*1e6)}
		})...)
	}
	micro("trace_all_s", "trace by time, all of it, µs", func(f frameTimes) time.Duration { return f.all })
	micro("trace_minute_s", "trace by time, the last minute, µs", func(f frameTimes) time.Duration { return f.minute })
	micro("trace_haul_s", "trace by line hauled, µs", func(f frameTimes) time.Duration { return f.haul })
	micro("frame_s", "all three, µs", frameTimes.sum)
	t.add("frame_ratio", "  times that after "+marks[0].name, row(func(k longMark) cell {
		return cellRatio(k.frame.sum().Seconds(), marks[0].frame.sum().Seconds())
	})...)
	t.add("wall_s", "real time so far, s", row(func(k longMark) cell { return cellNumber(k.wall.Seconds(), "%.1f") })...)

	ports := &table{key: "ports", columns: []column{{"load", "load"}, {"line", "line"}}}
	ports.scores(scores[:]...)
	whole := &table{key: "log", columns: []column{{}}}
	whole.add("bytes", "log, MB", cellMB(end.Log.Bytes))
	whole.add("records_lost", "records lost", cellInt(end.Log.Lost))
	last := marks[len(marks)-1]
	whole.add("speed", "times real time, as it came out", cellNumber(float64(last.lines)/float64(o.rate)/last.wall.Seconds(), "%.0f"))
	r.tables = []*table{t, ports, whole}
	for i, s := range scores {
		bad := s.bad()
		r.fault(bad != "", "%s: %s", sources[i], bad)
	}
	r.fault(end.Log.Lost > 0, "%d records lost", end.Log.Lost)
	r.note("A trace is %d columns, with the snapshot, the median of many; a screen draws one or two of the three.", traceCols)
	return r
}
