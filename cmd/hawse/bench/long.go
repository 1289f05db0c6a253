package bench

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/cmd/hawse/system"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
)

// longMark is what was found at one point of a long run.
type longMark struct {
	name    string
	key     string
	lines   int // of each instrument
	records uint64
	heap    int64
	peak    int64
	frame   frameTimes
	wall    time.Duration // since the start
}

// bytesPerLine is about what one line takes in the raw log.
const bytesPerLine = 165

// measureLong runs a capture in this process on a fast clock.
func measureLong(ctx context.Context, o options) (*report, error) {
	lines := int(o.hours * 3600 * float64(o.rate))
	return inFolder(o, func(dir string) (*report, error) {
		need := int64(lines) * instruments * bytesPerLine
		free, known := system.FreeSpace(dir)
		switch {
		case known && free < need+need/5:
			return nil, fmt.Errorf("%v h make a log of about %d MB and %s has %d MB free; make room, choose another place with --dir, or fewer --hours",
				o.hours, need/1e6, filepath.Dir(dir), free/1e6)
		case known:
			o.progress("the log will be about %d MB; %d MB are free; %v h at %v times real time take %v or more",
				need/1e6, free/1e6, o.hours, o.scale, time.Duration(o.hours/o.scale*float64(time.Hour)).Round(time.Second))
		}
		log := filepath.Join(dir, "bench.log")
		marks, end, err := runLong(ctx, o, lines, log)
		if err != nil {
			return nil, err
		}
		o.progress("reading the log back")
		var scorers [instruments]*scorer
		for i, box := range longBoxes(o) {
			scorers[i] = newScorer(box, lines)
		}
		if err := scoreLog(ctx, log, scorers); err != nil {
			return nil, err
		}
		verified, err := logfmt.VerifyFile(log)
		if err != nil {
			return nil, err
		}
		r := longReport(o, marks, end, [instruments]score{scorers[loadCell].result(), scorers[encoder].result()})
		r.fault(!verified.Whole, "the log is not whole")
		return r, nil
	})
}

// longBoxes haul through the lane in the whole of the run.
func longBoxes(o options) [instruments]instrument {
	return newBoxes(o.rate, floodSpan, time.Duration(o.hours*float64(time.Hour)))
}

// runLong captures from the feed and stops at each mark to look.
func runLong(ctx context.Context, o options, lines int, log string) (marks []longMark, end *session.Snapshot, err error) {
	text, err := trialFile(o.rate, "load", "line", "stop")
	if err != nil {
		return nil, nil, err
	}
	t, err := trial.ParseTrial("trial.toml", []byte(text))
	if err != nil {
		return nil, nil, err
	}
	run, ok := t.Run("A1")
	if !ok {
		return nil, nil, fmt.Errorf("the trial file's template has no run A1: the bench must follow it")
	}
	clock := acquire.NewScaledClock(o.scale)
	feed := newFeed(clock, o.rate, longBoxes(o))
	began := time.Now()
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	c, err := session.Start(ctx, session.Config{
		Head: session.Head{Tool: cli.Tool, Build: cli.Build(), Started: began, Mode: "simulated", Caption: "Invented data: a measurement",
			Scale: o.scale, Trial: t, File: "trial.toml", Run: run},
		LogPath: log, Clock: clock, Dial: feed.dial})
	if err != nil {
		return nil, nil, err
	}
	defer func() { cancel(); <-c.Done() }()
	feed.watch(c)

	for i, m := range longMarks(o, lines) {
		feed.goOn(m.lines)
		if i == 0 {
			// The stage is said as on a deck, once the encoder has been heard.
			if err := longIntoPull(ctx, c); err != nil {
				return nil, nil, err
			}
		}
		if err := longSettled(ctx, c, m.lines); err != nil {
			return nil, nil, err
		}
		m.look(c, began)
		o.progress("%s: after %v, %s records", m.name, m.wall.Round(time.Second), cli.Grouped(m.records))
		marks = append(marks, m)
	}
	for range 2 { // the rode counts as loaded
		if _, err := c.DoWait(ctx, session.Act{Who: safety.Director, Name: "bench", What: session.ActEnd, Value: "measured"}); err != nil {
			break // it has ended
		}
	}
	select {
	case <-c.Done():
	case <-ctx.Done():
		return nil, nil, ctx.Err()
	}
	return marks, c.Snapshot(), c.Err()
}

