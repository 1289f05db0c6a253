//go:build unix

package bench

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"sync"
	"time"

	"hawse/cmd/hawse/cli"
)

// measureFlood sends at a high rate and scores the log.
func measureFlood(ctx context.Context, o options) (*report, error) {
	return inFolder(o, func(dir string) (*report, error) {
		n := int(float64(o.rate) * o.lasts.Seconds())
		rig, err := openRig(ctx, dir, min(o.rate, uncountedRate), newBoxes(o.rate, floodSpan, o.lasts))
		if err != nil {
			return nil, err
		}
		defer rig.close()
		o.progress("sending %s lines to each of two ports, %v", cli.Grouped(n), o.lasts)
		run, err := runHawse(ctx, rig, hawseRun{screen: o.screen, rate: o.rate, lines: n, lasts: o.lasts, look: floodLook})
		if err != nil {
			return nil, err
		}
		if o.keep {
			if err := rig.writeSent(filepath.Join(dir, "sent.txt")); err != nil {
				return nil, err
			}
		}
		return floodReport(o, run), nil
	})
}

// floodLook is how often the growing log is looked at: seldom, so that looking
// does not disturb what is measured.
const floodLook = 5 * time.Millisecond

// hawseRun is one capture under numbered lines, and what came of it.
type hawseRun struct {
	screen string
	size   screenSize // of the screen
	rate   int
	lines  int
	lasts  time.Duration
	look   time.Duration // how often the growing log is looked at

	scores   [instruments]score
	delays   [instruments][]int64 // from sent to in the log, ns
	late     [instruments]int
	longest  [instruments]time.Duration // a write of the sender took
	blocked  time.Duration              // the terminal was not read
	drawn    int64                      // bytes to the terminal
	logBytes int64
	used     used
	stop     string // called while it ran, for a reason of its own; "" none
}

// lateAfter is how long a line may take into the log before it is counted.
const lateAfter = 100 * time.Millisecond

// runHawse starts a capture in a rig's folder, brings it into a pull, floods
// it, ends it and scores its log.
func runHawse(ctx context.Context, rig *deckRig, h hawseRun) (hawseRun, error) {
	child, err := startCapture(rig, h.screen, h.size)
	if err != nil {
		return h, err
	}
	defer child.kill()
	rig.watch(child.gone)
	rig.talk(ctx, min(h.rate, uncountedRate))
	tail := newTailer(h.lines, child.log)
	stopTail := startTailer(ctx, tail, rig, h.look)
	defer stopTail()
	if err := child.intoPull(ctx, rig); err != nil {
		return h, err
	}
	drawn := child.drawn.Load()
	release := h.blockScreen(ctx, child)
	err = rig.flood(ctx, h.rate, h.lines)
	h.drawn = child.drawn.Load() - drawn
	release()
	if err != nil {
		return h, firstError(child.died(), err)
	}
	if err := tail.settled(ctx, h.lines); err != nil {
		return h, err
	}
	a, err := child.call(statusCall)
	if err != nil {
		return h, err
	}
	h.stop = a.Status.StopCause
	if h.used, err = child.end(ctx); err != nil {
		return h, err
	}
	if err := stopTail(); err != nil {
		return h, err
	}
	h.logBytes = tail.bytes.Load()
	var scorers [instruments]*scorer
	for i, s := range rig.send {
		scorers[i] = newScorer(s.box, h.lines)
		h.delays[i], h.late[i] = tail.delays(i, s.sent, lateAfter)
		h.longest[i] = time.Duration(s.longest)
	}
	if err := scoreLog(ctx, child.log, scorers); err != nil {
		return h, err
	}
	for i := range scorers {
		h.scores[i] = scorers[i].result()
	}
	return h, nil
}

// startTailer runs a tailer until the returned function, which may be called
// twice, has ended it and taken a last look.
func startTailer(ctx context.Context, t *tailer, rig *deckRig, every time.Duration) (stop func() error) {
	ctx, cancel := context.WithCancel(ctx)
	var g group
	g.do(func() error { return t.run(ctx, rig.now, every) })
	return sync.OnceValue(func() error {
		cancel()
		err := errors.Join(g.wait(), t.look(rig.now))
		t.close()
		return err
	})
}

// blockScreen leaves the child's terminal unread for up to 30 s in the middle
// of the run. The returned function ends that.
func (h *hawseRun) blockScreen(ctx context.Context, child *capture) (release func()) {
	if h.screen != screenBlocked {
		return func() {}
	}
	h.blocked = min(30*time.Second, h.lasts/2)
	ctx, cancel := context.WithCancel(ctx)
	var g group
	g.do(func() error {
		if pauseFor(ctx, (h.lasts-h.blocked)/2) {
			child.hold.Store(true)
			pauseFor(ctx, h.blocked)
		}
		child.hold.Store(false)
		return nil
	})
	return func() { cancel(); _ = g.wait() }
}

func floodReport(o options, h hawseRun) *report {
	screen := "no screen"
	switch o.screen {
	case screenRead:
		screen = fmt.Sprintf("screen at %dx%d", usualScreen.cols, usualScreen.rows)
	case screenBlocked:
		screen = fmt.Sprintf("screen at %dx%d, its terminal not read for %v in the middle", usualScreen.cols, usualScreen.rows, h.blocked)
	}
	r := &report{title: fmt.Sprintf("Flood: two ports, %s lines/s each, for %v, %s", cli.Grouped(o.rate), o.lasts, screen),
		settings: []setting{{"rate_per_port_hz", o.rate}, {"for_s", o.lasts.Seconds()}, {"screen", o.screen},
			{"blocked_s", h.blocked.Seconds()}}}
	ports := &table{key: "ports", columns: []column{{"load", "load"}, {"line", "line"}}}
	ports.scores(h.scores[:]...)
	ports.spreads("in_log", "sent to in the log", spreadOf(h.delays[loadCell]), spreadOf(h.delays[encoder]))
	ports.add("late", "later than 100 ms", cellInt(h.late[loadCell]), cellInt(h.late[encoder]))
	ports.add("longest_write_s", "longest write of the sender, ms", cellTime(h.longest[loadCell]), cellTime(h.longest[encoder]))
	whole := &table{key: "capture", columns: []column{{}}}
	whole.add("log_bytes", "log, MB", cellMB(h.logBytes))
	whole.add("cpu_s", "CPU of the capture, s", cellSeconds(h.used.cpu))
	whole.add("cpu_percent_of_core", "CPU, % of one core", cellNumber(h.used.share(), "%.1f"))
	whole.add("memory_peak_bytes", "most memory, MB", cellMB(h.used.peak))
	if o.screen != screenNone {
		whole.add("terminal_bytes_per_s", "bytes/s to the terminal", cellInt(int64(float64(h.drawn)/o.lasts.Seconds())))
	}
	r.tables = []*table{ports, whole}
	for i, s := range h.scores {
		bad := s.bad()
		r.fault(bad != "", "%s: %s", sources[i], bad)
	}
	r.note("The log is looked at every %v: times into it are up to that much too long.", floodLook)
	r.noteStop(h.stop)
	return r
}

// noteStop tells of a stop nobody caused: on a busy machine the program may
// stand still, which is a stop and no fault of it.
func (r *report) noteStop(cause string) {
	if cause != "" {
		r.note("A stop came by itself: %s. The machine had other work; the figures are worth little.", cause)
	}
}
