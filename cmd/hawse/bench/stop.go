//go:build unix

package bench

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	"hawse/acquire/session"
	"hawse/logfmt"
)

const (
	overLine = "OL" + lineEnd
	// missedAfter is when a stop that has not come counts as missed: far past
	// the relay's own patience.
	missedAfter = 2 * time.Second
	// stopJitter spreads the stops over the phase of heartbeats and screen.
	stopJitter = 50 * time.Millisecond
)

// stopRun is what many stops came to.
type stopRun struct {
	outside []int64 // from the write of the over-range line to the read of OPEN
	inside  []int64 // by the capture's log, from the Read of the one to the end of the Write of the other
	missed  int
	others  int // stops that came before they were asked for
	used    used
}

// measureStop trips a capture again and again and times its stop output.
func measureStop(ctx context.Context, o options) (*report, error) {
	return inFolder(o, func(dir string) (*report, error) {
		rig, err := openRig(ctx, dir, o.rate, newBoxes(o.rate, floodSpan, time.Hour))
		if err != nil {
			return nil, err
		}
		defer rig.close()
		child, err := startCapture(rig, o.screen, usualScreen)
		if err != nil {
			return nil, err
		}
		defer child.kill()
		rig.watch(child.gone)
		o.progress("%d stops at %d lines/s", o.cycles, o.rate)
		rig.talk(ctx, o.rate)
		if err := child.intoPull(ctx, rig); err != nil {
			return nil, err
		}
		run, err := stopCycles(ctx, rig, child, o.cycles)
		if err != nil {
			return nil, err
		}
		if run.used, err = child.end(ctx); err != nil {
			return nil, err
		}
		unanswered := 0
		if run.inside, unanswered, err = stopsInLog(ctx, child.log); err != nil {
			return nil, err
		}
		run.missed = max(run.missed, unanswered)
		return stopReport(o, run), nil
	})
}

func stopCycles(ctx context.Context, rig *deckRig, child *capture, cycles int) (run stopRun, err error) {
	load := rig.send[loadCell]
	for len(run.outside)+run.missed < cycles {
		rig.relay.forget()
		if !pauseFor(ctx, rand.N(stopJitter)) {
			return run, ctx.Err()
		}
		var at int64
		load.instead <- overLine
		select {
		case at = <-load.said:
		case <-child.gone:
			return run, child.died()
		case <-ctx.Done():
			return run, ctx.Err()
		}
		switch ch, ok := rig.relay.await(ctx, false, 0, missedAfter); {
		case ctx.Err() != nil:
			return run, ctx.Err()
		case !ok:
			run.missed++
		case ch.T < at:
			if run.others++; run.others > cycles {
				return run, errors.New("more stops came by themselves than were asked for; leave the machine alone")
			}
		default:
			run.outside = append(run.outside, ch.T-at)
		}
		if err := child.backToPull(ctx, rig); err != nil {
			return run, err
		}
	}
	return run, nil
}

// backToPull acknowledges and re-arms until the relay is closed again.
func (c *capture) backToPull(ctx context.Context, rig *deckRig) error {
	const within = 10 * time.Second
	for end := time.Now().Add(within); ; {
		// Refused when all has been seen already.
		if _, err := c.call(session.Call{Act: session.ActAck}); err != nil {
			return err
		}
		a, err := c.call(session.Call{Act: session.ActRearm, Stage: "pull"})
		if err != nil {
			return err
		}
		if a.Done {
			if _, ok := rig.relay.await(ctx, true, 0, time.Second); ok {
				return nil
			}
		}
		if time.Now().After(end) {
			return fmt.Errorf("not back in the pull %v after a stop; last refusal: %s", within, a.Refused)
		}
		if !pauseFor(ctx, 5*time.Millisecond) {
			return ctx.Err()
		}
	}
}

// stopsInLog reads, for each over-range line in a log, how long it took until
// OPEN was written; unanswered are those without one.
func stopsInLog(ctx context.Context, path string) (ns []int64, unanswered int, err error) {
	// A record that was made later than its bytes came keeps their time in at.
	when := func(r *logfmt.Record) int64 {
		if at, ok := r.Ns("at"); ok {
			return at
		}
		return r.T
	}
	asked := int64(-1)
	err = eachRecord(ctx, path, func(r *logfmt.Record) {
		switch {
		case r.Kind == logfmt.Rx && r.Str("src") == sources[loadCell] && strings.Contains(r.Str("raw"), overLine):
			if asked >= 0 {
				unanswered++
			}
			asked = when(r)
		case r.Kind == logfmt.Tx && asked >= 0 && strings.Contains(r.Str("raw"), "OPEN "):
			ns = append(ns, when(r)-asked)
			asked = -1
		}
	})
	if asked >= 0 {
		unanswered++
	}
	return ns, unanswered, err
}

func stopReport(o options, run stopRun) *report {
	screen := "no screen"
	if o.screen == screenRead {
		screen = fmt.Sprintf("screen at %dx%d", usualScreen.cols, usualScreen.rows)
	}
	r := &report{title: fmt.Sprintf("Stop: from an over-range line to the stop output, %d times, two ports at %d lines/s, %s", o.cycles, o.rate, screen),
		settings: []setting{{"rate_per_port_hz", o.rate}, {"cycles", o.cycles}, {"screen", o.screen}}}
	t := &table{key: "latency", columns: []column{{"outside", "seen from outside"}, {"inside", "by its own log"}}}
	t.add("n", "stops timed", cellInt(len(run.outside)), cellInt(len(run.inside)))
	t.spreads("stop", "line to OPEN", spreadOf(run.outside), spreadOf(run.inside))
	whole := &table{key: "capture", columns: []column{{}}}
	whole.add("missed", "stops missed", cellInt(run.missed))
	whole.add("others", "stops not asked for", cellInt(run.others))
	whole.add("cpu_percent_of_core", "CPU, % of one core", cellNumber(run.used.share(), "%.1f"))
	r.tables = []*table{t, whole}
	r.fault(run.missed > 0, "%d stops missed of %d", run.missed, o.cycles)
	if run.others > 0 {
		r.note("%d stops came by themselves: the machine had other work, so the longest times are not the program's own.", run.others)
	}
	return r
}
