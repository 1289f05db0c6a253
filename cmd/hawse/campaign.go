package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"hawse/acquire"
	"hawse/acquire/crew"
	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/logfmt"
	"hawse/trial"
)

// writeCampaign writes the invented example campaign: a trial folder with its
// trial file and a sealed log for every run, played through the fold that a live
// capture runs, without ports or clock. The same seed gives the same pulls.
func writeCampaign(ctx context.Context, dir string, seed uint64, progress io.Writer) error {
	c := newCampaign(seed)
	t, err := trial.ParseTrial("trial.toml", []byte(c.file()))
	if err != nil {
		return fmt.Errorf("the trial file of the example campaign: %w", err)
	}
	if left, err := os.ReadDir(dir); err == nil && len(left) > 0 {
		return exitWith(exitStart, "%s is not empty: give a folder that is not there yet; nothing is ever overwritten", dir)
	}
	logs := filepath.Join(dir, "logs")
	if err := os.MkdirAll(logs, 0o755); err != nil {
		return exitWith(exitStart, "cannot make the folder: %w", err)
	}
	if err := os.WriteFile(filepath.Join(dir, "trial.toml"), t.Text, 0o644); err != nil {
		return exitWith(exitStart, "cannot write the trial file: %w", err)
	}
	var mu sync.Mutex
	var faults []error
	next, done := 0, 0
	var wg sync.WaitGroup
	for range 2 {
		wg.Go(func() {
			for {
				mu.Lock()
				i := next
				if next++; i >= len(c.pulls) || ctx.Err() != nil {
					mu.Unlock()
					return
				}
				mu.Unlock()
				err := c.play(t, i, logs)
				mu.Lock()
				if done++; err != nil {
					faults = append(faults, fmt.Errorf("run %s: %w", c.pulls[i].id, err))
				}
				if progress != nil {
					fmt.Fprintf(progress, "\r%d of %d runs", done, len(c.pulls))
				}
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	if progress != nil {
		fmt.Fprintln(progress)
	}
	return errors.Join(errors.Join(faults...), ctx.Err())
}

// play plays a run of the campaign and writes its log.
func (c *campaign) play(t *trial.Trial, i int, logs string) error {
	p := &c.pulls[i]
	run, ok := t.Run(p.id)
	if !ok {
		return errors.New("the trial file does not have it")
	}
	d, err := c.played(t, run, i, p.script)
	if err != nil { // a trip may have ended it, after which the crew does otherwise
		d, err = c.played(t, run, i, p.tripped)
	}
	if err != nil {
		return err
	}
	last := len(d.Records) - 1
	for last > 0 && d.Records[last].Kind != logfmt.End {
		last--
	}
	log, err := logfmt.Create(filepath.Join(logs, logName(run, p.began)), logfmt.Options{MaxQueueBytes: 1 << 30})
	if err != nil {
		return err
	}
	for _, rec := range d.Records[:last] {
		log.Put(rec)
	}
	return log.Seal(d.Records[last])
}

// played is a run, played to its end.
func (c *campaign) played(t *trial.Trial, run trial.Run, i int, script string) (*session.Dry, error) {
	p := &c.pulls[i]
	s, err := deck.ParseScenario(p.id+".txt", []byte(script))
	if err != nil {
		return nil, err
	}
	d, err := session.NewDry(session.Head{Tool: "hawse/" + version, Build: build(), Started: p.began, Mode: "simulated",
		Caption: campaignCaption, Scale: 1, Trial: t, File: "trial.toml", Run: run})
	if err != nil {
		return nil, err
	}
	d.Keep, d.WithJudge = true, true
	g := campaignRig{dry: d, sim: deck.NewSim(s, c.seed+uint64(i)), began: p.began}
	end, err := g.play(s)
	if err != nil {
		return nil, err
	}
	d.End(end)
	return d, nil
}

// campaignRig is a deck and a fold, joined: what the deck's boxes send goes into
// the fold, and what that says to the relay goes back.
type campaignRig struct {
	dry   *session.Dry
	sim   *deck.Sim
	began time.Time
	t     int64 // of the last record
	clock int64 // of the last clock record
	acts  uint32
}

const (
	campaignTick  = int64(50 * time.Millisecond) // longest time without a record, as in a live capture
	campaignLasts = int64(time.Hour)             // a pull that came to no end by then never will
)

func (g *campaignRig) play(s *deck.Scenario) (end int64, err error) {
	g.sim.OnPlug(func(port string, at int64, in bool) {
		g.upTo(at)
		state := acquire.StateOpen
		if !in {
			state = acquire.StateLost
		}
		g.dry.Port(at, port, state, "")
		g.after(at)
	})
	for _, port := range []string{session.SrcLoad, session.SrcLine, session.SrcStop} {
		g.dry.Port(0, port, acquire.StateOpen, "")
	}
	g.dry.Port(0, session.SrcScreen, "attached", "")
	g.dry.Port(0, session.SrcRecord, "ok", "")
	people := crew.New(s.Crew)
	for t := int64(0); g.dry.Ending() == ""; t += int64(time.Second) / 10 {
		if t > campaignLasts || people.Over() && g.dry.Ending() == "" {
			return 0, fmt.Errorf("the crew came to no end at %s: step %s: %s", clock(g.t), people.Step(), people.Fault())
		}
		g.sim.Advance(t, func(port string, at int64, raw []byte) {
			g.upTo(at)
			g.dry.Rx(at, port, raw)
			g.after(at)
		})
		g.upTo(t)
		for {
			a, now := people.Next(t, g.dry.Snapshot())
			if !now {
				break
			}
			g.acts++
			o := g.dry.Act(g.t, a, g.acts)
			g.after(g.t)
			people.Answer(o)
		}
	}
	return g.t, nil
}

// upTo makes the records that time alone makes before t.
func (g *campaignRig) upTo(t int64) {
	for {
		next := min(g.t+campaignTick, g.clock+int64(time.Second), max(g.dry.Next(), g.t+1))
		if next >= t {
			return
		}
		if next == g.clock+int64(time.Second) {
			g.clock = next
			g.dry.Clock(next, g.began.Add(time.Duration(next)))
		} else {
			g.dry.Tick(next)
		}
		g.after(next)
	}
}

func (g *campaignRig) after(t int64) {
	g.t = t
	if out := g.dry.Out(); len(out) > 0 {
		g.sim.Hear(t, out)
	}
}

// drifted is the zero of the campaign's load cell at a time of day, kN: it moves
// with the warming deck.
func drifted(hour float64) float64 { return 0.012 + 0.016*math.Sin((hour-8)/10*math.Pi) }

// setLine gives a key of a text in TOML another value, where it stands first.
func setLine(text, key, value string) string {
	lines := strings.Split(text, "\n")
	for i, l := range lines {
		if rest, ok := strings.CutPrefix(l, key+" = "); ok {
			lines[i] = key + " = " + value
			if at := strings.Index(rest, "   #"); at > 0 {
				lines[i] += rest[at:]
			}
			break
		}
	}
	return strings.Join(lines, "\n")
}
