package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hawse/acquire"
	"hawse/acquire/crew"
	"hawse/acquire/deck"
	"hawse/acquire/session"
	"hawse/cmd/hawse/cli"
	"hawse/trial"
)

// demoSpeed makes the textbook pull, a quarter of an hour on deck, last about
// three minutes.
const demoSpeed = 6

func newDemo() *cobra.Command {
	var scenario, log, campaign, boxes string
	var faults []string
	var seed uint64
	var speed float64
	var bare bool
	var look screenLook
	c := &cobra.Command{
		Use:   "demo",
		Short: "Play a whole invented pull on the simulated deck",
		Long: `Play a whole pull on a simulated deck: take-up, main pull, planned end at minimum
scope, ease, recovery. All data is invented. The deck is three pseudo-terminals
that speak like instruments; Hawse opens them through the same serial code as a
USB adapter. The demo's crew acts by a script, each act in its own name; press
a key that acts and you are in charge. A demo whose terminal goes away ends.

Nothing is written outside a temporary folder unless --log says so.

Scenarios: ` + strings.Join(deck.Names(), ", ") + `

` + cautions,
		Example: "  hawse demo\n  hawse demo --speed 20\n  hawse demo --scenario breakout\n  hawse demo --scenario cobble-neck --boxes modbus --speed 2 --fault unplug@90s\n  hawse demo --boxes pin,outboard --speed 5\n  hawse demo --headless --scenario short --speed 1\n  hawse demo --campaign my-campaign && hawse report my-campaign",
		Args:    cli.Exactly(0, "nothing else"),
		RunE: func(c *cobra.Command, args []string) error {
			if !(speed >= 1 && speed <= 60) {
				return cli.Usage("--speed %v: from 1 to 60 times real time", speed)
			}
			if campaign != "" {
				return writeCampaign(c.Context(), campaign, seed, barTo(c.ErrOrStderr()))
			}
			sc, err := deck.Load(scenario)
			if err == nil {
				sc, err = sc.With(boxes, faults)
			}
			if err != nil {
				return cli.Usage("%w", err)
			}
			return demo(c, sc, log, speed, bare, look)
		},
	}
	f := c.Flags()
	f.StringVar(&scenario, "scenario", "textbook", "which pull to play")
	f.StringVar(&boxes, "boxes", "", "how the instruments speak, as of hawse deck: "+boxNames())
	f.StringArrayVar(&faults, "fault", nil, "what goes wrong, and when, as of hawse deck: NAME@WHEN")
	f.Float64Var(&speed, "speed", demoSpeed, "times real time")
	f.StringVar(&log, "log", "", "keep the raw log here (default: in a temporary folder that is removed)")
	f.BoolVar(&bare, "headless", false, "no screen: status lines on standard output")
	f.StringVar(&campaign, "campaign", "", "write the invented example campaign, a sealed log a run, into this new folder; nothing is played on a screen")
	f.Uint64Var(&seed, "seed", 1, "of the campaign: the same seed makes the same pulls")
	look.flags(c)
	return c
}

// demoView is the capture as the demo's screen sees it: the first act of a
// person ends the script.
type demoView struct {
	*session.Capture
	crew *crew.Player
}

func (v demoView) Do(a session.Act) {
	v.crew.TakeOver()
	v.Capture.Do(a)
}

func demo(c *cobra.Command, sc *deck.Scenario, log string, speed float64, bare bool, look screenLook) error {
	t, err := trial.ParseTrial("trial.toml", []byte(sc.TrialFile()))
	if err != nil {
		return err
	}
	run, ok := t.Run(sc.Run)
	if !ok {
		return fmt.Errorf("scenario %s plays run %q, which its trial file does not have", sc.Name, sc.Run)
	}
	tmp, err := os.MkdirTemp("", "hawse-demo-")
	if err != nil {
		return cli.Exit(cli.ExitStart, "cannot make a temporary folder: %w", err)
	}
	defer os.RemoveAll(tmp)
	unkept := log == ""
	if unkept {
		log = filepath.Join(tmp, "demo.log")
	}
	clock := acquire.NewScaledClock(speed)
	// The relay's patience is real time, like the heartbeat it waits for.
	sc.Window = time.Duration(float64(sc.Window) * speed)
	d, err := deck.Open(sc, deck.Options{Dir: filepath.Join(tmp, "deck"), Clock: clock, Seed: 1,
		Epoch: time.Now().UTC().Add(-time.Duration(clock.Now()))})
	if err != nil {
		return cli.Exit(cli.ExitStart, "%w", err)
	}
	deckCtx, stopDeck := context.WithCancel(c.Context())
	deckDone := make(chan error, 1)
	go func() { deckDone <- d.Run(deckCtx) }()
	defer func() { stopDeck(); <-deckDone; d.Close() }()

	bare = decideHeadless(bare, c.ErrOrStderr())
	k := crew.NewPlayer(sc.Crew, clock, bare)
	p := pullOf{
		Head: session.Head{Mode: "demo", Caption: sc.Caption, Scale: speed, Trial: t, File: "trial.toml", Run: run},
		Log:  log, Dir: tmp, Clock: clock, Headless: bare, With: k.Run,
		Unkept: unkept,
		Stay:   true,
		Goes:   true,
		Look:   look,
		View:   func(c *session.Capture) session.View { return demoView{c, k} },
	}
	err = p.run(c)
	if f := k.Fault(); f != "" {
		if speed > demoSpeed/2 {
			f += fmt.Sprintf("; if this machine did not keep up with --speed %g, say a lower one", speed)
		}
		err = errors.Join(err, fmt.Errorf("the demo's crew was stopped: %s", f))
	}
	return err
}
