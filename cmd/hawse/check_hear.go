package main

import (
	"context"
	"math"
	"os"
	"time"

	"hawse/acquire"
	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/cmd/hawse/system"
	"hawse/logfmt"
	"hawse/safety"
	"hawse/trial"
	"hawse/trial/geo"
)

// heardAll is what a while of listening showed.
type heardAll struct {
	last   *session.Snapshot
	loads  []trial.Force            // as indicated, one for each valid reading
	cells  map[string][]trial.Force // the same of every further load cell, by its table
	counts []string                 // different lines of the counter, newest last
	aids   heardAids
	long   time.Duration
	bytes  int64         // of the log
	onDisk time.Duration // the longest a record waited for the disk
	stepOf time.Duration // of the wall clock against the monotonic one
}

// heardAids is what came of the instruments of the vessel, a value for each new
// frame.
type heardAids struct {
	depthAt, positionAt, headingAt int64 // ns, of the newest; -1 none
	soundings                      int
	fixes                          []geo.Point
	headings                       []float64 // rad
}

// mostAids bounds what is kept.
const mostAids = 10_000

func (a *heardAids) hear(s *session.Aids) {
	if s.SoundedAt > a.depthAt {
		a.depthAt, a.soundings = s.SoundedAt, a.soundings+1
	}
	if at := s.Position.LastAt; at > a.positionAt && len(a.fixes) < mostAids && !math.IsNaN(s.Lat) {
		a.positionAt, a.fixes = at, append(a.fixes, geo.Point{Lat: s.Lat, Lon: s.Lon})
	}
	if at := s.Heading.LastAt; at > a.headingAt && len(a.headings) < mostAids && !math.IsNaN(float64(s.Course)) {
		a.headingAt, a.headings = at, append(a.headings, float64(s.Course))
	}
}

// listenToAll runs a capture for a while, as for a pull, does what then says, and
// seals its log.
func listenToAll(ctx context.Context, t *trial.Trial, run trial.Run, file, dir, log string, long time.Duration, then func(context.Context, *session.Capture) error) (*heardAll, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	capture, err := session.Start(ctx, session.Config{
		Head:    session.Head{Tool: cli.Tool, Build: cli.Build(), Started: time.Now(), Mode: "live", Caption: "a check before the pull: nothing is pulled", Scale: 1, Trial: t, File: file, Run: run},
		LogPath: log, Clock: acquire.NewClock(), Dial: acquire.OpenSerial, Dir: dir, Log: logfmt.Options{}, Free: system.FreeSpace, Slept: session.Slept})
	if err != nil {
		return nil, cli.Exit(cli.ExitStart, "check not started: %w", err)
	}
	cellsAt := map[string]int64{}
	h := &heardAll{cells: map[string][]trial.Force{}, aids: heardAids{depthAt: -1, positionAt: -1, headingAt: -1}}
	start := time.Now()
	wall := start.Round(0)
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	at := int64(-1)
	for ctx.Err() == nil && time.Since(start) < long {
		select {
		case <-ctx.Done():
		case <-tick.C:
		}
		s := capture.Snapshot()
		h.last = s
		if s.Load.Good > 0 && s.Tension.At > at && (s.Tension.Known || pinFeels(s.Tension.Pin)) {
			at = s.Tension.At
			h.loads = append(h.loads, s.Tension.Indicated)
		}
		if text := s.Line.LastText; text != "" && (len(h.counts) == 0 || h.counts[len(h.counts)-1] != text) && len(h.counts) < 1000 {
			h.counts = append(h.counts, text)
		}
		h.hearCells(s.Cells, cellsAt)
		h.aids.hear(&s.Aids)
		h.onDisk = max(h.onDisk, time.Duration(s.Log.OldestAge))
	}
	h.long = time.Since(start)
	h.stepOf = time.Now().Round(0).Sub(wall) - h.long
	if err := then(ctx, capture); err != nil {
		cancel()
		<-capture.Done()
		return nil, err
	}
	// It is refused where the tension is not known, for that is loaded: then the
	// log ends with its context, and says so.
	out, err := capture.DoWait(context.WithoutCancel(ctx), session.Act{Who: safety.Director, Name: "check", What: session.ActEnd, Value: "check done"})
	if err != nil || out.Refused != "" {
		cancel()
	}
	<-capture.Done()
	if err := capture.Err(); err != nil {
		return nil, cli.Exit(cli.ExitRecord, "the record of the check: %w", err)
	}
	if info, err := os.Stat(log); err == nil {
		h.bytes = info.Size()
	}
	return h, nil
}