// longMarks are a minute, an hour and the end.
func longMarks(o options, lines int) (out []longMark) {
	for _, m := range []longMark{{name: "1 min", key: "after_1_min", lines: 60 * o.rate}, {name: "1 h", key: "after_1_h", lines: 3600 * o.rate}} {
		if m.lines < lines {
			out = append(out, m)
		}
	}
	return append(out, longMark{name: strings.TrimSuffix(fmt.Sprintf("%.2f", o.hours), ".00") + " h", key: "end", lines: lines})
}

func longIntoPull(ctx context.Context, c *session.Capture) error {
	for c.Snapshot().Line.Good == 0 {
		if !pauseFor(ctx, time.Millisecond) {
			return ctx.Err()
		}
	}
	for _, a := range []session.Act{{What: session.ActDepth, Value: "6 m"}, {What: session.ActPayout, Value: "60 m"}, {What: session.ActStage, Stage: trial.Pull}} {
		a.Who, a.Name = safety.Director, "bench"
		out, err := c.DoWait(ctx, a)
		if err != nil {
			return err
		}
		if out.Refused != "" {
			return fmt.Errorf("%s: %s", a.What, out.Refused)
		}
	}
	return nil
}

// longSettled waits until so many lines of each instrument are folded and
// judged.
func longSettled(ctx context.Context, c *session.Capture, lines int) error {
	const patience = 30 * time.Second
	var was uint64
	for since := time.Now(); ; {
		s := c.Snapshot()
		switch {
		case s.Load.Good == uint64(lines) && s.Line.Good == uint64(lines) && s.JudgeLag == 0:
			// The writer may still be at its last batch.
			if !pauseFor(ctx, 200*time.Millisecond) {
				return ctx.Err()
			}
			return nil
		case s.Ended:
			return fmt.Errorf("the capture has ended by itself: %s", s.EndReason)
		case s.Load.Good+s.Line.Good != was:
			was, since = s.Load.Good+s.Line.Good, time.Now()
		case time.Since(since) > patience:
			return fmt.Errorf("%d and %d lines of %d arrived, and nothing for %v", s.Load.Good, s.Line.Good, lines, patience)
		}
		if !pauseFor(ctx, 5*time.Millisecond) {
			return ctx.Err()
		}
	}
}

// look measures, while the instruments are silent.
func (m *longMark) look(c *session.Capture, began time.Time) {
	m.wall = time.Since(began)
	m.records = c.Snapshot().N
	runtime.GC()
	var mem runtime.MemStats
	runtime.ReadMemStats(&mem)
	m.heap = int64(mem.HeapInuse)
	m.peak = procPeak(os.Getpid())
	m.frame = frameCost(c)
}

// frameTimes is the median time of what a screen asks for in one frame, part
// by part.
type frameTimes struct {
	all, minute, haul time.Duration // the whole trace by time, its last minute, all by line hauled
}

func (f frameTimes) sum() time.Duration { return f.all + f.minute + f.haul }

// frameCost times the snapshot and a trace, many times for each kind of trace.
func frameCost(v session.View) frameTimes {
	s := v.Snapshot()
	end := float64(s.T)
	return frameTimes{
		all:    traceCost(v, session.TraceQuery{From: 0, To: end, Cols: traceCols}),
		minute: traceCost(v, session.TraceQuery{From: float64(s.Span.Last) - 60e9, To: float64(s.Span.Last), Cols: traceCols}),
		haul:   traceCost(v, session.TraceQuery{ByHaul: true, From: float64(s.Span.LeastX), To: float64(s.Span.MostX), Cols: traceCols}),
	}
}

func traceCost(v session.View, q session.TraceQuery) time.Duration {
	const frames = 400
	var dst []trial.Col
	cost := make([]int64, frames)
	for i := range cost {
		began := time.Now()
		_ = v.Snapshot()
		dst = v.Trace(q, dst)
		cost[i] = int64(time.Since(began))
	}
	slices.Sort(cost)
	return time.Duration(nearestRank(cost, 0.5))
}

// traceCols is how wide a trace is on a screen of 160 columns.
const traceCols = 160
