package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hawse/acquire"
	"hawse/acquire/deck"
	"hawse/cmd/hawse/cli"
	"hawse/trial"
)

// deckOffer is a deck's ports and the trial file that fits them.
type deckOffer struct {
	dir   string // of the ports; "": ./deck
	trial string // the trial file to write; "": none if dir is said, else named as the scenario
	seed  uint64
}

// deckWritten begins a trial file that the deck wrote, and so may write anew.
const deckWritten = "# Written by 'hawse deck', and anew each time: copy it before you change it.\n"

// writeTrial writes the trial file, and says where; "" none was to be written. A
// file that somebody else wrote is left alone.
func (o *deckOffer) writeTrial(sc *deck.Scenario) (path string, err error) {
	dir := o.dir
	switch {
	case dir == "":
		o.dir, dir = "deck", "deck"
		if path = o.trial; path == "" {
			path = sc.Name + ".toml"
		}
	case o.trial == "":
		return "", nil
	default:
		path = o.trial
	}
	seen, err := filepath.Rel(filepath.Dir(path), dir)
	if err == nil && !strings.HasPrefix(seen, "..") {
		seen = "./" + filepath.ToSlash(seen)
	} else if seen, err = filepath.Abs(dir); err != nil {
		return "", err
	}
	text := deckWritten + sc.TrialFileOn(seen)
	if _, err := trial.ParseTrial(path, []byte(text)); err != nil {
		return "", fmt.Errorf("the scenario's trial file: %w", err)
	}
	switch old, err := os.ReadFile(path); {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return "", err
	case !bytes.HasPrefix(old, []byte(deckWritten)):
		return "", fmt.Errorf("%s is there and the deck did not write it: give --trial FILE, or move it away", visible(path))
	}
	return path, os.WriteFile(path, []byte(text), 0o644)
}

// run offers the ports until it is told to end.
func (o *deckOffer) run(c *cobra.Command, sc *deck.Scenario) error {
	path, err := o.writeTrial(sc)
	if err != nil {
		return cli.Exit(cli.ExitStart, "%w", err)
	}
	clock := acquire.NewClock()
	d, err := deck.Open(sc, deck.Options{Dir: o.dir, Clock: clock, Seed: o.seed, Epoch: time.Now().UTC().Add(-time.Duration(clock.Now()))})
	if err != nil {
		return cli.Exit(cli.ExitStart, "%w", err)
	}
	defer d.Close()
	ctx, cancel := cli.Interruptible(c)
	defer cancel()
	out := c.OutOrStdout()
	fmt.Fprintf(out, "%s\n%s\nboxes: %s\nports:", sc.Title, sc.Caption, sc.Boxes())
	for _, p := range sc.Ports() {
		fmt.Fprintf(out, " %s/%s", o.dir, p)
	}
	fmt.Fprintln(out, "; ctrl-c ends\n"+deckOrders)
	for _, f := range sc.Faults() {
		fmt.Fprintf(out, "fault: %s\n", f)
	}
	if path != "" {
		fmt.Fprintf(out, "in another terminal: hawse pull %s --run %s\n", path, sc.Run)
	}
	orders := ordersFrom(c.InOrStdin())
	done := make(chan error, 1)
	go func() { done <- d.Run(ctx) }()
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	log := deckLog{out: out}
	for {
		select {
		case err := <-done:
			return err
		case order, more := <-orders:
			if !more { // nobody orders; the script goes on
				orders = nil
				continue
			}
			log.order(d, order)
		case <-tick.C:
			log.tick(d.State())
		}
	}
}

func relayWord(closed bool, reason string) string {
	if closed {
		return "closed"
	}
	if reason == "open" {
		reason = "as told"
	}
	return strings.TrimSpace("open " + reason)
}

// listDeck lists scenarios, boxes and faults.
func listDeck(c *cobra.Command) error {
	out := c.OutOrStdout()
	fmt.Fprintln(out, "Scenarios:")
	for _, n := range deck.Names() {
		sc, err := deck.Load(n)
		if err != nil {
			return err
		}
		fmt.Fprintf(out, "  %-13s %s\n", n, sc.Title)
	}
	fmt.Fprintln(out, "\nBoxes, as --boxes takes them; nmea, pin, outboard and inboard go with any, as in modbus,pin:")
	for _, k := range deck.BoxKinds {
		fmt.Fprintf(out, "  %-13s %s\n", k.Name, k.Does)
	}
	fmt.Fprintln(out, "\nFaults, as --fault NAME@TIME or NAME@\"x 9 m\" takes them; in brackets what the name means\nin the words of a script, which may be given in its place with other ports, times and numbers:")
	for _, f := range deck.FaultKinds {
		fmt.Fprintf(out, "  %-13s %s [%s]", f.Name, f.Does, f.Says)
		if f.On != "" {
			fmt.Fprintf(out, "; boxes %s", strings.ReplaceAll(f.On, " ", ", "))
		}
		fmt.Fprintln(out)
	}
	return nil
}
