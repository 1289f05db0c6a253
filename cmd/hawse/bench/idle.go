//go:build unix

package bench

import (
	"context"
	"fmt"
	"time"
)

// measureIdle is an ordinary pull with its screen.
func measureIdle(ctx context.Context, o options) (*report, error) {
	size, err := readScreenSize(o.size)
	if err != nil {
		return nil, err
	}
	return inFolder(o, func(dir string) (*report, error) {
		n := int(float64(o.rate) * o.lasts.Seconds())
		rig, err := openRig(ctx, dir, min(o.rate, uncountedRate), newBoxes(o.rate, floodSpan, o.lasts))
		if err != nil {
			return nil, err
		}
		defer rig.close()
		o.progress("a pull of %v at %d lines/s", o.lasts, o.rate)
		h, err := runHawse(ctx, rig, hawseRun{screen: screenRead, size: size, rate: o.rate, lines: n, lasts: o.lasts, look: 50 * time.Millisecond})
		if err != nil {
			return nil, err
		}
		r := &report{title: fmt.Sprintf("Idle: two ports, %d lines/s each, for %v, screen at %dx%d", o.rate, o.lasts, size.cols, size.rows),
			settings: []setting{{"rate_per_port_hz", o.rate}, {"columns", size.cols}, {"rows", size.rows}, {"for_s", o.lasts.Seconds()}}}
		t := &table{key: "capture", columns: []column{{}}}
		t.add("cpu_percent_of_core", "CPU, % of one core", cellNumber(h.used.share(), "%.1f"))
		t.add("cpu_s", "CPU, s", cellSeconds(h.used.cpu))
		t.add("ran_s", "ran, s", cellSeconds(h.used.ran))
		t.add("memory_peak_bytes", "most memory, MB", cellMB(h.used.peak))
		t.add("terminal_bytes_per_s", "bytes/s to the terminal", cellInt(int64(float64(h.drawn)/o.lasts.Seconds())))
		t.add("log_bytes", "log, MB", cellMB(h.logBytes))
		var all score
		for _, s := range h.scores {
			all.add(s)
		}
		t.add("lost", "lines lost", cellInt(all.lost))
		r.tables = []*table{t}
		bad := all.bad()
		r.fault(bad != "", "%s", bad)
		r.noteStop(h.stop)
		return r, nil
	})
}
