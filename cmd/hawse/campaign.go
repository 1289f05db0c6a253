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

	"hawse/acquire/deck"
	"hawse/acquire/dryrun"
	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/logfmt"
	"hawse/trial"
)

// writeCampaign writes the invented example campaign: a trial folder with its
// trial file and a sealed log for every run, played through the fold that a live
// capture runs, without ports or clock. The same seed gives the same pulls.
func writeCampaign(ctx context.Context, dir string, seed uint64, progress io.Writer) error {
	c, err := newCampaign(seed)
	if err != nil {
		return err
	}
	t := c.trial
	if left, err := os.ReadDir(dir); err == nil && len(left) > 0 {
		return cli.Exit(cli.ExitStart, "%s is not empty: give a folder that is not there yet; nothing is ever overwritten", dir)
	}
	logs := filepath.Join(dir, "logs")
	if err := os.MkdirAll(logs, 0o755); err != nil {
		return cli.Exit(cli.ExitStart, "cannot make the folder: %w", err)
	}
	if err := os.WriteFile(filepath.Join(dir, "trial.toml"), t.Text, 0o644); err != nil {
		return cli.Exit(cli.ExitStart, "cannot write the trial file: %w", err)
	}
	var mu sync.Mutex
	var faults []error
	told := func(done, of int) {
		if progress != nil && ctx.Err() == nil {
			fmt.Fprintf(progress, "\r%d of %d runs", done, of)
		}
	}
	together(2, len(c.pulls), told, func(i int) {
		if ctx.Err() != nil {
			return
		}
		if err := c.play(i, logs); err != nil {
			mu.Lock()
			defer mu.Unlock()
			faults = append(faults, fmt.Errorf("run %s: %w", c.pulls[i].id, err))
		}
	})
	if progress != nil {
		fmt.Fprintln(progress)
	}
	return errors.Join(errors.Join(faults...), ctx.Err())
}

// play plays a run of the campaign and writes its log.
func (c *campaign) play(i int, logs string) error {
	p := &c.pulls[i]
	run, ok := c.trial.Run(p.id)
	if !ok {
		return errors.New("the trial file does not have it")
	}
	d, err := c.played(run, i, p.script)
	if err != nil { // a trip may have ended it, after which the crew does otherwise
		d, err = c.played(run, i, p.tripped)
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
func (c *campaign) played(run trial.Run, i int, script string) (*session.Dry, error) {
	p := &c.pulls[i]
	s, err := deck.ParseScenario(p.id+".txt", []byte(script))
	if err != nil {
		return nil, err
	}
	d, err := session.NewDry(session.Head{Tool: cli.Tool, Build: cli.Build(), Started: p.began, Mode: "simulated",
		Caption: campaignCaption, Scale: 1, Trial: c.trial, File: "trial.toml", Run: run})
	if err != nil {
		return nil, err
	}
	d.Keep, d.WithJudge = true, true
	end, err := dryrun.Fold(d, s, c.seed+uint64(i), p.began)
	if err != nil {
		return nil, err
	}
	d.End(end)
	return d, nil
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
